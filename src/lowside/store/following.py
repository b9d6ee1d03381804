"""What arrived since a cursor, and the first sending of what a new follower needs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from lowside.core.session.events import Event
from lowside.store.answers import Answers, Arrival
from lowside.store.cursor import Cursor, Place, proven, written

FAR_BEHIND = 20_000
"""Arrivals after which a follower is sent what it needs again, and not everything in between. Our
choice: two hundred answers' worth."""

SHARED_FOR_MS = 2_000
"""When many are far behind at one time, what was found for one does for the others. Our choice:
what arrived since comes twice."""
FOUND_FOR_MS = 60_000
"""All pieces are taken within this time; else the sessions are found again. Our choice."""

Find = Callable[[Sequence[Arrival]], list[Event]]
"""Gives the entries that arrived so, in the same order; those that cannot be read are missing."""
Needed = Callable[[int], tuple[int, Sequence[str]]]
"""The sessions someone new is sent, found no longer ago than so many ms; and the number of an
arrival: what came later may not be among them, and is sent when they are done."""


@dataclass(frozen=True)
class Batch:
    """What arrived since a cursor."""

    events: tuple[Event, ...]
    cursor: str
    """The cursor for the next question."""
    more: bool
    restarted: bool
    """The given cursor is not one this store can prove: its owner may hold what is not here."""


def _after(index: Answers, find: Find, after: int, restarted: bool, limit: int) -> Batch:
    found: list[Event] = []
    more = True
    while more and len(found) < limit:
        left = limit - len(found)
        rows = index.arrivals(after, left + 1, practice=False)
        found += find(rows[:left])
        more = len(rows) > left
        if rows:
            after = rows[:left][-1][0]
    if not more:
        after = max(after, index.head())  # what was left out will not be looked at again
    return Batch(tuple(found), written(Cursor(after), index), more, restarted)


def follow(
    index: Answers,
    find: Find,
    whole: Callable[[str], Sequence[Event]],
    asked: str,
    limit: int,
    needed: Needed,
) -> Batch:
    """Events that arrived after the cursor `asked`, in order of arrival; no practice. But someone
    new, or too far behind, is sent whole sessions first.

    Args:
        asked: from the batch before, or "" to begin. After one that cannot be proven, as after a
            restore, events may come again, but none is left out.
        limit: at most this many events.
        whole: gives a session's events.
        needed: asked again for each piece.
    """
    known = proven(asked, index)
    restarted = known is None and asked != ""
    head = index.head()
    if known is None or (known.place is None and head - known.after > FAR_BEHIND):
        at, sids = needed(0 if known is None else SHARED_FOR_MS)
        known = Cursor(min(at, head), Place("", 0))
    elif known.place is None:
        return _after(index, find, known.after, False, limit)
    else:
        sids = needed(FOUND_FOR_MS)[1]
    found: list[Event] = []
    place = known.place or Place("", 0)
    for sid in sorted(sids, reverse=True):
        if place.sid != "" and sid > place.sid:
            continue
        events = whole(sid)
        sent = place.sent if sid == place.sid else 0
        piece = events[sent : sent + limit - len(found)]
        found += piece
        place = Place(sid, sent + len(piece))
        if sent + len(piece) < len(events):
            following = written(Cursor(known.after, place), index)
            return Batch(tuple(found), following, True, restarted)
    rest = _after(index, find, known.after, restarted, limit - len(found))
    here = {(event.sid, event.dev, event.seq) for event in found}
    fresh = (e for e in rest.events if (e.sid, e.dev, e.seq) not in here)
    return replace(rest, events=(*found, *fresh))
