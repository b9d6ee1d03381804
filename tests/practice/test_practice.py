"""The practice unit behaves like a unit, and the advice brings it to its target."""

from dataclasses import replace

import pytest

from lowside.cli import main
from lowside.core.advice import outlook
from lowside.core.handbook.handbook import Handbook
from lowside.practice import policies
from lowside.practice.bench import bench
from lowside.practice.cycle import SteadyMap
from lowside.practice.design import (
    DIRTY_CONDENSER,
    LOW_AIRFLOW,
    NON_CONDENSABLES,
    RESTRICTION,
    WEAK_COMPRESSOR,
)
from lowside.practice.draw import Drawn, draw
from lowside.practice.once import learned_once
from lowside.practice.policies import by_advice
from lowside.practice.sites import cycle_site, site_of_cycle
from lowside.practice.technician import charge
from lowside.practice.trends import SHARES, published, svg, trends
from lowside.practice.unit import PracticeUnit


def first(metering: str, fault: str = "", start: int = 1) -> Drawn:
    """The first drawn unit of a kind."""
    number = start
    while True:
        drawn = draw(number, 1.0, fault)
        if drawn.design.metering == metering:
            return drawn
        number += 1


@pytest.fixture(scope="module")
def found() -> dict[str, dict[float, float]]:
    """The model's middle trend over charge, by quantity."""
    return {t.name: dict(zip(t.shares, t.middle, strict=True)) for t in trends(25)}


def test_the_same_number_gives_the_same_unit() -> None:
    assert draw(12) == draw(12)
    assert draw(12) != draw(13)


def test_published_correlation_gives_the_published_figures() -> None:
    # NIST TN 1848 at 26.67/35 °C, as in the reference table: 70 % 0.798, 90 % 0.956, 110 % 1.012.
    assert published("capacity", 0.7) == pytest.approx(0.798, abs=0.001)
    assert published("capacity", 0.9) == pytest.approx(0.956, abs=0.001)
    assert published("capacity", 1.1) == pytest.approx(1.012, abs=0.001)
    assert published("power", 0.7) == pytest.approx(0.9635, abs=0.001)


def test_capacity_and_power_follow_nist_tn_1848(found: dict[str, dict[float, float]]) -> None:
    for share in SHARES:
        power = found["power, expansion valve"][share]
        assert power == pytest.approx(published("power", share), abs=0.02)
        capacity = found["capacity, expansion valve"][share]
        # The model loses less than published between 70 and 85 % (docs/practice.md).
        assert -0.02 < capacity - published("capacity", share) < 0.10


def test_fixed_orifice_suffers_below_90_and_valve_below_80_percent(
    found: dict[str, dict[float, float]],
) -> None:
    # ASHRAE RP-1173 as summarized by ORNL: fixed orifices degrade noticeably below 90 % of the
    # charge, expansion valves drastically below 80 %, when the valve is wide open.
    fixed = found["capacity, fixed orifice"]
    valve = found["capacity, expansion valve"]
    assert fixed[0.9] < 0.96
    assert valve[0.9] > 0.98
    assert valve[0.8] - valve[0.7] > 2.0 * (valve[0.9] - valve[0.8])
    superheat = found["superheat [K], expansion valve"]
    assert superheat[0.7] > superheat[1.0] + 4.0


def test_charge_shows_in_subcooling_of_valves_and_superheat_of_orifices(
    found: dict[str, dict[float, float]],
) -> None:
    subcooling = found["subcooling [K], expansion valve"]
    superheat = found["superheat [K], fixed orifice"]
    assert subcooling[0.9] < subcooling[1.0] < subcooling[1.1]
    assert superheat[0.8] > superheat[0.9] > superheat[1.0] > superheat[1.1]
    # 0.3 to 1 °F an ounce on 120 oz (from memory) is 0.17 to 0.56 K for 1/120 of the charge.
    an_ounce = (subcooling[1.05] - subcooling[0.95]) / 0.10 / 120.0
    assert 0.15 < an_ounce < 0.6


@pytest.mark.parametrize(
    ("fault", "metering", "expected"),
    [
        (LOW_AIRFLOW, "txv", "colder coil"),
        (DIRTY_CONDENSER, "txv", "higher head"),
        (RESTRICTION, "txv", "higher superheat"),
        (WEAK_COMPRESSOR, "txv", "warmer coil"),
        (WEAK_COMPRESSOR, "fixed", "lower head"),
        (RESTRICTION, "fixed", "higher superheat"),
    ],
)
def test_faults_move_the_readings_as_the_published_pattern_table_says(
    fault: str, metering: str, expected: str
) -> None:
    drawn = first(metering, fault)
    number = drawn.seed
    while draw(number).design.metering != metering or draw(number, 1.0, fault).design.outdoor_k != (
        draw(number).design.outdoor_k
    ):
        drawn = first(metering, fault, number + 1)
        number = drawn.seed
    # Against the same charge in the unit without its fault.
    charge_kg = draw(number).right_charge_kg
    with_fault = drawn.steady.at(charge_kg)
    without = _the_same_healthy(drawn).at(charge_kg)
    moves = {
        "colder coil": without.evaporating_k - with_fault.evaporating_k,
        "warmer coil": with_fault.evaporating_k - without.evaporating_k,
        "higher head": with_fault.condensing_k - without.condensing_k,
        "lower head": without.condensing_k - with_fault.condensing_k,
        "higher superheat": with_fault.superheat_k - without.superheat_k,
    }
    assert moves[expected] > 1.0


def _the_same_healthy(drawn: Drawn) -> SteadyMap:
    """The map of the unit as it would be without its fault: same number, same build."""
    healthy = draw(drawn.seed)
    assert healthy.right_charge_kg == pytest.approx(
        healthy.steady.charge_for(healthy.target_name, healthy.target_k)
    )
    return healthy.steady


def test_non_condensables_show_as_pressure_the_condenser_does_not_have() -> None:
    drawn = first("txv", NON_CONDENSABLES)
    plain = replace(drawn, design=replace(drawn.design, foreign_gas_pa=0.0))
    more = PracticeUnit(drawn).gauges().liquid_pressure_pa
    less = PracticeUnit(plain).gauges().liquid_pressure_pa
    assert more - less == pytest.approx(drawn.design.foreign_gas_pa, rel=0.2)


def test_nothing_is_lost_between_cylinder_and_unit() -> None:
    unit = PracticeUnit(first("txv"))
    before = unit.cylinder_kg + unit.charge_kg + unit.liquid_kg
    unit.step(25.0, 0.6)
    unit.step(200.0, 0.0)
    assert unit.cylinder_kg + unit.charge_kg + unit.liquid_kg == pytest.approx(before)
    assert unit.liquid_kg == pytest.approx(0.0, abs=1.0e-4)


def test_readings_settle_with_the_units_time_constant_however_time_is_cut() -> None:
    drawn = first("fixed")
    one, many = PracticeUnit(drawn), PracticeUnit(drawn)
    for unit in (one, many):
        unit.charge_kg += 0.2
    one.step(300.0, 0.0)
    for _ in range(300):
        many.step(1.0, 0.0)
    assert one._superheat_k == pytest.approx(many._superheat_k, abs=1.0e-6)


def test_liquid_that_comes_too_fast_reaches_the_compressor() -> None:
    drawn = replace(first("txv"), flow_kg_s=0.05)
    fast = PracticeUnit(drawn)
    fast.step(20.0, 1.0)
    assert fast.liquid_events == 1
    slow = PracticeUnit(drawn)
    for _ in range(20):
        slow.step(2.0, 0.02)
        slow.step(60.0, 0.0)
    assert slow.liquid_events == 0


def test_a_leak_loses_charge_and_a_sound_unit_none() -> None:
    leaking, sound = PracticeUnit(first("txv", "leak")), PracticeUnit(first("txv"))
    before = leaking.charge_kg, sound.charge_kg
    leaking.step(600.0, 0.0)
    sound.step(600.0, 0.0)
    assert leaking.charge_kg < before[0] - 0.02
    assert sound.charge_kg == before[1]


def test_one_session_ends_within_tolerance(handbook: Handbook) -> None:
    outcome = charge(site_of_cycle(draw(21)), by_advice, handbook)
    assert outcome.ended == "finish"
    assert abs(outcome.gap_k) <= outcome.tolerance_k
    assert outcome.liquid_events == 0


def test_bench_meets_its_goals_on_a_small_sample() -> None:
    # The goals over 2,000 units, loosened to what 90 units can show.
    figures = bench(90, 2024, plain=False)
    assert figures["units"] == 90
    assert figures["within_tolerance"] >= 0.96
    assert figures["overcharged"] <= 0.012
    assert figures["liquid_at_compressor"] == 0.0
    assert 0.85 <= figures["range_coverage"] <= 0.95
    assert figures["median_minutes"] < 62.5


def test_advice_beats_the_careful_rule_of_thumb_on_the_same_units(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    only = {"careful_halving": policies.careful}
    monkeypatch.setattr("lowside.practice.bench.PLAIN_POLICIES", only)
    figures = bench(32, 5)
    plain = figures["policies"]["careful_halving"]
    assert figures["within_tolerance"] >= plain["within_tolerance"]
    assert figures["overcharged"] <= plain["overcharged"]
    assert figures["median_minutes"] < plain["median_minutes"]


def test_bench_command_prints_its_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["practice", "bench", "--units", "2", "--seed", "3"]) == 0
    shown = capsys.readouterr().out
    assert "careful_halving" in shown
    assert main(["practice", "bench", "--units", "0"]) == 2


def test_plots_hold_the_published_line_where_there_is_one() -> None:
    drawn = trends(4)
    pictures = {t.name: svg(t) for t in drawn}
    assert "NIST TN 1848" in pictures["capacity, expansion valve"]
    assert "NIST TN 1848" not in pictures["superheat [K], fixed orifice"]
    assert all(picture.startswith("<svg") for picture in pictures.values())


def test_what_is_worked_out_once_is_what_is_worked_out_each_time(handbook: Handbook) -> None:
    before = vars(outlook)["learn"]
    plain = charge(cycle_site(40, "", 1.0), by_advice, handbook)
    with learned_once():
        assert vars(outlook)["learn"] is not before
        once = charge(cycle_site(40, "", 1.0), by_advice, handbook)
    assert once == plain
    assert plain.shots > 3
    assert vars(outlook)["learn"] is before
