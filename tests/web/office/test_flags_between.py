"""What two sessions say together, and what could not be kept, is flagged in the list too."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from office_cases import events, visit
from strategies import Book
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as site:
        yield site


def left_at(end: str, number: int, day: str, added_lb: float = 0.0) -> Book:
    """A visit that weighed its cylinder at 130 lb before, and so much after."""
    book = visit(number, day, added_lb, unit=f"AC-{number}")
    closing = book.events.pop()
    book.form("end_weight", gross=end)
    book.write(closing.kind, closing.data, 1)
    return book


def names(page: Page) -> set[str]:
    return {link[-1] for link in page.read.links if link.startswith("/office/session/")}


def test_a_cylinder_lighter_than_it_was_left_is_a_flag(site: Site) -> None:
    site.store.append(
        events(left_at("131 lb", 1, "2026-05-01"), left_at("130 lb", 2, "2026-05-03"))
    )
    assert names(site.get("/office?flag=lighter")) == {"2"}
    assert "C-1: 16.0 oz missing" in site.get("/office?flag=lighter").text
    assert "Cylinder lighter than it was left" in site.get("/office/month?month=2026-05").text
    # A session between them that a phone sends late: now that one is lighter.
    site.store.append(events(left_at("130 lb", 3, "2026-05-02")))
    assert names(site.get("/office?flag=lighter")) == {"3"}


def test_a_unit_topped_up_again_is_a_flag(site: Site) -> None:
    site.store.append(events(visit(2, "2026-05-03", 2.0), visit(3, "2026-05-04")))
    assert names(site.get("/office?flag=again")) == set()
    site.store.append(events(visit(1, "2026-04-30", 1.0)))
    assert names(site.get("/office?flag=again")) == {"2"}
    assert "Last time 2026-04-30" in site.get("/office?flag=again").text


def test_an_entry_set_aside_flags_its_session(site: Site) -> None:
    book = visit(1, "2026-05-03")
    site.store.append(book.events)
    assert names(site.get("/office")) == set()
    rival = replace(book.events[1], data=book.events[1].data | {"site": "Elsewhere"})
    site.store.append([rival])
    page = site.get("/office?flag=aside")
    assert names(page) == {"1"}
    assert "1 entry" in page.text


def test_a_flag_raised_by_another_session_after_the_sign_off_brings_the_session_back(
    site: Site,
) -> None:
    site.store.append(events(visit(2, "2026-05-03", 2.0)))
    sid = site.store.sessions()[0].sid
    form = site.get(f"/office/session/{sid}").form("/sign-off")
    assert site.post(form.action, form.values | {"signed": "B. Chief"}).status == 303
    assert names(site.get("/office")) == set()
    site.store.append(events(visit(1, "2026-04-30", 1.0)))
    assert names(site.get("/office?flag=again")) == {"2"}
    shown = site.get(f"/office/session/{sid}")
    assert "Unit topped up again" in shown.text
    form = shown.form("/sign-off")
    assert site.post(form.action, form.values | {"signed": "B. Chief"}).status == 303
    assert names(site.get("/office?flag=again")) == set()
    assert names(site.get("/office?show=seen&flag=again")) == {"2"}
