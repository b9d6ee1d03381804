"""Takes a write back that the disk refused half-way, so that saving can go on later."""

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from lowside.core.session.events import Event
from lowside.store import durable
from lowside.store.logs import Log
from lowside.store.outline import Stamp

SLOW_S = 0.001
"""A disk that takes longer to confirm is waited for by several threads. With a quicker one they
cost more than they save. Our choice."""
AT_ONCE = 8
"""Files that are waited for at one time. Our choice."""

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

    def __init__(self) -> None:
        self._before: list[_Before] = []

    def append(self, wanted: Sequence[Growth]) -> list[Stamp]:
        """Write these events to their logs and remember how to take them back.

        Where the disk is slow, it is waited for once: it confirms several files at one time. Names
        of new files are waited for once for each folder.

        Raises
            durable.UnsureError: the disk did not confirm one of them.
            OSError: it refused one of them.
        """
        made_in: set[Path] = set()
        stamps = self._appended(wanted, made_in)
        for folder in sorted(made_in):
            durable.sync_directory(folder)
        return stamps

    def _appended(self, wanted: Sequence[Growth], made_in: set[Path]) -> list[Stamp]:
        stamps: list[Stamp] = []
        slow = False
        for place, (log, events) in enumerate(wanted):
            if slow:
                return stamps + self._side_by_side(wanted[place:], made_in)
            began = time.perf_counter()
            self._remember(log)
            stamps.append(_append(log, events, made_in))
            slow = time.perf_counter() - began > SLOW_S
        return stamps

    def _side_by_side(self, wanted: Sequence[Growth], made_in: set[Path]) -> list[Stamp]:
        for log, _ in wanted:
            self._remember(log)
        asked = [_disk().submit(_append, log, events, made_in) for log, events in wanted]
        errors = [error for one in asked if (error := one.exception()) is not None]
        for error in sorted(errors, key=lambda error: not isinstance(error, durable.UnsureError)):
            raise error
        return [one.result() for one in asked]

    def _remember(self, log: Log) -> None:
        self._before.append(_Before(log, log.size, len(log.events)))

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


def _append(log: Log, events: Sequence[Event], made_in: set[Path]) -> Stamp:
    status = log.append(events, made_in)
    return Stamp(status.st_size, status.st_mtime_ns)


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
