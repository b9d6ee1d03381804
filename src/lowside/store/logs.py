"""The logs on disk: one file for a session. It is read whole and only appended to."""

import hashlib
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import cast

from lowside.core.session.events import Event
from lowside.store import durable
from lowside.store.codec import BadLine, canonical_event, read_line, read_lines
from lowside.store.outline import Stamp
from lowside.store.ulid import is_of_year, ulid_ms

Key = tuple[str, int]
"""Of an event in its log: writer and number."""

SESSIONS = "sessions"
QUARANTINE = "quarantine"
JOURNAL = "journal"
SUFFIX = ".jsonl"
TORN_SUFFIX = ".torn"
TORN_LOG = (
    "{} holds the end of an entry whose saving was cut short. It was never acknowledged; remove "
    "the file when you have looked at it."
)
TORN_JOURNAL = (
    "{} holds a save that was cut short, or an entry whose log is not as it was. Its other entries "
    "are in their logs. Remove the file when you have looked at it."
)


@dataclass
class Log:
    """One log file, read once; `count_in` makes it longer."""

    path: Path
    sid: str
    repeats: bool = False
    """Whether numbers may repeat. They do in quarantine, which holds rivals of one entry."""
    events: list[Event] = field(default_factory=list)
    size: int = 0
    """Bytes up to the end of the last whole line. Only these were acknowledged."""
    torn: bytes = b""
    """Bytes after that: a power cut or a kill cut a write short."""
    damaged: list[str] = field(default_factory=list)
    """A sentence for each line that cannot be read; the line stays in the file."""
    by_key: dict[tuple[str, int], Event] = field(default_factory=dict)
    by_eid: dict[str, Event] = field(default_factory=dict)
    contents: set[bytes] = field(default_factory=set)
    """Of a log whose numbers may repeat: a digest of each event, to tell at once what is there."""

    @property
    def keys(self) -> tuple[Key, ...]:
        """Writer and number of each event."""
        return tuple([(event.dev, event.seq) for event in self.events])

    @property
    def last_hlc(self) -> str:
        """The latest clock value, "" without events."""
        return max([event.hlc for event in self.events], default="")

    def is_taken(self, event: Event) -> bool:
        """Whether another event in this log has this event's number."""
        return not self.repeats and (event.dev, event.seq) in self.by_key

    def take(self, event: Event) -> None:
        """Count an event in. The first of a (dev, seq) and of an eid wins."""
        self.events.append(event)
        self.by_key.setdefault((event.dev, event.seq), event)
        self.by_eid.setdefault(event.eid, event)
        if self.repeats:
            self.contents.add(digest_of(event))

    def take_all(self, read: Sequence[Event | BadLine]) -> bool:
        """Count these in as the first, when nothing is wrong with any of them. One by one it takes
        three times as long.

        Returns
            Whether it was done.
        """
        if self.repeats or BadLine in set(map(type, read)):
            return False
        events = cast("list[Event]", read)
        by_key = {(event.dev, event.seq): event for event in events}
        by_eid = {event.eid: event for event in events}
        if len(by_key) < len(events) or len(by_eid) < len(events):
            return False
        if any(event.sid != self.sid for event in events):
            return False
        self.events, self.by_key, self.by_eid = events, by_key, by_eid
        return True

    def count_in(
        self,
        events: Sequence[Event],
        size: int,
        by_key: Mapping[Key, Event],
        by_eid: Mapping[str, Event],
    ) -> None:
        """These were written and are safe: the file has this size now.

        Args:
            by_key: each of them; none is known here.
            by_eid: the first of each act.
        """
        self.size = size
        if self.repeats:
            self.contents.update(map(digest_of, events))
        self.events += events
        self.by_key.update(by_key)
        for eid, event in by_eid.items():
            self.by_eid.setdefault(eid, event)

    def forget_after(self, count: int) -> None:
        """Count only the first `count` events: the others did not become part of the record."""
        while len(self.events) > count:
            event = self.events.pop()
            self.contents.discard(digest_of(event))
            if self.by_key.get((event.dev, event.seq)) is event:
                del self.by_key[event.dev, event.seq]
            if self.by_eid.get(event.eid) is event:
                del self.by_eid[event.eid]

    def mend(self) -> None:
        """Mend a torn end: an event that lacks only its line feed is kept, the rest is set aside.

        It goes to `<log>.torn` before it leaves the log. So a kill in between only sets it aside
        twice.

        Raises
            OSError: the disk refused.
        """
        if self.torn == b"":
            return
        # One flipped bit makes another byte of the line feed. The entry before it is sound.
        for line in (self.torn, self.torn[:-1]):
            event = read_line(line)
            if isinstance(event, Event) and event.sid == self.sid and not self.is_taken(event):
                if line != self.torn:
                    durable.cut(self.path, self.size + len(line))
                status = durable.append(self.path, b"\n", self.size + len(line))
                self.take(event)
                self.size = status.st_size
                break
        else:
            aside = self.path.with_name(self.path.name + TORN_SUFFIX)
            already = aside.stat().st_size if aside.exists() else 0
            durable.append(aside, self.torn + b"\n", already)
            durable.cut(self.path, self.size)
        self.torn = b""

    def problems(self) -> list[str]:
        """Sentences about the parts of the file that cannot be trusted."""
        found = list(self.damaged)
        if self.torn != b"":
            found.append(
                f"{self.path} ends in the middle of an entry ({len(self.torn)} bytes); the "
                "entry was never acknowledged."
            )
        return found


def digest_of(event: Event) -> bytes:
    """The same for the same event only."""
    return hashlib.sha256(canonical_event(event)).digest()


def session_path(root: Path, sid: str) -> Path:
    """Where a session's log is: the folder is the year of its ULID, in UTC.

    Raises
        ValueError: `sid` is not a ULID, so no file may have its name.
    """
    year = _year(sid)
    if year == "":
        raise ValueError("not a ULID")
    return root / SESSIONS / year / (sid + SUFFIX)


def quarantine_path(root: Path, sid: str) -> Path:
    """Where the events that contradict a session's events are kept.

    Raises
        ValueError: `sid` is not a ULID.
    """
    if ulid_ms(sid) is None:
        raise ValueError("not a ULID")
    return root / QUARANTINE / (sid + SUFFIX)


def session_files(root: Path) -> Iterator[tuple[str, Path]]:
    """Every session's log, oldest first."""
    for sid, path, _ in stamped_files(root):
        yield sid, Path(path)


def stamped_files(root: Path) -> Iterator[tuple[str, str, Stamp]]:
    """As `session_files`, with how each file looks. A start asks this of every session, so it
    makes nothing that costs more than the question."""
    for folder in _folders(root / SESSIONS):
        for entry in sorted(os.scandir(folder), key=_name):
            sid = entry.name.removesuffix(SUFFIX)
            if sid != entry.name and is_of_year(sid, folder.name):
                status = entry.stat()
                yield sid, entry.path, Stamp(status.st_size, status.st_mtime_ns)


def quarantine_files(root: Path) -> Iterator[tuple[str, Path]]:
    """Every log of contradicting events."""
    for path in sorted((root / QUARANTINE).glob("*" + SUFFIX)):
        sid = path.name.removesuffix(SUFFIX)
        if ulid_ms(sid) is not None:
            yield sid, path


def unread_files(root: Path) -> tuple[list[Path], list[Path]]:
    """Files among the logs that are not read: those that are no logs, such as a copy made by hand,
    and those with what was set aside, which a person removes."""
    strange: list[Path] = []
    torn: list[Path] = []
    for folder in (SESSIONS, QUARANTINE, JOURNAL):
        for where, names in _files_under(root / folder):
            below = where.relative_to(root / folder).parts
            for name in names:
                if name.endswith(TORN_SUFFIX):
                    (torn if name.endswith(SUFFIX + TORN_SUFFIX) else strange).append(where / name)
                elif not _is_log(folder, below, name):
                    strange.append(where / name)
    return sorted(strange), sorted(torn)


def _files_under(folder: Path) -> Iterator[tuple[Path, list[str]]]:
    for where, _, names in os.walk(folder):
        yield Path(where), names


def is_journal(name: str) -> bool:
    """Whether a file in the journal's folder has this name because it is one of its files."""
    return name.endswith(SUFFIX) and name.removesuffix(SUFFIX).isdecimal()


def _is_log(kind: str, below: tuple[str, ...], name: str) -> bool:
    sid = name.removesuffix(SUFFIX)
    if sid == name:
        return False
    if kind == SESSIONS:
        return len(below) == 1 and is_of_year(sid, below[0])
    if kind == JOURNAL:
        return below == () and is_journal(name)
    return below == () and ulid_ms(sid) is not None


def _folders(folder: Path) -> list[os.DirEntry[str]]:
    if not folder.is_dir():
        return []
    return sorted((entry for entry in os.scandir(folder) if entry.is_dir()), key=_name)


def _name(entry: os.DirEntry[str]) -> str:
    return entry.name


def _year(sid: str) -> str:
    """Of a ULID, in UTC; "" for another text."""
    ms = ulid_ms(sid)
    return "" if ms is None else str(datetime.fromtimestamp(ms // 1000, UTC).year)


def problems_of_files(root: Path) -> dict[str, list[str]]:
    """Sentences about files among the logs that a person should look at, by path."""
    strange_files, torn_files = unread_files(root)
    torn = {
        str(path): [(TORN_JOURNAL if path.parent.name == JOURNAL else TORN_LOG).format(path)]
        for path in torn_files
    }
    strange = {
        str(path): [f"{path} is not a log of this store, so it is not read."]
        for path in strange_files
    }
    return torn | strange


def read_log(path: Path, sid: str, repeats: bool = False) -> Log:
    """Read a log and check every line. A missing file is an empty log.

    Raises
        OSError: the file is there and cannot be read.
    """
    log = Log(path, sid, repeats)
    try:
        content = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        return log
    *lines, log.torn = content.split(b"\n")
    log.size = len(content) - len(log.torn)
    read = read_lines(lines)
    if log.take_all(read):
        return log
    for number, event in enumerate(read, start=1):
        if isinstance(event, BadLine):
            log.damaged.append(f"{path}, line {number} was left out: {event.reason}.")
        elif event.sid != sid:
            log.damaged.append(
                f"{path}, line {number} was left out: it belongs to session {event.sid}."
            )
        elif log.is_taken(event):
            log.damaged.append(
                f"{path}, line {number} was left out: it repeats the number of an earlier line."
            )
        else:
            log.take(event)
    return log
