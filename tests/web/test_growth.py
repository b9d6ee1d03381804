"""What a page costs does not grow with the store: it reads rows, it does not fold all sessions."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from store_cases import event, ulid
from strategies import READING, Book, ready_to_charge, set_up, with_units
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.recording import READ_AGAIN
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.last_end import ALIKE
from lowside.outlining import VISIT
from lowside.web import folding
from lowside.web.clock import Clock
from lowside.web.field.pages import OPEN_ON_HOME

NOW = Clock().now().at
START = {"procedure": "hand-valved-three-port"}
JOB = {
    "site": "Lane Bakery",
    "unit_label": "AC-2",
    "technician": "I. Varga",
    "elevation": "0",
    "elevation_unit": "ft",
}
CYLINDER = {
    "cylinder_label": "C-9",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7",
    "cylinder_tare_unit": "lb",
    "withdrawal": "invert",
}


NOTE = ("note.added", {"text": "Fan squeals"})


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


@pytest.fixture
def folds(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The session of each fold from now on."""
    folded: list[str] = []

    def counting(events: Sequence[Event], *more: Any) -> Any:
        folded.append(events[0].sid)
        return fold(events, *more)

    monkeypatch.setattr(folding, "fold", counting)
    return folded


def put(site: Site, number: int, *kinds: tuple[str, dict[str, str]]) -> str:
    sid = ulid(number, NOW - 1_000_000 + number)
    entries = [("session.started", START), *kinds]
    site.store.append(
        [
            event(seq, sid=sid, kind=kind, **data)
            for seq, (kind, data) in enumerate(entries, start=1)
        ]
    )
    return sid


def test_a_field_page_folds_its_own_session_only(site: Site, folds: list[str]) -> None:
    job, cylinder = ("job.set", JOB), ("cylinder.set", CYLINDER)
    for number in range(1, 31):
        put(site, number, job, cylinder)
    sid = put(site, 31, job, cylinder)
    site.desk._folded = folding.Folded()
    folds.clear()
    assert site.get(f"/s/{sid}").status == 200
    assert set(folds) == {sid}


def test_home_shows_a_page_of_open_sessions_and_leads_to_the_older_ones(
    site: Site, folds: list[str]
) -> None:
    sids = [put(site, number, NOTE) for number in range(1, 2 * OPEN_ON_HOME + 11)]
    site.desk._folded = folding.Folded()
    folds.clear()
    shown: list[str] = []
    page = site.get("/")
    for _ in range(3):
        assert len(set(folds)) <= OPEN_ON_HOME
        folds.clear()
        shown += [link for link in page.read.links if link.startswith("/s/")]
        older = [link for link in page.read.links if link.startswith("/?before=")]
        page = site.get(older[0]) if older else page
    assert older == []
    assert shown == [f"/s/{sid}" for sid in reversed(sids)]


def test_a_session_begun_and_left_is_put_aside_after_a_week(site: Site) -> None:
    left = put(site, 1)
    used = put(site, 2, NOTE)
    fresh = site.start()
    page = site.get("/")
    assert f"/s/{left}" not in page.read.links
    assert {f"/s/{used}", f"/s/{fresh}"} <= set(page.read.links)
    assert left in site.send("GET", "/office?show=all").text
    assert site.get(f"/s/{left}").status == 200


@pytest.mark.parametrize(
    "before", ["x", "-", "9-x", "²-" + ulid(1), "9" * 60, "9" * 30 + "-" + ulid(1)]
)
def test_a_place_that_is_none_begins_at_the_newest(site: Site, before: str) -> None:
    sid = put(site, 1, NOTE)
    assert f"/s/{sid}" in site.get(f"/?before={before}").read.links


def test_only_a_first_reading_asks_for_the_last_visit(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    day = 86_400_000
    for number in (1, 2):
        book = set_up(Book(sid=ulid(number), at=Book().at + number * day))
        site.store.append(ready_to_charge(Book(sid=ulid(1))).events if number == 1 else book.events)
    asked: list[str] = []
    derived = site.store.derived

    def counting(name: str, *more: Any) -> Any:
        asked.append(name)
        return derived(name, *more)

    monkeypatch.setattr(site.store, "derived", counting)
    path = f"/s/{ulid(2)}/form/"
    reading = with_units("reading", READING) | {"step": "baseline"}
    assert site.post(path + "note", {"eid": ulid(90), "text": "Fan squeals"}).status == 303
    assert asked == []
    again = site.post(path + "reading", {**reading, "eid": ulid(91)})
    assert again.problem(ALIKE) == READ_AGAIN
    asked.clear()
    assert site.post(path + "reading", {**reading, "eid": ulid(91), ALIKE: "yes"}).status == 303
    assert asked == [VISIT]
    asked.clear()
    assert site.post(path + "reading", {**reading, "eid": ulid(92)}).status == 303
    assert asked == []
