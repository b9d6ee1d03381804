"""Nothing acknowledged is lost: killed writers, torn ends, damaged lines, disks that refuse."""

import errno
import os
import random
import resource
import select
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from store_cases import OTHER_SID, SID, event, log_path, opened, ulid

from lowside.core.session.events import Event
from lowside.store import NotNowError, Outcome, Receipt, StoreStoppedError, durable
from lowside.store.codec import checksum, line_of
from lowside.store.index import Index
from lowside.store.lock import writer_pid

KILLS = 24

WRITER = """
import os, signal, sys
from store_cases import event, opened, ulid
from lowside.store import durable
from pathlib import Path

root, left = Path(sys.argv[1]), int(sys.argv[2])
if left:
    def in_pieces(file, data):
        global left
        for start in range(0, len(data), 40):
            durable.os.write(file, data[start:start + 40])
            left -= 1
            if left == 0:
                os.kill(os.getpid(), signal.SIGKILL)
    durable._write_all = in_pieces
store = opened(root)
print("open", flush=True)
while True:
    for sid in (ulid(1), ulid(2), ulid(3)):
        first = store.next_seq(sid, "phone")
        batch = [event(n, sid=sid, text="x" * (n % 50) + "\\u2028é") for n in (first, first + 1)]
        for verdict in store.append(batch):
            assert verdict.outcome == "stored", verdict
        for item in batch:
            print(sid, item.seq, flush=True)
"""


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture(autouse=True)
def _settles_when_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lowside.store.settling.LATER_S", 1000.0)


@pytest.fixture
def torn(root: Path) -> Path:
    """A store whose one log ends in half an entry that was never acknowledged."""
    with opened(root) as store:
        store.append([event(1), event(2)])
    with log_path(root).open("ab") as file:
        file.write(line_of(event(3))[:100])
    return root


def test_every_acknowledged_event_outlives_a_killed_writer(root: Path) -> None:
    """Half of them are killed at a moment, the others after so many pieces of what they write."""
    chance = random.Random(20251124)
    acknowledged: dict[str, int] = {}
    tears = 0
    for kill in range(KILLS):
        pieces = chance.randrange(20, 200) if kill % 2 else 0
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(root), str(pieces)],
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parent,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        ) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == b"open\n"
            if pieces == 0:
                for _ in range(chance.randrange(1, 12)):
                    _acknowledge(writer.stdout.readline(), acknowledged)
                select.select([], [], [], chance.random() * 0.02)
                writer.send_signal(signal.SIGKILL)
            for line in writer.stdout:
                _acknowledge(line, acknowledged)
        with opened(root) as store:
            for sid, seq in acknowledged.items():
                events = store.events(sid)
                assert [e.seq for e in events] == list(range(1, len(events) + 1))
                assert len(events) >= seq
                for e in events:
                    assert e == event(e.seq, sid=sid, text="x" * (e.seq % 50) + "\u2028é")
            found = store.ask(Index.contents)
            tears += sum("cut short" in problem for problem in store.problems()) > 0
            for problem in store.problems():
                assert "cut short" in problem
            for path in root.rglob("*.torn"):
                path.unlink()
        with opened(root, write=False) as reader:
            assert reader.ask(Index.contents) == found
    assert sum(acknowledged.values()) >= KILLS
    assert tears > 0, "no kill fell into a write: the test has lost its bite"


def _acknowledge(line: bytes, acknowledged: dict[str, int]) -> None:
    """Count one acknowledgement; a line the kill cut short was not one."""
    if line.endswith(b"\n"):
        sid, seq = line.decode().split()
        acknowledged[sid] = int(seq)


def test_a_torn_end_is_set_aside_and_reported(torn: Path) -> None:
    with opened(torn) as store:
        assert store.events(SID) == [event(1), event(2)]
        assert ["cut short" in problem for problem in store.problems()] == [True]
        assert [v.outcome for v in store.append([event(3)])] == ["stored"]
    aside = log_path(torn).with_name(f"{SID}.jsonl.torn")
    assert aside.read_bytes() == line_of(event(3))[:100] + b"\n"
    with opened(torn) as store:
        assert store.events(SID) == [event(1), event(2), event(3)]
        assert len(store.problems()) == 1, "it stays reported until a person removes it"


def test_a_second_torn_end_does_not_replace_the_first(torn: Path) -> None:
    opened(torn).close()
    with log_path(torn).open("ab") as file:
        file.write(b"\x00" * 9)
    opened(torn).close()
    aside = log_path(torn).with_name(f"{SID}.jsonl.torn")
    assert aside.read_bytes() == line_of(event(3))[:100] + b"\n" + b"\x00" * 9 + b"\n"


def test_an_entry_that_lacks_only_its_line_feed_is_kept(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
    with log_path(root).open("ab") as file:
        file.write(line_of(event(2))[:-1])
    with opened(root) as store:
        assert store.events(SID) == [event(1), event(2)]
        assert store.problems() == []
        store.append([event(3)])
    with opened(root) as store:
        assert store.events(SID) == [event(1), event(2), event(3)]


def test_a_reader_reports_a_torn_end_and_leaves_it(torn: Path) -> None:
    before = log_path(torn).read_bytes()
    with opened(torn, write=False) as store:
        assert store.events(SID) == [event(1), event(2)]
        assert ["middle of an entry" in problem for problem in store.problems()] == [True]
    assert log_path(torn).read_bytes() == before


def test_a_reader_beside_a_writer_takes_an_unfinished_end_for_what_it_is(root: Path) -> None:
    with opened(root) as writer:
        writer.append([event(1)])
        with log_path(root).open("ab") as file:
            file.write(line_of(event(2))[:50])
        with opened(root, write=False) as reader:
            assert reader.events(SID) == [event(1)]
            assert reader.problems() == []


DAMAGE: dict[str, Callable[[bytes], bytes]] = {
    "one bit": lambda line: line.replace(b'"text":"118"', b'"text":"119"'),
    "no checksum": lambda line: line.replace(b',"sum"', b',"som"'),
    "not JSON": lambda _: b"\xff\xfe garbage",
    "empty": lambda _: b"",
    "zeros": lambda line: b"\x00" * len(line),
    "another session": lambda _: line_of(event(2, sid=OTHER_SID))[:-1],
    "a repeat": lambda _: line_of(event(1, text="again"))[:-1],
    "an unknown field": lambda _: _signed(b'{"colour":"red"}'),
    "deep JSON": lambda _: _signed(b"[" * 200_000),
}


def _signed(body: bytes) -> bytes:
    return b'{"event":' + body + b',"sum":"' + checksum(body) + b'"}'


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE.keys())
def test_a_damaged_line_is_reported_and_kept_and_the_others_load(
    root: Path, damage: Callable[[bytes], bytes]
) -> None:
    with opened(root) as store:
        store.append([event(1), event(2, text="118"), event(3)])
    lines = log_path(root).read_bytes().split(b"\n")
    lines[1] = damage(lines[1])
    spoiled = b"\n".join(lines)
    log_path(root).write_bytes(spoiled)
    later = log_path(root).stat().st_mtime_ns + 1_000_000_000
    os.utime(log_path(root), ns=(later, later))  # some file systems tell moments apart badly
    for _ in range(2):  # the second opening trusts the index, and still reports
        with opened(root) as store:
            assert store.events(SID) == [event(1), event(3)]
            assert ["line 2 was left out" in problem for problem in store.problems()] == [True]
            assert [item.events for item in store.sessions()] == [2]
    assert log_path(root).read_bytes() == spoiled


def test_a_number_lost_in_a_damaged_line_is_not_given_out_again(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(2)])
    content = log_path(root).read_bytes()
    log_path(root).write_bytes(content[:-10] + b"!" + content[-9:])
    with opened(root) as store:
        assert store.events(SID) == [event(1)]
        assert store.next_seq(SID, "phone") == 3


def test_files_that_are_no_logs_are_reported_and_left(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
    copy = log_path(root).with_name("copy of log.jsonl")
    copy.write_bytes(log_path(root).read_bytes())
    misplaced = root / "sessions" / "1999" / log_path(root).name
    misplaced.parent.mkdir()
    misplaced.write_bytes(b"")
    with opened(root) as store:
        assert len(store.sessions()) == 1
        assert sorted(p.split(" is not")[0] for p in store.problems()) == sorted(
            [str(copy), str(misplaced)]
        )


class Disk:
    """Stands in for `os` in `durable`: notes what is asked of the disk, and can refuse it."""

    def __init__(self) -> None:
        self.calls: list[str] = []
        self.refuse: Callable[[str, str], bool] = lambda _call, _path: False
        self.half = False
        """Each write takes half of what is left before the disk is asked for the rest."""

    def __getattr__(self, name: str) -> object:
        return getattr(os, name)

    def open(self, path: Path, *how: int) -> int:
        if self.refuse("open", str(path)):
            raise OSError(errno.ENOSPC, "No space left on device")
        return os.open(path, *how)

    def write(self, file: int, data: memoryview) -> int:
        if self.half and len(data) > 1:
            return os.write(file, data[: len(data) // 2])
        self._note("write", file)
        return os.write(file, data)

    def ftruncate(self, file: int, size: int) -> None:
        self._note("ftruncate", file)
        os.ftruncate(file, size)

    def fsync(self, file: int) -> None:
        self._note("fsync", file)
        os.fsync(file)

    def _note(self, call: str, file: int) -> None:
        path = os.readlink(f"/proc/self/fd/{file}")
        if self.refuse(call, path):
            raise OSError(errno.ENOSPC, "No space left on device")
        self.calls.append(f"{call} {Path(path).name}")


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    disk = Disk()
    monkeypatch.setattr(durable, "os", disk)
    return disk


def test_the_disk_has_file_and_folders_before_anything_is_acknowledged(
    root: Path, disk: Disk
) -> None:
    with opened(root) as store:
        disk.calls.clear()
        store.append([event(1), event(2)])
        name, other = f"{SID}.jsonl", f"{OTHER_SID}.jsonl"
        assert disk.calls == [
            "fsync data",
            "fsync sessions",
            f"write {name}",
            f"fsync {name}",
            "fsync 2025",
        ]
        disk.calls.clear()
        store.append([event(3), event(1)])
        assert disk.calls == [f"write {name}", f"fsync {name}"]
        disk.calls.clear()
        store.append([event(1, text="other")])
        assert disk.calls == ["fsync data", f"write {name}", f"fsync {name}", "fsync quarantine"]
        disk.calls.clear()
        store.append([event(1, sid=OTHER_SID)])
        assert disk.calls == [f"write {other}", f"fsync {other}", "fsync 2025"]


def test_the_disk_has_the_journal_before_logs_grow_and_the_logs_before_the_journal_goes(
    root: Path, disk: Disk
) -> None:
    name, other = f"{SID}.jsonl", f"{OTHER_SID}.jsonl"
    made = ["fsync data", "write 1.jsonl", "fsync 1.jsonl", "fsync journal"]
    with opened(root) as store:
        store.append([event(1, sid=OTHER_SID)])
        disk.calls.clear()
        store.append([event(1), event(2, sid=OTHER_SID)])
        assert disk.calls == [*made, f"write {name}", f"write {other}"]
        disk.calls.clear()
        store.append([event(2)])  # what is before it in its log is only in the journal
        assert disk.calls == ["write 1.jsonl", "fsync 1.jsonl", f"write {name}"]
        disk.calls.clear()
        store._journal.settle()
        assert sorted(disk.calls[:2]) == sorted([f"fsync {name}", f"fsync {other}"])
        assert disk.calls[2:] == ["fsync 2025", "fsync journal"]
        assert list((root / "journal").iterdir()) == []
        disk.calls.clear()
        store.append([event(3)])
        assert disk.calls == [f"write {name}", f"fsync {name}"]
        disk.calls.clear()
        store.append([event(1, text="other"), event(4)])
        assert disk.calls[:3] == ["write 2.jsonl", "fsync 2.jsonl", "fsync journal"]
        assert disk.calls[-2:] == [f"write {name}"] * 2  # set aside, and in its log


def test_a_save_of_many_sessions_holds_few_files_open(root: Path, disk: Disk) -> None:
    sids = [ulid(n) for n in range(10, 40)]
    with opened(root) as store:
        most = 0

        def look(_asked: str, _path: str) -> bool:
            nonlocal most
            most = max(most, _logs_open())
            return False

        disk.refuse = look
        assert {v.outcome for v in store.append([event(1, sid=sid) for sid in sids])} == {"stored"}
        store._journal.settle()
        assert most == 1
        disk.refuse = lambda asked, path: asked == "write" and path.endswith(f"{sids[3]}.jsonl")
        with pytest.raises(NotNowError):
            store.append([event(2, sid=sid) for sid in sids])
        assert _logs_open() == 0
        disk.refuse = lambda _call, _path: False
        assert {v.outcome for v in store.append([event(2, sid=sid) for sid in sids])} == {"stored"}


def _logs_open() -> int:
    found = 0
    for name in os.listdir("/proc/self/fd"):
        with suppress(FileNotFoundError):  # closed meanwhile
            found += os.readlink(f"/proc/self/fd/{name}").endswith(".jsonl")
    return found


ONE = [event(1)]
TWO = [event(1), event(1, sid=OTHER_SID)]
NOT_CONFIRMED = [
    (ONE, f"{SID}.jsonl"),
    (ONE, "2025"),
    (TWO, "1.jsonl"),
    (TWO, "journal"),
    (TWO, "data"),
]


@pytest.mark.parametrize(("batch", "where"), NOT_CONFIRMED)
def test_a_disk_that_does_not_confirm_acknowledges_nothing_and_stops_all_writing(
    root: Path, disk: Disk, batch: list[Event], where: str
) -> None:
    with opened(root) as store:
        store.append([event(1, sid=ulid(7))])
        disk.refuse = lambda asked, path: asked == "fsync" and path.endswith("/" + where)
        with pytest.raises(StoreStoppedError, match="No space left on device"):
            store.append(batch)
        disk.refuse = lambda _call, _path: False
        calls = len(disk.calls)
        with pytest.raises(StoreStoppedError, match="until you restart Lowside"):
            store.append([event(2, sid=ulid(7))])
        assert len(disk.calls) == calls, "nothing may be written after a failure"
        assert store.events(ulid(7)) == [event(1, sid=ulid(7))]
    with opened(root) as store:
        assert {v.outcome for v in store.append(batch)} <= {"stored", "already"}
        for one in batch:
            assert store.events(one.sid) == [one]
        assert store.problems() == []


@pytest.mark.parametrize("where", [f"{SID}.jsonl", f"{OTHER_SID}.jsonl", "2025"])
def test_a_disk_that_does_not_confirm_later_stops_all_writing_and_is_written_again(
    root: Path, disk: Disk, where: str
) -> None:
    """The journal has confirmed the entries, so they are acknowledged and shown. The system may
    take for written what the disk never got."""
    with opened(root) as store:
        store.append(TWO)
        disk.refuse = lambda asked, path: asked == "fsync" and path.endswith(where)
        store._journal.try_to_settle()
        disk.refuse = lambda _call, _path: False
        with pytest.raises(StoreStoppedError, match="until you restart Lowside"):
            store.append([event(2)])
        assert [store.events(one.sid) for one in TWO] == [[one] for one in TWO]
    assert (root / "journal" / "1.jsonl").exists()
    disk.calls.clear()
    with opened(root) as store:
        for one in TWO:
            assert f"write {one.sid}.jsonl" in disk.calls
            assert f"fsync {one.sid}.jsonl" in disk.calls
            assert store.events(one.sid) == [one]
        assert store.append([event(2)]) == [Receipt(Outcome.STORED)]


def test_a_settling_that_cannot_be_done_now_is_done_later(root: Path, disk: Disk) -> None:
    with opened(root) as store:
        store.append(TWO)
        disk.refuse = lambda asked, path: asked == "open" and path.endswith(f"{SID}.jsonl")
        store._journal.try_to_settle()
        store.append([event(1, sid=ulid(7)), event(1, sid=ulid(8))])
        assert len(list((root / "journal").iterdir())) == 2
        disk.refuse = lambda _call, _path: False
        assert store.append([event(2)]) == [Receipt(Outcome.STORED)]
        for _ in range(2):
            store._journal.settle()
        assert list((root / "journal").iterdir()) == []
    with opened(root) as store:
        assert store.events(SID) == [event(1), event(2)]
        assert store.problems() == []


@pytest.mark.parametrize("where", [f"{SID}.jsonl", f"{OTHER_SID}.jsonl", "journal/1.jsonl"])
@pytest.mark.parametrize("call", ["open", "write"])
def test_a_refused_write_saves_nothing_of_the_batch_and_saving_goes_on_when_there_is_room(
    root: Path, disk: Disk, call: str, where: str
) -> None:
    with opened(root) as store:
        store.append([event(1, sid=ulid(7))])
        before = store.ask(Index.contents)
        disk.refuse = lambda asked, path: asked == call and path.endswith(where)
        batch = [event(1), event(1, sid=OTHER_SID)]
        for _ in range(2):
            with pytest.raises(NotNowError, match="No space left on device"):
                store.append(batch)
            assert (store.events(SID), store.events(OTHER_SID)) == ([], [])
            assert [log_path(root, sid).exists() for sid in (SID, OTHER_SID)] == [False, False]
            assert store.ask(Index.contents) == before
            assert store.next_seq(SID, "phone") == 1
        assert {v.outcome for v in store.append([event(2, sid=ulid(7))])} == {"stored"}
        disk.refuse = lambda _call, _path: False
        assert [v.outcome for v in store.append(batch)] == ["stored", "stored"]
        contents = store.ask(Index.contents)
    with opened(root) as store:
        assert store.events(SID) == [event(1)]
        assert store.events(OTHER_SID) == [event(1, sid=OTHER_SID)]
        assert store.problems() == []
        assert store.ask(Index.contents) == contents


def test_nothing_is_saved_on_top_of_a_half_write_that_cannot_be_taken_back(
    root: Path, disk: Disk
) -> None:
    with opened(root) as store:
        store.append([event(1)])
        size = log_path(root).stat().st_size
        disk.half = True
        disk.refuse = lambda asked, _path: asked in ("write", "ftruncate")
        with pytest.raises(NotNowError):
            store.append([event(2)])
        assert log_path(root).stat().st_size > size
        disk.refuse = lambda asked, _path: asked == "ftruncate"
        with pytest.raises(NotNowError, match="taken back"):
            store.append([event(1, sid=OTHER_SID)])
        disk.refuse = lambda _call, _path: False
        assert [v.outcome for v in store.append([event(2)])] == ["stored"]
    with opened(root) as store:
        assert store.events(SID) == [event(1), event(2)]
        assert store.problems() == []


def test_a_file_that_really_cannot_grow_loses_nothing_and_takes_more_when_it_can(
    root: Path,
) -> None:
    with opened(root) as store:
        store.append([event(1)])
        size = log_path(root).stat().st_size
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 100, hard))
        try:
            with pytest.raises(NotNowError, match="File too large"):
                store.append([event(2)])
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert log_path(root).stat().st_size == size
        assert store.events(SID) == [event(1)]
        assert [v.outcome for v in store.append([event(2)])] == ["stored"]
    with opened(root) as store:
        assert store.events(SID) == [event(1), event(2)]
        assert store.problems() == []


def test_a_process_without_file_descriptors_saves_again_when_it_has_some(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        taken = [os.open(os.devnull, os.O_RDONLY)]
        resource.setrlimit(resource.RLIMIT_NOFILE, (taken[0] + 1, hard))
        try:
            for sid in (SID, OTHER_SID):
                with pytest.raises(NotNowError, match="Too many open files"):
                    store.append([event(2, sid=sid)])
        finally:
            resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
            os.close(taken[0])
        assert [v.outcome for v in store.append([event(2), event(1, sid=OTHER_SID)])] == [
            "stored",
            "stored",
        ]


def test_an_index_that_cannot_be_written_acknowledges_nothing(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
        index = store._index
        index._db.execute("PRAGMA query_only = 1")
        with pytest.raises(NotNowError, match="index could not be written"):
            store.append([event(2)])
        assert store.events(SID) == [event(1)]
        index._db.execute("PRAGMA query_only = 0")
        assert [v.outcome for v in store.append([event(2)])] == ["stored"]


def test_a_log_another_program_changes_stops_all_writing(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
        with log_path(root).open("ab") as file:
            file.write(line_of(event(2)))
        with pytest.raises(StoreStoppedError, match="another program changes it"):
            store.append([event(3)])


def test_the_lock_is_free_again_after_a_kill(root: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(root), "0"],
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parent,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"open\n"
        assert writer_pid(root) == writer.pid
        writer.kill()
    assert writer_pid(root) is None
    opened(root).close()
