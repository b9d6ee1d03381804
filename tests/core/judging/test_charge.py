"""What a reading means: published worked examples, verdicts at their limits, what is missing."""

from dataclasses import replace
from typing import Any, get_args

import pytest
from charge_cases import (
    DEGREE,
    FIXED_UNIT,
    STANDARD_PA,
    VALVE_UNIT,
    bubble_of,
    dew_of,
    kelvin,
    pascal,
    reading_of,
    summer,
)
from hypothesis import given
from hypothesis import strategies as st

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.psychrometrics import atmosphere_pressure
from lowside.core.handbook.system import (
    BY_CHART,
    BY_SUBCOOLING,
    BY_SUPERHEAT,
    BY_WEIGHT,
    EEV,
    FIXED,
    TXV,
    ChargingMethod,
    Metering,
    Reading,
    System,
)
from lowside.core.judging.charge import (
    CALLS_FOR_CHARGE,
    NEARLY_EMPTY,
    ON_TARGET,
    OVER,
    POINTS_ELSEWHERE,
    UNKNOWN,
    UNSAFE,
    Assessment,
    Verdict,
    assess,
    reason,
    target_text,
)
from lowside.core.judging.conditions import thermometer_error
from lowside.core.judging.findings import Unknown, lead, sentence
from lowside.core.judging.starvation import suction_share
from lowside.core.numbers.unit_choice import UnitChoice

FAHRENHEIT = UnitChoice()
CELSIUS = UnitChoice("kPa", "°C", "kg", "m")


def known(value: float | Unknown) -> float:
    assert isinstance(value, float)
    return value


def codes(assessment: Assessment) -> list[str]:
    return [finding.code for finding in assessment.findings]


# Published worked examples. Each names what was read.


def test_subcooling_example_of_a_makers_manual(handbook: Handbook) -> None:
    """READ: a manufacturer's manual (CSV IOM p. 63), R-410A: liquid 355 psig = 108 °F bubble, line
    95 °F, subcooling 13 °F, in its band of 12 to 15 °F. Charts of R-410A differ by up to 0.9 °F."""
    unit = replace(VALVE_UNIT, maker_subcooling_k=13.5 * DEGREE, maker_tolerance_k=1.5 * DEGREE)
    reading = Reading(liquid_pressure_pa=pascal(355.0), liquid_line_k=kelvin(95.0), **summer(90.0))
    judged = assess(unit, reading, handbook)
    assert known(judged.measured.subcooling_k) / DEGREE == pytest.approx(13.0, abs=0.9)
    assert judged.verdict == ON_TARGET


def test_subcooling_of_a_blend_counts_from_bubble(handbook: Handbook) -> None:
    """READ: a manufacturer's manual (ITR p. 57), R-407C: 200 psig = 93 °F, line 90 °F, subcooling
    3 °F. Its table sits 1 °F from modern equations of state; dew would give 12 °F instead."""
    unit = replace(VALVE_UNIT, refrigerant="R-407C")
    reading = Reading(liquid_pressure_pa=pascal(200.0), liquid_line_k=kelvin(90.0))
    judged = assess(unit, reading, handbook)
    assert known(judged.measured.subcooling_k) / DEGREE == pytest.approx(3.0, abs=1.5)


def test_superheat_of_a_blend_counts_from_dew(handbook: Handbook) -> None:
    """COMPUTED (CoolProp 8): R-407C at 118 psig has bubble 60.0 and dew 70.3 °F, so a line at
    80.3 °F is 10 °F superheated; the mid-point would give 15 °F."""
    unit = replace(FIXED_UNIT, refrigerant="R-407C")
    reading = Reading(suction_pressure_pa=pascal(118.0), suction_line_k=kelvin(80.3))
    judged = assess(unit, reading, handbook)
    assert known(judged.measured.superheat_k) / DEGREE == pytest.approx(10.0, abs=0.1)


def test_superheat_example_of_a_makers_manual(handbook: Handbook) -> None:
    """READ: a manufacturer's manual (18-BC53D2-6 p. 28), R-410A fixed orifice: 81 psig = 21 °F,
    line 36 °F, superheat 15 °F, target 15 °F."""
    unit = System("R-410A", FIXED, BY_SUPERHEAT, STANDARD_PA, maker_superheat_k=15.0 * DEGREE)
    reading = Reading(
        suction_pressure_pa=pascal(81.0), suction_line_k=kelvin(36.0), **summer(70.0, 70.0, 60.0)
    )
    judged = assess(unit, reading, handbook)
    assert known(judged.measured.superheat_k) / DEGREE == pytest.approx(15.0, abs=0.9)
    assert judged.verdict == ON_TARGET
    assert "freezing" in codes(judged)


@pytest.mark.parametrize(
    ("subcooling", "superheat", "suction", "head", "verdict"),
    [
        (10.0, 8.0, 70.0, 210.0, ON_TARGET),
        (12.0, 12.0, 70.0, 210.0, ON_TARGET),
        (20.0, 8.0, 80.0, 220.0, OVER),
        (25.0, 12.0, 80.0, 220.0, OVER),
        (7.0, 25.0, 45.0, 180.0, CALLS_FOR_CHARGE),
        (6.0, 30.0, 25.0, 160.0, NEARLY_EMPTY),
    ],
)
def test_service_table_of_a_maker(
    handbook: Handbook,
    subcooling: float,
    superheat: float,
    suction: float,
    head: float,
    verdict: str,
) -> None:
    """READ: a manufacturer's service table (U-5 IOM p. 17), R-22 TXV: normal SC 10-12, SH 8-12;
    over SC 20-25, SH 8-12; under SC 6-8 or lower, SH 25-30 or higher. Target taken as 11 °F. At
    25 psig its suction gas is too thin to go on adding to."""
    unit = System("R-22", TXV, BY_SUBCOOLING, STANDARD_PA, maker_subcooling_k=11.0 * DEGREE)
    air = summer(outdoor=80.0, dry=74.0)
    reading = reading_of(handbook, unit, superheat, subcooling, suction, head, **air)
    assert assess(unit, reading, handbook).verdict == verdict


# Tolerances: READ, California RA3.2 (2008), installer: superheat ±5 °F, subcooling ±3 °F.


@pytest.mark.parametrize(
    ("subcooling", "verdict"),
    [
        (6.94, CALLS_FOR_CHARGE),
        (6.96, ON_TARGET),
        (7.0, ON_TARGET),
        (10.0, ON_TARGET),
        (13.0, ON_TARGET),
        (13.04, ON_TARGET),
        (13.06, OVER),
        (-2.0, CALLS_FOR_CHARGE),
    ],
)
def test_subcooling_passes_within_three_degrees(
    handbook: Handbook, subcooling: float, verdict: str
) -> None:
    reading = reading_of(handbook, VALVE_UNIT, 12.0, subcooling, **summer())
    assert assess(VALVE_UNIT, reading, handbook).verdict == verdict


@pytest.mark.parametrize(
    ("superheat", "verdict"),
    [
        (6.94, OVER),
        (6.96, ON_TARGET),
        (7.0, ON_TARGET),
        (12.0, ON_TARGET),
        (17.0, ON_TARGET),
        (17.04, ON_TARGET),
        (17.06, CALLS_FOR_CHARGE),
    ],
)
def test_superheat_passes_within_five_degrees(
    handbook: Handbook, superheat: float, verdict: str
) -> None:
    unit = System("R-22", FIXED, BY_SUPERHEAT, STANDARD_PA, maker_superheat_k=12.0 * DEGREE)
    reading = reading_of(handbook, unit, superheat, 8.0, 68.0, 220.0, **summer())
    assert assess(unit, reading, handbook).verdict == verdict


@pytest.mark.parametrize(
    ("subcooling", "verdict"), [(8.9, CALLS_FOR_CHARGE), (9.0, ON_TARGET), (11.1, OVER)]
)
def test_the_makers_own_tolerance_goes_first(
    handbook: Handbook, subcooling: float, verdict: str
) -> None:
    unit = replace(VALVE_UNIT, maker_tolerance_k=1.0 * DEGREE)
    reading = reading_of(handbook, unit, 12.0, subcooling, **summer())
    judged = assess(unit, reading, handbook)
    assert judged.verdict == verdict
    assert "manufacturer’s tolerance" in target_text(judged, FAHRENHEIT)


def test_the_target_says_whose_tolerance_it_is(handbook: Handbook) -> None:
    judged = assess(VALVE_UNIT, reading_of(handbook, VALVE_UNIT, 12.0, 10.0), handbook)
    assert target_text(judged, FAHRENHEIT) == (
        "subcooling 10.0 °F ± 3.0 °F; tolerance by California RA3.2, installer test"
    )


@given(gap=st.floats(0.0, 8.0))
def test_missing_and_too_much_mirror_each_other(handbook: Handbook, gap: float) -> None:
    """As far above the target as below it: opposite verdicts, or both on target."""
    mirrored = {CALLS_FOR_CHARGE: OVER, OVER: CALLS_FOR_CHARGE, ON_TARGET: ON_TARGET}
    air = summer()
    less = reading_of(handbook, VALVE_UNIT, 12.0, 10.0 - gap, **air)
    more = reading_of(handbook, VALVE_UNIT, 12.0, 10.0 + gap, **air)
    below = assess(VALVE_UNIT, less, handbook)
    above = assess(VALVE_UNIT, more, handbook)
    assert above.verdict == mirrored[below.verdict]


@given(
    line=st.floats(230.0, 330.0),
    liquid=st.floats(230.0, 330.0),
    refrigerant=st.sampled_from(("R-22", "R-410A", "R-407C", "R-454B")),
)
def test_superheat_and_subcooling_follow_their_lines_exactly(
    handbook: Handbook, line: float, liquid: float, refrigerant: str
) -> None:
    unit = replace(VALVE_UNIT, refrigerant=refrigerant)
    reading = Reading(pascal(120.0), line, pascal(300.0), liquid)
    judged = assess(unit, reading, handbook)
    if line < dew_of(handbook, refrigerant, 116.5) - thermometer_error(line):
        assert judged.reason_finding.code == "vapour_below_dew"
        return
    assert judged.measured.superheat_k == line - dew_of(handbook, refrigerant, 120.0)
    assert judged.measured.subcooling_k == bubble_of(handbook, refrigerant, 300.0) - liquid


def test_the_same_gauge_reads_more_superheat_on_a_mountain(handbook: Handbook) -> None:
    """Gauges count from the local air: at 5280 ft 118 psig is 2.5 psi less absolute pressure."""
    thin = atmosphere_pressure(5280.0 * 0.3048)
    assert isinstance(thin, float)
    reading = Reading(pascal(118.0), kelvin(75.0))
    lower = replace(reading, suction_pressure_pa=pascal(118.0) - STANDARD_PA + thin)
    sea = assess(FIXED_UNIT, reading, handbook)
    high = assess(replace(FIXED_UNIT, atmosphere_pa=thin), lower, handbook)
    assert known(high.measured.superheat_k) - known(sea.measured.superheat_k) > 0.5 * DEGREE


# What is missing is named, all of it at once.


def test_what_is_missing_is_named_in_one_sentence(handbook: Handbook) -> None:
    judged = assess(FIXED_UNIT, Reading(), handbook)
    assert judged.verdict == UNKNOWN
    assert reason(judged, FAHRENHEIT) == (
        "Still missing: suction pressure, suction line temperature, outdoor air temperature, "
        "return air dry bulb, return air wet bulb or relative humidity and liquid line temperature."
    )
    assert codes(judged).count("missing") == 1


def test_humidity_stands_in_for_the_wet_bulb_only_with_a_dry_bulb(handbook: Handbook) -> None:
    reading = reading_of(handbook, FIXED_UNIT, 15.0, 8.0, 68.0, 220.0)
    reading = replace(reading, outdoor_dry_bulb_k=kelvin(85.0), return_humidity=0.5)
    judged = assess(FIXED_UNIT, reading, handbook)
    assert reason(judged, FAHRENHEIT) == "Still missing: return air dry bulb."
    judged = assess(FIXED_UNIT, replace(reading, return_dry_bulb_k=kelvin(80.0)), handbook)
    assert known(judged.wet_bulb_k) == pytest.approx(kelvin(66.7), abs=0.2 * DEGREE)
    assert judged.verdict == ON_TARGET


def test_a_measured_wet_bulb_goes_before_humidity(handbook: Handbook) -> None:
    reading = Reading(
        return_dry_bulb_k=kelvin(80.0), return_wet_bulb_k=kelvin(60.0), return_humidity=0.4
    )
    assert assess(FIXED_UNIT, reading, handbook).wet_bulb_k == kelvin(60.0)


@pytest.mark.parametrize(
    ("system", "fields"),
    [
        (replace(VALVE_UNIT, maker_subcooling_k=None), "the manufacturer’s subcooling"),
        (
            System("R-22", FIXED, BY_SUPERHEAT, STANDARD_PA),
            "the manufacturer’s superheat",
        ),
        (System("R-22", FIXED, BY_WEIGHT, STANDARD_PA), "the nameplate charge"),
    ],
)
def test_a_missing_makers_figure_is_asked_for(
    handbook: Handbook, system: System, fields: str
) -> None:
    low, high = (68.0, 240.0) if system.refrigerant == "R-22" else (130.0, 370.0)
    reading = reading_of(handbook, system, 12.0, 10.0, low, high, **summer())
    judged = assess(system, reading, handbook)
    assert judged.verdict == UNKNOWN
    assert reason(judged, FAHRENHEIT) == f"Still missing: {fields}."


def test_a_refrigerant_without_a_table_is_not_guessed(handbook: Handbook) -> None:
    unit = replace(VALVE_UNIT, refrigerant="R-999")
    judged = assess(unit, Reading(pascal(118.0), kelvin(55.0)), handbook)
    assert judged.verdict == UNKNOWN
    assert "R-999 has no property table" in reason(judged, FAHRENHEIT)
    assert isinstance(judged.measured.superheat_k, Unknown)


def test_a_pressure_outside_the_table_is_said_not_extrapolated(handbook: Handbook) -> None:
    judged = assess(VALVE_UNIT, Reading(None, None, pascal(2000.0), kelvin(95.0)), handbook)
    assert judged.verdict == UNKNOWN
    assert "Liquid pressure of 2000 psig is outside" in reason(judged, FAHRENHEIT)


def test_weighing_in_shows_figures_but_no_verdict_by_them(handbook: Handbook) -> None:
    unit = System("R-410A", TXV, BY_WEIGHT, STANDARD_PA, nameplate_charge_kg=2.0)
    judged = assess(
        unit, reading_of(handbook, unit, 12.0, 10.0, 100.0, 200.0, **summer(40.0)), handbook
    )
    assert judged.verdict == UNKNOWN
    assert "the nameplate says 2.000 kg" in reason(judged, CELSIUS)
    assert known(judged.measured.superheat_k) == pytest.approx(12.0 * DEGREE)


# The limits of the method. Sources at the constants in `core/conditions.py`.


@pytest.mark.parametrize(
    ("air", "code", "verdict"),
    [
        (summer(outdoor=54.9), "outdoor_cold", POINTS_ELSEWHERE),
        (summer(outdoor=55.0), "", CALLS_FOR_CHARGE),
        (summer(outdoor=120.1), "outdoor_hot", POINTS_ELSEWHERE),
        (summer(dry=69.9), "indoor_cold", POINTS_ELSEWHERE),
        (summer(dry=70.0), "", CALLS_FOR_CHARGE),
        (summer(dry=80.0), "", CALLS_FOR_CHARGE),
        (summer(dry=80.1), "indoor_warm", CALLS_FOR_CHARGE),
        (summer(dry=84.0), "indoor_warm", CALLS_FOR_CHARGE),
        (summer(dry=84.1), "indoor_hot", POINTS_ELSEWHERE),
    ],
)
def test_the_air_must_be_within_the_methods_limits(
    handbook: Handbook, air: dict[str, float], code: str, verdict: str
) -> None:
    """READ: RA3.2 (2008, 2013) 55 °F outdoors; manufacturers' instructions (4TTR3018, 14ACX) 70 to
    80 °F indoors and (4TTR3018) a chart to 120 °F."""
    # Condensing follows the outdoor air, so that nothing but the air stands out.
    outdoor = air["outdoor_dry_bulb_k"] / DEGREE - 459.67
    liquid = 200.0 if outdoor < 60.0 else 500.0 if outdoor > 110.0 else 370.0
    reading = reading_of(handbook, VALVE_UNIT, 12.0, 4.0, 122.0, liquid, **air)
    judged = assess(VALVE_UNIT, reading, handbook)
    limits = ("outdoor_cold", "outdoor_hot", "indoor_cold", "indoor_warm", "indoor_hot")
    assert [each for each in codes(judged) if each in limits] == ([code] if code else [])
    assert judged.verdict == verdict


@pytest.mark.parametrize("subcooling", [4.0, 10.0, 16.0])
def test_without_the_air_nothing_is_judged(handbook: Handbook, subcooling: float) -> None:
    judged = assess(VALVE_UNIT, reading_of(handbook, VALVE_UNIT, 12.0, subcooling), handbook)
    assert judged.verdict == UNKNOWN
    assert reason(judged, FAHRENHEIT) == (
        "Still missing: outdoor air temperature and return air dry bulb."
    )


def test_low_subcooling_alone_is_no_reason_to_add_behind_a_valve(handbook: Handbook) -> None:
    """READ: a manufacturer's four-way table (GSZH5) adds only with low subcooling and high
    superheat."""
    reading = reading_of(handbook, VALVE_UNIT, 12.0, 4.0, **summer())
    alone = replace(reading, suction_pressure_pa=None, suction_line_k=None)
    judged = assess(VALVE_UNIT, alone, handbook)
    assert judged.verdict == UNKNOWN
    assert "suction pressure and suction line temperature" in reason(judged, FAHRENHEIT)


def test_liquid_pressure_above_the_rating_stops_everything(handbook: Handbook) -> None:
    limit = pascal(450.0) - STANDARD_PA
    unit = replace(VALVE_UNIT, high_side_limit_pa=limit)
    reading = reading_of(handbook, unit, 12.0, 4.0, 130.0, 451.0, **summer(115.0))
    judged = assess(unit, reading, handbook)
    assert judged.verdict == UNSAFE
    assert judged.findings[0].code == "above_rating"
    told = reason(judged, FAHRENHEIT)
    assert told.startswith(
        "Stop the unit. Liquid pressure 451 psig is above the unit’s rating of 450 psig."
    )
    at_limit = reading_of(handbook, unit, 12.0, 4.0, 130.0, 450.0, **summer(115.0))
    assert assess(unit, at_limit, handbook).verdict == CALLS_FOR_CHARGE


@pytest.mark.parametrize(
    ("superheat", "verdict"), [(0.0, UNSAFE), (1.0, POINTS_ELSEWHERE), (5.0, CALLS_FOR_CHARGE)]
)
def test_no_superheat_means_liquid_at_the_compressor(
    handbook: Handbook, superheat: float, verdict: str
) -> None:
    """A thermometer as RA3.2 allows it cannot tell less than 1.3 °F from none."""
    reading = reading_of(handbook, VALVE_UNIT, superheat, 4.0, **summer())
    assert assess(VALVE_UNIT, reading, handbook).verdict == verdict


def test_a_low_side_below_freezing_is_warned_about(handbook: Handbook) -> None:
    """Water freezes at 32 °F; R-410A at 100 psig is 31.4 °F (COMPUTED), at 103 psig above 32."""
    chilly = reading_of(handbook, VALVE_UNIT, 20.0, 4.0, 100.0, **summer(dry=74.0))
    cold = assess(VALVE_UNIT, chilly, handbook)
    assert "freezing" in codes(cold)
    assert cold.verdict == CALLS_FOR_CHARGE
    mild = assess(VALVE_UNIT, reading_of(handbook, VALVE_UNIT, 12.0, 4.0, 104.0), handbook)
    assert "freezing" not in codes(mild)


@pytest.mark.parametrize("gauge_pa", [0.0, -5000.0])
def test_suction_at_or_below_the_air_around_is_never_added_to(
    handbook: Handbook, gauge_pa: float
) -> None:
    """READ: never run in a vacuum or at negative pressure (ASC13 S-103, AE-1318 p. 9)."""
    reading = reading_of(handbook, VALVE_UNIT, 60.0, 1.0, 20.0, **summer())
    reading = replace(reading, suction_pressure_pa=STANDARD_PA + gauge_pa)
    judged = assess(VALVE_UNIT, reading, handbook)
    assert (judged.verdict, judged.reason_finding.code) == (NEARLY_EMPTY, "vacuum")


@pytest.mark.parametrize(
    ("refrigerant", "psig", "verdict"),
    [
        ("R-410A", 19.9, NEARLY_EMPTY),
        ("R-410A", 45.0, NEARLY_EMPTY),
        ("R-410A", 80.0, CALLS_FOR_CHARGE),
        ("R-22", 20.0, NEARLY_EMPTY),
        ("R-22", 45.0, CALLS_FOR_CHARGE),
    ],
)
def test_a_nearly_empty_unit_is_weighed_in(
    handbook: Handbook, refrigerant: str, psig: float, verdict: str
) -> None:
    """READ: 20 psig (condensing unit manual p. 5, GSX16 p. 113); the share of density is ours."""
    unit = replace(VALVE_UNIT, refrigerant=refrigerant)
    liquid = 340.0 if refrigerant == "R-410A" else 195.0
    reading = reading_of(handbook, unit, 40.0, 1.0, psig, liquid, **summer(90.0))
    assert assess(unit, reading, handbook).verdict == verdict


def test_the_suction_gas_is_held_against_that_of_the_rated_unit(handbook: Handbook) -> None:
    """COMPUTED (CoolProp 8): R-22 saturated vapor 1.65 lb/ft³ at 45 °F dew; at 20 psig and 25 °F
    superheat about 0.6 lb/ft³."""
    table = handbook.tables["R-22"]
    rated = suction_share(table, Reading(pascal(76.0), kelvin(55.0)))
    assert rated == pytest.approx(1.0, abs=0.01)
    thin = suction_share(table, Reading(pascal(20.0), kelvin(40.0)))
    assert thin == pytest.approx(0.375, abs=0.02)


def test_a_unit_that_does_not_cool_is_not_charged(handbook: Handbook) -> None:
    air = summer() | {"supply_dry_bulb_k": kelvin(78.0)}
    judged = assess(VALVE_UNIT, reading_of(handbook, VALVE_UNIT, 12.0, 4.0, **air), handbook)
    assert judged.verdict == POINTS_ELSEWHERE
    assert judged.reason_finding.code == "not_cooling"


def test_a_liquid_line_colder_than_the_air_is_questioned(handbook: Handbook) -> None:
    reading = reading_of(handbook, VALVE_UNIT, 12.0, 24.0, **summer())
    assert "liquid_line_below_outdoor" in codes(assess(VALVE_UNIT, reading, handbook))


def test_vapor_in_the_liquid_line_is_questioned(handbook: Handbook) -> None:
    judged = assess(VALVE_UNIT, reading_of(handbook, VALVE_UNIT, 30.0, -6.0), handbook)
    assert "no_liquid" in codes(judged)


def test_findings_come_gravest_first_and_hold_the_reason(handbook: Handbook) -> None:
    unit = replace(VALVE_UNIT, high_side_limit_pa=pascal(300.0) - STANDARD_PA)
    reading = reading_of(handbook, unit, 2.0, 15.0, 95.0, 370.0, **summer(50.0, 83.0))
    judged = assess(unit, reading, handbook)
    grades = ["stop", "refuse", "warn", "shows"]
    levels = [grades.index(finding.level) for finding in judged.findings]
    assert levels == sorted(levels)
    assert judged.reason_finding in judged.findings
    assert {"above_rating", "outdoor_cold", "indoor_warm", "freezing"} <= set(codes(judged))


# Absurd input: a value, never an exception; and always a sentence.


def optional(lowest: float, highest: float) -> Any:
    return st.none() | st.floats(lowest, highest)


SYSTEMS = st.builds(
    System,
    refrigerant=st.sampled_from(("R-410A", "R-22", "R-407C", "R-744", "R-290", "R-0")),
    metering=st.sampled_from(get_args(Metering)),
    method=st.sampled_from((*get_args(ChargingMethod), "")),
    atmosphere_pa=st.floats(55000.0, 110000.0),
    maker_subcooling_k=optional(0.0, 40.0),
    maker_superheat_k=optional(0.0, 40.0),
    maker_tolerance_k=optional(0.0, 10.0),
    nameplate_charge_kg=optional(0.0, 100.0),
    line_length_m=optional(0.0, 300.0),
    line_included_m=optional(0.0, 300.0),
    line_adder_kg_per_m=optional(0.0, 1.0),
    high_side_limit_pa=optional(0.0, 1.0e7),
)


def readings(pressure: Any, temperature: Any, share: Any) -> Any:
    return st.builds(
        Reading,
        suction_pressure_pa=pressure,
        suction_line_k=temperature,
        liquid_pressure_pa=pressure,
        liquid_line_k=temperature,
        outdoor_dry_bulb_k=temperature,
        return_dry_bulb_k=temperature,
        return_wet_bulb_k=temperature,
        return_humidity=share,
        supply_dry_bulb_k=temperature,
        compressor_a=optional(0.0, 500.0),
    )


@given(
    system=SYSTEMS,
    reading=readings(optional(-1.0e5, 1.1e7), optional(200.0, 450.0), optional(-0.5, 1.5)),
)
def test_any_reading_gets_a_verdict_and_sentences(
    handbook: Handbook, system: System, reading: Reading
) -> None:
    judged = assess(system, reading, handbook)
    assert judged.verdict in get_args(Verdict)
    assert judged.reason_finding in judged.findings
    for choice in (FAHRENHEIT, CELSIUS):
        for finding in judged.findings:
            text = sentence(finding, choice)
            assert "{" not in text
            assert text.rstrip()[-1] in ".)" or finding.code.startswith("target_")
        assert "{" not in target_text(judged, choice)
        assert "{" not in reason(judged, choice)


NUMBERS = st.none() | st.floats(allow_nan=True, allow_infinity=True)


@given(system=SYSTEMS, reading=readings(NUMBERS, NUMBERS, NUMBERS))
def test_no_number_at_all_makes_it_raise(
    handbook: Handbook, system: System, reading: Reading
) -> None:
    assert assess(system, reading, handbook).verdict in get_args(Verdict)


@given(system=SYSTEMS, reading=readings(optional(1e5, 5e6), optional(270.0, 330.0), st.none()))
def test_add_means_nothing_forbids_it(handbook: Handbook, system: System, reading: Reading) -> None:
    judged = assess(system, reading, handbook)
    if judged.verdict in (CALLS_FOR_CHARGE, ON_TARGET):
        assert {finding.level for finding in judged.findings} <= {"warn", "shows"}
    if judged.verdict == CALLS_FOR_CHARGE and system.method == BY_CHART:
        assert system.metering == FIXED
    if judged.verdict == CALLS_FOR_CHARGE and system.metering in (TXV, EEV):
        assert system.method == BY_SUBCOOLING


def test_everything_that_is_missing_is_named_at_once(handbook: Handbook) -> None:
    """Both line temperatures, not the liquid line first and the suction line after it."""
    whole = reading_of(handbook, VALVE_UNIT, 20.0, 4.0, **summer())
    bare = replace(whole, suction_line_k=None, liquid_line_k=None)
    told = reason(assess(VALVE_UNIT, bare, handbook), FAHRENHEIT)
    assert told == "Still missing: liquid line temperature and suction line temperature."
    # Nothing calls for charge: the suction side is not asked for.
    right = replace(reading_of(handbook, VALVE_UNIT, 12.0, 10.0, **summer()), suction_line_k=None)
    assert assess(VALVE_UNIT, right, handbook).verdict == ON_TARGET
    # Short, and the air is missing too.
    short = replace(whole, suction_line_k=None, return_dry_bulb_k=None)
    told = reason(assess(VALVE_UNIT, short, handbook), FAHRENHEIT)
    assert told == "Still missing: return air dry bulb and suction line temperature."


def test_no_superheat_is_not_said_twice(handbook: Handbook) -> None:
    wet = reading_of(handbook, VALVE_UNIT, 0.5, 4.0, **summer())
    judged = assess(VALVE_UNIT, wet, handbook)
    told = lead(judged.reason_finding) + " " + reason(judged, FAHRENHEIT)
    assert told.startswith("Do not add. Superheat is only 0.5 °F")
