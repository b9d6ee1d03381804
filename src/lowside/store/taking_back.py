"""Takes a write back that the disk refused half-way, so that saving can go on later."""

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Protocol

from lowside.core.session.events import Event
from lowside.store import durable
from lowside.store.logs import Log
from lowside.store.outline import Stamp

SLOW_S = 0.0003
"""A disk that takes longer to confirm is waited for by several threads. With a quicker one they
cost more than they save. Our choice."""
AT_ONCE = 16
"""Files that are open, and waited for, at one time. Our choice."""


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

    def __init__(self, waiting: Callable[[], AbstractContextManager[None]]) -> None:
        """
        Args:
            waiting: is entered while the disk is waited for.
        """
        self._waiting = waiting
        self._before: list[_Before] = []
        self._is_slow = False
        """The disk; it is tried with one file first."""

    def append(self, wanted: Sequence[Growth]) -> list[Stamp]:
        """Write these events to their logs and remember how to take them back. `count_in` comes
        when the disk has all of them.

        All are written before the first is waited for, and where the disk is slow, it is waited
        for once: it confirms several files at one time. Names of new files are waited for once for
        each folder.

        Raises
            durable.UnsureError: the disk did not confirm one of them.
            OSError: it refused one of them.
        """
        made_in: set[Path] = set()
        stamps: list[Stamp] = []
        for first in range(0, len(wanted), AT_ONCE):
            stamps += self._appended(wanted[first : first + AT_ONCE], made_in)
        with self._waiting():
            for folder in sorted(made_in):
                durable.sync_directory(folder)
        return stamps

    def _appended(self, wanted: Sequence[Growth], made_in: set[Path]) -> list[Stamp]:
        with ExitStack() as files:
            grown: list[durable.Grown] = []
            for log, events in wanted:
                self._before.append(_Before(log, log.size, len(log.events)))
                grown.append(files.enter_context(log.grow(events, made_in)))
            with self._waiting():
                self._confirm(grown)
        return [Stamp(one.status.st_size, one.status.st_mtime_ns) for one in grown]

    def _confirm(self, grown: Sequence[durable.Grown]) -> None:
        """Wait until the disk has all of these."""
        for place, one in enumerate(grown):
            if self._is_slow:
                _confirm_side_by_side(grown[place:])
                return
            began = time.perf_counter()
            one.confirm()
            self._is_slow = time.perf_counter() - began > SLOW_S

    def take_back(self) -> None:
        """Make memory and files as they were. Until that is done, ask again.

        Raises
            durable.UnsureError: the disk did not confirm.
            OSError: it is not done yet.
        """
        for before in self._before:
            before.log.forget_after(before.count)
            before.log.size = before.size
        while self._before:
            try:
                _cut_back(self._before[-1])
            except durable.UnsureError:
                raise
            except OSError as error:
                raise OSError("what was half written cannot be taken back yet") from error
            self._before.pop()


@contextmanager
def others_have(guard: _Guard) -> Iterator[None]:
    """Let others have what this thread holds, once, for as long as this lasts."""
    guard.release()
    try:
        yield
    finally:
        guard.acquire()


def _confirm_side_by_side(grown: Sequence[durable.Grown]) -> None:
    asked = [_disk().submit(one.confirm) for one in grown]
    errors = [error for one in asked if (error := one.exception()) is not None]
    if errors:
        raise errors[0]


@cache
def _disk() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(AT_ONCE, "disk")


def _cut_back(before: _Before) -> None:
    path = before.log.path
    if not path.exists():
        return
    if path.stat().st_size > before.size:
        durable.cut(path, before.size)
    if before.size == 0:
        path.unlink()
        durable.sync_directory(path.parent)
