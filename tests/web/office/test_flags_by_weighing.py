"""The office's flag "lighter" and the field's page go by a cylinder's weighings, whatever order the
sessions began in or came to the store.

Common practice, no source.
"""

from collections.abc import Iterator
from itertools import permutations
from pathlib import Path

import pytest
from office_cases import events
from strategies import PROCEDURE, Book, ulid
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook

HOUR_MS = 3_600_000
MORNING = 1_777_876_200_000
CYLINDER = {"cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb", "withdrawal": "invert"}


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as site:
        yield site


def weigh(book: Book, label: str, hour: float, start: str, end: str) -> Book:
    book.wait((MORNING + hour * HOUR_MS - book.at) / 1000)
    book.form("cylinder", cylinder_label=label, **CYLINDER)
    book.form("start_weight", gross=start)
    book.form("tare", scale_mode="gross", scale_reading=start, scale_resolution="0.5 oz")
    book.form("shot_open")
    book.write("shot.closed", {"scale_after": end.split(maxsplit=1)[0], "scale_after_unit": "lb"})
    book.form("end_weight", gross=end)
    return book


def begun(number: int, hour: float) -> Book:
    at = int(MORNING + hour * HOUR_MS)
    book = Book(sid=ulid(number, at), at=at, dev=f"phone-{number}")
    book.write("session.started", {"procedure": PROCEDURE})
    book.form("job", site="Mill", unit_label=f"AC-{number}", technician="I. V.", elevation="0 ft")
    return book


def flagged(site: Site) -> list[str]:
    page = site.get("/office?show=all&flag=lighter")
    return sorted(link[-1] for link in page.read.links if link.startswith("/office/session/"))


def test_jobs_that_overlap_accuse_no_cylinder_in_whatever_order_they_come(site: Site) -> None:
    """Begun at 8 and weighed at 13; begun at 9 and weighed at 9:30; and the day before."""
    for place, order in enumerate(permutations(range(3))):
        label = f"C-{place}"
        jobs = (
            weigh(begun(3 * place + 1, -16), label, -15, "28 lb", "27 lb"),
            weigh(begun(3 * place + 2, 8), label, 13, "26 lb", "25 lb"),
            weigh(begun(3 * place + 3, 9), label, 9.5, "27 lb", "26 lb"),
        )
        for each in order:
            site.store.append(events(jobs[each]))
    assert flagged(site) == []


def test_a_loss_among_them_is_flagged(site: Site) -> None:
    late = weigh(begun(2, 8), "C-1", 13, "25 lb", "24 lb")
    site.store.append(events(late, weigh(begun(1, -16), "C-1", -15, "28 lb", "27 lb")))
    assert flagged(site) == ["2"]
    assert "C-1: 32.0 oz missing" in site.get("/office?flag=lighter").text
    site.store.append(events(weigh(begun(3, 9), "C-1", 9.5, "27 lb", "26 lb")))
    assert "C-1: 16.0 oz missing" in site.get("/office?flag=lighter").text


def test_each_of_two_cylinders_is_held_against_its_own_last_use(site: Site) -> None:
    two = weigh(weigh(begun(2, 8), "C-1", 8.1, "27 lb", "26 lb"), "C-2", 10, "20 lb", "19 lb")
    site.store.append(events(two, weigh(begun(1, 1), "C-1", 2, "28 lb", "27 lb")))
    assert flagged(site) == []
    third = weigh(weigh(begun(3, 12), "C-1", 12.1, "25 lb", "24 lb"), "C-2", 14, "19 lb", "18 lb")
    site.store.append(events(third))
    assert flagged(site) == ["3"]
    assert "C-1: 16.0 oz missing" in site.get("/office?flag=lighter").text


def test_the_field_page_offers_the_last_weighing(site: Site) -> None:
    waiting = begun(2, 8)
    waiting.form("cylinder", cylinder_label="C-1", **CYLINDER)
    site.store.append(
        events(
            waiting,
            weigh(begun(1, -16), "C-1", -15, "28 lb", "27 lb"),
            weigh(begun(3, 9), "C-1", 9.5, "27 lb", "26 lb"),
        )
    )
    page = site.get(f"/s/{waiting.sid}/step/start_weight").text
    assert "26 lb 0.0 oz" in page
    assert "27 lb 0.0 oz" not in page
