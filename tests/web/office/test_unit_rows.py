"""A unit's page is made from rows: it works no session out but the newest."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from office_cases import visit
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.unit_rows import at_unit
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import latest_reading
from lowside.demo import play, scenarios
from lowside.outlining import AT_UNIT, at_unit_from, outline_from
from lowside.web import folding


@pytest.fixture(scope="module")
def played(handbook: Handbook) -> list[list[Event]]:
    return [play(scenario, handbook) for scenario in scenarios()]


@pytest.fixture
def site(place: Path | str, handbook: Handbook, played: list[list[Event]]) -> Iterator[Site]:
    with open_site(place, handbook) as opened:
        for events in played:
            opened.store.append(events)
        yield opened


def test_a_row_is_read_as_it_was_written(played: list[list[Event]], handbook: Handbook) -> None:
    told = []
    for events in played:
        for row in outline_from(events).derived:
            if row.kind == AT_UNIT:
                told.append(at_unit_from(row.value))
                state = fold(events, handbook)
                latest = latest_reading(state)
                assert told[-1] == at_unit(state, latest.assessment if latest else None)
    assert len(told) > 2
    assert any(one.use is not None and one.visit is not None for one in told)
    assert any(one.added is not None and one.added.kg > 0.0 for one in told)


def test_a_unit_s_page_works_out_its_newest_session_alone(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    folded: list[str] = []

    def counting(events: Sequence[Event], *more: Any) -> Any:
        folded.append(events[0].sid)
        return fold(events, *more)

    monkeypatch.setattr(folding, "fold", counting)
    site.desk._folded = folding.Folded()
    links = [link for link in site.get("/office/units").read.links if "/office/unit?" in link]
    assert links
    for link in links:
        folded.clear()
        assert site.get(link).status == 200
        assert len(folded) <= 1


def test_what_the_cylinder_lost_counts_where_no_shot_was_weighed(
    place: Path | str, handbook: Handbook
) -> None:
    """The lists, the unit’s page and the law’s part say the same of it."""
    with open_site(place, handbook) as site:
        for number, day in ((1, "2026-03-01"), (2, "2026-04-01")):
            book = visit(number, day, 2.0, weighed=False)
            closing = book.events.pop()
            book.form("end_weight", gross="127.5 lb")
            book.write(closing.kind, closing.data)
            site.store.append(book.events)
        repeated = site.get("/office/units?show=repeat").text
        assert "CH-1" in repeated
        assert "5 lb 0.0 oz" in repeated
        page = site.get("/office/unit?site=Mill+Lane&unit=CH-1").text
        assert page.count("2 lb 8.0 oz") >= 4
        assert "not weighed" not in page
        most = site.get("/office?show=all&sort=added").text
        assert most.count("2 lb 8.0 oz") == 2


def test_shots_that_nobody_weighed_are_additions(place: Path | str, handbook: Handbook) -> None:
    """Two of an unknown amount, then one of 2 lb: the unit is topped up again, by at least that."""
    with open_site(place, handbook) as site:
        books = [
            visit(2, "2026-03-01", 2.0, weighed=False),
            visit(3, "2026-04-01", 2.0, weighed=False),
        ]
        for book in books:
            site.store.append(book.events)
        repeated = site.get("/office/units?show=repeat").text
        assert "Added in 2 sessions" in repeated
        assert "Not known" in repeated
        page = site.get("/office/unit?site=Mill+Lane&unit=CH-1").text
        assert "Charge was added here in 2 sessions. A sealed" in page
        assert page.count("1 not weighed Not known") == 2
        site.store.append(visit(4, "2026-05-01", 2.0).events)
        repeated = site.get("/office/units?show=repeat").text
        assert "Added in 3 sessions" in repeated
        assert "At least 2 lb 0.0 oz" in repeated
        page = site.get("/office/unit?site=Mill+Lane&unit=CH-1").text
        assert "Charge was added here in 3 sessions, at least 2 lb 0.0 oz in all." in page
        # A shot is weighed after all: the rows follow.
        opened = [one.eid for one in books[0].events if one.kind == "shot.opened"][-1]
        told = {"shot": opened, "scale_after": "128", "scale_after_unit": "lb"}
        books[0].write("shot.weighed", told)
        site.store.append(books[0].events[-1:])
        assert "At least 4 lb 0.0 oz" in site.get("/office/units").text
