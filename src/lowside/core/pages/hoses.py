"""The hose pictures of a step, and what it means when a valve is set differently."""

from collections.abc import Mapping, Sequence
from typing import Any

from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    RECOVERY,
    Action,
    Procedure,
    Step,
    is_off_step,
    last_with_actions,
    off_steps_for,
    position,
)
from lowside.core.hoses.contents import (
    Conditions,
    bare,
    unit_off,
)
from lowside.core.hoses.drawing import draw
from lowside.core.hoses.hazards import Hazard, valve_title
from lowside.core.hoses.run import (
    StepRun,
    Turn,
    grams,
    handled,
    hazards_left,
    hazards_of,
    in_the_way,
    other_setting,
    run,
    run_off,
    run_step,
    turn,
)
from lowside.core.hoses.words import SETTING_WORDS
from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass
from lowside.core.session.hose_charge import hose_size
from lowside.core.session.state import State

USUAL_UNITS = UnitChoice()


def size_words(state: State) -> str:
    """The size of hoses the figures are for, and who said so."""
    length, bore = hose_size(state)
    words = (
        "For hoses "
        + label("hose_length", length, state.units)
        + " long, bore "
        + label("bore", bore, state.units)
    )
    typed_length = state.cylinder is not None and state.cylinder.hose_length_m is not None
    typed_bore = state.cylinder is not None and state.cylinder.hose_bore_m is not None
    if typed_length and typed_bore:
        return words + ", as you typed with the cylinder."
    if typed_length:
        return words + ": you typed the length with the cylinder, the bore is the usual one."
    if typed_bore:
        return words + ": you typed the bore with the cylinder, the length is the usual one."
    return words + ", the usual size. If yours differ, enter them with the cylinder."


def runs_to_step(
    procedure: Procedure, conditions: Conditions, step: Step, done: Mapping[str, str]
) -> tuple[StepRun, ...]:
    """The procedure through this step. A step of the close-out with the unit off comes after the
    steps done so far, in the order of the procedure up to the first that is not."""
    if not is_off_step(procedure, step.id):
        return run(procedure, conditions, step.id)
    runs: list[StepRun] = []
    start = bare(procedure, conditions)
    for made in run(procedure, conditions):
        if made.step_id not in done:
            break
        runs.append(made)
        start = made.after
    runs.extend(run_off(procedure, conditions, start, step.id))
    return tuple(runs)


def picture_of_step(
    procedure: Procedure,
    conditions: Conditions,
    step: Step,
    size: str,
    done: Mapping[str, str],
    units: UnitChoice = USUAL_UNITS,
) -> dict[str, Any] | None:
    """Context of `_hoses.html`'s `hose_picture`, or `None` for a step that turns nothing.

    Args:
        size: the sentence of `size_words`.
        done: the steps done, for a step of the close-out with the unit off.
        units: for what the hoses hold.

    Returns
        `now`: the picture at the step's start, with what it turns ringed and numbered. `grams`:
        trapped and released once it is done.
    """
    if not with_hoses(procedure, step):
        return None
    runs = runs_to_step(procedure, conditions, step, done)
    here = runs[len(runs) - 1]
    there = _conditions_at(procedure, conditions, step)
    now = _at_start(procedure, there, step, here)
    if now is None:
        return None
    return {"now": now, "grams": _grams_line(runs, units) + " " + size}


def hoses_of_step(
    procedure: Procedure,
    conditions: Conditions,
    step: Step,
    size: str,
    done: Mapping[str, str],
    units: UnitChoice = USUAL_UNITS,
) -> dict[str, Any] | None:
    """Context of `_hoses.html`'s `hose_panel`, or `None` for a step before any hose is on.

    Args:
        size: the sentence of `size_words`.
        done: the steps done, for a step of the close-out with the unit off.

    Returns
        `now`: the picture as it should be when the step is done (for the shots: while one is
        given); `before`: as it is at its start, or `None` when the step turns nothing; `moves`:
        one picture after each turn, with what it does; `valves`: how each should be set and what
        it means if it is not; `grams`: trapped and released so far.
    """
    if not with_hoses(procedure, step):
        return None
    runs = runs_to_step(procedure, conditions, step, done)
    here = runs[len(runs) - 1]
    there = _conditions_at(procedure, conditions, step)
    return {
        "now": _when_done(procedure, there, step, here),
        "before": _at_start(procedure, there, step, here),
        "moves": _moves(procedure, there, here),
        "valves": _valves(procedure, there, here),
        "grams": _grams_line(runs, units) + " " + size,
    }


def with_hoses(procedure: Procedure, step: Step) -> bool:
    """Whether hoses are on, or go on, at this step."""
    if is_off_step(procedure, step.id):
        return True
    return position(procedure, step.id) >= position(procedure, "connect")


def way_out_is_open(procedure: Procedure, step: Step) -> bool:
    """Whether hoses are on at this step, so that the unit may have to be left by the way out."""
    last = position(procedure, last_with_actions(procedure))
    at = position(procedure, step.id)
    return with_hoses(procedure, step) and 0 <= at <= last


def dangers_here(
    procedure: Procedure, conditions: Conditions, step: Step, done: Mapping[str, str]
) -> list[Hazard]:
    """What is wrong with the step at these pressures even when it is done as written."""
    if not with_hoses(procedure, step):
        return []
    runs = runs_to_step(procedure, conditions, step, done)
    found: list[Hazard] = []
    for _, hazard in hazards_of(runs[len(runs) - 1 :]):
        if hazard not in found:
            found.append(hazard)
    return found


def _conditions_at(procedure: Procedure, conditions: Conditions, step: Step) -> Conditions:
    if is_off_step(procedure, step.id) and step.id != procedure.off_steps[0].id:
        return unit_off(conditions)
    return conditions


def _at_start(
    procedure: Procedure, conditions: Conditions, step: Step, here: StepRun
) -> dict[str, Any] | None:
    if not here.turns:
        return None
    turned = [one.action.valve for one in here.turns if _changes(here, one)]
    if not turned:
        return None
    running = not is_off_step(procedure, step.id)
    caption = "Turn what is ringed" if len(turned) == 1 else "Turn what is ringed, 1 first"
    return draw(procedure, conditions, here.before, (), turned, caption, running)


def _changes(here: StepRun, one: Turn) -> bool:
    """Whether the valve is not set so already."""
    return (
        here.before.settings.get(one.action.valve) != one.action.to
        or len([other for other in here.turns if other.action.valve == one.action.valve]) > 1
    )


def _when_done(
    procedure: Procedure, conditions: Conditions, step: Step, here: StepRun
) -> dict[str, Any]:
    if step.page == CHARGE_PAGE and here.turns:
        turned = [valve.id for valve in handled(procedure, step)]
        shot = here.turns[0]
        return draw(procedure, conditions, shot.after, shot.flows, turned, "During a shot")
    running = not is_off_step(procedure, step.id)
    return draw(procedure, conditions, here.after, (), [], "When the step is done", running)


def _moves(procedure: Procedure, conditions: Conditions, here: StepRun) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    running = not is_off_step(procedure, here.step_id)
    turns = [one for one in here.turns if _changes(here, one)]
    for i, one in enumerate(turns):
        caption = (
            str(i + 1)
            + ". "
            + valve_title(procedure, one.action.valve)
            + ": "
            + SETTING_WORDS[one.action.to]
        )
        turned = [one.action.valve]
        found.append(draw(procedure, conditions, one.after, one.flows, turned, caption, running))
    return found


def _valves(procedure: Procedure, conditions: Conditions, here: StepRun) -> list[dict[str, Any]]:
    """Each valve: how it should be set, and what it means if it is set the other way."""
    settings = here.after.settings
    found: list[dict[str, Any]] = []
    for valve in procedure.valves:
        if valve.b == RECOVERY:
            continue
        other = other_setting(valve, settings[valve.id])
        action = Action(valve.id, other)
        if in_the_way(procedure, settings, action) is not None:
            continue
        hazards = _if_stood(procedure, conditions, here, action)
        found.append(
            {
                "title": valve.title,
                "word": SETTING_WORDS[settings[valve.id]],
                "other": SETTING_WORDS[other],
                "means": [{"text": hazard.sentence, "check": hazard.cure} for hazard in hazards],
                "harmless": len(hazards) == 0,
            }
        )
    return found


def _if_stood(
    procedure: Procedure, conditions: Conditions, here: StepRun, action: Action
) -> list[Hazard]:
    """The first thing that goes wrong if the valve is set so and nobody sees it."""
    final = last_with_actions(procedure)
    rest = procedure.steps[position(procedure, here.step_id) + 1 :]
    if is_off_step(procedure, here.step_id):
        off = off_steps_for(procedure, conditions.withdrawal)
        final = off[len(off) - 1].id
        rest = off[[step.id for step in off].index(here.step_id) + 1 :]
    made = turn(procedure, conditions, here.after, action)
    now = made.after
    if made.hazards:
        return list(made.hazards)
    left = hazards_left(procedure, conditions, now, here.step_id == final)
    if left:
        return list(left)
    for step in rest:
        again = run_step(procedure, conditions, now, step, step.id == final)
        for one in again.turns:
            if one.hazards:
                return list(one.hazards)
        if again.hazards:
            return list(again.hazards)
        now = again.after
    return []


def _grams_line(runs: Sequence[StepRun], units: UnitChoice) -> str:
    so_far = grams(runs)
    return (
        "In the hoses after this step: "
        + small_mass(so_far.trapped_kg, units)
        + ". Released so far by purging and disconnecting: "
        + small_mass(so_far.released_kg, units)
        + "."
    )
