"""A phone's clock is set within one run of the program, or the phone sleeps, and the page is loaded
anew. The run's own entries show it: no wait is longer than it was."""

import pytest
from expert import Bench
from hypothesis import given
from hypothesis import strategies as st
from overcharged import SHORT, charging, shot
from strategies import Book
from walked import did, page_at

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP
from lowside.core.session.clocks import moments_of
from lowside.core.session.events import CLOCK_DISAGREEMENT_S, Moment, age_s, elapsed
from lowside.core.session.fold import fold
from lowside.core.session.steady import by_the_record

HOUR_S = 3600


def set_clock(book: Book, by_s: float) -> None:
    book.at += int(by_s * 1000)


def load_anew(book: Book) -> None:
    book.run += "+"
    book.mono = 1000
    book.at += 3000


def noted(book: Book) -> None:
    book.write("note.added", {"text": "x"}, 5)


def since(bench: Bench) -> float:
    found = bench.state().readings[-1].since_shot_s
    assert found is not None
    return found


@pytest.mark.parametrize("by_s", [0, 60, HOUR_S])
def test_a_reading_just_after_a_shot_is_too_soon_whatever_the_clock_says(
    handbook: Handbook, by_s: int
) -> None:
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    set_clock(bench.book, by_s)
    noted(bench.book)
    load_anew(bench.book)
    assert bench.advice().action == "wait"
    did(bench, "reading", **SHORT)
    assert since(bench) == pytest.approx(28.0, abs=0.1)
    assert bench.advice().action == "wait"
    assert not bench.form("shot_open", {})


def test_no_wait_ends_early_where_the_clock_is_set_after_the_page_was_loaded(
    handbook: Handbook,
) -> None:
    """Nothing is written after that yet: the run's newest entry shows it."""
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    load_anew(bench.book)
    noted(bench.book)
    set_clock(bench.book, 120)
    bench.book.wait(5)
    assert bench.advice().action == "wait"
    assert not bench.form("shot_open", {})


def test_the_page_counts_as_the_advice_does(handbook: Handbook) -> None:
    """The clock was set forward by an hour; the unit was started anew before."""
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    load_anew(bench.book)
    noted(bench.book)
    set_clock(bench.book, HOUR_S)
    bench.book.wait(5)
    clock = page_at(bench, STEP, "shots").context["clock"]
    assert clock["elapsed"] <= 60


def test_a_wait_that_began_again_ends(handbook: Handbook) -> None:
    """The phone slept for ten minutes, and its monotonic clock with it."""
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    set_clock(bench.book, 600)
    noted(bench.book)
    load_anew(bench.book)
    wait_s = bench.advice().wait_s
    assert bench.advice().action == "wait"
    assert wait_s is not None
    assert wait_s <= 300.0
    bench.book.wait(wait_s)
    assert bench.advice().action != "wait"


@pytest.mark.parametrize("by_s", [HOUR_S, -HOUR_S])
def test_a_clock_set_and_set_right_again_changes_nothing(by_s: int) -> None:
    book = Book()
    began = book.write("session.started", {})
    set_clock(book, by_s)
    noted(book)
    set_clock(book, -by_s)
    noted(book)
    load_anew(book)
    noted(book)
    moments = moments_of(book.events)
    passed = elapsed(moments[began.eid], moments[book.events[-1].eid])
    assert passed.seconds == pytest.approx(18.0)
    assert not passed.doubtful


def test_a_phone_that_began_anew_with_a_slow_clock_does_not_wait_for_an_hour() -> None:
    """It lost power, began an hour slow without a network, and was set right."""
    book = Book()
    began = book.write("session.started", {})
    load_anew(book)
    set_clock(book, -HOUR_S)
    noted(book)
    set_clock(book, HOUR_S)
    noted(book)
    book.wait(300)
    load_anew(book)
    noted(book)
    moments = moments_of(book.events)
    assert elapsed(moments[began.eid], moments[book.events[-1].eid]).seconds >= 300.0


def test_ages_go_by_the_wall_clock_still() -> None:
    book = Book()
    began = book.write("session.started", {})
    noted(book)
    set_clock(book, HOUR_S)
    noted(book)
    moments = moments_of(book.events)
    first, second, third = (moments[event.eid] for event in book.events)
    assert moments[began.eid] == first
    assert age_s(first, second) == 5.0
    assert age_s(first, third) == HOUR_S + 10.0


STEPS = st.lists(
    st.tuples(
        st.integers(1, 1200),
        st.one_of(st.none(), st.just(0), st.integers(-7200, 7200)),
    ),
    min_size=2,
    max_size=10,
)


@given(steps=STEPS, later_s=st.integers(1, 1200), by_s=st.integers(-7200, 7200))
def test_no_setting_of_the_clock_within_a_run_makes_a_wait_longer_than_it_was(
    steps: list[tuple[int, int | None]], later_s: int, by_s: int
) -> None:
    """Each step passes some seconds and sets the clock, or (`None`) loads the page anew."""
    book = Book()
    events = [book.write("session.started", {}, 0)]
    passed = [0.0]
    forward = True
    for gap_s, set_s in steps:
        before = book.at
        if set_s is None:
            load_anew(book)
        else:
            set_clock(book, set_s)
            forward = forward and set_s >= 0
        events.append(book.write("note.added", {"text": "x"}, gap_s))
        passed.append(passed[-1] + (book.at - before) / 1000.0 - (set_s or 0))
    moments = moments_of(book.events)
    for i, start in enumerate(events):
        for j in range(i + 1, len(events)):
            found = elapsed(moments[start.eid], moments[events[j].eid]).seconds
            truth = passed[j] - passed[i]
            assert 0.0 <= found <= truth + CLOCK_DISAGREEMENT_S
            assert not forward or found >= truth - 0.001
    set_clock(book, by_s)
    book.wait(later_s)
    now = by_the_record(fold(book.events), Moment(book.run, book.mono, book.at, 0))
    for i, start in enumerate(events):
        found = elapsed(moments[start.eid], now).seconds
        assert found <= passed[-1] - passed[i] + later_s + CLOCK_DISAGREEMENT_S
