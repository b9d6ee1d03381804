"""What one may rely on from the store: verdicts, lists, cursors, quarantine, one writer."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from store_cases import OTHER_SID, SID, arrived, event, log_path, opened, ulid

from lowside.core.session.events import Event
from lowside.store import (
    BadEvent,
    Outline,
    ReadOnlyError,
    Store,
    StoreBusyError,
    StoreError,
)
from lowside.store.codec import canonical_event
from lowside.store.index import Index


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def store(root: Path) -> Iterator[Store]:
    with opened(root) as store:
        yield store


def outcomes(store: Store, *events: Event | BadEvent) -> list[str]:
    return [str(verdict.outcome) for verdict in store.append(events)]


def test_the_same_event_again_is_already_stored(store: Store, root: Path) -> None:
    store.append([event(1, text="a")])
    size = log_path(root).stat().st_size
    assert outcomes(store, event(1, text="a"), event(1, text="a")) == ["already", "already"]
    assert log_path(root).stat().st_size == size


def test_the_same_contradiction_again_is_kept_aside_once(store: Store, root: Path) -> None:
    store.append([event(1, text="a")])
    rival = event(1, text="b")
    assert outcomes(store, rival, rival) == ["quarantined"] * 2
    assert outcomes(store, rival, event(1, text="c")) == ["quarantined"] * 2
    assert [item.event.data["text"] for item in store.quarantined()] == ["b", "c"]
    store.close()
    with opened(root) as reopened:
        assert [item.event.data["text"] for item in reopened.quarantined()] == ["b", "c"]
        assert reopened.problems() == []


def test_many_contradictions_do_not_make_the_next_one_slow(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every phone waits while one contradiction is compared with those before."""
    store.append([event(1, text="a")])
    store.append([event(1, text=f"b{n}") for n in range(400)])
    written: list[Event] = []

    def counted(one: Event) -> bytes:
        written.append(one)
        return canonical_event(one)

    for module in ("verdicts", "logs", "codec"):
        monkeypatch.setattr(f"lowside.store.{module}.canonical_event", counted)
    assert outcomes(store, event(1, text="c"), event(1, text="b7")) == ["quarantined"] * 2
    assert 0 < len(written) < 20
    assert len(store.quarantined()) == 401


@pytest.mark.parametrize(
    "sid", ["../../etc/passwd", "", SID.lower(), SID[:-1], SID + "0", SID[:-1] + "U", "Z" * 26]
)
def test_a_name_that_is_no_ulid_never_becomes_a_file(store: Store, root: Path, sid: str) -> None:
    before = sorted(root.rglob("*"))
    assert outcomes(store, replace(event(1), sid=sid)) == ["refused"]
    assert store.events(sid) == []
    assert store.next_seq(sid, "phone") == 1
    assert sorted(root.rglob("*")) == before


def test_logs_lie_in_the_year_of_their_session(root: Path) -> None:
    new_year = ulid(5, 1_767_225_600_000)  # 2026-01-01T00:00:00Z
    old_year = ulid(5, 1_767_225_599_999)
    with opened(root) as store:
        store.append([event(1, sid=new_year), event(1, sid=old_year)])
    assert (root / "sessions" / "2026" / f"{new_year}.jsonl").exists()
    assert (root / "sessions" / "2025" / f"{old_year}.jsonl").exists()


def test_reopening_reads_only_logs_that_changed(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(1, sid=OTHER_SID)])
    outlined: list[str] = []

    def noting(events: list[Event]) -> Outline:
        outlined.append(events[0].sid)
        return Outline()

    Store.open(root, noting).close()
    assert outlined == []
    with log_path(root).open("ab") as file:
        file.write(b"{}\n")
    Store.open(root, noting).close()
    assert outlined == [SID]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda path: path.unlink(),
        lambda path: path.write_bytes(b"not a database, but long enough to look like one" * 40),
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(path.read_bytes()[:5000]),
    ],
    ids=["missing", "something else", "empty", "cut short"],
)
def test_a_lost_or_damaged_index_is_made_anew(root: Path, spoil: "object") -> None:
    with opened(root) as store:
        store.append([event(1, site="Gym"), event(1, sid=OTHER_SID)])
        contents = store.ask(Index.contents)
    assert callable(spoil)
    spoil(root / "index.sqlite")
    with opened(root) as store:
        assert store.ask(Index.contents) == contents
        assert outcomes(store, event(2)) == ["stored"]


def test_an_index_behind_its_logs_catches_up(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
        cursor = arrived(store, "").cursor
    old = (root / "index.sqlite").read_bytes()
    with opened(root) as store:
        store.append([event(2), event(1, sid=OTHER_SID, site="Gym")])
        contents = store.ask(Index.contents)
    (root / "index.sqlite").write_bytes(old)
    with opened(root) as store:
        assert store.ask(Index.contents) == contents
        assert len(arrived(store, cursor).events) == 2


def test_a_session_whose_log_is_gone_is_reported(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
    log_path(root).unlink()
    with opened(root) as store:
        assert store.sessions() == []
        assert [SID in problem for problem in store.problems()] == [True]


def test_an_empty_log_that_is_gone_held_nothing(root: Path) -> None:
    """A power cut leaves a name without bytes. A save that is taken back removes it."""
    with opened(root) as store:
        store.append([event(1)])
    empty = log_path(root).with_name(OTHER_SID + ".jsonl")
    empty.touch()
    with opened(root) as store:
        assert store.problems() == []
    empty.unlink()
    with opened(root) as store:
        assert store.problems() == []


def test_an_outline_that_fails_keeps_nothing_from_being_stored(root: Path) -> None:
    def failing(_events: list[Event]) -> Outline:
        raise ValueError("cannot tell")

    with Store.open(root, failing) as store:
        assert outcomes(store, event(1)) == ["stored"]
        assert [item.sid for item in store.sessions()] == [SID]
        assert ["cannot tell" in problem for problem in store.problems()] == [True]


def test_only_one_may_write_and_the_message_names_it(root: Path) -> None:
    with opened(root):
        with pytest.raises(StoreBusyError, match=r"process \d+ writes to it") as caught:
            opened(root)
        assert f"process {caught.value.pid}" in str(caught.value)
    opened(root).close()


def test_reading_needs_no_lock_and_touches_nothing(root: Path) -> None:
    with opened(root) as writer:
        writer.append([event(1)])
        before = {path: path.stat().st_mtime_ns for path in root.rglob("*")}
        with opened(root, write=False) as reader:
            assert reader.events(SID) == [event(1)]
            assert [item.sid for item in reader.sessions()] == [SID]
            with pytest.raises(ReadOnlyError):
                reader.append([event(2)])
            with pytest.raises(ReadOnlyError):
                reader.rebuild_index()
        assert {path: path.stat().st_mtime_ns for path in root.rglob("*")} == before


def test_reading_a_store_that_is_not_there_says_so(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="There is no data folder"):
        opened(tmp_path / "nowhere", write=False)
    assert not (tmp_path / "nowhere").exists()


def test_more_sessions_than_are_kept_in_memory(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lowside.store.shop_logs.KEPT_LOGS", 3)
    with opened(root) as store:
        for n in range(1, 9):
            store.append([event(1, sid=ulid(i)) for i in range(10, 10 + n)])
            store.append([event(2, sid=ulid(10 + n - 1))])
        assert all(len(store.events(ulid(i))) == 2 for i in range(10, 18))
