"""Small parts of the judgment against figures worked out by hand."""

from dataclasses import replace

import pytest
from charge_cases import DEGREE, VALVE_UNIT, kelvin, pascal

from lowside.core.handbook.system import FIXED, TXV, Reading
from lowside.core.judging.by_target import gross_approach, target_finding
from lowside.core.judging.faults import HIGH, LOW, NORMAL, NOT_KNOWN, Signs, looks_short, pattern
from lowside.core.judging.findings import Finding
from lowside.core.judging.targets import APPROACH, LIQUID_PRESSURE, SUCTION_PRESSURE, Target
from lowside.core.numbers.units import PSI_PA


def signs(**known: object) -> Signs:
    levels = dict.fromkeys(("superheat", "subcooling", "suction", "head", "split"), NOT_KNOWN)
    values = dict.fromkeys(
        ("superheat_k", "subcooling_k", "coil_k", "above_outdoor_k", "split_k"), 0.0
    )
    return Signs(**(levels | values | known))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("superheat", "subcooling", "metering", "short"),
    [
        (HIGH, NOT_KNOWN, FIXED, True),
        (HIGH, NORMAL, FIXED, False),
        (HIGH, LOW, FIXED, False),
        (NORMAL, NOT_KNOWN, FIXED, False),
        (LOW, NOT_KNOWN, FIXED, False),
        (HIGH, NOT_KNOWN, TXV, False),
        (NOT_KNOWN, NOT_KNOWN, FIXED, False),
    ],
)
def test_high_superheat_alone_looks_short_on_an_orifice_only(
    superheat: str, subcooling: str, metering: str, short: bool
) -> None:
    asked = signs(superheat=superheat, subcooling=subcooling)
    assert looks_short(asked, None, metering) == short  # type: ignore[arg-type]


def test_a_gross_approach_is_told_by_how_far_it_is_off() -> None:
    """Liquid line 105 °F in air of 80 °F is an approach of 25 °F; the target is 5 °F."""
    reading = Reading(
        suction_pressure_pa=None,
        suction_line_k=None,
        liquid_pressure_pa=None,
        liquid_line_k=kelvin(105.0),
        outdoor_dry_bulb_k=kelvin(80.0),
    )
    target = Target(APPROACH, 5.0 * DEGREE, 1.0 * DEGREE, Finding("x", "shows"))
    found = gross_approach(target, reading)
    assert [finding.code for finding in found] == ["approach_gross"]
    assert found[0].facts[0].value == pytest.approx(20.0 * DEGREE)


@pytest.mark.parametrize(
    ("subcooling_f", "code"),
    [(9.9, None), (10.0, "restriction_possible"), (11.9, "restriction_possible")],
)
def test_a_starved_orifice_with_liquid_behind_it_may_be_restricted(
    subcooling_f: float, code: str | None
) -> None:
    """READ: a manufacturer's service table calls 10 to 12 °F normal (U-5)."""
    asked = signs(superheat=HIGH, subcooling=NORMAL, subcooling_k=subcooling_f * DEGREE + 1e-9)
    found = pattern(asked, FIXED, maker_subcooling=False)
    assert (None if found is None else found.code) == code


@pytest.mark.parametrize(
    ("quantity", "value", "gap"), [(SUCTION_PRESSURE, 118.0, 2.0), (LIQUID_PRESSURE, 340.0, 220.0)]
)
def test_a_target_pressure_is_told_as_gauges_show_it(
    quantity: str, value: float, gap: float
) -> None:
    """The target is 120 psig."""
    reading = Reading(
        suction_pressure_pa=pascal(118.0),
        suction_line_k=None,
        liquid_pressure_pa=pascal(340.0),
        liquid_line_k=None,
    )
    basis = Finding("x", "shows")
    target = Target(quantity, 280.0, 1.0, basis, gauge_pa=120.0 * PSI_PA)  # type: ignore[arg-type]
    found = target_finding("short", VALVE_UNIT, target, reading, 280.0)
    assert found.code == "add_pressure"
    shown = {fact.name: fact.value / PSI_PA for fact in found.facts}
    assert shown == pytest.approx({"value": value, "gap": gap})
    nothing = replace(reading, suction_pressure_pa=None, liquid_pressure_pa=None)
    assert target_finding("short", VALVE_UNIT, target, nothing, 280.0).facts[0].value == 0.0


@pytest.mark.parametrize(("value_f", "gap_f"), [(15.0, 3.0), (9.0, 3.0)])
def test_a_target_difference_is_told_with_how_far_it_is_off(value_f: float, gap_f: float) -> None:
    """The target is 12 °F."""
    basis = Finding("x", "shows")
    target = Target("superheat", 12.0 * DEGREE, 5.0 * DEGREE, basis)
    reading = Reading(None, None, None, None)
    found = target_finding("short", VALVE_UNIT, target, reading, value_f * DEGREE)
    assert (found.code, found.level) == ("add_superheat", "shows")
    shown = {fact.name: fact.value / DEGREE for fact in found.facts}
    assert shown == pytest.approx({"value": value_f, "gap": gap_f})
    assert target_finding("over", VALVE_UNIT, target, reading, 0.0).level == "refuse"
