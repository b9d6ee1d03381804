"""Readings that cannot all be true are refused beside their field; odd but possible ones not."""

from dataclasses import replace

import pytest
from charge_cases import (
    DEGREE,
    STANDARD_PA,
    VALVE_UNIT,
    bubble_of,
    dew_of,
    kelvin,
    pascal,
    reading_of,
    summer,
)

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import Reading
from lowside.core.judging.charge import assess
from lowside.core.judging.conditions import thermometer_error
from lowside.core.judging.plausibility import contradictions
from lowside.core.numbers.unit_choice import UnitChoice

FAHRENHEIT = UnitChoice()


def found(handbook: Handbook, reading: Reading) -> dict[str, str]:
    return dict(contradictions(VALVE_UNIT, reading, handbook, FAHRENHEIT))


def test_a_good_reading_has_none(handbook: Handbook) -> None:
    reading = reading_of(handbook, VALVE_UNIT, 12.0, 10.0, **summer())
    assert found(handbook, reading) == {}
    assert found(handbook, Reading()) == {}


@pytest.mark.parametrize(("suction", "liquid"), [(370.0, 130.0), (200.0, 200.0)])
def test_suction_above_liquid(handbook: Handbook, suction: float, liquid: float) -> None:
    """A running compressor lifts pressure: common practice, no source."""
    problems = found(handbook, Reading(pascal(suction), None, pascal(liquid), None))
    assert list(problems) == ["suction_pressure"]
    assert f"Suction pressure {suction:.0f} psig is not below" in problems["suction_pressure"]


def test_a_vapor_line_colder_than_dew_by_more_than_the_instruments_err(
    handbook: Handbook,
) -> None:
    """READ: RA3.2 allows the gauge ±3.5 psi (2013) and the thermometer ±(0.1 % + 1.3 °F) (2008).
    At 130 psig R-410A has dew at 45.0 °F and at 126.5 psig at 43.5 °F."""
    dew = dew_of(handbook, "R-410A", 130.0)
    lowest = dew_of(handbook, "R-410A", 126.5)
    edge = lowest - thermometer_error(lowest)
    assert 2.5 * DEGREE < dew - edge < 3.5 * DEGREE
    assert found(handbook, Reading(pascal(130.0), edge + 0.01)) == {}
    problems = found(handbook, Reading(pascal(130.0), edge - 0.01))
    assert list(problems) == ["suction_line"]
    assert "R-410A vapor is at least 45." in problems["suction_line"]


def test_the_thermometer_allowance_is_the_published_one() -> None:
    """READ: RA3.2 (2008): ±(0.1 % of reading + 1.3 °F), so 1.4 °F at 100 °F."""
    assert thermometer_error(kelvin(100.0)) / DEGREE == pytest.approx(1.4)
    assert thermometer_error(kelvin(-40.0)) / DEGREE == pytest.approx(1.3)


@pytest.mark.parametrize("psig", [-14.5, 900.0])
@pytest.mark.parametrize("field", ["suction_pressure", "liquid_pressure"])
def test_a_pressure_outside_the_table_is_judged_not_refused(
    handbook: Handbook, field: str, psig: float
) -> None:
    reading = replace(Reading(), **{f"{field}_pa": pascal(psig)})
    assert found(handbook, reading) == {}
    judged = [finding.code for finding in assess(VALVE_UNIT, reading, handbook).findings]
    assert "out_of_table" in judged


def test_a_wet_bulb_above_the_dry_bulb(handbook: Handbook) -> None:
    reading = Reading(return_dry_bulb_k=kelvin(70.0), return_wet_bulb_k=kelvin(75.0))
    assert list(found(handbook, reading)) == ["return_wet_bulb"]
    level = replace(reading, return_wet_bulb_k=kelvin(71.0))
    assert found(handbook, level) == {}


def test_a_liquid_line_at_or_above_bubble_is_possible(handbook: Handbook) -> None:
    """An undercharged unit has no solid liquid there: it must be possible to record that."""
    bubble = bubble_of(handbook, "R-410A", 300.0)
    assert found(handbook, Reading(None, None, pascal(300.0), bubble + 5.0)) == {}


def test_an_unknown_refrigerant_leaves_the_plain_comparisons(handbook: Handbook) -> None:
    unit = replace(VALVE_UNIT, refrigerant="R-999")
    reading = Reading(pascal(300.0), kelvin(0.0), pascal(100.0), None)
    problems = contradictions(unit, reading, handbook, FAHRENHEIT)
    assert [field for field, _ in problems] == ["suction_pressure"]


def test_the_sentence_speaks_the_users_units(handbook: Handbook) -> None:
    reading = Reading(STANDARD_PA + 900000.0, None, STANDARD_PA + 800000.0, None)
    problems = contradictions(VALVE_UNIT, reading, handbook, UnitChoice("kPa", "°C", "kg", "m"))
    assert "Suction pressure 900 kPa is not below liquid pressure 800 kPa" in problems[0][1]


@pytest.mark.parametrize(
    ("wet", "humidity", "apart"),
    [
        (66.0, 0.10, True),
        (66.0, 0.54, False),
        (62.0, 0.54, False),
        (60.0, 0.54, True),
        (72.5, 0.54, True),
        (None, 0.10, False),
        (66.0, None, False),
    ],
)
def test_a_wet_bulb_and_a_humidity_of_two_airs(
    handbook: Handbook, wet: float | None, humidity: float | None, apart: bool
) -> None:
    """Return air of 78 °F; at 54 % its wet bulb is 66 °F. A chart would take its target from the
    wrong one."""
    reading = Reading(
        return_dry_bulb_k=kelvin(78.0),
        return_wet_bulb_k=None if wet is None else kelvin(wet),
        return_humidity=humidity,
    )
    told = found(handbook, reading)
    assert list(told) == (["return_humidity"] if apart else [])
