"""Small parts of the judgement against figures worked out by hand."""

import pytest
from charge_cases import DEGREE, kelvin

from lowside.core.handbook.system import FIXED, TXV, Reading
from lowside.core.judging.by_target import gross_approach
from lowside.core.judging.faults import HIGH, LOW, NORMAL, NOT_KNOWN, Signs, looks_short, pattern
from lowside.core.judging.findings import Finding
from lowside.core.judging.targets import APPROACH, Target


def signs(**known: object) -> Signs:
    levels = dict.fromkeys(("superheat", "subcooling", "suction", "head", "split"), NOT_KNOWN)
    values = dict.fromkeys(
        ("superheat_k", "subcooling_k", "dew_k", "above_outdoor_k", "split_k"), 0.0
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
    """READ: a maker's service table calls 10 to 12 °F normal (U-5)."""
    asked = signs(superheat=HIGH, subcooling=NORMAL, subcooling_k=subcooling_f * DEGREE + 1e-9)
    found = pattern(asked, FIXED, maker_subcooling=False)
    assert (None if found is None else found.code) == code
