"""Typed points of a unit's own chart: on the line between them, and never beyond."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import CIRCUIT, Book, ready_to_charge

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import BY_SUBCOOLING, TXV, ChartPoint, System
from lowside.core.judging.chart_points import POINT_REACH_K, in_line, value_by_points
from lowside.core.judging.findings import Unknown, missing
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
    assert in_line(ChartPoint(*one, 5.0), ChartPoint(*other, 9.0)) == line
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
    assert told["Coldest outdoor air, by this unit’s papers"] == "60 °F"
    assert told["Wait before a reading counts, by this unit’s papers"] == "20 min"
    assert told["Target"].startswith("subcooling 11.0 °F ± 3.0 °F")
