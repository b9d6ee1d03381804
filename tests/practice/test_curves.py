"""The second practice model goes as published responses go. Both models are judged in halves."""

from dataclasses import replace
from random import Random

import pytest

from lowside.cli import main
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import FIXED, TXV
from lowside.practice import bench, sites
from lowside.practice.bench import Summary, summarize, summary_rows, worst
from lowside.practice.curves import MICROCHANNEL, RECEIVER, Curves, settled
from lowside.practice.curves_draw import DrawnCurves, Weather, draw_curves
from lowside.practice.curves_unit import CurvesUnit
from lowside.practice.design import FAULTS, LEAK, NON_CONDENSABLES, RESTRICTION
from lowside.practice.landing import svg, table, tell
from lowside.practice.policies import by_advice
from lowside.practice.sites import (
    JUDGING,
    TOLD_RECEIVER,
    TUNING,
    curves_site,
    cycle_site,
    number_of,
)
from lowside.practice.technician import (
    EXACT,
    OWN_FLOW,
    SLOPPY,
    USUAL,
    Charged,
    Hands,
    Site,
    charge,
)
from lowside.practice.trends import published

CALM = Weather(0.0, 0.0, 1000.0, 0.0)


def first(metering: str, kind: str = "conventional", fault: str = "") -> DrawnCurves:
    """The first drawn unit of a kind."""
    number = 1
    while True:
        drawn = draw_curves(number, fault)
        if drawn.curves.metering == metering and drawn.curves.kind == kind:
            return drawn
        number += 1


def at(curves: Curves, share: float) -> tuple[float, float]:
    """(superheat, subcooling) at a share of the right charge."""
    found = settled(curves, share * curves.right_kg, 0.0, 0.0)
    return found.superheat_k, found.subcooling_k


def test_the_same_number_gives_the_same_unit() -> None:
    assert draw_curves(12) == draw_curves(12)
    assert draw_curves(12) != draw_curves(13)


def test_capacity_of_a_valve_is_nist_tn_1848() -> None:
    curves = first(TXV).curves
    for share in (0.7, 0.85, 1.1):
        found = settled(curves, share * curves.right_kg, 0.0, 0.0).capacity
        assert found == pytest.approx(published("capacity", share), abs=1.0e-9)


def test_a_valve_holds_superheat_to_about_80_percent_and_subcooling_goes_blind() -> None:
    for number in range(1, 40):
        curves = draw_curves(number).curves
        if curves.metering != TXV:
            continue
        assert at(curves, 0.95)[0] == pytest.approx(curves.superheat_k)
        assert at(curves, 0.68)[0] > curves.superheat_k + 0.5
        assert at(curves, 0.62)[1] < 0.5 * curves.subcooling_k
        assert at(curves, 1.0)[1] == pytest.approx(curves.subcooling_k, abs=0.31)


def test_microchannel_coils_are_steep_and_receivers_hide_charge_before_a_steep_end() -> None:
    steep = first(TXV, MICROCHANNEL).curves
    ounce = 0.0283495 * steep.capacity_w / 3516.85
    rise = at(steep, 1.0)[1] - settled(steep, steep.right_kg - 0.25 * ounce, 0.0, 0.0).subcooling_k
    assert rise > 0.4
    hidden = first(TXV, RECEIVER).curves
    low, high = hidden.plateau
    flat = at(hidden, 1.0 + high)[1] - at(hidden, 1.0 + low)[1]
    end = at(hidden, 1.0)[1] - at(hidden, 1.0 + high)[1]
    assert flat < 0.35 * hidden.subcooling_k
    assert end / -high > 2.0 * flat / (high - low)


def test_an_orifice_falls_one_to_three_degrees_for_a_percent_and_flattens_when_starved() -> None:
    curves = first(FIXED).curves
    near = (at(curves, 0.99)[0] - at(curves, 1.0)[0]) * 1.8
    far = (at(curves, 0.64)[0] - at(curves, 0.65)[0]) * 1.8
    assert 0.8 < near < 3.5
    assert far < 0.5 * near


def test_faults_move_readings_as_the_service_table_says() -> None:
    sound = first(TXV).curves
    blocked = replace(sound, fault=RESTRICTION, severity=0.5)
    assert at(blocked, 1.0)[0] > at(sound, 1.0)[0] + 5.0
    assert at(blocked, 1.0)[1] > at(sound, 1.0)[1] + 2.0
    foreign = replace(sound, fault=NON_CONDENSABLES, severity=0.5)
    lift = settled(sound, sound.right_kg, 0.0, 0.0).lift_k
    assert settled(foreign, sound.right_kg, 0.0, 0.0).lift_k > lift + 3.0


def test_the_answer_comes_late_at_first_and_is_there_in_the_end() -> None:
    drawn = replace(first(FIXED), weather=CALM, slow_share=0.0)
    unit = CurvesUnit(drawn)
    before = unit._now()[0]
    unit.charge_kg = drawn.curves.right_kg
    unit.step(10.0, 0.0)
    soon = unit._now()[0]
    unit.step(3600.0, 0.0)
    end = unit._now()[0]
    assert end == pytest.approx(drawn.target_k, abs=0.05)
    assert (before - soon) / (before - end) < 0.15
    assert unit.gap_k() == pytest.approx(0.0, abs=0.05)
    assert unit.missing_kg() == pytest.approx(0.0, abs=0.003)


def test_nothing_is_lost_between_cylinder_and_unit() -> None:
    unit = CurvesUnit(first(TXV))
    before = unit.charge_kg + unit.cylinder_kg
    unit.step(20.0, 1.0)
    unit.step(300.0, 0.0)
    assert unit.charge_kg + unit.liquid_kg + unit.cylinder_kg == pytest.approx(before)


def test_liquid_that_comes_too_fast_reaches_the_compressor() -> None:
    unit = CurvesUnit(replace(first(TXV), valve_kg_s=0.025))
    unit.step(3.0, 1.0)
    assert unit.liquid_events == 0
    unit.step(60.0, 1.0)
    assert unit.liquid_events == 1


def test_air_that_was_let_in_shows_on_the_high_side() -> None:
    unit = CurvesUnit(first(TXV, MICROCHANNEL))
    shown = []
    for air_pa_m3 in (0.0, 30.0):
        unit.let_in_air(air_pa_m3)
        unit.random = Random(1)
        shown.append(unit.gauges())
    # Ideal gas, let in at 303.15 K, now as warm as it condenses.
    expected = 30.0 * unit.saturations_k()[1] / 303.15 / unit.condenser_m3
    more = shown[1].liquid_pressure_pa - shown[0].liquid_pressure_pa
    assert more == pytest.approx(expected)
    assert shown[1].suction_pressure_pa == shown[0].suction_pressure_pa


def test_weather_moves_the_reading_and_the_charts_target() -> None:
    drawn = replace(first(FIXED), weather=Weather(1.5, 0.0, 1000.0, 0.0), chart_followed=0.0)
    unit = CurvesUnit(drawn)
    gap = unit.gap_k()
    unit.step(3600.0, 0.0)
    assert unit.outdoor_k() == pytest.approx(drawn.outdoor_k + 1.5)
    assert unit.gap_k() != pytest.approx(gap, abs=0.2)


def test_every_fault_can_be_drawn_and_a_leak_loses_charge() -> None:
    for fault in FAULTS:
        assert CurvesUnit(draw_curves(7, fault)).reading().suction_pressure_pa is not None
    unit = CurvesUnit(draw_curves(7, LEAK))
    before = unit.charge_kg
    unit.step(600.0, 0.0)
    assert unit.charge_kg < before


def test_halves_share_no_unit() -> None:
    tuned = {number_of(TUNING, seed, count) for seed in (1, 2) for count in range(50)}
    judged = {number_of(JUDGING, seed, count) for seed in (1, 2) for count in range(50)}
    assert not tuned & judged
    assert all(number % 2 == 0 for number in tuned)


@pytest.mark.parametrize(("more", "half"), [([], TUNING), (["--half", "judging"], JUDGING)])
def test_bench_charges_the_tuning_half_unless_told_to_judge(
    more: list[str],
    half: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    charged: list[int] = []

    def noted(number: int, fault: str = "") -> Site:
        charged.append(number)
        return curves_site(number, fault)

    monkeypatch.setitem(vars(sites)["MODELS"], "curves", noted)
    monkeypatch.setattr(bench, "PLAIN_POLICIES", {})
    wanted = ["practice", "bench", "--units", "2", "--seed", "5", "--model", "curves"]
    assert main([*wanted, *more]) == 0
    assert charged == [number_of(half, 5, place) for place in (0, 1, bench.FAULTED_FROM)]
    assert f"curves, {half} half" in capsys.readouterr().out


def test_hands_differ(handbook: Handbook) -> None:
    def outcomes(hands: Hands) -> list[Charged]:
        return [charge(cycle_site(number), by_advice, handbook, hands) for number in range(42, 46)]

    def pace(hands: Hands) -> float:
        """Minutes for each advice over a few units: on one alone the sloppy may ask more often."""
        done = outcomes(hands)
        return sum(one.minutes for one in done) / sum(len(one.told) for one in done)

    paces = [pace(hands) for hands in (EXACT, OWN_FLOW, SLOPPY, USUAL)]
    assert len(set(paces)) == 4
    assert paces[2] < paces[0]


def test_hoses_of_another_size_are_emptied_into_the_unit(handbook: Handbook) -> None:
    site = curves_site(42)
    outcome = charge(site, by_advice, handbook, EXACT)
    last = outcome.told[len(outcome.told) - 1]
    came = site.unit.missing_kg() - last.missing_kg
    assert -0.10 < came < -0.02


@pytest.fixture(scope="module")
def small() -> Summary:
    """A few units of the second model."""
    return summarize("curves", TUNING, 12, 3)


@pytest.mark.xdist_group("curves")  # both on one worker: their sessions take 20 s
def test_summary_counts_known_receivers_apart(small: Summary) -> None:
    rows = dict(summary_rows(small))
    told = [o for o in small.by_technician["exact"] if TOLD_RECEIVER in o.tags]
    assert rows["exact"]["count"] == 12 - len(told)
    assert all(outcome.shots == 0 for outcome in told)
    assert {"exact", "own flow", "sloppy", "valve"} <= set(rows)


@pytest.mark.xdist_group("curves")
def test_table_plot_and_story_are_of_the_same_sessions(small: Summary) -> None:
    assert "faulty past" in table(small)
    exact = small.by_technician["exact"]
    told = replace(exact[0], tags=(*exact[0].tags, TOLD_RECEIVER))
    one_told = replace(small, by_technician={"exact": [told, *exact[1:]]})
    for shown in (small, one_told):
        of = [o for o in shown.by_technician["exact"] if TOLD_RECEIVER not in o.tags]
        assert svg(shown).count("<circle") == sum(len(o.tags) for o in of)
    story = tell(small, 2)
    assert story.count("-- exact;") == 2
    assert story.count("-- empties hoses;") == 2
    assert story.count("An expert ") == 4
    bad = worst(exact, 12)
    assert abs(bad[0].gap_k / bad[0].tolerance_k) >= abs(bad[11].gap_k / bad[11].tolerance_k)


def test_summary_command_prints_one_model_and_half(capsys: pytest.CaptureFixture[str]) -> None:
    wanted = ["practice", "summary", "--units", "1", "--model", "cycle", "--half", "tuning"]
    assert main(wanted) == 0
    shown = capsys.readouterr().out
    assert "cycle, tuning half" in shown
    assert "goals missed" in shown
    assert main(["practice", "summary", "--units", "0"]) == 2
