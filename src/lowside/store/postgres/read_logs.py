"""The sessions read lately, so that one question reads only what came since.

Entries never change and a session's places have no gap, so what was read stays right as long as
the database still has it. After a failover it may have less: the last entry read is asked for again
each time, and a session whose last entry is gone is read again.
"""

from bisect import bisect_right
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock
from typing import NamedTuple

from lowside.core.session.events import Event
from lowside.store.codec import BadLine, canonical_event, checksum, line_with, read_line
from lowside.store.logs import Log
from lowside.store.postgres.database import Session

KEPT = 256
"""Sessions that stay in memory."""
_NOWHERE = Path()
_SINCE = "SELECT place, body, sum FROM events WHERE sid = ? AND place >= ? ORDER BY place"
_ASIDE = "SELECT body, sum FROM set_aside WHERE sid = ? ORDER BY n"


Key = tuple[str, str, int]
"""Session, device and number of an entry."""
_NAMED = (
    "SELECT sid, dev, seq, body, sum FROM unnest(?::text[], ?::text[], ?::bigint[]) "
    "AS wanted (sid, dev, seq) JOIN events USING (sid, dev, seq)"
)


class Row(NamedTuple):
    """An entry as the database has it."""

    place: int
    body: str
    sum: str


@dataclass
class _Known:
    """What was read of a session."""

    log: Log
    last: Row | None = None
    places: list[int] = field(default_factory=list)
    """Of the events in the log: fewer than were read when one is damaged."""


@dataclass(frozen=True)
class View:
    """A session as one transaction sees it."""

    log: Log
    """It may know more, what another transaction saw since."""
    count: int
    """How many of its events this one sees."""
    read: int
    """The last place."""

    @property
    def events(self) -> list[Event]:
        return self.log.events[: self.count]


class ReadLogs:
    """Sessions of one shop. Any thread may ask."""

    def __init__(self) -> None:
        self._known: OrderedDict[str, _Known] = OrderedDict()
        self._guard = RLock()

    def view(self, session: Session, sid: str) -> View:
        """The session as this transaction sees it."""
        with self._guard:
            known = self._known.get(sid)
        last = known.last if known is not None else None
        rows = _rows(session, sid, last.place if last is not None else 1)
        if known is None or last is None:
            known = _Known(Log(_NOWHERE, sid))
        elif rows[:1] != [last]:
            known = _Known(Log(_NOWHERE, sid))
            rows = _rows(session, sid, 1)
        seen = rows[-1].place if rows else 0
        with self._guard:
            for row in rows:
                if known.last is None or row.place > known.last.place:
                    _take(known, row)
            self._known[sid] = known
            self._known.move_to_end(sid)
            while len(self._known) > KEPT:
                self._known.popitem(last=False)
            count = bisect_right(known.places, seen)
        return View(known.log, count, seen)


def _take(known: _Known, row: Row) -> None:
    event = _read(row.body, row.sum)
    if isinstance(event, BadLine):
        known.log.damaged.append(
            f"Entry {row.place} of session {known.log.sid} was left out: {event.reason}."
        )
    else:
        known.log.take(event)
        known.places.append(row.place)
    known.last = row


def _rows(session: Session, sid: str, first: int) -> list[Row]:
    return [Row(*row) for row in session.execute(_SINCE, (sid, first))]


def _read(body: str, kept_sum: str) -> Event | BadLine:
    return read_line(line_with(body.encode(), kept_sum.encode()))


def named(session: Session, keys: Sequence[Key]) -> dict[Key, Event]:
    """These entries, but for damaged ones, by one question."""
    columns = [list(column) for column in zip(*keys, strict=True)]
    found = {}
    for sid, dev, seq, body, kept_sum in session.execute(_NAMED, columns):
        event = _read(body, kept_sum)
        if not isinstance(event, BadLine):
            found[sid, dev, seq] = event
    return found


def aside_log(session: Session, sid: str) -> Log:
    """What was set aside of a session, in the order it came."""
    log = Log(_NOWHERE, sid, repeats=True)
    for body, kept_sum in session.execute(_ASIDE, (sid,)):
        event = _read(body, kept_sum)
        if isinstance(event, BadLine):
            log.damaged.append(f"An entry set aside of session {sid} is unreadable.")
        else:
            log.take(event)
    return log


def body_and_sum(event: Event) -> tuple[str, str]:
    """An entry as two columns."""
    content = canonical_event(event)
    return content.decode(), checksum(content).decode()
