"""What is in the journal after a cut gets into the logs, and nothing else is touched."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from threading import Event as Signal
from threading import Thread
from types import SimpleNamespace

import pytest
from store_cases import OTHER_SID, SID, event, log_path, opened, outline, ulid
from waiting import until

from lowside.store import Outcome, Receipt, Store, StoreError, StoreStoppedError, durable
from lowside.store.archive import backup, restore
from lowside.store.check import check
from lowside.store.codec import line_of
from lowside.store.journal import Piece, journal_path, put_back, written
from lowside.store.lock import writer_pid

FIRST = [event(1), event(1, sid=OTHER_SID)]
SECOND = [event(2), event(1, sid=ulid(7))]


@pytest.fixture(autouse=True)
def _settles_when_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lowside.store.settling.LATER_S", 1000.0)


@pytest.fixture
def root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two saves are in the journal and in their logs, as after a kill."""
    root = tmp_path / "data"
    store = opened(root)
    store.append(FIRST)
    store.append(SECOND)
    with monkeypatch.context() as patch:
        patch.setattr(durable, "sync_files", _refuses)
        store.close()
    return root


def _refuses(*_told: object) -> None:
    raise OSError("No space left on device")


def logs(root: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in (root / "sessions").rglob("*.jsonl*")}


def test_a_journal_that_is_cut_anywhere_gives_back_its_whole_saves(root: Path) -> None:
    path = journal_path(root, 1)
    whole, expected = path.read_bytes(), logs(root)
    first = len(b"".join(map(line_of, FIRST))) + whole.index(b"\n") + 1
    after_first = {
        f"{SID}.jsonl": line_of(FIRST[0]),
        f"{OTHER_SID}.jsonl": line_of(FIRST[1]),
    }
    for size in range(len(whole) + 1):
        for log in (root / "sessions").rglob("*.jsonl"):
            log.unlink()
        path.write_bytes(whole[:size])
        put_back(root)
        saves = [{}, after_first, expected][(size >= first) + (size == len(whole))]
        assert logs(root) == saves, size
        asides = list((root / "journal").iterdir())
        assert [one.read_bytes() for one in asides] == (
            [] if size in (0, first, len(whole)) else [whole[:size]]
        )
        for one in asides:
            one.unlink()


@pytest.mark.parametrize("lost", [0, 1, 50, 10**6])
def test_a_log_that_lost_its_end_gets_it_back(root: Path, lost: int) -> None:
    expected = logs(root)
    for path in (root / "sessions").rglob("*.jsonl"):
        content = path.read_bytes()
        path.write_bytes(content[: max(0, len(content) - lost)])
    with opened(root) as store:
        assert store.events(SID) == [FIRST[0], SECOND[0]]
        assert store.problems() == []
    assert logs(root) == expected
    assert list((root / "journal").iterdir()) == []


def test_what_came_after_in_a_log_stays(root: Path) -> None:
    with log_path(root).open("ab") as file:
        file.write(line_of(event(3)))
    with opened(root) as store:
        assert store.events(SID) == [event(1), event(2), event(3)]


def test_what_is_spoiled_in_its_place_is_written_again(root: Path) -> None:
    log = log_path(root)
    expected = log.read_bytes()
    for spoiled in (expected[:-9] + bytes(9), expected[:-9] + bytes(8) + b"\n"):
        log.write_bytes(spoiled)
        journal = journal_path(root, 1).read_bytes()
        with opened(root) as store:
            assert store.events(SID) == [event(1), event(2)]
            assert store.problems() == []
        assert log.read_bytes() == expected
        journal_path(root, 1).write_bytes(journal)


def test_another_entry_in_its_place_stays_and_the_journal_is_kept(root: Path) -> None:
    """As in a copy that was made while the server took a save back and made another."""
    journal = journal_path(root, 1).read_bytes()
    other = line_of(event(1)) + line_of(event(2, text="another")) + line_of(event(3))
    log_path(root).write_bytes(other)
    with opened(root) as store:
        assert [one.data for one in store.events(SID)] == [{}, {"text": "another"}, {}]
        assert ["log is not as it was" in one for one in store.problems()] == [True]
    assert log_path(root).read_bytes() == other
    assert journal_path(root, 1).with_name("1.jsonl.torn").read_bytes() == journal


def test_a_log_that_cannot_be_opened_keeps_no_other_from_being_put_back(root: Path) -> None:
    for sid in (SID, OTHER_SID):
        log_path(root, sid).unlink()
    log_path(root, SID).mkdir()
    with suppress(StoreError), opened(root) as store:
        store.events(OTHER_SID)
    assert log_path(root, OTHER_SID).read_bytes() == line_of(FIRST[1])
    log_path(root, SID).rmdir()
    with opened(root) as store:
        assert any("log is not as it was" in one for one in store.problems())


def test_a_journal_that_cannot_be_read_keeps_the_store_from_saving(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan = os.scandir

    def denied(path: Path) -> object:
        if Path(path).name == "journal":
            raise PermissionError("not yours")
        return scan(path)

    with monkeypatch.context() as patch:
        patch.setattr("lowside.store.journal.os.scandir", denied)
        with opened(root) as store:
            assert any("not yours" in one for one in store.problems())
            with pytest.raises(StoreStoppedError, match="restart Lowside"):
                store.append([event(3)])


def test_a_log_that_ends_before_its_place_keeps_the_journal(tmp_path: Path) -> None:
    """As in a copy that was made while the server ran."""
    root = tmp_path / "data"
    with opened(root) as store:
        store.append([event(1)])
    path = journal_path(root, 4)
    path.parent.mkdir()
    late = Piece(log_path(root), SID, False, 9_999, line_of(event(30)))
    new = Piece(log_path(root, OTHER_SID), OTHER_SID, False, 0, line_of(event(1, sid=OTHER_SID)))
    path.write_bytes(written([late, new]))
    for most in (1, 2):
        with opened(root) as store:
            assert store.events(SID) == [event(1)]
            assert store.events(OTHER_SID) == [event(1, sid=OTHER_SID)]
            assert ["log is not as it was" in one for one in store.problems()] == [True] * most
        asides = [one.read_bytes() for one in path.parent.iterdir()]
        assert sorted(asides) == sorted([written([late, new]), written([late])][:most])
        path.write_bytes(written([late]))  # the same name again


def _whole(_root: Path) -> None:
    """All logs are there, as after a kill."""


def _shortened(root: Path) -> None:
    log_path(root).unlink()


@pytest.mark.parametrize(("loses", "says"), [(_whole, False), (_shortened, True)])
def test_a_reader_says_what_is_not_in_its_log_and_a_backup_waits_for_it(
    root: Path, monkeypatch: pytest.MonkeyPatch, loses: Callable[[Path], None], says: bool
) -> None:
    monkeypatch.setattr("lowside.store.journal.BETWEEN_S", 0.01)
    loses(root)
    before = {path: path.read_bytes() for path in root.rglob("*") if path.is_file()}
    with opened(root, write=False) as reader:
        assert ["Start Lowside: it puts them" in one for one in reader.problems()] == [True] * says
    assert any("Start Lowside" in one for one in check(root, outline).problems) == says
    out = root.parent / "backup"
    if says:
        with pytest.raises(StoreError, match="Start Lowside"):
            backup(root, out)
    else:
        backup(root, out)
    for path, content in before.items():
        assert path.read_bytes() == content
    opened(root).close()
    backup(root, out)
    restore(out, root.parent / "again")
    with opened(root.parent / "again") as store:
        assert store.events(SID) == [event(1), event(2)]
        assert store.problems() == []


def test_a_backup_beside_the_server_leaves_the_journal_out(tmp_path: Path) -> None:
    root = tmp_path / "data"
    with opened(root) as store:
        store.append(FIRST)
        assert journal_path(root, 1).exists()
        backup(root, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "again")
    assert not (tmp_path / "again" / "journal").exists()
    with opened(tmp_path / "again") as store:
        assert [store.events(one.sid) for one in FIRST] == [[one] for one in FIRST]


def test_a_disk_that_takes_nothing_back_lets_the_store_be_read(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log_path(root, OTHER_SID).unlink()
    with monkeypatch.context() as patch:
        patch.setattr(durable, "overwrite", _refuses)
        with opened(root) as store:
            assert store.events(SID) == [event(1), event(2)]
            assert any("could not be put into" in one for one in store.problems())
            with pytest.raises(StoreStoppedError, match="restart Lowside"):
                store.append([event(3)])
    with opened(root) as store:
        assert store.events(OTHER_SID) == [event(1, sid=OTHER_SID)]
        assert store.append([event(3)]) == [Receipt(Outcome.STORED)]


def test_a_save_that_is_taken_back_leaves_the_journal_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with opened(tmp_path / "data") as store:
        store.append(FIRST)
        path = journal_path(store.root, 1)
        before = path.read_bytes()
        _refuse_log_of(SECOND[1].sid, store, monkeypatch)
        assert path.read_bytes() == before
        assert store._journal.takes([log_path(store.root)])
        assert not store._journal.takes([log_path(store.root, SECOND[1].sid)])
        assert store.append(SECOND) == [Receipt(Outcome.STORED)] * 2


def _refuse_log_of(sid: str, store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    grow = durable.grow

    def refused(path: Path, data: bytes, size: int) -> durable.Grown:
        if path == log_path(store.root, sid):
            raise OSError("No space left on device")
        return grow(path, data, size)

    with monkeypatch.context() as patch, suppress(StoreError):
        patch.setattr(durable, "grow", refused)
        store.append(SECOND)
        raise AssertionError("it was saved")


def test_the_journal_is_settled_by_itself_and_when_the_store_is_closed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "data"
    with opened(root) as store:
        store.append(FIRST)
        assert journal_path(root, 1).exists()
    assert list((root / "journal").iterdir()) == []
    monkeypatch.setattr("lowside.store.settling.LATER_S", 0.0)
    with opened(root) as store:
        store.append(SECOND)
        until(lambda: list((root / "journal").iterdir()) == [], "it is settled")
        store.append([event(3), event(2, sid=OTHER_SID)])
        until(lambda: list((root / "journal").iterdir()) == [], "the next one too")


def test_a_backup_beside_a_server_that_could_not_put_back_is_none(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lowside.store.journal.BETWEEN_S", 0.01)
    log_path(root).unlink()
    with monkeypatch.context() as patch:
        patch.setattr(durable, "overwrite", _refuses)
        with opened(root), pytest.raises(StoreError, match="Some logs lack entries"):
            backup(root, root.parent / "backup")


def test_a_backup_waits_for_a_save_that_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "data"
    with opened(root) as store:
        store.append(FIRST)
        with journal_path(root, 1).open("ab") as file:
            piece = Piece(
                log_path(root), SID, False, log_path(root).stat().st_size, line_of(event(2))
            )
            file.write(written([piece]))
        waits: list[float] = []

        def wait(seconds: float) -> None:
            waits.append(seconds)
            with log_path(root).open("ab") as log:
                log.write(line_of(event(2)))

        monkeypatch.setattr("lowside.store.journal.time", SimpleNamespace(sleep=wait))
        backup(root, tmp_path / "backup")
    assert len(waits) == 1


def test_a_log_that_is_gone_keeps_no_other_from_being_settled(tmp_path: Path) -> None:
    root = tmp_path / "data"
    with opened(root) as store:
        store.append(FIRST)
        log_path(root).unlink()
        assert store._journal.try_to_settle()
        assert list((root / "journal").iterdir()) == []


def test_a_settling_that_fails_is_said_until_it_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = 0

    def refused(_paths: object) -> None:
        nonlocal tried
        tried += 1
        raise OSError("Too many open files")

    monkeypatch.setattr("lowside.store.settling.LATER_S", 0.02)
    with opened(tmp_path / "data") as store:
        with monkeypatch.context() as patch:
            patch.setattr(durable, "sync_files", refused)
            patch.setattr("lowside.store.settling.MOST_BYTES", 10)
            store.append(FIRST)
            until(lambda: tried >= 2, "it is tried again without a new save")
            assert ["Too many open files" in one for one in store.problems()] == [True]
            store.append([event(2), event(2, sid=OTHER_SID)])
        until(lambda: list((store.root / "journal").iterdir()) == [], "both files are settled")
        until(lambda: store.problems() == [], "nothing is said any more")


def test_two_that_close_at_once_end_together(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second may not let the lock go while the first one still settles."""
    reached, goes_on = Signal(), Signal()
    wait = durable.sync_files

    def slow(paths: Iterable[Path]) -> None:
        if not reached.is_set():
            reached.set()
            assert goes_on.wait(60)
        wait(paths)

    store = opened(tmp_path / "data")
    store.append(FIRST)
    with monkeypatch.context() as patch, ThreadPoolExecutor(2) as pool:
        patch.setattr(durable, "sync_files", slow)
        first = pool.submit(store.close)
        assert reached.wait(60)
        second = pool.submit(store.close)
        with pytest.raises(TimeoutError):
            second.result(0.2)
        assert writer_pid(store.root) is not None
        goes_on.set()
        first.result(60)
        second.result(60)
    assert writer_pid(store.root) is None


def test_a_thread_that_cannot_start_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(_self: Thread) -> None:
        raise RuntimeError("can't start new thread")

    store = opened(tmp_path / "data")
    with monkeypatch.context() as patch:
        patch.setattr(Thread, "start", none)
        with pytest.raises(RuntimeError):
            store.append(FIRST)
    store.close()
    with opened(tmp_path / "data") as again:
        assert again.append(FIRST) == [Receipt(Outcome.STORED)] * 2


def test_what_a_killed_writer_left_is_on_the_disk_before_anything_is_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "data"
    asked: list[str] = []
    monkeypatch.setattr(durable, "sync_everything", lambda: asked.append("sync"))
    with opened(root) as store:
        store.append([event(1)])
    opened(root).close()
    assert asked == []
    killed = subprocess.run(
        [sys.executable, "-c", KILLED, str(root)],
        cwd=Path(__file__).parent,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
        check=False,
    )
    assert killed.returncode == -signal.SIGKILL
    with opened(root) as store:
        assert asked == ["sync"]
        assert store.events(SID) == [event(1), event(2)]
    opened(root).close()
    assert asked == ["sync"]


KILLED = """
import os, signal, sys
from pathlib import Path
from store_cases import event, opened
from lowside.store import durable

def killed(_file):
    os.kill(os.getpid(), signal.SIGKILL)

store = opened(Path(sys.argv[1]))
durable.Grown.confirm = killed
store.append([event(2)])
"""
