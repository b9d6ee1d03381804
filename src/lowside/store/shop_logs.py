"""All logs of a shop: those of sessions, the latest used in memory, and those set aside."""

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from lowside.core.session.events import Event
from lowside.store.answers import Arrival
from lowside.store.errors import NotNowError
from lowside.store.lock import writer_pid
from lowside.store.logs import (
    Key,
    Log,
    quarantine_files,
    quarantine_path,
    read_log,
    session_path,
)

KEPT_LOGS = 512
"""How many parsed sessions stay in memory."""


class ShopLogs:
    """Reads each log when it is needed. Not thread-safe: the store's lock guards it."""

    def __init__(
        self,
        root: Path,
        is_writer: bool,
        may_write: Callable[[], bool],
        problems: dict[str, list[str]],
    ) -> None:
        """
        Args:
            is_writer: this is the store's one writer. It mends a log's torn end; a reader does not.
            may_write: whether the writer may write at this moment.
            problems: gets the sentences about logs that cannot be trusted, by path.
        """
        self._root = root
        self._is_writer = is_writer
        self._may_write = may_write
        self._problems = problems
        self._sessions: OrderedDict[str, Log] = OrderedDict()
        self._held: dict[str, Log] = {}
        self.quarantine: dict[str, Log] = {}

    def read_quarantine(self) -> None:
        for sid, path in quarantine_files(self._root):
            self.quarantine[sid] = self._read(path, sid, repeats=True)

    def clear(self) -> None:
        """Read each session's log again when it is asked for next."""
        self._sessions.clear()

    def of(self, sid: str) -> Log:
        """A session's log. Raises NotNowError."""
        log = self._sessions.get(sid)
        if log is None:
            log = self._held.get(sid) or self._read(session_path(self._root, sid), sid)
            self._sessions[sid] = log
            if len(self._sessions) > KEPT_LOGS:
                self._sessions.popitem(last=False)
        self._sessions.move_to_end(sid)
        return log

    def hold(self, logs: Sequence[Log]) -> None:
        """Read none of these again until others are held: what is in their files already may never
        become part of the record."""
        self._held = {log.sid: log for log in logs}

    def find(self, arrivals: Sequence[Arrival]) -> list[Event]:
        """The entries that arrived so, but for damaged ones. Those of a session mostly come one
        after the other."""
        found: list[Event | None] = []
        of_sid = ""
        by_key: Mapping[Key, Event] = {}
        for _, sid, dev, seq in arrivals:
            if sid != of_sid:
                of_sid, by_key = sid, self.of(sid).by_key
            found.append(by_key.get((dev, seq)))
        return [event for event in found if event is not None]

    def asides(self) -> dict[str, int]:
        """How many entries of each session were set aside."""
        return {sid: len(log.events) for sid, log in self.quarantine.items()}

    def aside(self, sid: str) -> list[Event]:
        """A session's entries that were set aside."""
        log = self.quarantine.get(sid)
        return log.events if log is not None else []

    def aside_log(self, sid: str) -> Log:
        """The log of these; an empty one when there are none."""
        if sid not in self.quarantine:
            self.quarantine[sid] = Log(quarantine_path(self._root, sid), sid, repeats=True)
        return self.quarantine[sid]

    def _read(self, path: Path, sid: str, repeats: bool = False) -> Log:
        try:
            log = read_log(path, sid, repeats)
        except OSError as error:
            raise NotNowError(f"{path} cannot be read just now ({error}).") from error
        if self._is_writer and self._may_write():
            # A full disk cannot take the torn end now. Whoever writes to the log asks again.
            with suppress(OSError):
                log.mend()
        elif not self._is_writer and log.torn != b"" and writer_pid(self._root) is not None:
            log.torn = b""  # not torn: being written at this moment
        found = log.problems()
        if found:
            self._problems[str(path)] = found
        return log
