"""The two stores through the same courses: receipts, entries, lists and orders are the same."""

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from store_cases import arrived, event, ulid
from test_chained_rows import ruled

from lowside.core.session.events import Event
from lowside.store import EventStore, lists
from lowside.store.choosing import open_store
from lowside.store.outline import unit_key
from lowside.store.selection import SORTS, Selection
from lowside.store.ulid import ulid_ms

pytestmark = pytest.mark.xdist_group("postgres")

SIDS = [ulid(n + 1, 1_764_000_000_000 + n) for n in range(4)]
LONG = "ß" + "".join(hashlib.sha256(bytes([n])).hexdigest() for n in range(100))
"""Longer than what an index of PostgreSQL takes, and not to be compressed."""
TEXTS = ["", "Gym", "gym ", "Mill Lane", "ÄRGER", "x%y_z", LONG]
NAMES = ["", "Ines", " ines", "a\x00b"]
"""SQLite does not look behind a NUL, so none is in what is looked for by its end."""

courses = st.lists(
    st.tuples(
        st.integers(0, len(SIDS) - 1),
        st.sampled_from(["new", "new", "new", "again", "rival", "close"]),
        st.fixed_dictionaries(
            {
                "key": st.sampled_from(["", "a", "b", LONG]),
                "begun": st.integers(0, 3).map(lambda n: str(1_764_000_000_000 + n)),
                "site": st.sampled_from(TEXTS),
                "unit_label": st.sampled_from(["", "AC 2", "ac 2"]),
                "technician": st.sampled_from(NAMES),
                "cylinder": st.sampled_from(["", "C-1", LONG]),
                "practice": st.sampled_from(["", "", "yes"]),
                "text": st.text(max_size=3),
            }
        ),
    ),
    min_size=1,
    max_size=12,
)


FULL = {
    **{"key": LONG, "begun": "1764000000000", "site": LONG, "unit_label": "AC 2"},
    **{"technician": "Ines", "cylinder": LONG, "practice": "", "text": "x"},
}


def batches(course: Sequence[tuple[int, str, dict[str, str]]]) -> list[list[Event]]:
    """What is sent, one round after another, two entries in each."""
    numbers = dict.fromkeys(SIDS, 0)
    sent = []
    for n, what, data in course:
        sid = SIDS[n]
        numbers[sid] += 1 if what in ("new", "close") or numbers[sid] == 0 else 0
        kind = "session.closed" if what == "close" else "note.added"
        rival = {"rival": "yes"} if what == "rival" else {}
        sent.append(event(numbers[sid], sid=sid, kind=kind, **data, **rival))
    return [sent[n : n + 2] for n in range(0, len(sent), 2)]


def shown(store: EventStore) -> list[object]:
    """Everything that pages ask of a store, but for texts that PostgreSQL shows otherwise."""
    selections = [
        Selection(sort=sort, site=site, unit_label=unit, state=state)
        for sort in SORTS
        for site, unit, state in (("", "", ""), ("GYM", "", "open"), ("", "ac 2", "closed"))
    ] + [Selection(kind="mark", key="a"), Selection(technician="INES")]
    found: list[object] = [
        [row[1:] for row in store.ask(lambda tables: tables.arrivals(0, 10_000))],
        arrived(store).events,
        [item.event for item in store.quarantined()],
        store.last_hlc(),
        [(sid, store.events(sid), store.next_seq(sid, "phone")) for sid in SIDS],
        [one.sid for one in store.sessions("gym")],
        [one.sid for one in store.sessions(practice=True)],
        store.ask(lambda tables: tables.sids_of_unit(unit_key(LONG, "AC 2"), "", 9)),
        store.derived("own", LONG),
        lists.counts(store, "mark").get("a", 0),
        [(u[3], u[4], u[5], u[6]) for u in lists.units(store, "", 50)],
        *[lists.cylinders(store, show, 3, page, 2) for show in ("all", None) for page in (1, 2)],
    ]
    for chosen in selections:
        page = lists.selected(store, chosen, "told", None, 2)
        found.append([(one.sid, one.events, value) for one, value in page])
        if page:
            rest = lists.selected(store, chosen, "told", lists.place_of(page[-1][0]), 9)
            found.append([one.sid for one, _ in rest])
    return found


def rows(store: EventStore) -> tuple[object, ...]:
    """All that is derived."""
    contents = store.ask(lambda tables: tables.contents())
    cylinders = lists.cylinders(store, "all", 0, 1, 50)
    return contents, lists.units(store, "", 50), lists.counts(store, "mark"), cylinders


def test_both_stores_say_the_same(new_shop: Callable[[], str]) -> None:
    @settings(max_examples=8, suppress_health_check=list(HealthCheck))
    @example([(0, "new", FULL), (1, "new", FULL | {"practice": "yes"}), (1, "rival", FULL)])
    @given(courses)
    def compare(course: list[tuple[int, str, dict[str, str]]]) -> None:
        address = new_shop()
        with TemporaryDirectory() as folder:
            places: list[Path | str] = [Path(folder), address]
            stores = [open_store(place, ruled()) for place in places]
            try:
                for sent in batches(course):
                    one, other = (store.append(sent) for store in stores)
                    assert one == other
                assert shown(stores[0]) == shown(stores[1])
                before = rows(stores[1])
                stores[1].rebuild_index()
                assert rows(stores[1]) == before
                assert [store.problems() for store in stores] == [[], []]
            finally:
                for store in stores:
                    store.close()

    compare()


def test_rows_of_other_rules_are_made_again_at_the_next_start(new_shop: Callable[[], str]) -> None:
    address = new_shop()
    with open_store(address, ruled("1")) as store:
        store.append([event(1, sid=SIDS[1], key="a"), event(1, sid=SIDS[0], key="a")])
        cursor = arrived(store, "").cursor
    made = ruled("2")
    other = replace(made, make=lambda events: replace(made.make(events), site="remade"))
    with open_store(address, other) as store:
        assert [one.outline.site for one in store.sessions()] == ["remade"] * 2
        assert arrived(store, cursor).restarted is False
    with open_store(address, other) as store:
        assert [one.outline.site for one in store.sessions("remade")] == ["remade"] * 2
    assert all(ulid_ms(sid) is not None for sid in SIDS)
