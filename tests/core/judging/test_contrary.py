"""What does not go with missing charge, on both sides of each limit."""

from dataclasses import replace

import pytest
from charge_cases import kelvin, summer
from gliding import at_midpoint

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_CHART,
    BY_SUBCOOLING,
    BY_SUPERHEAT,
    FIXED,
    TXV,
    ChargingMethod,
    Metering,
    Reading,
    System,
)
from lowside.core.judging.charge import CALLS_FOR_CHARGE, POINTS_ELSEWHERE, Assessment, assess
from lowside.core.judging.findings import REFUSE, WARN

STANDARD_PA = 101325.0
VALVE = System("R-410A", TXV, BY_SUBCOOLING, STANDARD_PA, maker_subcooling_k=10.0 / 1.8)
ORIFICE = System("R-410A", FIXED, BY_CHART, STANDARD_PA)
NORMAL = 112.0
"""Condensing [°F], 17 °F over outdoor air."""


def judged(
    handbook: Handbook,
    system: System,
    low: float,
    superheat: float,
    high: float,
    subcooling: float,
    outdoor: float = 95.0,
    dry: float = 78.0,
    wet: float = 66.0,
) -> Assessment:
    """Mid-points of low and high side, superheat above dew and subcooling below bubble, in °F."""
    table = handbook.tables[system.refrigerant]
    suction, dew_k, _ = at_midpoint(table, kelvin(low))
    liquid, _, bubble_k = at_midpoint(table, kelvin(high))
    reading = Reading(
        suction_pressure_pa=suction,
        suction_line_k=dew_k + superheat / 1.8,
        liquid_pressure_pa=liquid,
        liquid_line_k=bubble_k - subcooling / 1.8,
        **summer(outdoor, dry, wet),
    )
    return assess(system, reading, handbook)


def codes(found: Assessment) -> list[str]:
    return [finding.code for finding in found.findings]


@pytest.mark.parametrize(("lift", "adds"), [(31.9, True), (32.1, False)])
def test_a_high_side_of_a_whole_charge_is_not_short(
    handbook: Handbook, lift: float, adds: bool
) -> None:
    found = judged(handbook, VALVE, 42.0, 18.0, 95.0 + lift, 4.0)
    assert found.verdict == (CALLS_FOR_CHARGE if adds else POINTS_ELSEWHERE)
    assert ("low_outdoor_airflow" in codes(found)) is not adds


@pytest.mark.parametrize(("lift", "held"), [(31.9, False), (32.1, True)])
def test_in_cool_weather_it_is_the_fans_control_and_asks_for_a_reason(
    handbook: Handbook, lift: float, held: bool
) -> None:
    found = judged(handbook, VALVE, 38.0, 18.0, 60.0 + lift, 4.0, outdoor=60.0)
    assert found.verdict == CALLS_FOR_CHARGE
    assert ("head_held" in codes(found)) is held


@pytest.mark.parametrize(
    ("low", "high", "wet", "weak"),
    [
        (51.6, 108.0, 66.0, True),
        (51.4, 108.0, 66.0, False),  # 26.6 °F under return air
        (51.6, 109.1, 66.0, False),  # 14.1 °F over outdoor air
        (53.4, 108.0, 69.0, False),  # two degrees damper
        (53.6, 108.0, 69.0, True),
    ],
)
def test_a_warm_low_side_with_a_low_head_is_the_compressor(
    handbook: Handbook, low: float, high: float, wet: float, weak: bool
) -> None:
    found = judged(handbook, VALVE, low, 12.0, high, 4.0, wet=wet)
    assert ("weak_compressor" in codes(found)) is weak
    assert found.verdict == (POINTS_ELSEWHERE if weak else CALLS_FOR_CHARGE)


@pytest.mark.parametrize(
    ("low", "superheat", "subcooling", "air"),
    [
        (32.8, 14.9, 5.0, True),
        (32.8, 15.1, 5.0, False),  # starved a little
        (33.2, 14.9, 5.0, False),  # 44.8 °F under return air
        (31.8, 12.0, 10.0, True),  # frost, whatever the subcooling
        (32.8, 12.0, 10.0, False),
    ],
)
def test_a_cold_coil_behind_a_fed_valve_lacks_air(
    handbook: Handbook, low: float, superheat: float, subcooling: float, air: bool
) -> None:
    found = judged(handbook, VALVE, low, superheat, NORMAL, subcooling)
    assert ("low_airflow" in codes(found)) is air
    assert (found.verdict == POINTS_ELSEWHERE) is air


@pytest.mark.parametrize(
    ("superheat", "subcooling", "refused"),
    [
        (33.0, 10.1, True),
        (33.0, 9.9, False),
        (28.0, 11.0, False),
        (33.0, 2.0, False),
        (38.5, 5.1, True),
        (38.5, 4.9, False),
        (34.0, 5.1, False),
    ],
)
def test_very_high_superheat_with_liquid_left_is_a_restriction(
    handbook: Handbook, superheat: float, subcooling: float, refused: bool
) -> None:
    """The chart gives about 12 °F ± 5 at 95 °F and 66 °F wet bulb."""
    found = judged(handbook, ORIFICE, 34.0, superheat, 106.0, subcooling)
    assert (found.verdict == POINTS_ELSEWHERE) is refused


@pytest.mark.parametrize(
    ("metering", "superheat", "subcooling", "told"),
    [
        (TXV, 25.2, 7.1, True),
        (TXV, 24.8, 7.1, False),
        (TXV, 25.2, 6.9, False),
        (FIXED, 25.2, 7.1, False),
    ],
)
def test_a_valve_with_liquid_before_it_does_not_lack_liquid(
    handbook: Handbook, metering: Metering, superheat: float, subcooling: float, told: bool
) -> None:
    unit = replace(VALVE, metering=metering, maker_subcooling_k=15.0 / 1.8)
    found = judged(handbook, unit, 36.0, superheat, NORMAL, subcooling)
    assert ("restriction" in codes(found)) is told
    assert found.verdict == (POINTS_ELSEWHERE if told else CALLS_FOR_CHARGE)


@pytest.mark.parametrize(
    ("typed", "superheat", "subcooling", "told"),
    [
        (None, 20.2, 10.0, True),
        (None, 20.0, 10.0, False),
        (None, 20.2, 9.8, False),
        (None, 24.0, 14.9, True),
        (8.0, 16.1, 10.0, True),
        (8.0, 15.9, 10.0, False),
        (15.0, 22.9, 10.0, False),
        (15.0, 23.1, 10.0, True),
    ],
)
def test_a_valve_that_starves_behind_usual_subcooling_is_restricted(
    handbook: Handbook, typed: float | None, superheat: float, subcooling: float, told: bool
) -> None:
    """17.1 °F of superheat and 3 more, or the manufacturer's figure, its ± 5 °F and 3 more."""
    maker = None if typed is None else typed / 1.8
    unit = replace(VALVE, maker_subcooling_k=18.0 / 1.8, maker_superheat_k=maker)
    found = judged(handbook, unit, 38.0, superheat, NORMAL, subcooling)
    assert found.verdict == (POINTS_ELSEWHERE if told else CALLS_FOR_CHARGE)
    signs = [(sign.name, sign.text) for sign in found.reason_finding.signs]
    assert (("superheat", "high") in signs) is told
    assert (found.reason_finding.code == "restriction") is told


@pytest.mark.parametrize(
    ("typed", "superheat", "floods"),
    [(6.0, 2.0, True), (6.0, 3.9, True), (6.0, 4.1, False), (8.0, 3.5, True), (None, 3.9, True)],
)
@pytest.mark.parametrize("method", [BY_SUBCOOLING, BY_APPROACH])
def test_no_typed_superheat_lets_a_valve_flood(
    handbook: Handbook, method: ChargingMethod, typed: float | None, superheat: float, floods: bool
) -> None:
    maker = None if typed is None else typed / 1.8
    unit = replace(VALVE, method=method, maker_superheat_k=maker, maker_approach_k=6.0 / 1.8)
    found = judged(handbook, unit, 42.0, superheat, NORMAL, 4.0)
    assert ("valve_floods" in codes(found)) is floods
    assert found.verdict == (POINTS_ELSEWHERE if floods else CALLS_FOR_CHARGE)


@pytest.mark.parametrize(
    ("low", "superheat", "cause"),
    [
        (64.0, 8.0, "weak_compressor"),
        (56.1, 8.0, "weak_compressor"),
        (55.9, 8.0, ""),
        (36.0, 6.0, "low_airflow"),
        (32.8, 14.9, "low_airflow"),
        (38.0, 8.0, ""),
    ],
)
def test_by_approach_the_low_side_and_the_airflow_are_asked_too(
    handbook: Handbook, low: float, superheat: float, cause: str
) -> None:
    """Approach 12 of 6 °F, with superheat and subcooling as usual."""
    unit = replace(VALVE, method=BY_APPROACH, maker_subcooling_k=None, maker_approach_k=6.0 / 1.8)
    found = judged(handbook, unit, low, superheat, 115.0, 8.0)
    assert found.verdict == (CALLS_FOR_CHARGE if cause == "" else POINTS_ELSEWHERE)
    assert cause in ("", found.reason_finding.code)


@pytest.mark.parametrize(("superheat", "refused"), [(8.9, True), (9.1, False)])
@pytest.mark.parametrize(("line", "short"), [(106.0, True), (101.0, False)])
def test_by_approach_an_orifice_below_its_superheat_is_not_short(
    handbook: Handbook, superheat: float, refused: bool, line: float, short: bool
) -> None:
    """Approach 11 or 6 of 6 °F; the manufacturer says 14 ± 5 °F of superheat."""
    approach, maker = 6.0 / 1.8, 14.0 / 1.8
    unit = replace(ORIFICE, method=BY_APPROACH, maker_approach_k=approach, maker_superheat_k=maker)
    found = judged(handbook, unit, 42.0, superheat, 114.0, 114.0 - line)
    said = [each.level for each in found.findings if each.code == "low_superheat"]
    assert said == ([] if not refused else [REFUSE if short else WARN])
    if short:
        assert found.verdict == (POINTS_ELSEWHERE if refused else CALLS_FOR_CHARGE)


@pytest.mark.parametrize(
    ("low", "wet", "dry", "told"),
    [
        (56.1, 66.0, 78.0, True),
        (55.9, 66.0, 78.0, False),
        (58.0, 69.2, 78.0, False),  # 20 °F below return air, two degrees damper
        (58.3, 69.2, 78.0, True),
    ],
)
def test_a_coil_as_warm_as_that_is_not_short_whatever_the_head(
    handbook: Handbook, low: float, wet: float, dry: float, told: bool
) -> None:
    found = judged(handbook, VALVE, low, 12.0, NORMAL, 4.0, wet=wet, dry=dry)
    assert ("weak_compressor" in codes(found)) is told
    assert found.verdict == (POINTS_ELSEWHERE if told else CALLS_FOR_CHARGE)


@pytest.mark.parametrize(
    ("low", "superheat", "told"),
    [
        (34.0, 9.9, True),  # 44 °F below return air; 36.9 °F and 0.7 of the superheat are 43.8
        (34.0, 10.3, False),
        (33.0, 11.4, True),
        (33.0, 11.8, False),
    ],
)
def test_a_coil_colder_than_its_superheat_says_lacks_air(
    handbook: Handbook, low: float, superheat: float, told: bool
) -> None:
    found = judged(handbook, VALVE, low, superheat, NORMAL, 4.0)
    assert ("low_airflow" in codes(found)) is told
    assert found.verdict == (POINTS_ELSEWHERE if told else CALLS_FOR_CHARGE)


@pytest.mark.parametrize(
    ("lift", "superheat", "told"),
    [
        (5.9, 11.0, True),
        (6.1, 11.0, False),
        (5.9, 24.9, True),
        (5.9, 25.1, False),
        (-2.0, 11.0, True),
    ],
)
def test_a_fed_coil_gives_its_heat_to_the_outdoor_air(
    handbook: Handbook, lift: float, superheat: float, told: bool
) -> None:
    found = judged(handbook, VALVE, 45.0, superheat, 95.0 + lift, 2.0)
    assert ("weak_compressor" in codes(found)) is told
    assert "line_above_air" not in codes(found)


@pytest.mark.parametrize(
    ("line", "subcooling", "told"),
    [(78.1, 5.1, True), (77.9, 5.1, False), (78.1, 4.9, False), (79.0, 8.0, True)],
)
def test_gas_as_warm_as_return_air_leaves_no_liquid_before_the_orifice(
    handbook: Handbook, line: float, subcooling: float, told: bool
) -> None:
    found = judged(handbook, ORIFICE, 42.0, line - 42.0, 98.0, subcooling, outdoor=80.0)
    assert ("line_above_air" in codes(found)) is told
    assert found.verdict == (POINTS_ELSEWHERE if told else CALLS_FOR_CHARGE)


@pytest.mark.parametrize(
    ("typed", "superheat", "told"),
    [
        (10.4, 20.4, True),  # the chart says 15.5 at 85 and 66 °F
        (10.6, 20.4, False),
        (10.4, 20.6, False),
        (20.0, 30.0, False),
    ],
)
def test_a_superheat_kept_for_all_weathers_is_held_against_the_chart(
    handbook: Handbook, typed: float, superheat: float, told: bool
) -> None:
    unit = replace(ORIFICE, method=BY_SUPERHEAT, maker_superheat_k=typed / 1.8)
    found = judged(handbook, unit, 42.0, superheat, 103.0, 3.0, outdoor=85.0)
    assert ("below_chart" in codes(found)) is told
    assert found.verdict == CALLS_FOR_CHARGE
    dry = judged(handbook, unit, 42.0, superheat, 103.0, 3.0, outdoor=85.0, wet=40.0)
    assert "below_chart" not in codes(dry)


@pytest.mark.parametrize(
    ("typed", "superheat", "told"),
    [
        (20.6, 14.0, True),  # the chart says 15.5 at 85 and 66 °F
        (20.4, 14.0, False),
        (20.6, 25.4, True),  # enough by the typed one, short by the chart
        (20.6, 25.8, False),  # short by both
        (30.0, 5.0, True),  # too much by both: how much goes by the typed one
    ],
)
def test_a_superheat_far_above_the_charts_is_held_against_it_too(
    handbook: Handbook, typed: float, superheat: float, told: bool
) -> None:
    unit = replace(ORIFICE, method=BY_SUPERHEAT, maker_superheat_k=typed / 1.8)
    found = judged(handbook, unit, 42.0, superheat, 103.0, 3.0, outdoor=85.0)
    assert ("above_chart" in codes(found)) is told
    assert "below_chart" not in codes(found)
    dry = judged(handbook, unit, 42.0, superheat, 103.0, 3.0, outdoor=85.0, wet=40.0)
    assert "above_chart" not in codes(dry)
