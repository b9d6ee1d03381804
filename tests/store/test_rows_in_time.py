"""Chained rows with a place in time of their own: right in whatever order sessions come and change.

Our choice, as the rows themselves are.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st
from store_cases import event, ulid
from store_cases import outline as plain

from lowside.core.session.events import Event
from lowside.store import Outline, Store, lists
from lowside.store.index import Index
from lowside.store.outline import Beside, Derived, RowRules, RuledOutliner

SIDS = [ulid(n + 1) for n in range(5)]
REACH = 2


def made(events: Sequence[Event]) -> Outline:
    """A row for each event that has a key, at the place it names."""
    keyed = [one for one in events if one.data.get("key")]
    rows = [Derived("own", e.data["key"], e.data["text"], int(e.data["place"])) for e in keyed]
    rows.sort(key=lambda row: (row.key, row.at or 0))
    return replace(plain(events), derived=tuple(rows))


def finish(rows: Sequence[Derived], beside: Beside) -> Sequence[Derived]:
    kept = [row for row in rows if row.kind != "told"]
    told = [f"{key}: {' '.join(values)}" for (_, key), values in sorted(beside.before.items())]
    return [*kept, Derived("told", "", "; ".join(told))]


def ruled() -> RuledOutliner:
    return RuledOutliner(made, lambda: RowRules(("own",), finish, "1", reach=REACH))


steps = st.lists(
    st.tuples(st.integers(0, 4), st.sampled_from(["", "a", "b"]), st.integers(1, 9)), max_size=12
)


@given(steps)
def test_rows_are_as_if_made_at_once(taken: list[tuple[int, str, int]]) -> None:
    with TemporaryDirectory() as folder:
        root = Path(folder)
        numbers = dict.fromkeys(SIDS, 0)
        with Store.open(root, ruled()) as store:
            for n, key, place in taken:
                sid = SIDS[n]
                numbers[sid] += 1
                data = {"key": key, "place": str(place), "text": f"{n}.{numbers[sid]}"}
                store.append([event(numbers[sid], sid=sid, **data)])
            grown = store.ask(Index.contents)
            with Store.open(root, ruled(), write=False) as fresh:
                assert fresh.ask(Index.contents) == grown


def test_the_last_rows_in_time_are_beside_it_and_no_row_of_its_own(tmp_path: Path) -> None:
    with Store.open(tmp_path, ruled()) as store:

        def put(n: int, seq: int, place: int) -> None:
            store.append([event(seq, sid=SIDS[n], key="a", place=str(place), text=f"{n}.{seq}")])

        put(0, 1, 50)  # begun first, and late in time
        put(1, 1, 10)
        put(2, 1, 20)
        assert lists.of_session(store, "told", SIDS[0]) == "a: 2.1 1.1"
        put(3, 1, 30)
        assert lists.of_session(store, "told", SIDS[0]) == "a: 3.1 2.1"
        put(0, 2, 60)
        assert lists.of_session(store, "told", SIDS[0]) == "a: 3.1 2.1"
        assert lists.of_session(store, "told", SIDS[2]) == "a: 1.1"
        assert store.derived("own", "a", before=30) == ["2.1", "1.1"]
