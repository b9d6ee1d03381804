"""Several phones' entries are saved in one go, and lists' rows may be made a moment later."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Event as Signal
from typing import Any

import pytest
from store_cases import OTHER_SID, arrived, event, log_path, opened, outline, ulid
from waiting import until

from lowside.store import (
    NotNowError,
    Outcome,
    Receipt,
    Store,
    StoreError,
    StoreStoppedError,
    durable,
    late_rows,
)
from lowside.store.check import check
from lowside.store.index import Index

SIDS = [ulid(n) for n in range(10, 16)]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def _rows_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows are made when they are asked for and not by themselves."""
    monkeypatch.setattr(late_rows, "LATER_S", 1000.0)


@contextmanager
def waiting_behind_a_save(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[], list[Future[list[Receipt]]]]]:
    """One thread saves and its disk is slow; the others wait. The function lets the disk go on."""
    reached, goes_on = Signal(), Signal()
    grow = durable.grow

    def slow(*told: object) -> object:
        if not reached.is_set():
            reached.set()
            assert goes_on.wait(60)
        return grow(*told)  # type: ignore[arg-type]

    monkeypatch.setattr(durable, "grow", slow)
    with ThreadPoolExecutor(10) as pool:
        asked = [pool.submit(store.append, [event(1, sid=ulid(9))])]
        assert reached.wait(60)
        asked += [pool.submit(store.append, [event(1, sid=sid)]) for sid in SIDS]
        until(lambda: len(store._together._waiting) == len(SIDS), "all wait")

        def go_on() -> list[Future[list[Receipt]]]:
            goes_on.set()
            return asked

        try:
            yield go_on
        finally:
            goes_on.set()


def test_phones_that_wait_for_a_save_share_the_next_one(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    transactions = 0
    begin = Index.transaction

    def counted(index: Index) -> object:
        nonlocal transactions
        transactions += 1
        return begin(index)

    with opened(root) as store:
        monkeypatch.setattr(Index, "transaction", counted)
        with waiting_behind_a_save(store, monkeypatch) as go_on:
            receipts = [one.result(60) for one in go_on()]
        assert transactions == 2
    assert receipts == [[Receipt(Outcome.STORED)]] * (1 + len(SIDS))
    with opened(root) as store:
        assert [store.events(sid) for sid in SIDS] == [[event(1, sid=sid)] for sid in SIDS]


def test_the_disk_is_waited_for_once_for_several_sessions(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    waited: list[Path] = []
    confirm = durable.Grown.confirm

    def counted(file: durable.Grown) -> None:
        waited.append(file.path)
        confirm(file)

    with opened(root) as store:
        monkeypatch.setattr(durable.Grown, "confirm", counted)
        receipts = store.append([event(1, sid=sid) for sid in SIDS])
    assert receipts == [Receipt(Outcome.STORED)] * len(SIDS)
    assert waited == [root / "journal" / "1.jsonl"]


def test_a_log_that_cannot_be_written_keeps_only_its_own_phone_waiting(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with opened(root) as store:
        grow = durable.grow

        def refused(path: Path, *told: Any) -> object:
            if path == log_path(root, SIDS[2]):
                raise OSError("not this one")
            return grow(path, *told)

        monkeypatch.setattr(durable, "grow", refused)
        with waiting_behind_a_save(store, monkeypatch) as go_on:
            errors = [one.exception(60) for one in go_on()]
        assert [type(one) for one in errors] == [type(None)] * 3 + [NotNowError] + [type(None)] * 3
        monkeypatch.undo()
        assert store.append([event(1, sid=SIDS[2])]) == [Receipt(Outcome.STORED)]
    with opened(root) as store:
        assert {one.sid for one in store.sessions()} == {ulid(9), *SIDS}


def test_a_disk_that_does_not_confirm_acknowledges_none_of_those_who_waited(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with opened(root) as store:
        grow = durable.grow

        def unsure(path: Path, *told: Any) -> object:
            if path == log_path(root, SIDS[3]):
                raise durable.UnsureError("who knows")
            return grow(path, *told)

        monkeypatch.setattr(durable, "grow", unsure)
        with waiting_behind_a_save(store, monkeypatch) as go_on:
            first, *others = [one.exception(60) for one in go_on()]
        assert first is None
        assert [type(one) for one in others] == [StoreStoppedError] * len(SIDS)
        with pytest.raises(StoreError):
            store.append([event(2, sid=ulid(9))])


@pytest.mark.usefixtures("_rows_wait")
def test_rows_that_come_later_are_there_for_whoever_asks(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1, site="Gym")])
        cursor = arrived(store, "").cursor
        store.append([event(2, site="Mill"), event(1, sid=OTHER_SID, site="Shed")], rows_later=True)
        assert store.append([event(2, site="Mill")], rows_later=True) == [Receipt(Outcome.ALREADY)]
        assert store.last_hlc() == event(2).hlc
        assert arrived(store, cursor).events == (
            event(2, site="Mill"),
            event(1, sid=OTHER_SID, site="Shed"),
        )
        assert [one.outline.site for one in store.glance(_all)] == ["Gym"]
        assert {one.outline.site for one in store.sessions()} == {"Mill", "Shed"}
        assert {one.outline.site for one in store.glance(_all)} == {"Mill", "Shed"}


def _all(tables: Index) -> list[object]:
    return tables.listed((), False, False, None, None)  # type: ignore[return-value]


def test_rows_are_made_by_themselves_a_moment_later(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_rows, "LATER_S", 0.01)
    with opened(root) as store:
        for sid in SIDS:
            store.append([event(1, sid=sid)], rows_later=True)
        until(lambda: len(store.glance(_all)) == len(SIDS), "all rows are made")


@pytest.mark.usefixtures("_rows_wait")
def test_not_too_many_sessions_wait_for_their_rows(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_rows, "MOST_LATE", 2)
    with opened(root) as store:
        for sid in SIDS:
            store.append([event(1, sid=sid)], rows_later=True)
        assert len(store.glance(_all)) == len(SIDS) - 2


@pytest.mark.usefixtures("_rows_wait")
def test_a_server_killed_before_it_made_the_rows_makes_them_at_its_start(root: Path) -> None:
    killed = root.with_name("killed")
    with opened(root) as store:
        store.append([event(1, site="Gym")])
        store.append([event(2, site="Mill"), event(1, sid=OTHER_SID)], rows_later=True)
        cursor = arrived(store, "").cursor
        shutil.copytree(root, killed, ignore=shutil.ignore_patterns("lock*"))
    found = check(killed, outline)
    assert found.problems == ()
    assert any("lists of 2 sessions" in note for note in found.notes)
    with opened(killed) as store:
        assert {one.outline.site for one in store.sessions()} == {"Mill", ""}
        assert arrived(store, cursor).restarted is False
    assert check(killed, outline).notes == ()


@pytest.mark.usefixtures("_rows_wait")
def test_rows_that_cannot_be_written_are_made_when_they_can(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with opened(root) as store:
        store.append([event(1, site="Gym")], rows_later=True)

        def full(*_told: object) -> None:
            raise sqlite3.OperationalError("database or disk is full")

        with monkeypatch.context() as patched:
            patched.setattr(Index, "put_rows", full)
            assert store.sessions() == []
            assert any("behind" in problem for problem in store.problems())
        assert [one.outline.site for one in store.sessions()] == ["Gym"]
        assert store.problems() == []


def test_an_entry_that_comes_again_after_its_line_was_damaged_keeps_its_place(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(2)])
    whole = log_path(root).read_bytes()
    with opened(root) as store:
        cursor = arrived(store, "").cursor
        log_path(root).write_bytes(whole.replace(b"note.added", b"note.adddd", 1))
        store._logs.clear()
        again = [event(1), event(3)]
        assert [one.outcome for one in store.append(again, rows_later=True)] == ["stored"] * 2
        assert arrived(store, cursor).events == (event(3),)


@pytest.mark.usefixtures("_rows_wait")
def test_a_session_whose_rows_cannot_be_made_keeps_no_other_out(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lowside.store.shop_logs.KEPT_LOGS", 1)
    with opened(root) as store:
        for sid in SIDS[:3]:
            store.append([event(1, sid=sid, site="Gym")], rows_later=True)
        log, aside = log_path(root, SIDS[0]), root / "aside"
        log.rename(aside)
        log.mkdir()
        assert {one.sid for one in store.sessions()} == set(SIDS[1:3])
        assert "The lists are behind" in " ".join(store.problems())
        log.rmdir()
        aside.rename(log)
        assert {one.sid for one in store.sessions()} == set(SIDS[:3])
        assert store.problems() == []
