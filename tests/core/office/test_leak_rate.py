"""Leak rates come out as the published examples say, at their limits too."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lowside.core.numbers.units import POUND_KG
from lowside.core.office.dates import day_number, day_of, day_text, year_of
from lowside.core.office.leak_rate import (
    Addition,
    Rate,
    annualized,
    calendar_year,
    over,
    reaches,
    rolling,
)

LAST = day_of("2025-06-30")
assert LAST is not None
DAY: int = LAST


def add(day: int, pounds: float, counts: bool = True, at_least: bool = False) -> Addition:
    return Addition(f"S{day}", day, pounds * POUND_KG, at_least, counts)


def percent(rate: Rate | None) -> float:
    assert rate is not None
    return rate.percent


def test_the_published_example_is_above_a_hundred_percent() -> None:
    # Published with the pre-2019 rule: 100 lb, 10 lb lost over the past month.
    history = [add(DAY - 30, 1.0), add(DAY, 10.0)]
    assert percent(annualized(history, DAY, 100.0 * POUND_KG)) > 100.0


def test_three_pounds_into_sixty_after_120_days() -> None:
    history = [add(DAY - 120, 1.0), add(DAY, 3.0)]
    rate = percent(annualized(history, DAY, 60.0 * POUND_KG))
    assert rate == pytest.approx(15.2083, abs=0.0001)


def test_days_are_capped_at_a_year_and_ten_percent_is_not_over_ten() -> None:
    history = [add(DAY - 500, 1.0), add(DAY, 10.0)]
    rate = annualized(history, DAY, 100.0 * POUND_KG)
    assert rate is not None
    assert rate.percent == pytest.approx(10.0)
    assert rate.days == 365
    assert not over(rate, 10.0)
    assert over(rate, 9.99)


def test_the_two_methods_differ_fourfold_on_one_unit() -> None:
    history = [add(DAY - 200, 2.0), add(DAY - 40, 3.0), add(DAY, 4.0)]
    full = 60.0 * POUND_KG
    assert percent(rolling(history, DAY, full)) == pytest.approx(15.0)
    assert percent(annualized(history, DAY, full)) == pytest.approx(60.8333, abs=0.0001)


def test_a_first_addition_takes_a_year() -> None:
    rate = annualized([add(DAY, 4.0)], DAY, 20.0 * POUND_KG)
    assert rate is not None
    assert rate.first
    assert rate.percent == pytest.approx(20.0)


def test_additions_before_the_rule_counts_are_not_looked_at() -> None:
    history = [add(DAY - 10, 2.0), add(DAY, 4.0)]
    full = 20.0 * POUND_KG
    rate = annualized(history, DAY, full, counts_from=DAY - 5)
    assert rate is not None
    assert (rate.first, rate.days) == (True, 365)
    assert percent(rolling(history, DAY, full, counts_from=DAY - 5)) == pytest.approx(20.0)
    assert percent(rolling(history, DAY, full)) == pytest.approx(30.0)


def test_a_calendar_year_is_a_third_figure() -> None:
    first = day_of("2025-01-01")
    assert first is not None
    history = [add(first - 1, 100.0), add(first, 40.0), add(first + 364, 40.0)]
    rate = calendar_year(history, 2025, 60.0 * POUND_KG)
    assert rate.percent == pytest.approx(133.3333, abs=0.0001)
    assert reaches(rate, 125.0)
    assert reaches(calendar_year([add(first, 75.0)], 2025, 60.0 * POUND_KG), 125.0)


def test_the_addition_a_year_ago_to_the_day_still_counts_in_the_rolling_average() -> None:
    full = 60.0 * POUND_KG
    assert percent(rolling([add(DAY - 365, 3.0), add(DAY, 3.0)], DAY, full)) == pytest.approx(10.0)
    assert percent(rolling([add(DAY - 366, 3.0), add(DAY, 3.0)], DAY, full)) == pytest.approx(5.0)


def test_two_sessions_of_one_day_are_one_addition() -> None:
    history = [add(DAY - 365, 1.0), add(DAY, 2.0), add(DAY, 4.0)]
    assert percent(annualized(history, DAY, 60.0 * POUND_KG)) == pytest.approx(10.0)


def test_an_addition_after_installing_has_no_rate_and_ends_the_days_before() -> None:
    history = [add(DAY - 50, 30.0, counts=False), add(DAY, 3.0)]
    full = 60.0 * POUND_KG
    assert annualized(history, DAY - 50, full) is None
    rate = annualized(history, DAY, full)
    assert rate is not None
    assert rate.days == 50
    assert percent(rolling(history, DAY, full)) == pytest.approx(5.0)


def test_a_shot_nobody_weighed_makes_the_rate_a_lower_limit() -> None:
    rate = annualized([add(DAY, 3.0, at_least=True)], DAY, 60.0 * POUND_KG)
    assert rate is not None
    assert rate.at_least


def test_recovering_more_than_was_added_is_no_addition() -> None:
    assert annualized([add(DAY, -2.0)], DAY, 60.0 * POUND_KG) is None


@given(
    st.lists(st.tuples(st.integers(0, 900), st.floats(0.01, 40.0)), min_size=1, max_size=8),
    st.randoms(use_true_random=False),
)
def test_rates_do_not_depend_on_the_order_of_sessions(
    drawn: list[tuple[int, float]], random: object
) -> None:
    history = [add(DAY - back, pounds) for back, pounds in drawn]
    shuffled = list(history)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    full = 60.0 * POUND_KG
    day = max(one.day for one in history)
    one, other = annualized(history, day, full), annualized(shuffled, day, full)
    assert percent(one) == pytest.approx(percent(other))
    assert percent(rolling(history, day, full)) == pytest.approx(
        percent(rolling(shuffled, day, full))
    )


@given(st.integers(-100_000, 2_900_000))
def test_days_and_dates_are_each_others_way_back(day: int) -> None:
    if 1 <= year_of(day) <= 9999:
        assert day_of(day_text(day)) == day


@pytest.mark.parametrize("text", ["", "2026", "2026-13-01", "2026-02-29", "26-01-01", "x-y-z"])
def test_what_is_no_date_is_none(text: str) -> None:
    assert day_of(text) is None


def test_a_leap_day_is_a_day() -> None:
    assert day_number(2024, 2, 29) == day_number(2024, 3, 1) - 1  # type: ignore[operator]
