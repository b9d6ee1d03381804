"""Typed points of a unit's own chart: on the line between them, and never beyond."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import CIRCUIT, Book, ready_to_charge, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import (
    BY_LIQUID_PRESSURE,
    BY_SUBCOOLING,
    BY_SUCTION_PRESSURE,
    FIXED,
    TXV,
    ChartPoint,
    Reading,
    System,
)
from lowside.core.judging.charge import (
    CALLS_FOR_CHARGE,
    ON_TARGET,
    POINTS_ELSEWHERE,
    Assessment,
    assess,
    reason,
    target_text,
)
from lowside.core.judging.chart_points import NO_LINE, POINT_REACH_K, axis_of, value_by_points
from lowside.core.judging.findings import Unknown, missing, sentence
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import PSI_PA
from lowside.core.pages.ticket import ticket_context
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.fold import fold

UNIT = System("R-410A", TXV, BY_SUBCOOLING, 101325.0, by_points=True)
NO_WET_BULB = Unknown(missing(("wet_bulb_or_humidity",)))
TEMPERATURES = st.floats(min_value=280.0, max_value=325.0)
VALUES = st.floats(min_value=0.5, max_value=30.0)


def by(*points: ChartPoint) -> System:
    return replace(UNIT, chart_points=points)


@given(TEMPERATURES, TEMPERATURES, VALUES, VALUES, TEMPERATURES)
def test_the_line_holds_between_its_ends_and_not_beyond(
    one: float, other: float, low: float, high: float, today: float
) -> None:
    system = by(ChartPoint(one, None, low), ChartPoint(other, None, high))
    value = value_by_points(system, today, NO_WET_BULB)
    inside = one != other and min(one, other) <= today <= max(one, other)
    assert isinstance(value, float) == inside
    if isinstance(value, float):
        assert min(low, high) - 1e-9 <= value <= max(low, high) + 1e-9
        turned = value_by_points(
            by(ChartPoint(other, None, high), ChartPoint(one, None, low)), today, NO_WET_BULB
        )
        assert isinstance(turned, float)
        assert turned == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(("off", "holds"), [(0.0, True), (0.99, True), (1.01, False)])
def test_one_point_holds_only_in_its_own_weather(off: float, holds: bool) -> None:
    system = by(ChartPoint(308.0, 292.0, 6.0))
    away = off * POINT_REACH_K
    assert isinstance(value_by_points(system, 308.0 + away, 292.0), float) == holds
    assert isinstance(value_by_points(system, 308.0, 292.0 - away), float) == holds
    assert isinstance(value_by_points(system, 308.0, NO_WET_BULB), Unknown)


@pytest.mark.parametrize(
    ("one", "other", "line"),
    [
        ((300.0, None), (310.0, None), True),
        ((300.0, None), (300.0, None), False),
        ((300.0, 290.0), (310.0, 290.0), True),
        ((300.0, 290.0), (300.0, 295.0), True),
        ((300.0, 290.0), (310.0, 295.0), False),
        ((300.0, 290.0), (310.0, None), False),
        ((300.0, 290.0), (300.0, 290.0), False),
    ],
)
def test_two_points_make_a_line_when_they_differ_in_one_temperature(
    one: tuple[float, float | None], other: tuple[float, float | None], line: bool
) -> None:
    both = (ChartPoint(*one, 5.0), ChartPoint(*other, 9.0))
    assert (axis_of(both) != NO_LINE) == line
    value = value_by_points(by(ChartPoint(*one, 5.0), ChartPoint(*other, 9.0)), 300.0, 290.0)
    assert isinstance(value, float) == line


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "points_of"),
        ({"points_of": "subcooling"}, "point1_outdoor"),
        ({"points_of": "subcooling", "point1_outdoor": "95"}, "point1_value"),
        ({"points_of": "superheat", "point1_outdoor": "95", "point1_value": "10"}, "method"),
        (
            {
                "points_of": "subcooling",
                "point1_outdoor": "95",
                "point1_value": "10",
                "point2_outdoor": "95",
                "point2_value": "12",
            },
            "point2_outdoor",
        ),
    ],
)
def test_half_a_point_is_sent_back_beside_its_field(
    typed: dict[str, str], field: str, handbook: Handbook
) -> None:
    book = ready_to_charge(Book())
    book.form("unit", refrigerant="R-410A", metering="txv", capacity="3 ton", **CIRCUIT)
    sent = {"method": "points", "eid": "x", **typed}
    for name in typed:
        if name.startswith("point") and name != "points_of":
            sent[name + "_unit"] = "°F"
    outcome = accept(fold(book.events, handbook), "target", sent, handbook)
    assert not isinstance(outcome, Accepted)
    assert isinstance(outcome, Refused)
    assert field in outcome.problems


def test_the_record_names_the_chart_its_points_and_the_papers_limits(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form(
        "target",
        method="points",
        points_of="subcooling",
        point1_outdoor="85 °F",
        point1_value="12 °F",
        point2_outdoor="105 °F",
        point2_value="8 °F",
        papers_outdoor_lowest="60 °F",
        papers_wait="20 min",
    )
    ticket = ticket_context(fold(book.events, handbook), handbook)
    told = {each["name"]: each["value"] for part in ticket["parts"] for each in part["facts"]}
    assert told["Judged by"] == "manufacturer’s subcooling, by points of this unit’s own chart"
    assert told["First point: what the chart gives"] == "12 °F"
    assert told["Coldest outdoor air, by this unit’s instructions"] == "60 °F"
    assert told["Wait before a reading counts, by this unit’s instructions"] == "20 min"
    assert ticket["target_line"].startswith("Target: subcooling 11.0 °F ± 3.0 °F")


@given(
    places=st.lists(TEMPERATURES, min_size=2, max_size=4, unique=True),
    values=st.lists(VALUES, min_size=4, max_size=4),
    today=TEMPERATURES,
)
def test_more_points_are_joined_by_straight_lines_in_any_order(
    places: list[float], values: list[float], today: float
) -> None:
    points = [ChartPoint(place, None, value) for place, value in zip(places, values, strict=False)]
    value = value_by_points(by(*points), today, NO_WET_BULB)
    ordered = sorted(points, key=lambda point: point.outdoor_k)
    if not ordered[0].outdoor_k <= today <= ordered[-1].outdoor_k:
        assert isinstance(value, Unknown)
        assert value.reason.code == "outside_points"
        return
    assert isinstance(value, float)
    assert value == value_by_points(by(*reversed(points)), today, NO_WET_BULB)
    for first, second in pairwise(ordered):
        if first.outdoor_k <= today <= second.outdoor_k:
            by_two = value_by_points(by(first, second), today, NO_WET_BULB)
            assert isinstance(by_two, float)
            assert value == pytest.approx(by_two, abs=1e-9)


def test_outside_its_points_the_sentence_says_which_air_and_how_far_they_reach() -> None:
    points = (ChartPoint(fahrenheit(75), None, 9.0), ChartPoint(fahrenheit(95), None, 6.0))
    beyond = value_by_points(by(*points), fahrenheit(97), NO_WET_BULB)
    assert isinstance(beyond, Unknown)
    told = sentence(beyond.reason, UnitChoice())
    assert "The outdoor air is 97.0 °F" in told
    assert "from 75.0 °F to 95.0 °F" in told
    humid = value_by_points(
        by(ChartPoint(fahrenheit(95), fahrenheit(67), 6.0)), fahrenheit(95), fahrenheit(72)
    )
    assert isinstance(humid, Unknown)
    assert "return air wet bulb is 72.0 °F" in sentence(humid.reason, UnitChoice())


def fahrenheit(degrees: float) -> float:
    return (degrees + 459.67) * 5.0 / 9.0


def psi(gauge: float) -> float:
    return gauge * PSI_PA


SHORT = {
    "suction_pressure_pa": 101325.0 + psi(100),
    "suction_line_k": fahrenheit(63),
    "liquid_pressure_pa": 101325.0 + psi(290),
    "liquid_line_k": fahrenheit(92),
    "outdoor_dry_bulb_k": fahrenheit(85),
    "return_dry_bulb_k": fahrenheit(78),
    "return_wet_bulb_k": fahrenheit(66),
}
"""R-410A behind a fixed orifice, far short: 32 °F of superheat where the chart says 15."""
RIGHT = {
    **SHORT,
    "suction_pressure_pa": 101325.0 + psi(126),
    "suction_line_k": fahrenheit(58),
    "liquid_pressure_pa": 101325.0 + psi(335),
    "liquid_line_k": fahrenheit(95),
}


def pressure_unit(**changes: object) -> System:
    """The chart: suction 126 psig, or liquid 335 psig, at 85 °F outdoors."""
    system = System(
        "R-410A",
        FIXED,
        BY_SUCTION_PRESSURE,
        101325.0,
        by_points=True,
        chart_points=(
            ChartPoint(fahrenheit(75), None, psi(122)),
            ChartPoint(fahrenheit(95), None, psi(130)),
        ),
        short_below=True,
    )
    return replace(system, **changes)  # type: ignore[arg-type]


LIQUID_POINTS = (
    ChartPoint(fahrenheit(75), None, psi(300)),
    ChartPoint(fahrenheit(95), None, psi(370)),
)


def judged(system: System, readings: dict[str, float | None], handbook: Handbook) -> Assessment:
    return assess(system, Reading(**readings), handbook)


def test_a_charted_pressure_calls_for_charge_where_the_other_readings_agree(
    handbook: Handbook,
) -> None:
    for system in (
        pressure_unit(),
        pressure_unit(method=BY_LIQUID_PRESSURE, chart_points=LIQUID_POINTS),
    ):
        short = judged(system, SHORT, handbook)
        assert short.verdict == CALLS_FOR_CHARGE, reason(short, UnitChoice())
        assert "psig" in reason(short, UnitChoice())
        assert "psig" in target_text(short, UnitChoice())
        assert judged(system, RIGHT, handbook).verdict == ON_TARGET


def test_nothing_is_charged_by_a_pressure_alone(handbook: Handbook) -> None:
    # Suction far down, superheat and subcooling as they should be: a pressure is not believed.
    cold = {**RIGHT, "suction_pressure_pa": 101325.0 + psi(110), "suction_line_k": fahrenheit(51)}
    told = judged(pressure_unit(), cold, handbook)
    assert told.verdict == POINTS_ELSEWHERE
    assert told.reason_finding.code == "pressure_alone"
    # On the chart by pressure, and short by everything else: not finished either.
    liquid = pressure_unit(
        method=BY_LIQUID_PRESSURE,
        chart_points=(replace(LIQUID_POINTS[0], outdoor_k=fahrenheit(85), value=psi(290)),),
    )
    assert judged(liquid, SHORT, handbook).reason_finding.code == "pressure_alone"


def test_which_side_means_short_is_asked_and_never_guessed(handbook: Handbook) -> None:
    unasked = judged(pressure_unit(short_below=None), SHORT, handbook)
    assert unasked.verdict != CALLS_FOR_CHARGE
    assert "Manufacturers differ" in target_text(unasked, UnitChoice())
    turned = judged(pressure_unit(short_below=False), SHORT, handbook)
    assert turned.verdict == POINTS_ELSEWHERE
    liquid = replace(LIQUID_POINTS[0], outdoor_k=fahrenheit(85), value=psi(270))
    above = pressure_unit(method=BY_LIQUID_PRESSURE, chart_points=(liquid,), short_below=False)
    assert judged(above, SHORT, handbook).verdict == CALLS_FOR_CHARGE


@pytest.mark.parametrize(
    "gone",
    ["suction_pressure_pa", "suction_line_k", "liquid_line_k", "return_wet_bulb_k"],
)
def test_a_charted_pressure_needs_the_readings_that_must_agree(
    gone: str, handbook: Handbook
) -> None:
    assert judged(pressure_unit(), {**SHORT, gone: None}, handbook).verdict != CALLS_FOR_CHARGE


def test_behind_a_valve_the_suction_pressure_says_nothing(handbook: Handbook) -> None:
    told = judged(pressure_unit(metering=TXV), SHORT, handbook)
    assert told.verdict != CALLS_FOR_CHARGE
    assert "evens out" in target_text(told, UnitChoice())


def test_the_papers_tolerance_goes_before_the_usual_one(handbook: Handbook) -> None:
    near = {**SHORT, "suction_pressure_pa": 101325.0 + psi(122)}
    assert judged(pressure_unit(), near, handbook).verdict != CALLS_FOR_CHARGE
    tight = pressure_unit(chart_tolerance_pa=psi(3))
    assert judged(tight, near, handbook).verdict == CALLS_FOR_CHARGE
    assert "± 3 psig" in target_text(judged(tight, near, handbook), UnitChoice())


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"point1_pressure": "126"}, "points_short"),
        ({"points_short": "below"}, "point1_pressure"),
        ({"points_short": "below", "point1_value": "126"}, "point1_pressure"),
    ],
)
def test_a_pressure_point_is_sent_back_without_its_side_or_pressure(
    typed: dict[str, str], field: str, handbook: Handbook
) -> None:
    book = ready_to_charge(Book())
    sent = {
        "method": "points",
        "points_of": "suction_pressure",
        "point1_outdoor": "95",
        "point1_outdoor_unit": "°F",
        "point1_pressure_unit": "psig",
        "point1_value_unit": "°F",
        **typed,
    }
    outcome = accept(fold(book.events, handbook), "target", sent, handbook)
    assert isinstance(outcome, Refused)
    assert field in outcome.problems


def test_a_pressure_point_is_kept_as_typed_and_folded(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("unit", refrigerant="R-410A", metering="fixed", capacity="3 ton", **CIRCUIT)
    typed = {
        "method": "points",
        "points_of": "suction_pressure",
        "points_short": "below",
        "points_tolerance": "3 psig",
        "point1_outdoor": "75 °F",
        "point1_pressure": "122 psig",
        "point2_outdoor": "95 °F",
        "point2_pressure": "130 psig",
        "point3_outdoor": "105 °F",
        "point3_pressure": "133 psig",
    }
    outcome = accept(fold(book.events, handbook), "target", with_units("target", typed), handbook)
    assert isinstance(outcome, Accepted)
    assert outcome.data["point2_pressure"] == "130"
    assert outcome.data["point2_pressure_unit"] == "psig"
    book.form("target", **typed)
    system = fold(book.events, handbook).system
    assert system is not None
    assert system.method == BY_SUCTION_PRESSURE
    assert system.short_below is True
    assert [point.value for point in system.chart_points] == [psi(122), psi(130), psi(133)]
    assert system.chart_tolerance_pa == psi(3)
