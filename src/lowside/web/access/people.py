"""Who may use this server, and with which devices: a log that only grows.

`people.jsonl` has the line format of a session's log (docs/store-format.md). The running server
and the `lowside people` command both write to it, each while holding the lock on `people.lock`, and
a reader looks at the file's size before each answer, so a revocation holds from the next request.
"""

import fcntl
import json
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from threading import RLock

from lowside.store import durable
from lowside.store.codec import BadLine, canonical, framed, unframed, whole_lines
from lowside.store.logs import TORN_SUFFIX

FILE = "people.jsonl"
LOCK = "people.lock"
LONGEST_NAME = 80


class PeopleError(Exception):
    """Not done; the message is the sentence the user reads."""


class TroubleError(PeopleError):
    """What is known of people cannot be read or saved. The message may name files and machines, so
    it is for whoever is let in already."""


class Role(StrEnum):
    """Who a person is to the shop; `access` has the addresses their devices may open."""

    FIELD = "field"
    APPRENTICE = "apprentice"
    OFFICE = "office"


@dataclass(frozen=True)
class Person:
    id: str
    name: str
    role: Role
    removed: bool = False


@dataclass(frozen=True)
class Device:
    """A phone or computer that was paired."""

    id: str
    person: str
    label: str
    digest: str
    """SHA-256 of the secret in its cookie."""
    paired_at: int
    """[ms since 1970-01-01 UTC]"""
    revoked: str = ""
    """Why it is let in no more, "" while it is."""


@dataclass(frozen=True)
class Code:
    """A one-time code by its open first letters; `digest` is keyed, so the log does not tell it."""

    number: str
    person: str
    digest: str
    until: int
    """[ms since 1970-01-01 UTC]"""
    spent: bool = False
    tries: int = 0
    """Wrong ones at it."""


@dataclass
class Roll:
    """Everyone and everything known, as the log tells it."""

    people: dict[str, Person] = field(default_factory=dict)
    devices: dict[str, Device] = field(default_factory=dict)
    codes: dict[str, Code] = field(default_factory=dict)
    writers: dict[str, str] = field(default_factory=dict)
    """Which device has a name as a writer of entries."""

    def holder(self, device: Device) -> Person | None:
        """Whose device it is, `None` when it may not be let in."""
        person = self.people.get(device.person)
        if person is None or person.removed or device.revoked != "":
            return None
        return person


Happening = dict[str, str | int]
"""One event: `kind`, `at` [ms since 1970-01-01 UTC] and what the kind needs."""


def tell(roll: Roll, event: Mapping[str, object]) -> None:
    """Change `roll` by one event. A kind or role this version does not know gives no right."""
    text = {name: value for name, value in event.items() if isinstance(value, str)}
    number = {name: value for name, value in event.items() if isinstance(value, int)}
    kind = text.get("kind", "")
    person = roll.people.get(text.get("person", ""))
    device = roll.devices.get(text.get("device", ""))
    if kind in ("person.added", "person.role_set") and text["role"] not in list(Role):
        # Decided by a newer version: what the role may do is unknown here, so nothing.
        roll.people.pop(text["person"], None)
    elif kind == "person.added" and person is None:
        roll.people[text["person"]] = Person(text["person"], text["name"], Role(text["role"]))
    elif kind == "person.role_set" and person is not None:
        roll.people[person.id] = replace(person, role=Role(text["role"]))
    elif kind == "person.removed" and person is not None:
        roll.people[person.id] = replace(person, removed=True)
    elif kind == "code.made":
        made = Code(text["code"], text["person"], text["digest"], number["until"])
        roll.codes[made.number] = made
    elif kind == "code.tried":
        tried = roll.codes.get(text["code"])
        if tried is not None:
            roll.codes[tried.number] = replace(tried, tries=tried.tries + 1)
    elif kind == "code.burnt":
        _spend(roll, text["code"])
    elif kind == "device.writes":
        roll.writers[text["writer"]] = text["device"]
    elif kind == "device.paired" and device is None:
        paired = Device(text["device"], text["person"], text["label"], text["digest"], number["at"])
        roll.devices[paired.id] = paired
        _spend(roll, text["code"])
    elif kind == "device.revoked" and device is not None:
        roll.devices[device.id] = replace(device, revoked=text["why"])


def _spend(roll: Roll, number: str) -> None:
    code = roll.codes.get(number)
    if code is not None:
        roll.codes[number] = replace(code, spent=True)


class PeopleLog:
    """The log in one data folder. Every method may be called from any thread."""

    def __init__(self, data: Path) -> None:
        self.path = data / FILE
        self._lock_path = data / LOCK
        self._guard = RLock()
        self._roll = Roll()
        self._stamp = (-1, -1)
        self._sound = 0
        """Bytes up to the end of the last whole line, its line feed included."""
        self._lacks_feed = False
        self._stopped = ""

    def roll(self) -> Roll:
        """Everyone known now; not to be changed by the caller.

        Raises
            PeopleError: a line cannot be read. It may be a revocation, so nobody is let in by it.
        """
        with self._guard:
            try:
                status = self.path.stat()
            except FileNotFoundError:
                return Roll()
            except OSError as error:
                raise TroubleError(f"{self.path} cannot be read: {error}.") from error
            stamp = (status.st_size, status.st_mtime_ns)
            if stamp != self._stamp:
                self._read()
                self._stamp = stamp
            return self._roll

    def write(self, decide: Callable[[Roll], list[Happening]]) -> None:
        """Append what `decide` makes of the roll; when this returns, it is on the disk.

        Nobody else writes between the roll that `decide` sees and the line it appends.

        Raises
            PeopleError: from `decide`, or because it could not be written.
        """
        with self._guard, self._held():
            if self._stopped:
                raise TroubleError(self._stopped)
            self._stamp = (-1, -1)
            happenings = decide(self.roll())
            if happenings:
                self._write(b"".join(map(line_of, happenings)))

    @contextmanager
    def _held(self) -> Iterator[None]:
        durable.make_directories(self.path.parent)
        file = os.open(self._lock_path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(file, fcntl.LOCK_EX)
            yield
        finally:
            os.close(file)

    def _write(self, lines: bytes) -> None:
        try:
            if not self.path.exists():
                os.close(os.open(self.path, os.O_WRONLY | os.O_CREAT, 0o600))
                durable.sync_directory(self.path.parent)
            self._mend_end()
            self._append(lines)
        except durable.UnsureError as error:
            self._stopped = (
                f"Saving failed ({error}). No person or device can be changed until you restart "
                "Lowside. Check the disk first."
            )
            raise TroubleError(self._stopped) from error
        except OSError as error:
            raise TroubleError(
                f"Saving failed ({error}). Nothing was changed. Mend the cause and try again."
            ) from error
        finally:
            self._stamp = (-1, -1)

    def _append(self, lines: bytes) -> None:
        """All of them or nothing: what a full disk took of them is cut off again."""
        try:
            durable.append(self.path, lines, self._sound)
        except durable.UnsureError:
            raise
        except OSError:
            try:
                durable.cut(self.path, self._sound)
            except OSError as error:
                raise durable.UnsureError(*error.args) from error
            raise

    def _mend_end(self) -> None:
        """A last line that lacks its line feed gets it. A torn one was never acknowledged: keep it
        beside, cut it off."""
        if self._lacks_feed:
            durable.cut(self.path, self._sound - 1)
            durable.append(self.path, b"\n", self._sound - 1)
        elif self.path.stat().st_size > self._sound:
            torn = self.path.read_bytes()[self._sound :]
            aside = self.path.with_name(FILE + TORN_SUFFIX)
            durable.append(aside, torn + b"\n", aside.stat().st_size if aside.exists() else 0)
            durable.cut(self.path, self._sound)

    def _read(self) -> None:
        content = self.path.read_bytes()
        lines, torn = whole_lines(content)
        roll = Roll()
        for number, line in enumerate(lines, 1):
            try:
                tell(roll, event_of(line))
            except (ValueError, KeyError) as error:
                raise TroubleError(
                    f"Line {number} of {self.path} cannot be read. It may have blocked a lost "
                    "phone, so no device can sign in. Put the file back from a copy. Or remove "
                    "the line, and revoke again what should be revoked."
                ) from error
        self._roll = roll
        self._sound = sum([len(line) + 1 for line in lines])
        self._lacks_feed = torn == b"" and content[-1:] not in (b"", b"\n")


def line_of(happening: Happening) -> bytes:
    """The event as a line of the log."""
    return framed(canonical(happening))


def event_of(line: bytes) -> Mapping[str, object]:
    """What a line of the log tells.

    Raises
        ValueError: it was changed or damaged.
    """
    body = unframed(line)
    if isinstance(body, BadLine):
        raise ValueError(body.reason)
    event = json.loads(body)
    if not isinstance(event, dict):
        raise ValueError("not an event")
    return event


def checked_name(typed: str) -> str:
    """A person's or device's name as it is kept.

    Raises
        PeopleError: it is empty, too long or has characters that cannot be shown.
    """
    name = " ".join(typed.split())
    if name == "" or not name.isprintable():
        raise PeopleError("Type a name that people can read.")
    if len(name) > LONGEST_NAME:
        raise PeopleError(f"A name has at most {LONGEST_NAME} characters.")
    return name
