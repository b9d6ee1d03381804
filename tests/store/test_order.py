"""The order of arrival, kept as runs, is that of entry by entry."""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from store_cases import arrived, event, opened

from lowside.store.comparing import differences, gaps
from lowside.store.cursor import START, Run, link
from lowside.store.index import INDEX_FILE, Index, UnusableIndexError
from lowside.store.logs import Key
from lowside.store.order import SCHEMA, Order, runs_of
from lowside.store.outline import RowRules
from lowside.store.recent import Recent

SIDS = ("A", "B")
DEVS = ("office-1", "phone-2")
keys = st.tuples(st.sampled_from(DEVS), st.integers(1, 9))
saves = st.lists(
    st.tuples(st.sampled_from(SIDS), st.lists(keys, min_size=1, max_size=6, unique=True)),
    max_size=8,
)
"""Sessions, and entries of each that arrive together; some of them for the second time."""
Arrived = list[tuple[int, str, str, int]]


@contextmanager
def an_order() -> Iterator[Order]:
    with closing(sqlite3.connect(":memory:")) as db:
        db.executescript("CREATE TABLE sessions (sid, practice, session);" + SCHEMA)
        yield Order(db)


def in_tables(order: Order) -> Order:
    """The same without what is in memory."""
    return Order(order._db)


def added(order: Order, saved: Sequence[tuple[str, list[Key]]]) -> Arrived:
    """Let these arrive; what should be told of them, one by one."""
    model: Arrived = []
    for sid, some in saved:
        order.add(sid, some)
        known = {each[1:] for each in model}
        fresh = [key for key in some if (sid, *key) not in known]
        model += [(len(model) + n, sid, *key) for n, key in enumerate(fresh, 1)]
    return model


@given(saves)
def test_arrivals_are_numbered_one_by_one(saved: list[tuple[str, list[Key]]]) -> None:
    with an_order() as order:
        model = added(order, saved)
        tables = in_tables(order)
        assert tables.head() == order.head() == len(model)
        assert tables.contents() == {row[1:] for row in model}
        for sid in SIDS:
            assert sorted(tables.keys(sid)) == sorted(row[2:] for row in model if row[1] == sid)
        for after in range(len(model) + 1):
            for limit in (1, 2, 5, 100):
                wanted = model[after : after + limit]
                assert tables.after(after, limit, None) == wanted
                known = order.recent.after(after, limit)
                assert known == wanted or (known is None and model == [])


@given(saves, saves)
def test_the_chain_at_an_arrival_never_changes(
    first: list[tuple[str, list[Key]]], then: list[tuple[str, list[Key]]]
) -> None:
    with an_order() as order:
        model = added(order, first)
        before = [order.chain_at(n) for n in range(len(model) + 1)]
        assert len(set(before)) == len(before), "each stands for what came until then"
        assert before == [in_tables(order).chain_at(n) for n in range(len(model) + 1)]
        assert order.chain_at(len(model) + 1) == in_tables(order).chain_at(len(model) + 1) == ""
        for sid, some in then:
            order.add(sid, some)
        assert [order.chain_at(n) for n in range(len(model) + 1)] == before
        assert [in_tables(order).chain_at(n) for n in range(len(model) + 1)] == before


@given(saves, st.data())
def test_another_order_has_another_chain(
    saved: list[tuple[str, list[Key]]], data: st.DataObject
) -> None:
    """So a number that means another entry after a restore is noticed."""
    other = data.draw(st.permutations(saved))
    with an_order() as one, an_order() as two:
        model, its = added(one, saved), added(two, other)
        for n in range(1, len(model) + 1):
            if model[:n] != its[:n]:
                assert one.chain_at(n) != two.chain_at(n)


@given(saves, st.data())
def test_what_never_arrived_leaves_a_gap(
    saved: list[tuple[str, list[Key]]], data: st.DataObject
) -> None:
    with an_order() as order:
        model = added(order, saved)
        of_a = [row for row in model if row[1] == "A"]
        lost = set(data.draw(st.lists(st.sampled_from(of_a), unique=True))) if of_a else set()
        before = {row[0]: order.chain_at(row[0]) for row in model}
        order.drop("A", {row[2:] for row in lost})
        left = [row for row in model if row not in lost]
        assert order.after(0, 100, None) == left
        assert all(order.chain_at(row[0]) == "" for row in lost)
        first_lost = min((row[0] for row in lost), default=len(model) + 1)
        chains = [order.chain_at(row[0]) for row in left]
        assert "" not in chains
        assert chains[: first_lost - 1] == [before[n] for n in range(1, first_lost)]
        order.add("B", [("late", 1)])
        assert order.after(0, 100, None) == [*left, (len(model) + 1, "B", "late", 1)]
        order.remove("A")
        assert {row[1] for row in order.after(0, 100, None)} <= {"B"}


@given(saves)
def test_another_file_takes_the_order_over(saved: list[tuple[str, list[Key]]]) -> None:
    with an_order() as old, an_order() as fresh:
        model = added(old, saved)
        fresh.adopt(old._db)
        for n in range(len(model) + 2):
            assert fresh.chain_at(n) == old.chain_at(n)
        assert fresh.after(0, 100, None) == model


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE arrivals SET seq = seq + 1 WHERE n = 6",
        "UPDATE arrivals SET entries = entries + 1 WHERE n = 6",
        "UPDATE arrivals SET dev = 'other' WHERE n = 6",
        "UPDATE arrivals SET n = 5 WHERE n = 6",
        "UPDATE arrivals SET n = 2 WHERE n = 3",
        "DELETE FROM arrivals WHERE n = 3",
    ],
)
def test_a_damaged_order_is_not_taken_over(change: str) -> None:
    with an_order() as old, an_order() as fresh:
        added(
            old,
            [("A", [("phone", n) for n in (1, 2, 3)]), ("B", [("phone", n) for n in (1, 2, 3)])],
        )
        old._db.execute(change)
        with pytest.raises(sqlite3.DatabaseError):
            fresh.adopt(old._db)


@given(st.lists(keys, unique=True))
def test_runs_hold_every_entry_in_its_order(some: list[Key]) -> None:
    runs = list(runs_of("A", some))
    assert [(run.dev, run.seq + n) for run in runs for n in range(run.entries)] == some
    for one, following in pairwise(runs):
        assert (one.dev, one.seq + one.entries) != (following.dev, following.seq), "the longest"


def test_many_entries_of_one_save_are_one_row() -> None:
    with an_order() as order:
        added(order, [("A", [("phone", n) for n in range(1, 41)])])
        assert order._db.execute("SELECT count(*) FROM arrivals").fetchone() == (1,)


def test_the_chain_is_as_it_was_written_down() -> None:
    """Every cursor that a phone holds, and every row of PostgreSQL, rests on it."""
    assert link(START, Run("S", "phone", 7, 1)) == "ec919192e7c6f588"
    assert link("0123456789abcdef", Run("S", "phone", 7, 3)) == "8dd085abc18b3962"


def test_a_run_has_no_more_entries_than_the_table_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lowside.store.order.MOST_ENTRIES", 4)
    some = [("phone", n) for n in range(1, 11)]
    assert [(run.seq, run.entries) for run in runs_of("A", some)] == [(1, 4), (5, 4), (9, 2)]


@pytest.mark.parametrize("entries", [0, -5, 1 << 40])
def test_a_length_that_cannot_be_is_damage(tmp_path: Path, entries: int) -> None:
    path = tmp_path / "index.sqlite"
    an_index(path, [("A", [("phone", 1), ("phone", 2)])]).close()
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA ignore_check_constraints = ON")
        db.execute("UPDATE arrivals SET entries = ?", (entries,))
        db.commit()
    with pytest.raises(UnusableIndexError):
        Index(path, RowRules())


def test_an_order_without_its_end_is_taken_over() -> None:
    with an_order() as old, an_order() as fresh:
        added(old, [("A", [("phone", n) for n in range(1, 6)])])
        at_three = old.chain_at(3)
        old.drop("A", {("phone", 4), ("phone", 5)})
        fresh.adopt(old._db)
        assert (fresh.head(), fresh.chain_at(3)) == (3, at_three)


def test_old_arrivals_leave_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lowside.store.recent.KEPT", 5)
    kept = Recent()
    for n in range(1, 13):
        kept.grew(3 * n, Run("A", "phone", 3 * n - 2, 3), f"chain {n}")
    known = [n for n in range(1, 37) if kept.after(n, 1) is not None]
    assert known == list(range(known[0], 37))
    assert 15 <= len(known) < 30
    assert kept.head == (36, "chain 12")
    for n in range(1, 37):
        assert kept.chain_at(n) is None or kept.after(n - 1, 1) is not None


def an_index(path: Path, saved: Sequence[tuple[str, list[Key]]]) -> Index:
    index = Index(path, RowRules())
    for sid, some in saved:
        index._order.add(sid, some)
    return index


@given(saves, saves, st.integers(0, 3))
@settings(max_examples=40, deadline=None)
def test_indexes_are_compared_entry_by_entry_however_they_arrived(
    saved: list[tuple[str, list[Key]]], more: list[tuple[str, list[Key]]], split: int
) -> None:
    with TemporaryDirectory() as folder:
        ours = {(sid, *key) for sid, some in saved for key in some}
        its = {(sid, *key) for sid, some in (*saved[split:], *more) for key in some}
        one_by_one = [(sid, [(dev, seq)]) for sid, dev, seq in sorted(its)]
        an_index(Path(folder) / "other", one_by_one).close()
        with closing(an_index(Path(folder) / "right", saved)) as right:
            found = differences(right, Path(folder) / "other")
        assert (found.entries, found.unknown, found.missing) == (
            *(len(its), len(its - ours), len(ours - its)),
        )


@given(saves)
@example([("A", [("phone-2", n) for n in (1, 3, 4, 5, 6)])])
@settings(max_examples=40, deadline=None)
def test_gaps_are_told_however_entries_arrived(saved: list[tuple[str, list[Key]]]) -> None:
    with TemporaryDirectory() as folder:
        numbers: dict[tuple[str, str], set[int]] = {}
        for sid, some in saved:
            for dev, seq in some:
                numbers.setdefault((sid, dev), set()).add(seq)
        wanted = [
            f"Session {sid}: {max(found) - len(found)} entries of device {dev} are missing"
            for (sid, dev), found in sorted(numbers.items())
            if max(found) > len(found)
        ]
        with closing(an_index(Path(folder) / "right", saved)) as index:
            told = [sentence.partition(", the first")[0] for sentence in gaps(index, [])]
        assert told == wanted


@pytest.mark.parametrize("bit", range(7))
def test_a_flipped_bit_in_the_length_of_a_run_keeps_no_entry_from_a_follower(
    tmp_path: Path, bit: int
) -> None:
    with opened(tmp_path) as store:
        store.append([event(n, site="Gym") for n in range(1, 3)])
        before = arrived(store, "").cursor
        store.append([event(n, site="Gym") for n in range(3, 7)])
        chain = store.glance(lambda tables: tables.chain_at(6))
    path = tmp_path / INDEX_FILE
    content = bytearray(path.read_bytes())
    place = content.index(b"phone\x03\x04" + chain.encode())  # dev, seq, entries, chain
    content[place + 6] ^= 1 << bit
    path.write_bytes(bytes(content))
    with opened(tmp_path) as store:
        assert {e.seq for e in arrived(store, before).events} >= {3, 4, 5, 6}
