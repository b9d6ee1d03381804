"""Practice time: a lesson's clock. It is fast while one waits and true while a valve is open.

Practice time comes from the session's own entries alone, so it is the same after a restart.
`session.started` and the `practice.…` entries carry the wall clock [ms] of their writing. Between
two of them time runs at one pace.
"""

from collections.abc import Sequence

from lowside.core.session.events import Event, Moment, in_order

VALVE = "practice.valve"
PACE = "practice.pace"
RECOVERY = "practice.recovery"
OPEN = "open"
SHUT = "shut"
PACES = (1, 10, 30)
USUAL_PACE = 10
LONGEST_SPAN_S = 8.0 * 3600.0
"""The unit waits no longer than this for the next turn of a valve. Then an abandoned lesson stops,
so its state stays quick to work out."""


def practice_s(events: Sequence[Event], wall_ms: int) -> float:
    """Practice time since the session's start [s] at a wall time [ms]."""
    passed = 0.0
    since: int | None = None
    pace, valve = USUAL_PACE, SHUT
    for event in in_order(events):
        if "wall" not in event.data:
            continue
        at = int(event.data["wall"])
        if since is not None:
            passed += _span(since, at, pace, valve)
        since = at
        pace = int(event.data.get("pace", str(pace)))
        valve = event.data.get("valve", valve)
    return passed if since is None else passed + _span(since, wall_ms, pace, valve)


def pace_now(events: Sequence[Event]) -> int:
    """How many practice seconds one second is now."""
    pace, valve = USUAL_PACE, SHUT
    for event in in_order(events):
        if "wall" in event.data:
            pace = int(event.data.get("pace", str(pace)))
            valve = event.data.get("valve", valve)
    return 1 if valve == OPEN else pace


def valve_now(events: Sequence[Event]) -> str:
    """The low handwheel: OPEN or SHUT."""
    valve = SHUT
    for event in in_order(events):
        if event.kind == VALVE:
            valve = event.data.get("valve", valve)
    return valve


def recovery_now(events: Sequence[Event]) -> str:
    """The recovery machine: OPEN when it draws, else SHUT."""
    machine = SHUT
    for event in in_order(events):
        if event.kind == RECOVERY:
            machine = event.data.get("machine", machine)
    return machine


def practice_moment(sid: str, events: Sequence[Event], now: Moment) -> Moment:
    """The clocks of the lesson: both run in practice time from the session's start."""
    milliseconds = int(practice_s(events, now.at) * 1000.0)
    started = int(in_order(events)[0].data["wall"]) if events else now.at
    return Moment(run=sid, mono=milliseconds, at=started + milliseconds, tz=now.tz)


def _span(since: int, at: int, pace: int, valve: str) -> float:
    seconds = max(at - since, 0) / 1000.0
    return min(seconds * (1 if valve == OPEN else pace), LONGEST_SPAN_S)
