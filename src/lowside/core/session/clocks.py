"""When each entry of a session was written: one time zone, and two phones' clocks that differ."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from lowside.core.session.events import CLOCK_DISAGREEMENT_S, Event, Moment, writer_of

CLOCKS_DIFFER = (
    "The clocks of two phones differ. A wait may begin again with the other phone’s next entry. "
    "Set the slow clock."
)


def moments_of(ordered: Sequence[Event]) -> dict[str, Moment]:
    """eid -> the clocks as the event recorded them, in the time zone of the site: whoever wrote,
    and from wherever, a session's times are the site's. Whoever began the session is there, and its
    zone changes when the clocks are put back.

    A phone's clock is known to be slow where its entry came after another phone's, by the order,
    and is yet earlier by its own clock. It was not written before that one, and not after the other
    phone's next one. While there is no next one, all that is known is how slow it was before.
    """
    found: dict[str, Moment] = {}
    earliest = _earliest(ordered)
    gained = _gained(ordered)
    slow: dict[str, int] = {}
    tz = 0
    for i in range(len(ordered)):
        event = ordered[i]
        if earliest[i] - event.at > slow.get(event.run, 0):
            slow[event.run] = earliest[i] - event.at
        if not _is_other(ordered[0], event):
            tz = event.tz
        found[event.eid] = Moment(event.run, event.mono, event.at, tz, gained=gained[event.eid])
    next_at = 0
    for back in range(len(ordered) if len(slow) > 0 else 0):
        i = len(ordered) - 1 - back
        event = ordered[i]
        least = earliest[i] - event.at
        most = slow.get(event.run, 0)
        if most > 0:
            not_after = next_at - _passed_ms(event, ordered[i + 1]) if back > 0 else 0
            most = not_after - event.at if not_after - event.at > most else most
            found[event.eid] = replace(found[event.eid], slow=least, slow_most=most)
        next_at = event.at + (most if most > least else least)
    return found


def said_of(moments: Mapping[str, Moment]) -> list[str]:
    """What is flagged of the clocks."""
    return [CLOCKS_DIFFER] if any(one.slow > 0 for one in moments.values()) else []


def _gained(ordered: Sequence[Event]) -> dict[str, int]:
    """eid -> by how much its phone's wall clock gained after it, until that phone's last entry
    [ms]: within a run, what it passed more than the monotonic one. A sleeping phone may stop that
    one and looks the same: a wait may begin again."""
    found: dict[str, int] = {}
    later: dict[str, Event] = {}
    for back in range(len(ordered)):
        event = ordered[len(ordered) - 1 - back]
        after = later.get(writer_of(event.dev), event)
        found[event.eid] = 0
        if after.eid != event.eid:
            gained = after.at - event.at - _passed_ms(event, after)
            found[event.eid] = found[after.eid] + gained
        later[writer_of(event.dev)] = event
    return found


def _earliest(ordered: Sequence[Event]) -> list[int]:
    """When each can have been written at the earliest, by the fastest clock so far [ms]."""
    found: list[int] = []
    for i in range(len(ordered)):
        at = ordered[i].at
        before = ordered[i - 1] if i > 0 else ordered[i]
        if _is_other(before, ordered[i]) or (i > 0 and found[i - 1] > before.at):
            not_before = found[i - 1] + _passed_ms(before, ordered[i])
            at = not_before if not_before - at > CLOCK_DISAGREEMENT_S * 1000.0 else at
        found.append(at)
    return found


def _passed_ms(before: Event, after: Event) -> int:
    """What surely passed between two entries that follow each other, at least 1 ms for the order's
    sake. Between two phones nothing more is sure."""
    passed = 1
    if before.run == after.run:
        passed = after.mono - before.mono
    elif not _is_other(before, after):
        passed = after.at - before.at
    return passed if passed > 1 else 1


def _is_other(one: Event, other: Event) -> bool:
    return one.dev != other.dev and writer_of(one.dev) != writer_of(other.dev)
