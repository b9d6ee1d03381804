"""Where people, the key that signs tokens and the count of wrong codes are kept."""

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol, TypeVar

from lowside.store import StoreError
from lowside.store.shared import Shared
from lowside.web.access.attempts import MOST_FROM_ALL, MOST_FROM_ONE, WINDOW_MS, Attempts
from lowside.web.access.people import (
    Happening,
    PeopleLog,
    Roll,
    TroubleError,
    event_of,
    line_of,
    tell,
)
from lowside.web.access.secret_file import read_secret, write_secret

KEY_FILE = "access.key"
KEY_BYTES = 32
LOG = "people"
T = TypeVar("T")


class PeopleBook(Protocol):
    """The log of people and devices; see `PeopleLog`."""

    def roll(self) -> Roll: ...
    def write(self, decide: Callable[[Roll], list[Happening]]) -> None: ...


class Key(Protocol):
    """The key that signs."""

    name: str

    def exists(self) -> bool: ...

    def make(self) -> None:
        """Make it when it is missing; nobody else writes the log of people meanwhile."""
        ...

    def read(self) -> bytes:
        """As it is kept now; it exists."""
        ...


class Tries(Protocol):
    """Wrong codes; see `Attempts`."""

    def begin(self, peer: str, now_ms: int) -> bool: ...
    def succeeded(self, peer: str) -> None: ...


@dataclass(frozen=True)
class Kept:
    """All that pairing keeps."""

    people: PeopleBook
    key: Key
    tries: Tries


def kept_in(data: Path) -> Kept:
    """In files of one server."""
    return Kept(PeopleLog(data), KeyFile(data / KEY_FILE), Attempts())


def kept_with(shared: Shared) -> Kept:
    """Where several servers share it: a revocation holds on all of them from the next request."""
    return Kept(SharedPeople(shared), SharedKey(shared), SharedAttempts(shared))


class KeyFile:
    """In a file that only this server's user may read."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.name = str(path)
        self._known: tuple[tuple[int, int, int], bytes] = ((0, 0, 0), b"")

    def exists(self) -> bool:
        return self._path.exists()

    def make(self) -> None:
        if not self.exists():
            write_secret(self._path, secrets.token_bytes(KEY_BYTES))

    def read(self) -> bytes:
        # Removed or put back, it is another file: a running server goes by what is there.
        status = self._path.stat()
        stamp = (status.st_ino, status.st_mtime_ns, status.st_ctime_ns)
        known, key = self._known
        if known != stamp:
            key = read_secret(self._path)
            self._known = (stamp, key)
        return key


class SharedKey:
    """In the shop's database: whoever can read all of that can sign."""

    name = "The key in the database"

    def __init__(self, shared: Shared) -> None:
        self._shared = shared
        self._known = b""

    def exists(self) -> bool:
        return self.read() != b""

    def make(self) -> None:
        _asked(lambda: self._shared.put(KEY_FILE, secrets.token_bytes(KEY_BYTES)))

    def read(self) -> bytes:
        if self._known == b"":  # and it never goes
            self._known = _asked(lambda: self._shared.paper(KEY_FILE)) or b""
        return self._known


class SharedAttempts:
    """Counted over all servers of the shop."""

    def __init__(self, shared: Shared) -> None:
        self._shared = shared

    def begin(self, peer: str, now_ms: int) -> bool:
        return _asked(
            lambda: self._shared.begin_try(peer, now_ms, WINDOW_MS, MOST_FROM_ONE, MOST_FROM_ALL)
        )

    def succeeded(self, peer: str) -> None:
        _asked(lambda: self._shared.forget_try(peer))


class SharedPeople:
    """The log in the shop's database. Before each answer it reads the lines that came since."""

    def __init__(self, shared: Shared) -> None:
        self._shared = shared
        self._known = _Known()
        """Without a lock: a question that stays without an answer keeps nobody else waiting. What
        an earlier question puts here late only makes the next one ask for more."""

    def roll(self) -> Roll:
        known = self._known
        return self._told(known, _asked(lambda: self._shared.lines(LOG, max(known.n - 1, 0))))

    def write(self, decide: Callable[[Roll], list[Happening]]) -> None:
        def decided(lines: Sequence[tuple[int, str]]) -> list[str]:
            roll = self._told(self._known, lines)
            return [line_of(each).decode().rstrip("\n") for each in decide(roll)]

        _asked(lambda: self._shared.write(LOG, 0, decided))

    def _told(self, known: "_Known", lines: Sequence[tuple[int, str]]) -> Roll:
        """Know these lines too: from the last known one on, or all there are."""
        if known.n > 0 and (known.n, known.line) not in lines:
            # The database has less than it had, as after a failover: what is gone is not known.
            known = _Known()
            if not lines or lines[0][0] != 1:
                lines = _asked(lambda: self._shared.lines(LOG, 0))
        fresh = [each for each in lines if each[0] > known.n]
        if not fresh:
            self._known = known
            return known.roll
        roll = _copied(known.roll)  # whoever was given the old one may still be reading it
        for n, line in fresh:
            try:
                tell(roll, event_of(line.encode()))
            except (ValueError, KeyError) as error:
                raise TroubleError(
                    f"Line {n} of the people in the database cannot be read. It may have blocked a "
                    "lost phone, so no device can sign in. Restore the database from a copy."
                ) from error
        self._known = known = _Known(*fresh[-1], roll)
        return known.roll


@dataclass(frozen=True)
class _Known:
    """Everyone, as told by the lines up to one."""

    n: int = 0
    line: str = ""
    roll: Roll = field(default_factory=Roll)


def _copied(roll: Roll) -> Roll:
    return Roll(dict(roll.people), dict(roll.devices), dict(roll.codes), dict(roll.writers))


def _asked(ask: Callable[[], T]) -> T:
    try:
        return ask()
    except StoreError as error:
        raise TroubleError(str(error)) from error
