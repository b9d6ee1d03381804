"""The hose pictures of a step, and what it means when a valve stands differently."""

from collections.abc import Sequence
from typing import Any

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    Action,
    Procedure,
    Step,
    position,
)
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure
from lowside.core.handbook.system import INVERT
from lowside.core.hoses.contents import (
    HOSE_BORE_M,
    HOSE_LENGTH_M,
    Conditions,
    conditions_from,
    usual_conditions,
)
from lowside.core.hoses.drawing import SETTING_WORDS, draw
from lowside.core.hoses.hazards import Hazard, valve_title
from lowside.core.hoses.run import (
    StepRun,
    grams,
    handled,
    hazards_left,
    in_the_way,
    last_with_actions,
    other_setting,
    run,
    run_step,
    turn,
)
from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.unit_choice import label
from lowside.core.session.state import State, latest_reading

GRAMS_PER_KG = 1000.0


def conditions_of(state: State, handbook: Handbook) -> Conditions | None:
    """What the hoses are joined to: pressures as last read, usual ones until then.

    Returns
        `None` when the unit is not known yet or its refrigerant has no numbers there (R-744 in
        warm weather), so that nothing is drawn rather than something made up.
    """
    if state.system is None or state.system.refrigerant not in handbook.tables:
        return None
    table = handbook.tables[state.system.refrigerant]
    withdrawal = state.cylinder.withdrawal if state.cylinder is not None else INVERT
    atmosphere = state.system.atmosphere_pa
    length, bore = _size(state)
    usual = usual_conditions(table, atmosphere, withdrawal, length, bore)
    if isinstance(usual, OutOfRange):
        return None
    latest = latest_reading(state)
    if latest is None:
        return usual
    suction = latest.reading.suction_pressure_pa
    liquid = latest.reading.liquid_pressure_pa
    if suction is None or liquid is None or not atmosphere < suction < liquid:
        return usual
    cylinder = usual.cylinder_pa
    if latest.reading.outdoor_dry_bulb_k is not None:
        warm = bubble_pressure(table, latest.reading.outdoor_dry_bulb_k)
        cylinder = usual.cylinder_pa if isinstance(warm, OutOfRange) else warm
    found = conditions_from(table, suction, liquid, cylinder, atmosphere, withdrawal, length, bore)
    return usual if isinstance(found, OutOfRange) else found


def size_words(state: State) -> str:
    """The size of hoses the figures are for, and who said so."""
    length, bore = _size(state)
    words = (
        "Worked out for hoses "
        + label("hose_length", length, state.units)
        + " long with a bore of "
        + label("bore", bore, state.units)
    )
    typed_length = state.cylinder is not None and state.cylinder.hose_length_m is not None
    typed_bore = state.cylinder is not None and state.cylinder.hose_bore_m is not None
    if typed_length and typed_bore:
        return words + ", as typed with the cylinder."
    if typed_length:
        return words + ": length as typed with the cylinder, bore the usual one."
    if typed_bore:
        return words + ": bore as typed with the cylinder, length the usual one."
    return words + ", the usual size. If yours differ, say so where the cylinder is entered."


def picture_of_step(
    procedure: Procedure, conditions: Conditions, step: Step, size: str
) -> dict[str, Any] | None:
    """Context of `_hoses.html`'s `hose_picture`, or `None` for a step before any hose is on.

    Args:
        size: the sentence of `size_words`.

    Returns
        `now`: the picture as it stands at the step's start, with what it turns ringed; of a step
        that turns nothing, as it should stand. `grams`: trapped and released once it is done.
    """
    if not with_hoses(procedure, step):
        return None
    runs = run(procedure, conditions, step.id)
    here = runs[len(runs) - 1]
    now = _at_start(procedure, conditions, step, here)
    if now is None:
        now = _when_done(procedure, conditions, step, here)
    return {"now": now, "grams": _grams_line(runs) + " " + size}


def hoses_of_step(
    procedure: Procedure, conditions: Conditions, step: Step, size: str
) -> dict[str, Any] | None:
    """Context of `_hoses.html`'s `hose_panel`, or `None` for a step before any hose is on.

    Args:
        size: the sentence of `size_words`.

    Returns
        `now`: the picture as it should stand when the step is done (for the shots: while one is
        given); `before`: as it stands at its start, or `None` when the step turns nothing;
        `moves`: one picture after each turn, with what it does; `valves`: how each should stand
        and what it means if it does not; `grams`: trapped and released so far.
    """
    if not with_hoses(procedure, step):
        return None
    runs = run(procedure, conditions, step.id)
    here = runs[len(runs) - 1]
    return {
        "now": _when_done(procedure, conditions, step, here),
        "before": _at_start(procedure, conditions, step, here),
        "moves": _moves(procedure, conditions, here),
        "valves": _valves(procedure, conditions, here),
        "grams": _grams_line(runs) + " " + size,
    }


def with_hoses(procedure: Procedure, step: Step) -> bool:
    """Whether hoses are on, or go on, at this step."""
    return position(procedure, step.id) >= position(procedure, "connect")


def _size(state: State) -> tuple[float, float]:
    """Length and bore of the hoses [m]: as typed, else the usual ones."""
    length = HOSE_LENGTH_M
    bore = HOSE_BORE_M
    if state.cylinder is not None:
        if state.cylinder.hose_length_m is not None:
            length = state.cylinder.hose_length_m
        if state.cylinder.hose_bore_m is not None:
            bore = state.cylinder.hose_bore_m
    return length, bore


def _at_start(
    procedure: Procedure, conditions: Conditions, step: Step, here: StepRun
) -> dict[str, Any] | None:
    if not here.turns:
        return None
    turned = [valve.id for valve in handled(procedure, step)]
    return draw(procedure, conditions, here.before, (), turned, "Turn the ringed ones")


def _when_done(
    procedure: Procedure, conditions: Conditions, step: Step, here: StepRun
) -> dict[str, Any]:
    if step.page == CHARGE_PAGE and here.turns:
        turned = [valve.id for valve in handled(procedure, step)]
        shot = here.turns[0]
        return draw(procedure, conditions, shot.after, shot.flows, turned, "During a shot")
    return draw(procedure, conditions, here.after, (), [], "How it should stand when done")


def _moves(procedure: Procedure, conditions: Conditions, here: StepRun) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for i, one in enumerate(here.turns):
        caption = (
            str(i + 1)
            + ". "
            + valve_title(procedure, one.action.valve)
            + ": "
            + SETTING_WORDS[one.action.to]
        )
        found.append(draw(procedure, conditions, one.after, one.flows, [one.action.valve], caption))
    return found


def _valves(procedure: Procedure, conditions: Conditions, here: StepRun) -> list[dict[str, Any]]:
    """Each valve: how it should stand, and what it means if it stands the other way."""
    settings = here.after.settings
    found: list[dict[str, Any]] = []
    for valve in procedure.valves:
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
    """The first thing that goes wrong if the valve stands so and nobody sees it."""
    final = last_with_actions(procedure)
    at = position(procedure, here.step_id)
    made = turn(procedure, conditions, here.after, action)
    now = made.after
    if made.hazards:
        return list(made.hazards)
    left = hazards_left(procedure, conditions, now, here.step_id == final)
    if left:
        return list(left)
    for step in procedure.steps[at + 1 :]:
        again = run_step(procedure, conditions, now, step, step.id == final)
        for one in again.turns:
            if one.hazards:
                return list(one.hazards)
        if again.hazards:
            return list(again.hazards)
        now = again.after
    return []


def _grams_line(runs: Sequence[StepRun]) -> str:
    so_far = grams(runs)
    return (
        "In the hoses then: "
        + format_decimal(so_far.trapped_kg * GRAMS_PER_KG, 0)
        + " g. Let out so far while purging and disconnecting: "
        + format_decimal(so_far.released_kg * GRAMS_PER_KG, 0)
        + " g."
    )
