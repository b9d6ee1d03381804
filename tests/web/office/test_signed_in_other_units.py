"""Another choice of units after a sign-off changes no figure of it.

Our choice, no source.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from strategies import READING, Book, ready_to_charge
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook

DIFFER = "Then and now differ"
METRIC = {"pressure": "kPa", "temperature": "°C", "mass": "kg", "length": "m"}
POUNDS = {"pressure": "psig", "temperature": "°F", "mass": "lb+oz", "length": "ft"}


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as site:
        yield site


def closed(units: dict[str, str] | None = None) -> Book:
    book = ready_to_charge(Book())
    if units is not None:
        book.form("units", **units)
    book.form("reading", **READING)
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    return book


def sign_off(site: Site, book: Book) -> None:
    form = site.get(f"/office/session/{book.sid}").form("/sign-off")
    assert site.post(form.action, form.values | {"signed": "B. Chief"}).status == 303


def judged(site: Site, book: Book) -> str:
    words = site.get(f"/office/session/{book.sid}").read.text
    text = " ".join(" ".join(words).split())
    return text[text.index("As judged then") : text.index("Write a comment")]


def test_a_choice_of_units_after_it_is_no_difference(site: Site) -> None:
    book = closed()
    site.store.append(book.events)
    sign_off(site, book)
    before = judged(site, book)
    assert "Superheat 19.6 °F 19.6 °F" in before
    site.store.append([book.form("units", **METRIC)])
    assert judged(site, book) == before
    assert DIFFER not in before


def test_a_sign_off_in_celsius_stays_in_celsius(site: Site) -> None:
    book = closed(METRIC)
    site.store.append(book.events)
    sign_off(site, book)
    site.store.append([book.form("units", **POUNDS)])
    found = judged(site, book)
    assert "Superheat 10.9 °C 10.9 °C" in found
    assert DIFFER not in found


@pytest.mark.parametrize("units", [POUNDS, METRIC])
def test_another_reading_is_a_difference_in_any_units(site: Site, units: dict[str, str]) -> None:
    book = closed()
    site.store.append(book.events)
    sign_off(site, book)
    later = [
        book.form("units", **units),
        book.form("reading", **READING | {"suction_line": "70 °F"}),
    ]
    site.store.append(later)
    found = judged(site, book)
    assert "Superheat 19.6 °F 27.6 °F" in found
    assert DIFFER in found
