"""Numbers as typed, and as written: nothing guessed, nothing lost, halves away from zero."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lowside.core.numbers.arithmetic import (
    BadNumber,
    format_decimal,
    hermite,
    linear,
    parse_decimal,
    segment,
    square_root,
)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("118", 118.0),
        (" 54.5 ", 54.5),
        ("54,5", 54.5),
        ("0,125", 0.125),
        (",5", 0.5),
        (".5", 0.5),
        ("5.", 5.0),
        ("5.280", 5.28),
        ("-12", -12.0),
        ("−12", -12.0),
        ("+7", 7.0),
        ("007", 7.0),
        ("\u00a0118\u202f", 118.0),
    ],
)
def test_a_number_is_read_as_a_technician_types_it(text: str, value: float) -> None:
    assert parse_decimal(text) == value


@pytest.mark.parametrize(
    "text",
    [
        *("", "  ", "abc", "1e3", "12a", "1 200", "1.2.3", "1,2,3", "--1", "-", ".", ",", "0x10"),
        *("∞", "nan", "inf", "١٢", "１２", "1_000", "12%", "1'000", "½"),
    ],
)
def test_anything_else_is_refused_with_a_sentence(text: str) -> None:
    outcome = parse_decimal(text)
    assert isinstance(outcome, BadNumber)
    assert outcome.reason.endswith(".")


def test_a_number_that_reads_two_ways_is_refused_and_both_ways_are_offered() -> None:
    outcome = parse_decimal("5,280")
    assert isinstance(outcome, BadNumber)
    assert outcome.reason == "“5,280” can be read two ways. Type 5280 or 5.280."
    assert parse_decimal("5280") == 5280.0
    assert parse_decimal("5.280") == 5.28


@pytest.mark.parametrize("text", ["1" * 16, "0." + "1" * 13, "9" * 400])
def test_more_digits_than_an_instrument_shows_are_refused(text: str) -> None:
    outcome = parse_decimal(text)
    assert isinstance(outcome, BadNumber)
    assert outcome.reason.startswith("Too many digits")


@given(st.integers(-(10**15) + 1, 10**15 - 1), st.integers(0, 12))
def test_the_nearest_double_is_read(digits: int, places: int) -> None:
    text = str(Decimal(digits).scaleb(-places).quantize(Decimal(1).scaleb(-places)))
    assume("E" not in text and len(text.lstrip("-").replace(".", "")) <= 15)
    assert parse_decimal(text) == float(text)


@given(st.text(max_size=12))
def test_any_text_is_a_finite_number_or_a_sentence(text: str) -> None:
    outcome = parse_decimal(text)
    if isinstance(outcome, BadNumber):
        assert outcome.reason
    else:
        assert abs(outcome) < 1e15


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (0.5, 0, "1"),
        (-0.5, 0, "−1"),
        (2.5, 0, "3"),
        (-2.5, 0, "−3"),
        (0.25, 1, "0.3"),
        (-0.25, 1, "−0.3"),
        (0.04, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (118.0, 0, "118"),
        (7.0, 3, "7.000"),
        (0.007, 3, "0.007"),
        (-0.0, 2, "0.00"),
    ],
)
def test_halves_round_away_from_zero_and_nothing_is_minus_zero(
    value: float, decimals: int, text: str
) -> None:
    assert format_decimal(value, decimals) == text


@given(st.integers(-(10**9), 10**9), st.integers(0, 4))
def test_eighths_are_written_as_exact_arithmetic_rounds_them(eighths: int, decimals: int) -> None:
    # Eighths are exact in binary and stay so times 10^4, so the exact rounding is known.
    value = eighths / 8
    exact = abs(Decimal(eighths)) / 8
    rounded = exact.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP)
    sign = "−" if eighths < 0 and rounded != 0 else ""
    assert format_decimal(value, decimals) == sign + str(rounded)


@given(st.floats(-1e9, 1e9), st.integers(0, 4))
def test_what_is_written_reads_back_within_half_a_step(value: float, decimals: int) -> None:
    text = format_decimal(value, decimals)
    again = parse_decimal(text)
    assert isinstance(again, float)
    assert abs(Fraction(again) - Fraction(value)) <= Fraction(1, 2) / 10**decimals + Fraction(
        1, 10**6
    )
    assert format_decimal(again, decimals) == text


@pytest.mark.parametrize("value", [1e16, -1e16, 1e300])
def test_a_value_that_cannot_be_written_exactly_is_a_programming_error(value: float) -> None:
    with pytest.raises(ValueError, match="too large to write"):
        format_decimal(value, 0)


GRID = st.lists(st.integers(-1000, 1000), min_size=2, max_size=12, unique=True).map(
    lambda xs: tuple(float(x) for x in sorted(xs))
)


@given(GRID, st.floats(0, 1))
def test_a_segment_holds_the_point(grid: tuple[float, ...], part: float) -> None:
    x = grid[0] + (grid[-1] - grid[0]) * part
    assume(grid[0] <= x <= grid[-1])
    i = segment(grid, x)
    assert grid[i] <= x <= grid[i + 1]


@given(GRID, st.floats(0, 1), st.integers(-5, 5), st.integers(-5, 5))
def test_a_straight_line_is_interpolated_as_itself(
    grid: tuple[float, ...], part: float, slope: int, start: int
) -> None:
    x = grid[0] + (grid[-1] - grid[0]) * part
    assume(grid[0] <= x <= grid[-1])
    values = tuple(start + slope * g for g in grid)
    assert linear(grid, values, x) == pytest.approx(start + slope * x, abs=1e-8)


@given(GRID, st.floats(0, 1))
def test_a_cubic_is_interpolated_as_itself(grid: tuple[float, ...], part: float) -> None:
    # Hermite interpolation is exact for cubics; here x^3 − 2x, scaled to the grid.
    scaled = tuple(g / 1000.0 for g in grid)
    x = scaled[0] + (scaled[-1] - scaled[0]) * part
    assume(scaled[0] <= x <= scaled[-1])
    values = tuple(g**3 - 2.0 * g for g in scaled)
    slopes = tuple(3.0 * g * g - 2.0 for g in scaled)
    i = segment(scaled, x)
    assert hermite(scaled, values, slopes, x, i) == pytest.approx(x**3 - 2.0 * x, abs=1e-12)


def test_interpolation_gives_the_table_s_own_values_at_its_points() -> None:
    grid = (1.0, 2.0, 4.0)
    values = (10.0, 20.0, 15.0)
    slopes = (1.0, 0.0, -3.0)
    for i, x in enumerate(grid):
        at = segment(grid, x)
        assert linear(grid, values, x) == values[i]
        assert hermite(grid, values, slopes, x, at) == values[i]


def test_the_square_root_is_the_nearest_double() -> None:
    assert square_root(2.0) == 1.4142135623730951
    assert square_root(0.0) == 0.0
