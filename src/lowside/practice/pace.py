"""Practice time: a lesson's clock. It is fast while one waits and true while a hand is at work.

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
TRUE_CLOCK = "true"
"""Of a recovery from a unit that runs, or of a surplus, in `clock`: it is stopped in time by hand,
so it takes real seconds. Else, with the unit off, all of it comes out, and one only waits."""
TRUE_PACE = 1
PACES = (TRUE_PACE, 10, 30)
USUAL_PACE = 10
LONGEST_SPAN_S = 8.0 * 3600.0
"""The unit waits no longer than this for the next turn of a valve. Then an abandoned lesson stops,
so its state stays quick to work out."""


LONGEST_LESSON_S = 24.0 * 3600.0
"""Then the lesson's clock stops, so every loop over it ends. Our choice; a lesson takes an hour."""
_DIGITS = 15
"""Of a wall clock [ms], as of every clock value."""


def on_lessons_clock(events: Sequence[Event]) -> list[Event]:
    """The entries in order that can be of this lesson; empty without its start.

    Only those on the lesson's clock: one written elsewhere would set the unit's time. One with a
    wall clock or a pace that a lesson does not write is none of a lesson either.
    """
    found = [event for event in in_order(events) if event.run == event.sid and _is_sound(event)]
    starts = [event for event in found if event.kind == "session.started" and "wall" in event.data]
    return found if starts and "wall" in found[0].data else []


def _is_sound(event: Event) -> bool:
    wall, pace = event.data.get("wall", "0"), event.data.get("pace", str(USUAL_PACE))
    return (
        wall.isascii()
        and wall.isdigit()
        and len(wall) <= _DIGITS
        and pace in [str(each) for each in PACES]
        and event.mono <= LONGEST_LESSON_S * 1000.0
    )


def practice_s(events: Sequence[Event], wall_ms: int) -> float:
    """Practice time since the session's start [s] at a wall time [ms]; `LONGEST_LESSON_S` at most.

    Args:
        events: as `on_lessons_clock` leaves them.
    """
    passed = 0.0
    since: int | None = None
    hand = _Hand()
    for event in in_order(events):
        if "wall" not in event.data:
            continue
        at = int(event.data["wall"])
        if since is not None:
            passed += hand.span_s(since, at)
        since = at
        hand.follow(event)
    if since is not None:
        passed += hand.span_s(since, wall_ms)
    return min(passed, LONGEST_LESSON_S)


def pace_now(events: Sequence[Event]) -> int:
    """How many practice seconds one second is now."""
    hand = _Hand()
    for event in in_order(events):
        if "wall" in event.data:
            hand.follow(event)
    return hand.pace()


def valve_now(events: Sequence[Event]) -> str:
    """The low handwheel: `OPEN` or `SHUT`."""
    valve = SHUT
    for event in in_order(events):
        if event.kind == VALVE:
            valve = event.data.get("valve", valve)
    return valve


def recovery_now(events: Sequence[Event]) -> str:
    """The recovery machine: `OPEN` when it draws, else `SHUT`."""
    machine = SHUT
    for event in in_order(events):
        if event.kind == RECOVERY:
            machine = event.data.get("machine", machine)
    return machine


def recovery_said(machine: str, runs: bool, surplus: bool) -> dict[str, str]:
    """What turning the recovery machine to this writes, with the clock it has from then on.

    Args:
        runs: the unit does.
        surplus: too much inside is all that is wrong.
    """
    clock = {"clock": TRUE_CLOCK} if runs or surplus else {}
    return {"machine": machine, **clock}


def practice_moment(sid: str, events: Sequence[Event], now: Moment) -> Moment:
    """The clocks of the lesson: both run in practice time from the session's start."""
    milliseconds = int(practice_s(events, now.at) * 1000.0)
    started = int(in_order(events)[0].data["wall"]) if events else now.at
    return Moment(run=sid, mono=milliseconds, at=started + milliseconds, tz=now.tz)


class _Hand:
    """The chosen pace, and what a hand holds open."""

    def __init__(self) -> None:
        self._chosen = USUAL_PACE
        self._valve = SHUT
        self._recovers = False

    def follow(self, event: Event) -> None:
        """Take in an entry of the lesson's clock."""
        self._chosen = int(event.data.get("pace", str(self._chosen)))
        self._valve = event.data.get("valve", self._valve)
        if event.kind == RECOVERY:
            held = event.data.get("clock", "") == TRUE_CLOCK
            self._recovers = held and event.data.get("machine", "") == OPEN

    def pace(self) -> int:
        """How many practice seconds one second is."""
        return TRUE_PACE if self._valve == OPEN or self._recovers else self._chosen

    def span_s(self, since: int, at: int) -> float:
        """Practice time between two wall times [ms]."""
        return min(max(at - since, 0) / 1000.0 * self.pace(), LONGEST_SPAN_S)
