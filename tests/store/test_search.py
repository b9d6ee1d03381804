"""A search by words: the same answer whether a word leads to its sessions or the list is read.

Each test runs on the store in files and on the one in PostgreSQL.
"""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from store_cases import event, outline, ulid

from lowside.store import EventStore, Outline, lists, searching
from lowside.store.choosing import open_store
from lowside.store.outline import Derived, RowRules, RuledOutliner, key_of
from lowside.store.selection import SORTS, Selection

SIDS = [ulid(31 * n + 10**9) for n in range(1, 7)]
SITES = ["Mill Lane", "Mill Lane", "Gym", "Mill Pond", "Gym", "Ärger 100%_"]


def _flagged(events: object) -> Outline:
    made = outline(events)  # type: ignore[arg-type]
    rows = (Derived("look", "any", ""),) if made.technician == "Ines" else ()
    return Outline(**{**vars(made), "derived": rows})


OUTLINE = RuledOutliner(_flagged, RowRules)


@pytest.fixture
def store(place: Path | str) -> Iterator[EventStore]:
    with open_store(place, OUTLINE) as store:
        for n, (sid, site) in enumerate(zip(SIDS, SITES, strict=True)):
            store.append(
                [
                    event(
                        n + 1,
                        sid=sid,
                        site=site,
                        unit_label=f"AC {n % 2}",
                        technician="Ines" if n % 2 == 0 else "Otto",
                        cylinder=f"C-{n}",
                    )
                ]
            )
        yield store


@pytest.mark.parametrize(("few", "many"), [(0, 0), (0, 99), (1, 99), (2, 99), (2_000, 99)])
def test_a_word_is_found_in_any_text_however_many_sessions_have_it(
    store: EventStore, monkeypatch: pytest.MonkeyPatch, few: int, many: int
) -> None:
    monkeypatch.setattr(searching, "FEW_SESSIONS", few)
    monkeypatch.setattr(searching, "MANY_SESSIONS", many)
    for words, places in (
        ("mill otto", [1, 3]),
        ("mill otto r-32", []),
        ("gym ac ines", [2, 4]),
        (f"gym {SIDS[1][-6:].lower()}", []),
        (f"mill {SIDS[1][-6:].lower()}", [1]),
        ("mill", [0, 1, 3]),
        ("MILL lan", [0, 1]),
        ("mill gym", []),
        ("ac 1 otto", [1, 3, 5]),
        ("c-4", [4]),
        ("ärger 100%_", [5]),
        ("%", [5]),
        ("nowhere", []),
        ("mill nowhere", []),
        (SIDS[2][-6:].lower(), [2]),
        (SIDS[3].lower(), [3]),
        (SIDS[3][-7:], []),
        ("", [0, 1, 2, 3, 4, 5]),
    ):
        expected = [SIDS[n] for n in places]
        assert sorted(one.sid for one in store.sessions(words)) == expected, words
        for sort in SORTS:
            found = lists.selected(store, Selection(words=words, sort=sort), "told")
            assert sorted(one.sid for one, _ in found) == expected, (words, sort)
        flagged = lists.selected(store, Selection(words=words, kind="look", key="any"), "told")
        assert sorted(one.sid for one, _ in flagged) == [s for s in expected if s in SIDS[::2]]


@pytest.mark.parametrize("few", [0, 2_000])
def test_pages_of_a_search_lie_side_by_side(
    store: EventStore, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    monkeypatch.setattr(searching, "FEW_SESSIONS", few)
    for kind in ("", "look"):
        chosen = Selection(words="l", kind=kind, key="any" if kind else "")
        whole = [one.sid for one, _ in lists.selected(store, chosen, "told")]
        found, after = [], None
        while page := lists.selected(store, chosen, "told", after, 1):
            found.append(page[0][0].sid)
            after = lists.place_of(page[0][0])
        assert found == whole


def test_a_word_that_was_corrected_away_is_found_no_more(store: EventStore) -> None:
    store.append([event(40, sid=SIDS[5], site="Depot")])
    assert [one.sid for one in store.sessions("depot")] == [SIDS[5]]
    assert store.sessions("ärger") == []
    store.rebuild_index()
    assert [one.sid for one in store.sessions("depot")] == [SIDS[5]]
    assert store.sessions("ärger") == []


def test_two_words_of_many_sessions_lead_to_the_few_that_have_both(
    store: EventStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list is not read for them. One of the words may be another session's ticket number."""
    monkeypatch.setattr(searching, "FEW_SESSIONS", 1)
    number = SIDS[3][-6:].lower()
    for n in (0, 2):
        store.append([event(50 + n, sid=SIDS[n], cylinder=number)])
    for words, places, is_narrow in (
        ("mill otto", [1, 3], False),
        ("gym otto", [], False),
        ("gym ines", [2, 4], False),
        (f"{number} otto", [3], True),
    ):
        found = store.ask(lambda index, words=words: searching.search(index._asked, words.split()))
        assert found.is_narrow is is_narrow
        assert (found.conditions == (searching.NOWHERE,)) is (places == [])
        assert sorted(one.sid for one in store.sessions(words)) == [SIDS[n] for n in places]
    monkeypatch.setattr(searching, "MANY_SESSIONS", 2)
    found = store.ask(lambda index: searching.search(index._asked, ["gym", "otto"]))
    assert len(found.conditions) == 2
    assert store.sessions("gym otto") == []


LONG_SITE = "Ж" * 90 + " Mill " + "Ж" * 80 + " Tower x\0y"
"""Longer than a key in bytes; PostgreSQL kept its beginning and a digest."""


@pytest.mark.parametrize(("few", "many"), [(0, 0), (1, 99), (2_000, 99)])
def test_every_word_of_a_long_text_is_found_and_no_other(
    store: EventStore, monkeypatch: pytest.MonkeyPatch, few: int, many: int
) -> None:
    monkeypatch.setattr(searching, "FEW_SESSIONS", few)
    monkeypatch.setattr(searching, "MANY_SESSIONS", many)
    for n in (0, 1, 2):
        store.append([event(60 + n, sid=SIDS[n], site=LONG_SITE)])
    key = key_of(LONG_SITE)
    digests = {hashlib.sha256(text.encode()).hexdigest()[:8] for text in (LONG_SITE, key)}
    for words, places in (
        ("tower", [0, 1, 2]),
        ("tower otto", [1]),
        ("otto tower mill", [1]),
        ("mill", [0, 1, 2, 3]),
        ("жжж", [0, 1, 2]),
        ("nowhere", []),
        *((digest, []) for digest in digests),
    ):
        expected = [SIDS[n] for n in places]
        assert sorted(one.sid for one in store.sessions(words)) == expected, words
        found = lists.selected(store, Selection(words=words), "told")
        assert sorted(one.sid for one, _ in found) == expected, words
