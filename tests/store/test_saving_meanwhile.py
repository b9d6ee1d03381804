"""While a save waits for the disk, others read. They see nothing that is not safe yet."""

import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from threading import Event as Signal
from typing import Any

import pytest
from store_cases import arrived, event, log_path, opened, ulid

from lowside.store import NotNowError, Outcome, Receipt, Store, StoreStoppedError, durable
from lowside.store.codec import line_of
from lowside.store.index import Index

SID, OTHER = ulid(20), ulid(21)
FIRST = event(1, sid=SID)
SECOND = event(2, sid=SID)
SLOW_S = 60


@pytest.fixture(params=["its log", "the journal"])
def store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> Iterator[Store]:
    """It keeps one log in memory: to read another session pushes it out. `SECOND` is confirmed by
    one of two ways."""
    monkeypatch.setattr("lowside.store.shop_logs.KEPT_LOGS", 1)
    monkeypatch.setattr("lowside.store.settling.LATER_S", 1000.0)
    with opened(tmp_path / "data") as store:
        store.append([FIRST, event(1, sid=OTHER)])
        if request.param == "its log":
            store._journal.settle()
        yield store


def file_of_second(store: Store) -> bytes:
    """Where `SECOND` is before it is confirmed."""
    journal = store.root / "journal" / "1.jsonl"
    return (journal if journal.exists() else log_path(store.root, SID)).read_bytes()


@contextmanager
def saving(
    store: Store, monkeypatch: pytest.MonkeyPatch, error: OSError | None = None
) -> Iterator[Callable[[], Future[list[Receipt]]]]:
    """`SECOND` is in a file and the disk is waited for. The function lets the disk go on, which
    then confirms or fails."""
    reached, goes_on = Signal(), Signal()
    confirm = durable.Grown.confirm

    def slow(file: durable.Grown) -> None:
        if not reached.is_set():
            reached.set()
            assert goes_on.wait(SLOW_S)
        if error is not None:
            raise error
        confirm(file)

    with monkeypatch.context() as patched, ThreadPoolExecutor(1) as pool:
        patched.setattr(durable.Grown, "confirm", slow)
        asked = pool.submit(store.append, [SECOND])
        assert reached.wait(SLOW_S)

        def go_on() -> Future[list[Receipt]]:
            goes_on.set()
            return asked

        try:
            yield go_on
        finally:
            goes_on.set()


def shown(store: Store) -> tuple[object, ...]:
    """What somebody may read of the session that grows."""
    batch = arrived(store, "")
    listed = next(one for one in store.sessions() if one.sid == SID)
    return store.events(SID), batch.events, listed.events, store.last_hlc(), store.next_seq(SID, "")


def test_others_read_meanwhile_and_see_it_when_it_is_safe(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shown(store)
    with saving(store, monkeypatch) as go_on:
        assert line_of(SECOND) in file_of_second(store)
        assert shown(store) == before
        assert go_on().result(SLOW_S) == [Receipt(Outcome.STORED)]
    assert store.events(SID) == [FIRST, SECOND]
    assert arrived(store, "").events[-1] == SECOND


def test_a_log_that_grows_is_not_read_again_before_it_is_safe(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    with saving(store, monkeypatch) as go_on:
        for _ in range(2):
            assert store.events(OTHER) == [event(1, sid=OTHER)]
            assert store.events(SID) == [FIRST]
        go_on().result(SLOW_S)
    assert store.events(OTHER) == [event(1, sid=OTHER)]
    assert store.events(SID) == [FIRST, SECOND]
    assert store.append([event(3, sid=SID)]) == [Receipt(Outcome.STORED)]


def test_what_the_disk_refuses_was_seen_by_nobody(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second of two logs is refused after the first was written."""
    grow = durable.grow

    def refused(path: Path, *told: Any) -> object:
        if path == log_path(store.root, OTHER):
            raise OSError("full")
        return grow(path, *told)

    def not_yet(_path: Path, _size: int) -> None:
        raise OSError("full")

    with monkeypatch.context() as patched:
        patched.setattr(durable, "grow", refused)
        patched.setattr(durable, "cut", not_yet)
        with pytest.raises(NotNowError):
            store.append([SECOND, event(2, sid=OTHER)])
        # It is still in the file, and the log was pushed out of memory.
        assert log_path(store.root, SID).read_bytes().count(b"\n") == 2
        seen = [store.events(sid) for sid in (OTHER, SID, OTHER, SID)]
        with pytest.raises(NotNowError):  # it would index what was refused
            store.rebuild_index()
    assert seen == [[event(1, sid=OTHER)], [FIRST]] * 2
    assert store.append([SECOND]) == [Receipt(Outcome.STORED)]
    assert store.events(SID) == [FIRST, SECOND]


def test_the_store_closes_after_what_is_being_saved(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    with saving(store, monkeypatch) as go_on, ThreadPoolExecutor(1) as pool:
        closing = pool.submit(store.close)
        with pytest.raises(TimeoutError):
            closing.result(0.2)
        assert go_on().result(SLOW_S) == [Receipt(Outcome.STORED)]
        closing.result(SLOW_S)
    with opened(store.root) as again:
        assert again.events(SID) == [FIRST, SECOND]


def test_after_a_disk_that_failed_only_what_was_safe_is_shown(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    with saving(store, monkeypatch, durable.UnsureError("no")) as go_on:
        assert isinstance(go_on().exception(SLOW_S), StoreStoppedError)
    assert [store.events(OTHER), store.events(SID)] == [[event(1, sid=OTHER)], [FIRST]]


def test_an_act_stays_known_when_its_second_copy_is_taken_back(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It came by another way, was counted in, and then the index could not be written."""

    def full(*_told: object) -> None:
        raise sqlite3.OperationalError("full")

    copy = replace(SECOND, eid=FIRST.eid, data=FIRST.data)
    with monkeypatch.context() as patched:
        patched.setattr(Index, "grew", full)
        with pytest.raises(NotNowError):
            store.append([copy])
    other = replace(SECOND, eid=FIRST.eid, data={"text": "other"})
    assert [one.outcome for one in store.append([other])] == [Outcome.QUARANTINED]
    assert [one.outcome for one in store.append([copy])] == [Outcome.ALREADY]
