"""A shot without a weight that was open for hours: nobody knows what went in, no figure says."""

import pytest
from strategies import CHECKED_ALWAYS, READING, Book, ready_to_charge

from lowside.core.advice.advice import ADD, READ, WAIT, Advice, advise
from lowside.core.advice.words import LOST_SHOT
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold


def now(book: Book, handbook: Handbook) -> Advice:
    return advise(fold(book.events, handbook), Moment(book.run, book.mono, book.at, 0))


def unweighed(book: Book, open_s: float) -> Book:
    book.form("shot_open", scale_before="27.5 lb")
    book.form("shot_close", after_s=open_s)
    shot = book.events[len(book.events) - 2].eid
    book.write("shot.unweighed", {"shot": shot})
    book.form("preconditions", **CHECKED_ALWAYS)
    return book


@pytest.mark.parametrize("open_s", [9.0 * 3600.0, 900.0])
def test_no_estimate_is_made_of_it(handbook: Handbook, open_s: float) -> None:
    book = unweighed(ready_to_charge(Book()), open_s)
    told = now(book, handbook)
    assert told.action == WAIT
    assert told.remaining_kg is None
    assert told.remaining_low_kg is None
    assert told.reasons == (LOST_SHOT,)
    book.wait(3600)
    told = now(book, handbook)
    assert (told.action, told.reasons, told.remaining_high_kg) == (READ, (LOST_SHOT,), None)


def test_the_next_reading_is_the_first_that_counts(handbook: Handbook) -> None:
    book = unweighed(ready_to_charge(Book()), 9.0 * 3600.0)
    book.form("reading", 1800.0, **READING)
    told = now(book, handbook)
    assert told.remaining_high_kg is not None
    assert abs(told.remaining_high_kg) < 64.0 * OUNCE_KG
    # Nobody says that the unit hardly responds to pounds of charge.
    assert all("hardly responds" not in each for each in told.reasons)


def test_a_short_one_counts_by_its_time(handbook: Handbook) -> None:
    book = unweighed(ready_to_charge(Book()), 5.0)
    told = now(book, handbook)
    assert told.action in (ADD, WAIT)
    assert LOST_SHOT not in told.reasons
    assert told.remaining_kg is not None
