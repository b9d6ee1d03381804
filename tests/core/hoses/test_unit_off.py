"""The close-out with the unit off: from every moment with hoses on, nothing is trapped or sprayed.

The order of its steps is common practice without a source; that liquid must not be trapped is
published (Plumbing & HVAC Canada, “Trapped refrigerant”, over 5000 psi with little heat, read).
"""

from dataclasses import replace

import pytest
from hose_cases import REFRIGERANTS, liquid_by_hose, shipped, through, usual
from sampling import diagonal, every

from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    CLOSED,
    CYLINDER,
    LIQUID_LINE,
    NUT,
    OFF,
    OPEN,
    SUCTION,
    UPRIGHT,
    Procedure,
    off_steps_for,
    open_step,
)
from lowside.core.hoses import hazard_words as hz
from lowside.core.hoses.contents import (
    DIP_TUBE,
    INVERT,
    LIQUID,
    Conditions,
    Hoses,
    bare,
    unit_off,
)
from lowside.core.hoses.run import (
    StepRun,
    actions_of,
    grams,
    hazards_of,
    run_off,
    turn,
)
from lowside.procedures import SHIPPED
from lowside.procedures.mutations import Mutation, carry_out, unwarned

WITHDRAWALS = (INVERT, DIP_TUBE)


def omissions(procedure: Procedure, conditions: Conditions) -> list[Mutation]:
    """Every omission in the close-out with the unit off."""
    steps = off_steps_for(procedure, conditions.withdrawal)
    found: list[Mutation] = []
    for i, step in enumerate(steps):
        for j, gone in enumerate(step.actions):
            changed = replace(step, actions=step.actions[:j] + step.actions[j + 1 :])
            what = f"{step.id}: omit {gone.valve} {gone.to}"
            found.append(Mutation(what, (*steps[:i], changed, *steps[i + 1 :])))
    return found


def moments(procedure: Procedure, conditions: Conditions) -> list[tuple[str, Hoses]]:
    """Every moment of the procedure done right, after every single turn."""
    now = bare(procedure, conditions)
    found: list[tuple[str, Hoses]] = []
    for step in procedure.steps:
        for action in actions_of(procedure, conditions, step):
            now = turn(procedure, conditions, now, action, step.page == CHARGE_PAGE).after
            found.append((f"{step.id}: {action.valve} {action.to}", now))
    return found


@pytest.mark.parametrize(
    ("name", "refrigerant", "withdrawal"), diagonal(SHIPPED, REFRIGERANTS, WITHDRAWALS, one_in=3)
)
def test_from_every_moment_the_way_out_meets_no_hazard_and_leaves_no_liquid(
    name: str, refrigerant: str, withdrawal: str
) -> None:
    procedure, conditions = shipped(name), usual(refrigerant, withdrawal)
    seen = moments(procedure, conditions)
    assert len(seen) > 12
    for moment, hoses in seen:
        runs = run_off(procedure, conditions, hoses)
        assert hazards_of(runs) == (), moment
        assert max(liquid_by_hose(procedure, runs[-1].after).values()) == 0.0, moment
        assert grams(runs).released_liquid_kg == 0.0, moment
        assert grams(runs).released_kg < 0.012, moment


@pytest.mark.parametrize("withdrawal", WITHDRAWALS)
@pytest.mark.parametrize("name", SHIPPED)
def test_a_cylinder_colder_than_the_unit_changes_nothing_once_the_hoses_are_purged(
    name: str, withdrawal: str
) -> None:
    conditions = usual("R-410A", withdrawal)
    cold = replace(conditions, cylinder_pa=0.8 * conditions.suction_pa)
    for moment, hoses in moments(shipped(name), conditions):
        # No shot can be open then: the unit would run into the cylinder, which is flagged.
        if _while_purging(moment) or moment == "shots: low open":
            continue
        assert hazards_of(run_off(shipped(name), cold, hoses)) == (), moment


def _while_purging(moment: str) -> bool:
    return moment.startswith(("connect", "purge"))


@pytest.mark.parametrize("withdrawal", WITHDRAWALS)
@pytest.mark.parametrize("name", SHIPPED)
def test_the_cylinder_stays_open_until_its_hose_holds_no_liquid(name: str, withdrawal: str) -> None:
    procedure, conditions = shipped(name), usual("R-410A", withdrawal)
    for moment, hoses in moments(procedure, conditions):
        if hoses.contents["yellow"].liquid_kg == 0.0:
            continue
        runs = run_off(procedure, conditions, hoses)
        assert runs[0].after.settings["low"] == CLOSED, moment
        assert runs[0].after.settings["cylinder_valve"] == OPEN, moment
        for made in runs:
            if made.after.contents["yellow"].liquid_kg > 0.0:
                assert made.after.settings["cylinder_valve"] == OPEN, (moment, made.step_id)


def _through_the_shots(name: str, conditions: Conditions) -> StepRun:
    return through(shipped(name), conditions, "shots")[-1]


def _after_a_shot(name: str, withdrawal: str) -> tuple[tuple[StepRun, ...], Hoses]:
    conditions = usual("R-410A", withdrawal)
    found = _through_the_shots(name, conditions)
    return run_off(shipped(name), conditions, found.after), found.after


@pytest.mark.parametrize("name", SHIPPED)
def test_upright_and_below_the_hoses_the_liquid_goes_back_into_the_cylinder(name: str) -> None:
    runs, before = _after_a_shot(name, INVERT)
    held = liquid_by_hose(shipped(name), before)["yellow"]
    assert held > 0.02
    drain = next(made for made in runs if made.step_id == "off_drain")
    back = [
        flow
        for one in drain.turns
        for flow in one.flows
        if (flow.start, flow.end, flow.phase) == ("yellow", CYLINDER, LIQUID)
    ]
    # A hose of vapor stays behind, so a little less than the liquid goes back.
    assert 0.85 * held < sum(flow.kg for flow in back) < held
    assert liquid_by_hose(shipped(name), drain.after)["yellow"] == 0.0


@pytest.mark.parametrize("name", SHIPPED)
def test_a_dip_tube_cylinder_is_recovered_from_and_never_drained_into(name: str) -> None:
    ids = [step.id for step in off_steps_for(shipped(name), DIP_TUBE)]
    assert "off_drain" not in ids
    assert "off_recover" in ids
    runs, _ = _after_a_shot(name, DIP_TUBE)
    into = [
        flow for made in runs for one in made.turns for flow in one.flows if flow.end == CYLINDER
    ]
    assert [flow for flow in into if flow.kg > 1e-9] == []


@pytest.mark.parametrize("withdrawal", WITHDRAWALS)
@pytest.mark.parametrize("name", SHIPPED)
def test_nothing_of_the_unit_goes_into_the_charging_cylinder(name: str, withdrawal: str) -> None:
    runs, _ = _after_a_shot(name, withdrawal)
    for made in runs:
        for one in made.turns:
            for flow in one.flows:
                assert (flow.start, flow.end) not in (
                    ("red", CYLINDER),
                    (SUCTION, CYLINDER),
                    (LIQUID_LINE, CYLINDER),
                )


@pytest.mark.parametrize("withdrawal", WITHDRAWALS)
@pytest.mark.parametrize("name", SHIPPED)
def test_every_dangerous_omission_on_the_way_out_is_flagged(name: str, withdrawal: str) -> None:
    procedure, conditions = shipped(name), usual("R-410A", withdrawal)
    dangerous = 0
    while_at_it = [
        (moment, hoses)
        for moment, hoses in moments(procedure, conditions)
        if not (_while_purging(moment) and "nut" in moment)
    ]
    for place, mutation in enumerate(omissions(procedure, conditions)):
        for moment, hoses in every(3, while_at_it, place):
            facts = carry_out(procedure, conditions, mutation.steps, hoses)
            assert unwarned(facts) == [], (mutation.what, moment)
            dangerous = dangerous + len(facts.dangers)
    assert dangerous > 6


@pytest.mark.parametrize("name", SHIPPED)
def test_closing_the_cylinder_before_the_hose_is_clear_is_flagged(name: str) -> None:
    """The order the trade warns of: a stop, then the cylinder valve closed on a full hose."""
    procedure, conditions = shipped(name), usual()
    shot = _through_the_shots(name, conditions)
    slips = omissions(procedure, conditions)
    (early,) = [slip for slip in slips if slip.what.startswith("off_drain: omit")]
    facts = carry_out(procedure, conditions, early.steps, shot.after)
    assert hz.LIQUID_LOCKED in [code for _, code in facts.flags]


@pytest.mark.parametrize("withdrawal", WITHDRAWALS)
@pytest.mark.parametrize("name", SHIPPED)
def test_at_the_end_every_hose_is_off_and_the_cylinder_closed_and_upright(
    name: str, withdrawal: str
) -> None:
    runs, _ = _after_a_shot(name, withdrawal)
    settings = runs[-1].after.settings
    assert settings["cylinder_valve"] == CLOSED
    assert settings["cylinder_position"] == UPRIGHT
    for valve in shipped(name).valves:
        if valve.kind == NUT and valve.b in (SUCTION, LIQUID_LINE, CYLINDER):
            assert settings[valve.id] == OFF, valve.id


def test_when_the_hoses_came_off_that_way_the_session_goes_on_with_the_caps() -> None:
    for name in SHIPPED:
        procedure = shipped(name)
        done = {step.id: "E" for step in procedure.steps[:10]}
        first = open_step(procedure, done)
        assert first is not None
        assert first.id == procedure.steps[10].id
        later = open_step(procedure, done | {procedure.off_steps[-1].id: "E"})
        assert later is not None
        assert later.id == "caps"


def test_a_unit_that_is_off_has_one_pressure() -> None:
    off = unit_off(usual())
    assert off.suction_pa == off.liquid_pa == off.cylinder_pa == usual().cylinder_pa
