"""A practice unit that is emptied pulls down, to a vacuum, and stops; a full one is as before."""

import pytest

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.judging.charge import assess
from lowside.core.judging.starvation import LOWEST_SUCTION_PA
from lowside.core.numbers.units import PSI_PA
from lowside.practice.hooked_up import Gauges, HookedUp
from lowside.practice.lessons import Setting, lesson_by_id, running_unit, setting
from lowside.practice.thin_gas import PROTECTOR_S

SETTLES_S = 20
"""Steps of a minute after which a reading has settled."""


def a_unit(lesson: str, seed: int = 1) -> tuple[Setting, HookedUp]:
    known = lesson_by_id(lesson)
    assert known is not None
    found = setting(known, seed)
    return found, running_unit(found)


def right_kg(unit: HookedUp) -> float:
    return unit.charge_kg + unit.missing_kg()


def settled_with(unit: HookedUp, share: float) -> Gauges:
    """The gauges once it has run with this share of its right charge."""
    unit.charge_kg = share * right_kg(unit)
    for _ in range(SETTLES_S):
        unit.step(60.0, 0.0)
    return unit.gauges()


@pytest.mark.parametrize(
    "lesson", ["too-much", "by-the-chart", "after-a-repair", "flat-coil", "behind-the-hedge"]
)
def test_both_gauges_fall_as_the_charge_goes_and_the_pipes_take_the_airs_warmth(
    lesson: str,
) -> None:
    # Ideal gas: without a liquid column the pressure goes with the mass.
    known, unit = a_unit(lesson)
    low, high = [], []
    for share in (1.0, 0.4, 0.3, 0.25, 0.2):
        shown = settled_with(unit, share)
        low.append(shown.suction_pressure_pa)
        high.append(shown.liquid_pressure_pa)
        assert unit.thin.running, share
    assert low == sorted(low, reverse=True)
    assert high == sorted(high, reverse=True)
    assert low[0] - low[4] > 60.0 * PSI_PA
    drawn = known.drawn
    assert abs(shown.suction_line_k - drawn.return_k) < abs(shown.suction_line_k - drawn.outdoor_k)
    assert shown.supply_air_k > drawn.return_k - 6.0, "hardly any cooling is left"


@pytest.mark.parametrize("lesson", ["too-much", "blocked-line"])
def test_the_field_pages_words_for_a_suction_too_low_can_be_met(
    lesson: str, handbook: Handbook
) -> None:
    # READ: below 20 psig damages scrolls; never in a vacuum (core/judging/starvation.py).
    known, unit = a_unit(lesson)
    seen = {}
    share = 0.4
    while share > 0.02:
        shown = settled_with(unit, share)
        if not unit.thin.running:
            break
        gauge = shown.suction_pressure_pa - SEA_LEVEL_PA
        if gauge < LOWEST_SUCTION_PA:
            seen["low"] = assess(known.drawn.system, unit.reading(), handbook).verdict
        share -= 0.02
    assert seen["low"] not in ("calls_for_charge", "on_target", "over")


def test_a_vacuum_stops_it_and_both_sides_even_out() -> None:
    _, unit = a_unit("too-much")
    unit.charge_kg = 0.01 * right_kg(unit)
    vacuum_s = 0.0
    for _ in range(60):
        unit.step(30.0, 0.0)
        vacuum_s += 30.0 if unit.in_vacuum() else 0.0
    assert vacuum_s == pytest.approx(PROTECTOR_S, abs=60.0)
    assert unit.thin.stopped_itself
    assert not unit.thin.running
    shown = unit.gauges()
    assert abs(shown.suction_pressure_pa - shown.liquid_pressure_pa) < 2.0 * PSI_PA


def test_a_unit_that_is_switched_off_evens_out_and_comes_back() -> None:
    known, unit = a_unit("first-shots")
    before = unit.gauges()
    unit.thin.switch(False)
    for _ in range(10):
        unit.step(60.0, 0.0)
    off = unit.gauges()
    assert abs(off.suction_pressure_pa - off.liquid_pressure_pa) < 2.0 * PSI_PA
    assert before.suction_pressure_pa < off.suction_pressure_pa < before.liquid_pressure_pa
    assert off.supply_air_k == pytest.approx(known.drawn.return_k, abs=1.0)
    unit.thin.switch(True)
    for _ in range(SETTLES_S):
        unit.step(60.0, 0.0)
    again = unit.gauges()
    assert again.suction_pressure_pa == pytest.approx(before.suction_pressure_pa, abs=3 * PSI_PA)
    assert again.liquid_pressure_pa == pytest.approx(before.liquid_pressure_pa, abs=3 * PSI_PA)


def test_liquid_fed_into_a_stopped_unit_does_not_boil_and_slugs_at_the_start() -> None:
    _, unit = a_unit("first-shots")
    unit.thin.switch(False)
    cylinder = unit.cylinder_kg
    for _ in range(60):
        unit.step(1.0, 1.0)
    unit.step(600.0, 0.0)
    fed = cylinder - unit.cylinder_kg
    assert fed > 0.15
    assert unit.liquid_kg == pytest.approx(fed)
    assert unit.slugged_kg == 0.0
    unit.thin.switch(True)
    unit.step(2.0, 0.0)
    assert unit.slugged_kg > 0.02


@pytest.mark.parametrize("lesson", ["first-shots", "too-much", "flat-coil"])
def test_in_its_usual_range_nothing_of_it_counts(lesson: str) -> None:
    _, unit = a_unit(lesson)
    for share in (0.7, 0.9, 1.1):
        settled_with(unit, share)
        assert unit.thin.is_usual
        assert unit.thin.share == 1.0
