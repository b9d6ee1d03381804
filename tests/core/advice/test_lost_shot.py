"""A shot without a weight that was open for hours: nobody knows what went in, no figure says."""

from dataclasses import replace

import pytest
from advice_cases import at
from strategies import CHECKED_ALWAYS, READING, Book, ready_to_charge, set_up

from lowside.core.advice import feeding
from lowside.core.advice.advice import ADD, DO_NOT_ADD, READ, Advice, advise
from lowside.core.advice.outlook import outlook_of
from lowside.core.advice.words import LOST_SHOT
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.block import WAIT
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import Shot


def now(book: Book, handbook: Handbook) -> Advice:
    return advise(fold(book.events, handbook), Moment(book.run, book.mono, book.at, 0))


def begun(reading: dict[str, str]) -> Book:
    book = Book()
    set_up(book)
    book.form("reading", **reading)
    book.form("decide", decision="add")
    return book


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


def test_a_short_one_before_any_weight_is_lost_too(handbook: Handbook) -> None:
    """20 g/s is what an opening must be safe for; a cracked valve brings a tenth of it."""
    book = ready_to_charge(Book())
    before = now(book, handbook).remaining_kg
    unweighed(book, 15.0)
    told = now(book, handbook)
    assert (told.action, told.reasons, told.remaining_kg) == (WAIT, (LOST_SHOT,), None)
    book.form("reading", 900.0, **READING)
    assert now(book, handbook).remaining_kg == before


def test_it_counts_by_its_time_while_its_weight_is_asked(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open", scale_before="27.5 lb")
    book.form("shot_close", after_s=15.0)
    told = now(book, handbook)
    assert told.action == WAIT
    assert told.reasons != (LOST_SHOT,)
    assert told.remaining_kg is not None


def test_what_a_short_one_brought_is_not_learned_from(handbook: Handbook) -> None:
    """By 20 g/s the unit would look flat, and far more would be asked for: as much as after a
    first reading like this, and no more."""
    short = READING | {"liquid_line": "103.3 °F"}
    answer = READING | {"liquid_line": "100.8 °F"}
    book = begun(short)
    unweighed(book, 15.0)
    book.form("reading", 900.0, **answer)
    state = fold(book.events, handbook)
    seen = outlook_of(state, state.readings[1])
    first = begun(answer)
    alone = fold(first.events, handbook)
    fresh = outlook_of(alone, alone.readings[0])
    assert seen is not None
    assert fresh is not None
    assert seen.slope_k_per_kg == fresh.slope_k_per_kg
    assert seen.safe_kg == fresh.safe_kg
    assert not seen.answered
    assert len(seen.observations) == 2


def test_a_unit_that_does_not_answer_is_doubted_all_the_same(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    for _ in range(3):
        unweighed(book, 15.0)
        book.form("reading", 900.0, **READING)
    book.form("reading", 300.0, **READING)
    told = now(book, handbook)
    assert told.action == DO_NOT_ADD
    assert "hardly responds" in told.reasons[0]


def test_a_short_one_after_a_weighed_one_counts_by_its_time(handbook: Handbook) -> None:
    book = weighed(ready_to_charge(Book()), 10.0, "27.4 lb")
    book.form("reading", 900.0, **READING)
    unweighed(book, 5.0)
    told = now(book, handbook)
    assert told.action in (ADD, WAIT)
    assert LOST_SHOT not in told.reasons
    assert told.remaining_kg is not None


def weighed(book: Book, open_s: float, shown: str) -> Book:
    book.form("shot_open", scale_before="27.5 lb")
    book.form("shot_close", after_s=open_s)
    shot = book.events[len(book.events) - 2].eid
    book.form("shot_weigh", shot=shot, scale_after=shown)
    return book


@pytest.mark.parametrize(
    ("open_s", "shown", "lost"),
    [
        (30.0, "27.5 lb", True),
        (30.0, "27.469 lb", True),  # half an ounce is one step of this scale
        (30.0, "27.437 lb", False),
        (14.3, "27.5 lb", True),  # two steps at 2 g/s
        (14.0, "27.5 lb", False),
    ],
)
def test_a_scale_that_hardly_moves_says_nothing(
    handbook: Handbook, open_s: float, shown: str, lost: bool
) -> None:
    book = weighed(ready_to_charge(Book()), open_s, shown)
    told = now(book, handbook)
    assert (told.reasons == (LOST_SHOT,)) is lost
    if not lost:
        return
    assert told.action == WAIT
    book.wait(600)
    assert now(book, handbook).action == READ
    assert feeding.flow_of(fold(book.events, handbook), 1).learned is False


@pytest.mark.parametrize(("open_s", "lost"), [(9.9, False), (10.0, True)])
def test_a_short_opening_on_a_fine_scale_may_bring_nothing(open_s: float, lost: bool) -> None:
    shot = Shot("s", at(0), at(open_s), open_s, False, 0.001, step_kg=0.001)
    assert feeding.unseen(shot) is lost
    assert not feeding.unseen(replace(shot, doubtful_time=True))
    assert not feeding.unseen(replace(shot, step_kg=None))
    assert not feeding.unseen(replace(shot, amount_kg=None))
