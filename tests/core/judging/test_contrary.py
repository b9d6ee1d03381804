"""What does not go with missing charge, on both sides of each limit."""

import pytest
from charge_cases import kelvin, summer

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import bubble_pressure, dew_pressure
from lowside.core.handbook.system import BY_CHART, BY_SUBCOOLING, FIXED, TXV, Reading, System
from lowside.core.judging.charge import CALLS_FOR_CHARGE, POINTS_ELSEWHERE, Assessment, assess

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
    """Dew point of the low side, bubble point of the high side and their lines, all in °F."""
    table = handbook.tables[system.refrigerant]
    suction = dew_pressure(table, kelvin(low))
    liquid = bubble_pressure(table, kelvin(high))
    assert isinstance(suction, float)
    assert isinstance(liquid, float)
    reading = Reading(
        suction_pressure_pa=suction,
        suction_line_k=kelvin(low + superheat),
        liquid_pressure_pa=liquid,
        liquid_line_k=kelvin(high - subcooling),
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
    [(33.0, 10.1, True), (33.0, 9.9, False), (28.0, 11.0, False), (33.0, 2.0, False)],
)
def test_very_high_superheat_with_liquid_left_is_a_restriction(
    handbook: Handbook, superheat: float, subcooling: float, refused: bool
) -> None:
    """The chart gives about 12 °F ± 5 at 95 °F and 66 °F wet bulb."""
    found = judged(handbook, ORIFICE, 34.0, superheat, 106.0, subcooling)
    assert (found.verdict == POINTS_ELSEWHERE) is refused
