"""Rows that depend on the session before: right in whatever order sessions come and change."""

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st
from store_cases import arrived, event, ulid
from store_cases import outline as plain

from lowside.core.session.events import Event
from lowside.store import Outline, Store, cylinder_rows, lists
from lowside.store.commands import check_store
from lowside.store.cylinder_rows import CylinderPage
from lowside.store.derived_rows import DerivedRows
from lowside.store.engine import Database
from lowside.store.index import INDEX_FILE, Index
from lowside.store.outline import (
    Beside,
    CylinderRow,
    CylinderRules,
    Derived,
    RowRules,
    RuledOutliner,
)

SIDS = [ulid(n + 1) for n in range(5)]


def made(events: Sequence[Event]) -> Outline:
    """The last key and the sum of what a session says; it is marked when it says anything."""
    one = plain(events)
    key = next((e.data["key"] for e in reversed(events) if e.data.get("key")), "")
    at = next((int(e.data["begun"]) for e in reversed(events) if "begun" in e.data), one.started)
    total = sum(len(e.data.get("text", "")) for e in events)
    rows = (Derived("own", key, str(total)),) if key else ()
    return replace(one, started=at, derived=(*rows, Derived("mark", key, "")))


def finish(rows: Sequence[Derived], beside: Beside) -> Sequence[Derived]:
    kept = [row for row in rows if row.kind != "told"]
    before = next((values for (kind, _), values in beside.before.items() if kind == "own"), ())
    told = f"{before[0] if before else 'none'} {beside.aside} {beside.unread}"
    return [*kept, Derived("told", "", told)]


def cylinder(uses: Sequence[str], told: Sequence[str]) -> CylinderRow | None:
    """The last use, the one before it, and how many marks there are."""
    if not uses:
        return None
    last, marks = int(uses[-1]), len(told)
    return CylinderRow(
        last=last,
        refrigerant="R-410A" if marks % 2 == 0 else "R-32",
        kind="charging",
        place="",
        stock_kg=None if last == 0 else float(last),
        due=marks,
        shows="all" if last < 2 else "all,some",
        value=f"{uses} {marks}",
    )


def ruled(version: str = "1") -> RuledOutliner:
    rules = RowRules(("own",), finish, version, CylinderRules("own", 2, "mark", cylinder))
    return RuledOutliner(made, lambda: rules)


def cylinders(store: Store) -> CylinderPage:
    return lists.cylinders(store, "all", 2, 1, 99)


def by_hand(store: Store, show: str | None, due_by: int) -> list[str]:
    """The list of cylinders, worked out from all rows as they are."""
    found = []
    for key in "ab":
        uses = store.derived("own", key, limit=2)
        row = cylinder(uses[::-1], store.derived("mark", key))
        if row is not None:
            is_due = row.due is not None and row.due <= due_by
            if is_due if show is None else show in row.shows.split(","):
                found.append((row.last, key, row.value))
    return [value for _, _, value in sorted(found, reverse=True)]


steps = st.lists(
    st.tuples(
        st.integers(0, len(SIDS) - 1),
        st.sampled_from(["", "a", "b"]),
        st.integers(0, 3),
        st.booleans(),
    ),
    max_size=14,
)


@given(steps)
def test_rows_are_as_if_made_at_once(taken: list[tuple[int, str, int, bool]]) -> None:
    with TemporaryDirectory() as folder:
        root = Path(folder)
        numbers = dict.fromkeys(SIDS, 0)
        with Store.open(root, ruled()) as store:
            for n, key, size, rival in taken:
                sid = SIDS[n]
                numbers[sid] += 0 if rival and numbers[sid] else 1
                data = {"key": key, "begun": str(1_764_000_000_000 + size), "text": "x" * size}
                store.append([event(numbers[sid], sid=sid, **data, more=str(rival))])
            grown = store.ask(Index.contents)
            counts = lists.counts(store, "mark")
            with Store.open(root, ruled(), write=False) as fresh:
                assert fresh.ask(Index.contents) == grown
                assert lists.counts(fresh, "mark") == counts
                assert lists.units(fresh, "", 9) == lists.units(store, "", 9)
                assert cylinders(fresh) == cylinders(store)
                for show in ("all", "some", None):
                    wanted = by_hand(store, show, 2)
                    assert lists.cylinders(store, show, 2, 1, 99).values == wanted
        with Store.open(root, ruled()) as again:
            assert again.ask(Index.contents) == grown


def test_a_session_is_told_of_the_one_before_it_and_of_what_was_set_aside(tmp_path: Path) -> None:
    with Store.open(tmp_path, ruled()) as store:
        store.append([event(1, sid=SIDS[0], key="a", text="xx")])
        store.append([event(1, sid=SIDS[1], key="a", begun="1764000000009")])
        assert lists.of_session(store, "told", SIDS[1]) == "2 0 0"
        store.append([event(2, sid=SIDS[0], key="a", text="x")])
        assert lists.of_session(store, "told", SIDS[1]) == "3 0 0"
        store.append([event(1, sid=SIDS[1], key="a", text="rival")])
        assert lists.of_session(store, "told", SIDS[1]) == "3 1 0"
        store.append([event(3, sid=SIDS[0], key="b")])
        assert lists.of_session(store, "told", SIDS[1]) == "none 1 0"


def test_other_rules_make_the_rows_again_and_keep_the_order_of_arrival(tmp_path: Path) -> None:
    with Store.open(tmp_path, ruled()) as store:
        store.append([event(1, sid=SIDS[1], key="a"), event(1, sid=SIDS[0], key="a")])
        cursor = arrived(store, "").cursor
    made_with: list[str] = []

    def counted(events: Sequence[Event]) -> Outline:
        made_with.append(events[0].sid)
        return replace(made(events), derived=(Derived("other", "", "new"),))

    for version, times in (("1", 0), ("2", 2), ("2", 2)):
        rules = RowRules((), version=version)
        with Store.open(tmp_path, RuledOutliner(counted, lambda rules=rules: rules)) as store:
            assert len(made_with) == times
            assert store.derived("other", "") == ["new"] * times
            assert arrived(store, cursor).restarted is False
            assert [e.sid for e in arrived(store, "").events] == [SIDS[1], SIDS[0]]


SPOILED = ("DELETE FROM cylinders WHERE key = 'a'", "UPDATE cylinders SET shows = ',none,'")


@pytest.mark.parametrize("spoil", SPOILED)
def test_a_check_sees_a_wrong_cylinder_and_a_rebuild_mends_it(
    tmp_path: Path, spoil: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with Store.open(tmp_path, ruled()) as store:
        store.append([event(1, sid=SIDS[0], key="a", text="xx"), event(1, sid=SIDS[1], key="a")])
        right = cylinders(store)
    assert len(right.values) == 1
    db = sqlite3.connect(tmp_path / INDEX_FILE)
    db.execute(spoil)
    db.commit()
    db.close()
    assert check_store(tmp_path, ruled()) == 1
    assert "of 1 cylinders than their sessions" in capsys.readouterr().out
    assert check_store(tmp_path, ruled(), rebuild=True) == 0
    with Store.open(tmp_path, ruled()) as store:
        assert cylinders(store) == right


def test_only_a_changed_use_makes_a_cylinders_row_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made_again: list[str] = []
    make_again = cylinder_rows.make_again

    def heard(db: Database, rows: DerivedRows, rules: CylinderRules, keys: Iterable[str]) -> None:
        made_again.extend(keys)
        make_again(db, rows, rules, keys)

    with Store.open(tmp_path, ruled()) as store:
        monkeypatch.setattr(cylinder_rows, "make_again", heard)
        sent: list[tuple[dict[str, str], list[str]]] = [
            ({"key": "a", "text": "x"}, ["a"]),
            ({"more": "of nothing"}, []),
            ({"text": "x"}, ["a"]),
            ({"key": "b"}, ["a", "b"]),
        ]
        for seq, (data, wanted) in enumerate(sent, start=1):
            made_again.clear()
            store.append([event(seq, sid=SIDS[0], **data)])
            cylinders(store)
            assert made_again == wanted
