"""The cylinder: what is left, whether it holds what its label says, and whether weights agree."""

from dataclasses import replace
from itertools import pairwise

import pytest
from charge_cases import STANDARD_PA, VALVE_UNIT, kelvin, pascal
from cylinder_cases import contents
from hypothesis import given
from hypothesis import strategies as st

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import Reading
from lowside.core.judging.findings import Finding, sentence
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import POUND_KG, PSI_PA
from lowside.core.session.cylinder import (
    HOSES_KG,
    HOTTEST_K,
    enough,
    high_side_above,
    net_kg,
    reconcile_session,
    resting_pressure,
    withdrawal,
)
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import (
    ZEROED,
    Cylinder,
    ScaleMode,
    ScaleSetting,
    Shot,
    State,
    Taken,
    Weight,
    scale_after,
    taken_out,
)

FAHRENHEIT = UnitChoice()
MOMENT = Moment("r", 0, 0)
EMPTY = fold(())


def gauge(psig: float) -> float:
    return psig * PSI_PA


def resting(handbook: Handbook, refrigerant: str, psig: float, fahrenheit: float) -> Finding:
    return resting_pressure(
        handbook.tables[refrigerant], gauge(psig), kelvin(fahrenheit), STANDARD_PA
    )


# Contents


@pytest.mark.parametrize(
    ("refrigerant", "psig", "fahrenheit"),
    [
        ("R-410A", 236.0, 80.0),
        ("R-410A", 318.0, 100.0),
        ("R-22", 278.0, 125.0),
        ("R-134a", 185.0, 125.0),
        ("R-404A", 333.0, 125.0),
        ("R-407C", 319.0, 125.0),
    ],
)
def test_a_resting_cylinder_shows_saturation(
    handbook: Handbook, refrigerant: str, psig: float, fahrenheit: float
) -> None:
    """R-410A at 236 psig is about 80 °F and at 318 psig about 100 °F: common practice, no source.
    The 125 °F pressures are COMPUTED (CoolProp 8). READ: RA3.2 (2008) checks gauges against a
    cylinder at rest, so a cylinder at rest shows saturation."""
    found = resting(handbook, refrigerant, psig, fahrenheit)
    assert (found.code, found.level) == ("contents_agree", "shows")


@pytest.mark.parametrize(
    ("refrigerant", "psig", "fahrenheit", "code"),
    [
        ("R-410A", 144.0, 80.0, "contents_low"),
        ("R-22", 236.0, 80.0, "contents_high"),
        ("R-410A", 265.0, 80.0, "contents_high"),
        ("R-410A", 100.0, 80.0, "contents_low"),
    ],
)
def test_wrong_contents_and_air_show_in_the_pressure(
    handbook: Handbook, refrigerant: str, psig: float, fahrenheit: float, code: str
) -> None:
    """R-22 at 80 °F is 144 psig (READ, manufacturers' pressure charts), R-410A 236: each label over
    the other's contents is found; so are 29 psi of air, and vapor alone."""
    found = resting(handbook, refrigerant, psig, fahrenheit)
    assert (found.code, found.level) == (code, "refuse")
    assert "Do not charge from this cylinder" in sentence(found, FAHRENHEIT)


@given(psi=st.floats(-40.0, 40.0), fahrenheit=st.floats(20.0, 120.0))
def test_no_cylinder_within_the_instruments_errors_is_accused(
    handbook: Handbook, psi: float, fahrenheit: float
) -> None:
    """READ: gauge ±7 psi (RA3.2, 2013), thermometer ±(0.1 % + 1.3 °F) (RA3.2, 2008)."""
    found = resting(handbook, "R-410A", 236.0 + psi, 80.0)
    if abs(psi) <= 7.0:
        assert found.code == "contents_agree"
    if psi > 13.0:
        assert found.code == "contents_high"
    if psi < -13.0:
        assert found.code == "contents_low"
    assert "{" not in sentence(resting(handbook, "R-407C", 150.0, fahrenheit), FAHRENHEIT)


def test_a_blend_may_show_anything_from_dew_to_bubble(handbook: Handbook) -> None:
    """COMPUTED (CoolProp 8): at 80 °F R-407C has dew pressure 137 and bubble pressure 164 psig."""
    for psig in (137.0, 150.0, 164.0):
        assert resting(handbook, "R-407C", psig, 80.0).code == "contents_agree"
    assert resting(handbook, "R-407C", 125.0, 80.0).code == "contents_low"
    assert resting(handbook, "R-407C", 177.0, 80.0).code == "contents_high"


def test_a_cylinder_beyond_the_table_is_said_to_be_unchecked(handbook: Handbook) -> None:
    assert resting(handbook, "R-410A", 600.0, 170.0).code == "contents_out_of_table"


def with_cylinder(
    pressure: float | None, temperature: float | None, label: str = "R-410A"
) -> State:
    return replace(
        EMPTY,
        system=VALVE_UNIT,
        cylinder=Cylinder("C-7", label, 4.0, "invert", pressure, temperature),
    )


def codes(handbook: Handbook, state: State) -> list[str]:
    return [finding.code for finding in contents(state, handbook)]


def test_contents_are_checked_with_both_readings_or_asked_for(handbook: Handbook) -> None:
    assert codes(handbook, EMPTY) == []
    assert codes(handbook, with_cylinder(None, None)) == ["liquid_only"]
    assert codes(handbook, with_cylinder(gauge(236.0), kelvin(80.0))) == [
        "contents_agree",
        "liquid_only",
    ]
    assert codes(handbook, with_cylinder(gauge(236.0), None)) == ["contents_half", "liquid_only"]


def test_a_hot_cylinder_stops_the_work(handbook: Handbook) -> None:
    """125 °F is from memory of cylinder labels; it is a caution and judges nothing."""
    hot = with_cylinder(None, HOTTEST_K + 0.1)
    first = contents(hot, handbook)[0]
    assert (first.code, first.level) == ("cylinder_hot", "stop")
    assert "cylinder_hot" not in codes(handbook, with_cylinder(None, HOTTEST_K))


def test_the_high_side_of_a_running_unit_is_above_the_cylinder(handbook: Handbook) -> None:
    """Common practice, no source: on an 80 °F day the cylinder is at 236 psig and the high side
    well above it, so it cannot be charged there."""
    state = with_cylinder(gauge(236.0), kelvin(80.0))
    taken = Taken(
        "e", MOMENT, Reading(liquid_pressure_pa=pascal(318.0)), False, 0, 0.0, None, True, None
    )
    found = contents(replace(state, readings=(taken,)), handbook)
    above = [each for each in found if each.code == "high_side_above_cylinder"]
    assert len(above) == 1
    assert sentence(above[0], FAHRENHEIT).startswith(
        "The high side (318 psig) is above the cylinder (236 psig)"
    )
    assert high_side_above(pascal(318.0), pascal(236.0), STANDARD_PA) is None
    assert high_side_above(pascal(318.0), None, STANDARD_PA) is None


@pytest.mark.parametrize(
    ("refrigerant", "code"), [("R-407C", "liquid_only"), ("R-22", "liquid_preferred")]
)
def test_a_blend_leaves_as_liquid(handbook: Handbook, refrigerant: str, code: str) -> None:
    """READ: 400-series blends must leave the cylinder as liquid, pure fluids either way (a trade
    article on blends; UNEP servicing manual)."""
    found = withdrawal(handbook.refrigerants[refrigerant], "invert")
    assert found.code == code
    assert "upside down" in sentence(found, FAHRENHEIT)
    dip = withdrawal(handbook.refrigerants[refrigerant], "dip_tube")
    assert "upright" in sentence(dip, FAHRENHEIT)


# What is left


def test_net_is_gross_less_tare() -> None:
    """READ: a trade article on filling (ACHR 111771): 1337.60 lb gross less 380 lb tare is the
    957.60 lb that AHRI Guideline K allows."""
    assert net_kg(1337.6 * POUND_KG, 380.0 * POUND_KG) / POUND_KG == pytest.approx(957.6)


@pytest.mark.parametrize(
    ("left", "code"),
    [(0.0, "cylinder_empty"), (0.3, "not_enough"), (0.6, "barely_enough"), (1.0, "")],
)
def test_whether_the_cylinder_holds_enough(left: float, code: str) -> None:
    found = enough(left, 0.5, 0.8)
    assert (found.code if found is not None else "") == code


# The weights against each other


def shot(amount: float | None, closed: bool = True) -> Shot:
    return Shot("e", MOMENT, MOMENT if closed else None, 15.0, False, amount)


def job(
    start: float | None,
    end: float | None,
    shots: tuple[float | None, ...],
    scale: tuple[float, float | None] | None = None,
    step: float = 0.005,
    mode: str = "gross",
) -> State:
    first = scale[0] if scale is not None else 15.0
    return replace(
        EMPTY,
        start_weight=None if start is None else Weight("s", MOMENT, start),
        end_weight=None if end is None else Weight("t", MOMENT, end),
        shots=tuple(shot(amount) for amount in shots),
        scale=ScaleSetting(mode, first, step),
        last_scale_kg=scale[1] if scale is not None else None,
    )


def test_weights_that_agree() -> None:
    found = reconcile_session(job(15.0, 14.5, (0.2, 0.3), (15.2, 14.7)))
    assert not found.disagrees
    assert [finding.code for finding in found.findings] == ["weights_agree"]
    for name in ("Start minus end", "Sum of shots", "Scale’s running total"):
        assert dict(found.lines)[name] == pytest.approx(0.5)
    assert [name for name, _ in found.lines] == [
        "Start weight",
        "End weight",
        "Start minus end",
        "Sum of shots",
        "Scale’s running total",
        "Difference to the shots",
    ]


@pytest.mark.parametrize(
    ("taken", "shots", "disagrees"),
    [
        # Two steps for the weighings, one a shot: 0.010 + 0.005 below; the hoses' 0.060 above.
        (0.486, (0.5,), False),
        (0.484, (0.5,), True),
        (0.574, (0.5,), False),
        (0.576, (0.5,), True),
        (0.481, (0.25, 0.25), False),
        (0.479, (0.25, 0.25), True),
    ],
)
def test_start_minus_end_against_the_shots(
    taken: float, shots: tuple[float, ...], disagrees: bool
) -> None:
    found = reconcile_session(job(15.0, 15.0 - taken, shots))
    assert found.disagrees == disagrees
    if disagrees:
        (pair,) = found.disagreements
        assert (pair.first, pair.second) == ("Start minus end", "the sum of shots")
        assert pair.difference_kg == pytest.approx(taken - 0.5)
        assert "differ by" in sentence(found.findings[0], FAHRENHEIT)


def test_the_scale_against_both() -> None:
    drifted = reconcile_session(job(15.0, 14.5, (0.5,), (15.2, 14.9)))
    assert [(each.first, each.second) for each in drifted.disagreements] == [
        ("Start minus end", "the scale’s running total"),
        ("The scale’s running total", "the sum of shots"),
    ]
    assert [each.difference_kg for each in drifted.disagreements] == [
        pytest.approx(0.2),
        pytest.approx(-0.2),
    ]


def test_a_zeroed_scale_counts_with_either_sign() -> None:
    for last in (0.5, -0.5):
        found = reconcile_session(job(15.0, 14.5, (0.5,), (0.0, last), mode=ZEROED))
        assert dict(found.lines)["Scale’s running total"] == pytest.approx(0.5)
        assert not found.disagrees


def test_unweighed_shots_make_the_sum_a_lower_limit() -> None:
    more = reconcile_session(job(15.0, 14.0, (0.5, None)))
    assert not more.disagrees
    assert "one_unweighed_shot" in [finding.code for finding in more.findings]
    less = reconcile_session(job(15.0, 14.7, (0.5, None, None)))
    assert less.disagrees
    assert "2 shots have no weight" in " ".join(
        sentence(finding, FAHRENHEIT) for finding in less.findings
    )


def test_a_scale_that_died_leaves_start_and_end() -> None:
    found = reconcile_session(job(15.0, 14.5, (0.2, 0.3), (15.2, None)))
    assert not found.disagrees
    assert "Scale’s running total" not in dict(found.lines)
    assert [finding.code for finding in found.findings] == ["scale_lost"]


def test_what_is_missing_is_named() -> None:
    found = reconcile_session(EMPTY)
    assert not found.disagrees
    assert [finding.code for finding in found.findings] == [
        "no_start_weight",
        "no_end_weight",
        "no_scale_step",
    ]


@given(
    start=st.floats(5.0, 30.0),
    amounts=st.lists(st.floats(0.0, 0.5), max_size=8),
    hoses=st.floats(0.0, HOSES_KG),
    step=st.sampled_from((0.001, 0.005, 0.01, 0.02835)),
)
def test_an_honest_job_with_a_coarse_scale_never_disagrees(
    start: float, amounts: list[float], hoses: float, step: float
) -> None:
    """Every weight rounded to the scale's step, and what the hoses took on top."""

    def shown(kg: float) -> float:
        return round(kg / step) * step

    gross = start + 1.0
    readings = [shown(gross)]
    for amount in amounts:
        gross -= amount
        readings.append(shown(gross))
    shots = tuple(before - after for before, after in pairwise(readings))
    state = job(
        shown(start),
        shown(start - sum(amounts) - hoses),
        shots,
        (readings[0], readings[-1]),
        step,
    )
    assert not reconcile_session(state).disagrees


def test_hoses_are_what_the_stated_computation_gives() -> None:
    """COMPUTED: R-410A liquid at 100 °F in 3/16 in bore is 0.189 oz/ft; two hoses of 5 ft."""
    assert pytest.approx(10.0 * 0.189 / 16.0 * POUND_KG, abs=0.007) == HOSES_KG


@pytest.mark.parametrize(
    ("mode", "before", "after"),
    [("gross", 12.5, 12.25), ("zeroed", 0.5, 0.75), ("zeroed", -0.5, -0.75), ("gross", 0.1, None)],
)
def test_the_reading_to_stop_at_is_what_weighing_the_shot_gives_back(
    mode: ScaleMode, before: float, after: float | None
) -> None:
    found = scale_after(mode, before, 0.25)
    assert found == after
    if found is not None:
        assert taken_out(mode, before, found) == 0.25
