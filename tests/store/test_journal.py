"""What is in the journal after a cut gets into the logs, and nothing else is touched."""

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from store_cases import OTHER_SID, SID, event, log_path, opened, outline, ulid
from waiting import until

from lowside.store import Outcome, Receipt, Store, StoreError, StoreStoppedError, durable
from lowside.store.archive import backup, restore
from lowside.store.check import check
from lowside.store.codec import line_of
from lowside.store.journal import Piece, journal_path, put_back, written

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


def test_something_else_in_its_place_is_kept_beside_the_log(root: Path) -> None:
    log = log_path(root)
    expected = log.read_bytes()
    log.write_bytes(expected[:-9] + bytes(9))
    with opened(root) as store:
        assert store.events(SID) == [event(1), event(2)]
        assert ["was cut short" in problem for problem in store.problems()] == [True]
    assert log.read_bytes() == expected
    aside = log.with_name(log.name + ".torn").read_bytes()
    assert aside == line_of(event(2))[:-9] + bytes(9) + b"\n"


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
    root: Path, loses: Callable[[Path], None], says: bool
) -> None:
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
