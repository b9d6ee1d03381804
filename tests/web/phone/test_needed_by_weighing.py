"""A phone is sent the sessions that used a cylinder last by its weighings, whenever they began.

Our choice, as what a phone is sent is.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from strategies import PROCEDURE, START, Book, ulid
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.web.phone.needed import DAY_MS, near, needed_sessions

CYLINDER = {"cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb", "withdrawal": "invert"}
LONG_AFTER = START + 400 * DAY_MS


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as site:
        yield site


def session(number: int, begun_s: float, weighed_s: float, labels: tuple[str, ...]) -> Book:
    at = START + int(begun_s * 1000)
    book = Book(sid=ulid(number, at), at=at, dev=f"phone-{number}")
    book.write("session.started", {"procedure": PROCEDURE}, 0)
    book.wait(weighed_s - begun_s)
    for label in labels:
        book.form("cylinder", cylinder_label=label, **CYLINDER)
        book.form("start_weight", gross="20 lb")
        book.form("end_weight", gross="19 lb")
    book.form("record", signed_by="I. V.", caps_checked="yes")
    return book


def test_the_last_weighing_and_the_first_of_two_cylinders(site: Site) -> None:
    late = session(1, 0, 9000, ("C-1",))
    early = session(2, 3600, 3700, ("C-1",))
    swapped = session(3, 20, 5000, ("c-1", "C-2"))
    new = Book(sid=ulid(9, START), at=START + 10_000_000, dev="phone-9")
    named = new.form("cylinder", cylinder_label="C-1", **CYLINDER)
    for book in (late, early, swapped):
        site.store.append(book.events)
    assert near(site.store, [named]) == [late.sid, swapped.sid, early.sid]
    assert set(needed_sessions(site.store, LONG_AFTER, "nobody")[1]) == {late.sid, swapped.sid}
