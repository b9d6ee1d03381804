"""Takes a write back that the disk refused half-way, so that saving can go on later."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from typing import Protocol

from lowside.core.session.events import Event
from lowside.store import durable
from lowside.store.codec import lines_of
from lowside.store.journal import Piece
from lowside.store.logs import Log
from lowside.store.outline import Stamp
from lowside.store.settling import Journal, Mark


class _Guard(Protocol):
    def acquire(self) -> object: ...
    def release(self) -> None: ...


Growth = tuple[Log, Sequence[Event]]
"""A log, and the events to add to it."""


@dataclass(frozen=True)
class _Before:
    """How a log was before the write."""

    log: Log
    size: int
    count: int


class Write:
    """The appends of one batch. All of them become part of the record, or none."""

    def __init__(
        self, journal: Journal, waiting: Callable[[], AbstractContextManager[None]]
    ) -> None:
        """
        Args:
            waiting: is entered while the disk is waited for.
        """
        self._journal = journal
        self._mark: Mark | None = None
        """Of the journal before this write, if it goes there."""
        self._waiting = waiting
        self._before: list[_Before] = []

    def append(self, wanted: Sequence[Growth]) -> list[Stamp]:
        """Write these events to their logs and remember how to take them back. `count_in` comes
        when all of them are written.

        One log is waited for itself. Several go to the journal first, and that is waited for.

        Raises
            durable.UnsureError: the disk did not confirm.
            OSError: it refused one of them.
        """
        pieces = [
            Piece(log.path, log.sid, log.repeats, log.size, lines_of(events))
            for log, events in wanted
        ]
        is_safe = self._journal.takes([piece.path for piece in pieces])
        if is_safe:
            self._mark = self._journal.mark
            with self._waiting():
                self._journal.add(pieces)
        stamps: list[Stamp] = []
        for (log, _), piece in zip(wanted, pieces, strict=True):
            self._before.append(_Before(log, log.size, len(log.events)))
            if is_safe:
                with durable.grow(piece.path, piece.lines, piece.at) as grown:
                    status = grown.status
            else:
                with self._waiting():
                    status = durable.append(piece.path, piece.lines, piece.at)
            stamps.append(Stamp(status.st_size, status.st_mtime_ns))
        return stamps

    def take_back(self) -> None:
        """Make memory and files as they were. Until that is done, ask again.

        Raises
            durable.UnsureError: the disk did not confirm.
            OSError: it is not done yet.
        """
        for before in self._before:
            before.log.forget_after(before.count)
            before.log.size = before.size
        try:
            while self._before:
                durable.cut_back(self._before[-1].log.path, self._before[-1].size)
                self._before.pop()
            if self._mark is not None:
                self._journal.cut_back(self._mark)
        except durable.UnsureError:
            raise
        except OSError as error:
            raise OSError("what was half written cannot be taken back yet") from error


@contextmanager
def others_have(guard: _Guard) -> Iterator[None]:
    """Let others have what this thread holds, once, for as long as this lasts."""
    guard.release()
    try:
        yield
    finally:
        guard.acquire()
