"""A power cut at any moment: whatever was acknowledged is there after it.

A disk that forgets stands in for the real one. It has for certain what it confirmed: a file's
bytes, and the names in a folder. Of the rest it has anything: all of it, nothing, a part, or zeros
where bytes should be. Folders are taken to last; `durable.make_directories` waits for them.
"""

import os
import random
from collections.abc import Collection, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from store_cases import event, opened, ulid

from lowside.core.session.events import Event
from lowside.store import NotNowError, Outcome, Store, durable
from lowside.store.index import Index
from lowside.store.journal import why_lacking

SESSIONS = 6
"""That grow at one time; with each cut half of them are new."""
CUTS = 25


class PowerCut(BaseException):
    """Nothing that runs goes on."""


class ForgetfulDisk:
    """Stands in for `os` in `durable`, and knows what is on the disk for certain."""

    def __init__(self, root: Path, chance: random.Random) -> None:
        self._root = root
        self._chance = chance
        self._safe: dict[str, bytes] = {}
        self._names: dict[str, set[str]] = {}
        self.calls_left = 0
        self.refuses = 0
        """The write that is refused, from now on; 0 for none."""

    def __getattr__(self, name: str) -> object:
        return getattr(os, name)

    def sync(self) -> None:
        self._count()
        for path in self._root.rglob("*"):
            if path.is_dir():
                self._names[str(path)] = set(os.listdir(path))
            else:
                self._safe[str(path)] = path.read_bytes()

    def write(self, file: int, data: memoryview) -> int:
        if self.refuses > 0:
            self.refuses -= 1
            if self.refuses == 0:
                os.write(file, data[: len(data) // 2])
                raise OSError("No space left on device")
        if self._is_last():
            os.write(file, data[: self._chance.randrange(len(data) + 1)])
            raise PowerCut
        return os.write(file, data)

    def ftruncate(self, file: int, size: int) -> None:
        self._count()
        os.ftruncate(file, size)

    def fsync(self, file: int) -> None:
        self._count()
        path = os.readlink(f"/proc/self/fd/{file}")
        if os.path.isdir(path):
            self._names[path] = set(os.listdir(path))
        else:
            self._safe[path] = Path(path).read_bytes()

    def _is_last(self) -> bool:
        self.calls_left -= 1
        return self.calls_left == 0

    def _count(self) -> None:
        if self._is_last():
            raise PowerCut

    def forget(self, in_journal: Collection[Path]) -> None:
        """What is on the disk after the cut.

        Args:
            in_journal: logs whose unsafe part is in the journal. Of others a part is lost
                only at the end: a line that is spoiled in the middle is reported and stays, as
                nothing says what it was.
        """
        for folder in [path for path in self._root.rglob("*") if path.is_dir()]:
            safe = self._names.get(str(folder), set())
            for name in safe | set(os.listdir(folder)):
                path = folder / name
                if not path.is_dir():
                    spoils = path in in_journal or folder.name == "journal"
                    self._leave(path, name in safe, spoils)
            self._names[str(folder)] = set(os.listdir(folder))

    def _leave(self, path: Path, is_named: bool, spoils: bool) -> None:
        safe = self._safe.get(str(path), b"")
        there = path.read_bytes() if path.exists() else None
        if is_named != (there is not None) and self._chance.random() < 0.5:
            is_named = not is_named  # it was made or removed, and the disk knows of it
        if not is_named:
            path.unlink(missing_ok=True)
            self._safe.pop(str(path), None)
            return
        self._safe[str(path)] = self._left(safe, safe if there is None else there, spoils)
        path.write_bytes(self._safe[str(path)])

    def _left(self, safe: bytes, there: bytes, spoils: bool) -> bytes:
        new = there[len(safe) :]
        if not there.startswith(safe):  # it was cut
            return self._chance.choice([safe, there])
        part = new[: self._chance.randrange(len(new) + 1)]
        zeros = bytes(len(part)) + (new[len(part) :] if spoils else b"")
        return safe + self._chance.choice([b"", new, part, bytes(len(new)), zeros])


@dataclass
class Course:
    """What was sent to a store, and what of it was acknowledged."""

    store: Store
    disk: ForgetfulDisk
    chance: random.Random
    first: int = 1
    """Number of the first session that grows."""
    acknowledged: dict[str, list[Event]] = field(default_factory=dict)
    aside: list[Event] = field(default_factory=list)
    sent: list[Event] = field(default_factory=list)

    def go_on(self) -> None:
        """Until the power is cut."""
        while True:
            act = self.chance.randrange(10)
            if act == 0:
                self.settle()
            elif act == 1:
                self.refuse()
            else:
                self.save(self.chance.choice([1, 1, 2, 3, 5]), act == 2)

    def settle(self) -> None:
        """Something is saved before the disk is waited for, half-way, or after that."""
        wait = durable.sync_files

        def meanwhile(paths: Iterable[Path]) -> None:
            files = list(paths)
            half = self.chance.randrange(len(files) + 1)
            wait(files[:half])
            self.save(self.chance.choice([1, 1, 2]), contradicts=False)
            wait(files[half:])

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(durable, "sync_files", meanwhile)
            self.store._journal.settle()

    def refuse(self) -> None:
        """One of the writes of a save finds no room. All of it is taken back."""
        self.disk.refuses = self.chance.randrange(1, 4)
        with suppress(NotNowError):
            self.save(self.chance.choice([1, 2, 3]), contradicts=False)
        self.disk.refuses = 0

    def save(self, sessions: int, contradicts: bool) -> None:
        """Some entries of so many sessions, and perhaps a rival of one that is known."""
        self.sent = []
        sids = [ulid(self.first + n) for n in range(SESSIONS)]
        for sid in self.chance.sample(sids, sessions):
            first = self.store.next_seq(sid, "phone")
            text = "x" * self.chance.randrange(200)
            more = self.chance.randrange(1, 4)
            self.sent += [event(first + n, sid=sid, text=text) for n in range(more)]
        rivals = []
        known = [events[0] for events in self.acknowledged.values() if events]
        if contradicts and known:
            one = self.chance.choice(known)
            rivals = [event(one.seq, sid=one.sid, kind="rival", text=str(self.chance.random()))]
        receipts = self.store.append([*self.sent, *rivals])
        expected = [Outcome.STORED] * len(self.sent) + [Outcome.QUARANTINED] * len(rivals)
        assert [one.outcome for one in receipts] == expected
        for one in self.sent:
            self.acknowledged.setdefault(one.sid, []).append(one)
        self.aside += rivals

    def compare(self) -> None:
        """What the store has after a cut with what it must have; go on from there."""
        for sid in {*self.acknowledged, *(one.sid for one in self.sent)}:
            events = self.store.events(sid)
            safe = self.acknowledged.get(sid, [])
            assert events[: len(safe)] == safe
            assert set(_names(events[len(safe) :])) <= set(_names(self.sent))
            self.acknowledged[sid] = events
        aside = [one.event for one in self.store.quarantined()]
        assert set(_names(self.aside)) <= set(_names(aside))
        self.aside = aside
        self.first += SESSIONS // 2


def _names(events: Sequence[Event]) -> list[tuple[str, int, str]]:
    return [(one.sid, one.seq, one.data.get("text", "")) for one in events]


def kill(store: Store) -> None:
    """It does nothing more. Its lock is free, and says that nobody released it."""
    store._stopped = "killed"
    store.close()
    (store.root / "lock").write_text("1")


@pytest.mark.parametrize("seed", range(8))
def test_what_was_acknowledged_outlives_power_cuts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    monkeypatch.setattr("lowside.store.settling.LATER_S", 1000.0)
    monkeypatch.setattr("lowside.store.journal.BETWEEN_S", 0.0)
    root = tmp_path / "data"
    chance = random.Random(seed)
    disk = ForgetfulDisk(root, chance)
    monkeypatch.setattr(durable, "os", disk)
    course = Course(opened(root), disk, chance)
    put_back = 0
    for _ in range(CUTS):
        disk.calls_left = chance.randrange(1, 60)
        with pytest.raises(PowerCut):
            course.go_on()
        was_cut = chance.random() < 0.7  # else the process is killed, and the disk goes on
        journal = course.store._journal
        in_journal = [*journal._grown, *journal._settling]
        kill(course.store)
        if was_cut:
            disk.forget(in_journal)
            put_back += why_lacking(root) != ""
        disk.calls_left = disk.refuses = 0  # the power is back
        course.store = opened(root)
        assert list((root / "journal").glob("*.jsonl")) == []
        course.compare()
        for problem in course.store.problems():
            assert "cut short" in problem
        for path in root.rglob("*.torn"):
            path.unlink()
        found = course.store.ask(Index.contents)
        with opened(root, write=False) as reader:
            assert reader.ask(Index.contents) == found
    course.store.close()
    assert put_back > 0, "no cut took anything from a log: the test has lost its bite"
