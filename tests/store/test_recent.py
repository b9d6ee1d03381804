"""The latest arrivals in memory say what the tables say, whatever happened to either."""

import sqlite3
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from store_cases import event, opened, ulid

from lowside.store import NotNowError, Store, recent
from lowside.store.index import Index

SIDS = [ulid(n) for n in range(10, 14)]


def as_told(tables: Index) -> list[object]:
    """Everything that is asked of arrivals."""
    head = tables.head()
    found: list[object] = [head, *(tables.chain_at(n) for n in range(head + 2))]
    for after in range(head + 2):
        for practice in (None, True, False):
            found += [tables.arrivals(after, limit, practice) for limit in (1, 3, 500)]
    return found


def by_the_tables(tables: Index) -> list[object]:
    """The same without what is in memory, which stays."""
    order = tables._order
    kept, order.recent = order.recent, recent.Recent()
    try:
        return as_told(tables)
    finally:
        order.recent = kept


saves = st.lists(
    st.tuples(st.sampled_from(SIDS), st.integers(1, 5), st.booleans(), st.booleans()),
    max_size=8,
)


@given(saves=saves, most=st.sampled_from([2, 5, recent.KEPT]))
@settings(max_examples=30, deadline=None)
def test_memory_and_tables_say_the_same(
    saves: list[tuple[str, int, bool, bool]], most: int
) -> None:
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(recent, "KEPT", most)
        root = Path(folder)
        with opened(root) as store:
            for sid, count, later, fails in saves:
                _save(store, sid, count, later, fails)
                told = store.glance(as_told)
                assert told == store.glance(by_the_tables)
            if saves:
                store.rebuild_index()
                assert store.glance(as_told) == store.glance(by_the_tables)


def _save(store: Store, sid: str, count: int, later: bool, fails: bool) -> None:
    """Save so many entries of a session; every fourth session is of practice."""
    first = store.next_seq(sid, "phone")
    data = {"practice": "yes"} if sid == SIDS[0] else {"site": "Gym"}
    some = [event(first + n, sid=sid, **data) for n in range(count)]
    rows_later = later and sid != SIDS[0]
    with pytest.MonkeyPatch.context() as patch:
        if fails:

            def full(*_told: object) -> None:
                raise sqlite3.OperationalError("database or disk is full")

            patch.setattr(Index, "put_rows", full)
            patch.setattr(Index, "note_aside", full)
        try:
            store.append(some, rows_later)
        except NotNowError:
            assert fails


def test_after_a_write_that_failed_the_tables_are_asked(tmp_path: Path) -> None:
    with opened(tmp_path / "data") as store:
        _save(store, SIDS[1], 3, later=False, fails=False)
        _save(store, SIDS[1], 3, later=False, fails=True)
        assert store.glance(Index.head) == 3
        _save(store, SIDS[2], 2, later=False, fails=False)
        assert [row[0] for row in store.glance(lambda tables: tables.arrivals(3, 9))] == [4, 5]
