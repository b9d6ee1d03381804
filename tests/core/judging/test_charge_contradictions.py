"""Readings that cannot all be true are refused beside their field; odd but possible ones not."""

from dataclasses import replace

import pytest
from charge_cases import (
    DEGREE,
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
from lowside.core.judging.charge import UNSAFE, assess, reason
from lowside.core.judging.conditions import thermometer_error
from lowside.core.judging.findings import Unknown
from lowside.core.judging.plausibility import contradictions
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import PSI_PA

FAHRENHEIT = UnitChoice()


def found(handbook: Handbook, reading: Reading) -> dict[str, str]:
    return dict(contradictions(VALVE_UNIT, reading, handbook, FAHRENHEIT))


def test_a_good_reading_has_none(handbook: Handbook) -> None:
    reading = reading_of(handbook, VALVE_UNIT, 12.0, 10.0, **summer())
    assert found(handbook, reading) == {}
    assert found(handbook, Reading()) == {}


@pytest.mark.parametrize(("suction", "liquid"), [(370.0, 130.0), (200.0, 200.0)])
def test_suction_not_below_liquid_is_judged_a_stop_not_refused(
    handbook: Handbook, suction: float, liquid: float
) -> None:
    """A running compressor lifts pressure: common practice, no source. Refused, it would leave the
    advice of the reading before as it was."""
    reading = Reading(pascal(suction), kelvin(60.0), pascal(liquid), kelvin(90.0))
    assert found(handbook, reading) == {}
    for unit in (VALVE_UNIT, replace(VALVE_UNIT, refrigerant="R-999")):
        judged = assess(unit, reading, handbook)
        assert judged.verdict == UNSAFE
        assert f"Suction pressure {suction:.0f} psig is not below" in reason(judged, FAHRENHEIT)
        assert isinstance(judged.measured.superheat_k, Unknown)
        assert isinstance(judged.measured.subcooling_k, Unknown)
        metric = reason(judged, UnitChoice("kPa", "°C", "kg", "m"))
        assert f"Suction pressure {suction * PSI_PA / 1000.0:.0f} kPa is not below" in metric


@pytest.mark.parametrize("liquid", [200.1, None])
def test_a_suction_just_below_the_liquid_pressure_is_judged_by_its_figures(
    handbook: Handbook, liquid: float | None
) -> None:
    high = None if liquid is None else pascal(liquid)
    judged = assess(VALVE_UNIT, Reading(pascal(200.0), kelvin(80.0), high, kelvin(60.0)), handbook)
    assert not isinstance(judged.measured.superheat_k, Unknown)


def test_a_vapor_line_colder_than_dew_by_more_than_the_instruments_err(
    handbook: Handbook,
) -> None:
    """READ: RA3.2 allows the gauge ±3.5 psi (2013) and the thermometer ±(0.1 % + 1.3 °F) (2008).
    At 130 psig R-410A has dew at 45.0 °F and at 126.5 psig at 43.5 °F."""
    dew = dew_of(handbook, "R-410A", 130.0)
    lowest = dew_of(handbook, "R-410A", 126.5)
    edge = lowest - thermometer_error(lowest)
    assert 2.5 * DEGREE < dew - edge < 3.5 * DEGREE
    above = assess(VALVE_UNIT, Reading(pascal(130.0), edge + 0.01), handbook)
    assert above.reason_finding.code == "liquid_return"
    below = Reading(pascal(130.0), edge - 0.01)
    assert found(handbook, below) == {}
    judged = assess(VALVE_UNIT, below, handbook)
    assert judged.verdict == UNSAFE
    assert "R-410A vapor is at least 45." in reason(judged, FAHRENHEIT)
    assert isinstance(judged.measured.superheat_k, Unknown)


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
    reading = Reading(return_dry_bulb_k=kelvin(70.0), return_wet_bulb_k=kelvin(75.0))
    problems = contradictions(unit, reading, handbook, FAHRENHEIT)
    assert [field for field, _ in problems] == ["return_wet_bulb"]


def test_the_sentence_speaks_the_users_units(handbook: Handbook) -> None:
    reading = Reading(return_dry_bulb_k=294.15, return_wet_bulb_k=297.15)
    problems = contradictions(VALVE_UNIT, reading, handbook, UnitChoice("kPa", "°C", "kg", "m"))
    assert "A wet bulb of 24.0 °C cannot be above the dry bulb of 21.0 °C" in problems[0][1]


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
