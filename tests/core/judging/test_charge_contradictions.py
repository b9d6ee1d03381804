"""On readings that cannot all be true nothing is added; odd but possible ones are judged."""

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
from lowside.core.handbook.system import (
    BY_CHART,
    BY_SUBCOOLING,
    FIXED,
    TXV,
    ChargingMethod,
    Reading,
)
from lowside.core.judging.charge import (
    CALLS_FOR_CHARGE,
    POINTS_ELSEWHERE,
    UNSAFE,
    assess,
    reason,
)
from lowside.core.judging.conditions import thermometer_error
from lowside.core.judging.findings import DANGER, Unknown, sentence
from lowside.core.judging.together import apart
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import PSI_PA

FAHRENHEIT = UnitChoice()


def air_told(handbook: Handbook, reading: Reading, choice: UnitChoice = FAHRENHEIT) -> str:
    """Why the wet bulb is not known; "" when it is."""
    wet_bulb = assess(VALVE_UNIT, reading, handbook).wet_bulb_k
    return sentence(wet_bulb.reason, choice) if isinstance(wet_bulb, Unknown) else ""


def test_a_good_reading_has_none(handbook: Handbook) -> None:
    judged = assess(VALVE_UNIT, reading_of(handbook, VALVE_UNIT, 12.0, 10.0, **summer()), handbook)
    assert not apart(judged.findings)
    assert all(finding.level != DANGER for finding in judged.findings)


@pytest.mark.parametrize(("suction", "liquid"), [(370.0, 130.0), (200.0, 200.0)])
def test_suction_not_below_liquid_is_judged_a_stop_not_refused(
    handbook: Handbook, suction: float, liquid: float
) -> None:
    """A running compressor lifts pressure: common practice, no source. Refused, it would leave the
    advice of the reading before as it was."""
    reading = Reading(pascal(suction), kelvin(60.0), pascal(liquid), kelvin(90.0))
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
    judged = assess(VALVE_UNIT, below, handbook)
    assert judged.verdict == UNSAFE
    assert "R-410A vapor can be at 130 psig: 45." in reason(judged, FAHRENHEIT)
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
    judged = [finding.code for finding in assess(VALVE_UNIT, reading, handbook).findings]
    assert "out_of_table" in judged


def test_a_wet_bulb_above_the_dry_bulb(handbook: Handbook) -> None:
    reading = Reading(return_dry_bulb_k=kelvin(70.0), return_wet_bulb_k=kelvin(75.0))
    told = air_told(handbook, reading)
    assert told.startswith("A wet bulb of 75.0 °F cannot be above the dry bulb of 70.0 °F.")
    metric = air_told(handbook, reading, UnitChoice("kPa", "°C", "kg", "m"))
    assert "A wet bulb of 23.9 °C cannot be above the dry bulb of 21.1 °C" in metric
    level = replace(reading, return_wet_bulb_k=kelvin(71.0))
    assert air_told(handbook, level) == ""


def test_a_liquid_line_at_or_above_bubble_is_possible(handbook: Handbook) -> None:
    """An undercharged unit has no solid liquid there: it must be possible to record that."""
    bubble = bubble_of(handbook, "R-410A", 300.0)
    judged = assess(VALVE_UNIT, Reading(None, None, pascal(300.0), bubble + 5.0), handbook)
    assert judged.measured.subcooling_k == pytest.approx(-5.0)


@pytest.mark.parametrize(
    ("wet", "humidity", "two"),
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
    handbook: Handbook, wet: float | None, humidity: float | None, two: bool
) -> None:
    """Return air of 78 °F; at 54 % its wet bulb is 66 °F. A chart would take its target from the
    wrong one."""
    reading = Reading(
        return_dry_bulb_k=kelvin(78.0),
        return_wet_bulb_k=None if wet is None else kelvin(wet),
        return_humidity=humidity,
    )
    assert ("does not go with a wet bulb of" in air_told(handbook, reading)) == two


@pytest.mark.parametrize(
    "slip", [{"return_humidity": 0.1}, {"return_wet_bulb_k": kelvin(92.0)}], ids=["two", "above"]
)
@pytest.mark.parametrize("method", [BY_SUBCOOLING, BY_CHART])
def test_nothing_is_added_on_two_airs_but_the_rest_is_judged(
    handbook: Handbook, slip: dict[str, float], method: ChargingMethod
) -> None:
    metering = FIXED if method == BY_CHART else TXV
    unit = replace(VALVE_UNIT, method=method, metering=metering, maker_subcooling_k=10.0 * DEGREE)
    dew = dew_of(handbook, "R-410A", 118.0)
    bubble = bubble_of(handbook, "R-410A", 340.0)
    air = Reading(
        outdoor_dry_bulb_k=kelvin(95.0),
        return_dry_bulb_k=kelvin(78.0),
        return_wet_bulb_k=kelvin(66.0),
    )
    short = replace(
        air,
        suction_pressure_pa=pascal(118.0),
        suction_line_k=dew + 22.0 * DEGREE,
        liquid_pressure_pa=pascal(340.0),
        liquid_line_k=bubble - 2.0 * DEGREE,
    )
    assert assess(unit, short, handbook).verdict == CALLS_FOR_CHARGE
    judged = assess(unit, replace(short, **slip), handbook)
    assert judged.verdict == POINTS_ELSEWHERE
    assert apart(judged.findings)
    codes = [finding.code for finding in judged.findings]
    assert len([code for code in codes if code.startswith("wet_")]) == 1
    assert judged.measured.superheat_k == pytest.approx(22.0 * DEGREE)
    wet = replace(short, suction_line_k=dew - 1.0 * DEGREE)
    judged = assess(unit, replace(wet, **slip), handbook)
    assert judged.verdict == UNSAFE
    assert judged.reason_finding.code == "liquid_return"
    assert apart(judged.findings)
