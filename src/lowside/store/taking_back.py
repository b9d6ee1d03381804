"""Takes a write back that the disk refused half-way, so that saving can go on later."""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.session.events import Event
from lowside.store import durable
from lowside.store.logs import Log
from lowside.store.outline import Stamp


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

    def append(self, log: Log, events: Sequence[Event]) -> Stamp:
        """Write these events and remember how to take them back; as `Log.append`."""
        self._before.append(_Before(log, log.size, len(log.events)))
        status = log.append(events)
        return Stamp(status.st_size, status.st_mtime_ns)

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


def _cut_back(before: _Before) -> None:
    path = before.log.path
    if not path.exists():
        return
    if path.stat().st_size > before.size:
        durable.cut(path, before.size)
    if before.size == 0:
        path.unlink()
        durable.sync_directory(path.parent)
