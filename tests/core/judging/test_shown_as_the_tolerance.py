"""A reading is within its tolerance where the numbers on the screen say so, and only there.

The screen writes tenths of a degree and whole psi. With 3 °F around 10 °F a subcooling of 6.97 °F
is written 7.0 °F; with the same 3 °F in °C the tolerance is written 1.7 and is 1.667 (arithmetic).
Tolerances: READ, California RA3.2 (2008), installer, and the sources in `targets`.
"""

import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from charge_cases import (
    DEGREE,
    FIXED_UNIT,
    STANDARD_PA,
    VALVE_UNIT,
    kelvin,
    pascal,
    reading_of,
    summer,
)

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_LIQUID_PRESSURE,
    BY_SUCTION_PRESSURE,
    BY_SUPERHEAT,
    FIXED,
    ChartPoint,
    Reading,
    System,
)
from lowside.core.judging.by_target import AT_TARGET, SHORT, compare, is_short_by, target_finding
from lowside.core.judging.by_target import value_of as held_against
from lowside.core.judging.charge import ON_TARGET, assess
from lowside.core.judging.findings import Unknown, sentence
from lowside.core.judging.targets import Target
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.pages.figures import figures_from

CHOICES = (
    UnitChoice("psig", "°F", "lb+oz", "ft"),
    UnitChoice("kPa", "°C", "kg", "m"),
    UnitChoice("bar", "°C", "kg", "m"),
)
NUMBER = r"(−?\d+(?:\.\d+)?) (?:°[FC]|psig|kPa|bar)"


def shown_in(system: System, choice: UnitChoice) -> System:
    return replace(system, temperature_unit=choice.temperature, pressure_unit=choice.pressure)


def by_subcooling(handbook: Handbook, hundredths: float) -> tuple[System, Reading]:
    return VALVE_UNIT, reading_of(handbook, VALVE_UNIT, 12.0, 10.0 + hundredths / 100.0, **summer())


def by_superheat(handbook: Handbook, hundredths: float) -> tuple[System, Reading]:
    unit = System("R-22", FIXED, BY_SUPERHEAT, STANDARD_PA, maker_superheat_k=12.0 * DEGREE)
    return unit, reading_of(handbook, unit, 12.0 + hundredths / 100.0, 8.0, 68.0, 220.0, **summer())


def by_chart(handbook: Handbook, hundredths: float) -> tuple[System, Reading]:
    """At 87 °F outdoors and 66.3 °F wet bulb the target is no whole tenth."""
    air = summer(87.0) | {"return_wet_bulb_k": kelvin(66.3)}
    return FIXED_UNIT, reading_of(
        handbook, FIXED_UNIT, 15.0 + hundredths / 100.0, 8.0, 68.0, 220.0, **air
    )


def by_approach(handbook: Handbook, hundredths: float) -> tuple[System, Reading]:
    unit = replace(VALVE_UNIT, method=BY_APPROACH, maker_approach_k=6.0 * DEGREE)
    reading = reading_of(handbook, unit, 12.0, 8.0, **summer(95.0))
    return unit, replace(reading, liquid_line_k=kelvin(101.0 + hundredths / 100.0))


def by_liquid_pressure(handbook: Handbook, hundredths: float) -> tuple[System, Reading]:
    return of_pressure(BY_LIQUID_PRESSURE, handbook, hundredths)


def by_suction_pressure(handbook: Handbook, hundredths: float) -> tuple[System, Reading]:
    return of_pressure(BY_SUCTION_PRESSURE, handbook, hundredths)


def of_pressure(method: str, handbook: Handbook, hundredths: float) -> tuple[System, Reading]:
    """Around 220.4 or 68.4 psig."""
    liquid = method == BY_LIQUID_PRESSURE
    value = pascal(220.4 if liquid else 68.4) - STANDARD_PA
    unit = replace(
        FIXED_UNIT,
        method=method,  # type: ignore[arg-type]
        by_points=True,
        chart_points=(ChartPoint(kelvin(95.0), None, value),),
        short_below=True,
    )
    off = hundredths / 30.0
    suction = 68.4 + (0.0 if liquid else off)
    high = 220.4 + (off if liquid else 0.0)
    air = summer(95.0) | {"return_wet_bulb_k": kelvin(67.0)}
    return unit, reading_of(handbook, unit, 12.0, 8.0, suction, high, **air)


CASES = (
    by_subcooling,
    by_superheat,
    by_chart,
    by_approach,
    by_liquid_pressure,
    by_suction_pressure,
)


def said(
    handbook: Handbook, system: System, reading: Reading, choice: UnitChoice
) -> tuple[str, str]:
    """Where the reading is, and the sentence of it."""
    found = assess(system, reading, handbook)
    assert isinstance(found.target, Target)
    value = held_against(found.target, reading, found.measured)
    assert not isinstance(value, Unknown)
    compared = compare(found.target, value)
    gap = found.target.value_k - value if found.target.short_below else value - found.target.value_k
    assert is_short_by(found.target, gap) == (compared == SHORT)
    told = sentence(target_finding(compared, system, found.target, reading, value), choice)
    return compared, told


def sweep(handbook: Handbook, case: object) -> Iterator[tuple[System, Reading]]:
    for hundredths in range(-620, 621, 7):  # no half of a last digit: there a last bit decides
        yield case(handbook, hundredths + 0.3)  # type: ignore[operator]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.__name__)
@pytest.mark.parametrize("choice", CHOICES, ids=lambda choice: choice.pressure)
def test_what_is_written_is_how_it_is_judged(
    handbook: Handbook, case: object, choice: UnitChoice
) -> None:
    seen = set()
    for plain, reading in sweep(handbook, case):
        compared, told = said(handbook, shown_in(plain, choice), reading, choice)
        seen.add(compared)
        numbers = [float(each.replace("−", "-")) for each in re.findall(NUMBER, told)]
        value, target, tolerance = numbers[0], numbers[-2], numbers[-1]
        if compared == AT_TARGET:
            assert abs(value - target) <= tolerance + 1e-9, told
        else:
            assert numbers[1] > tolerance + 1e-9, told
            assert abs(value - target) == pytest.approx(numbers[1]), told
    assert len(seen) == 3


@pytest.mark.parametrize("choice", CHOICES[:2], ids=lambda choice: choice.temperature)
def test_the_big_figure_says_the_same(handbook: Handbook, choice: UnitChoice) -> None:
    for plain, reading in sweep(handbook, by_subcooling):
        system = shown_in(plain, choice)
        assessment = assess(system, reading, handbook)
        figure = figures_from(choice, assessment)[0]
        compared, _ = said(handbook, system, reading, choice)
        assert (figure["state"] == "within") == (compared == AT_TARGET), figure
        numbers = re.findall(NUMBER, figure["word"])
        if compared != AT_TARGET:
            off = abs(float(figure["value"].replace("−", "-")) - float(numbers[1]))
            assert float(numbers[0]) == pytest.approx(off)


def test_no_sign_of_missing_charge_beside_on_target(handbook: Handbook) -> None:
    """7.0 °F on the screen is not low: with high superheat it is a restriction, as at 7.0 °F."""
    reading = reading_of(handbook, VALVE_UNIT, 12.0, 6.97, **summer())
    found = assess(VALVE_UNIT, reading, handbook)
    assert found.verdict == ON_TARGET
    assert "undercharge_valve" not in [each.code for each in found.findings]
    unit = replace(VALVE_UNIT, maker_superheat_k=12.0 * DEGREE)
    for subcooling in (7.0, 6.97):
        starved = reading_of(handbook, unit, 30.0, subcooling, **summer())
        assert assess(unit, starved, handbook).reason_finding.code == "restriction"


def test_a_charted_pressure_passes_at_its_tolerance_on_both_sides(handbook: Handbook) -> None:
    """10 psi around 220 psig: 210 and 230 are within, 209 and 231 are not, whichever side is
    short. In K the two sides differ."""
    for below in (True, False):
        for psig, inside in ((209.0, False), (210.0, True), (230.0, True), (231.0, False)):
            unit, reading = by_liquid_pressure(handbook, 0)
            point = ChartPoint(kelvin(95.0), None, pascal(220.0) - STANDARD_PA)
            unit = replace(unit, chart_points=(point,), short_below=below)
            reading = replace(reading, liquid_pressure_pa=pascal(psig))
            compared, _ = said(handbook, unit, reading, CHOICES[0])
            assert (compared == AT_TARGET) == inside, (below, psig)
