"""The hose pictures of a step, and what it means when a valve is set differently."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lowside.core.handbook.handbook import Handbook
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
from lowside.core.hoses.hazard_words import Hazard
from lowside.core.hoses.hazards import valve_title
from lowside.core.hoses.run import (
    StepRun,
    Turn,
    follow,
    grams,
    handled,
    hazards_left,
    hazards_of,
    in_the_way,
    other_setting,
    run_off,
    run_step,
    turn,
    watched,
)
from lowside.core.hoses.words import SETTING_WORDS, and_line
from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass
from lowside.core.session.hose_charge import conditions_of, hose_size
from lowside.core.session.state import State

TURN_RINGED = "Turn what is ringed, by the numbers of the step"


def size_words(state: State) -> str:
    """The size of hoses the figures are for, and who said so."""
    length, bore = hose_size(state.cylinder)
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


@dataclass(frozen=True)
class AtHoses:
    """A step at the hoses: what they are joined to there, and the run that leads to it."""

    procedure: Procedure
    step: Step
    conditions: Conditions
    runs: tuple[StepRun, ...]
    """Through this step."""

    @property
    def here(self) -> StepRun:
        return self.runs[len(self.runs) - 1]

    @property
    def running(self) -> bool:
        """Whether the unit runs at this step."""
        return not is_off_step(self.procedure, self.step.id)


def at_hoses(state: State, handbook: Handbook, procedure: Procedure, step: Step) -> AtHoses | None:
    """This session at this step; `None` before any hose is on, and where the numbers are missing
    that would say what the hoses hold."""
    if not with_hoses(procedure, step):
        return None
    conditions = state.hoses_at if state.readings else conditions_of(state, handbook)
    if conditions is None:
        return None
    runs = state.hose_runs if state.hose_runs else follow(procedure, conditions)
    return at_step(procedure, conditions, step, runs, state.done)


def at_step(
    procedure: Procedure,
    conditions: Conditions,
    step: Step,
    runs: Sequence[StepRun],
    done: Mapping[str, str],
) -> AtHoses:
    """The step after the run that leads to it.

    A step of the close-out with the unit off comes after the steps done so far, in the order of
    the procedure up to the first that is not.

    Args:
        runs: the procedure followed at these conditions.
        done: the steps done, for a step of the close-out with the unit off.
    """
    if not is_off_step(procedure, step.id):
        return AtHoses(procedure, step, conditions, tuple(runs[: position(procedure, step.id) + 1]))
    before: list[StepRun] = []
    start = bare(procedure, conditions)
    for made in runs:
        if made.step_id not in done:
            break
        before.append(made)
        start = made.after
    before.extend(run_off(procedure, conditions, start, step.id))
    there = conditions if step.id == procedure.off_steps[0].id else unit_off(conditions)
    return AtHoses(procedure, step, there, tuple(before))


def picture_of_step(at: AtHoses, size: str, units: UnitChoice) -> dict[str, Any] | None:
    """Context of `_hoses.html`'s `hose_picture`, or `None` for a step that turns nothing.

    Args:
        size: the sentence of `size_words`.
        units: for what the hoses hold.

    Returns
        `now`: the picture at the step's start, with what it turns ringed and numbered as
        in its list. `grams`: trapped and released once it is done.
    """
    now = _at_start(at)
    if now is None:
        return None
    return {"now": now, "grams": _grams_line(at.runs, units) + " " + size}


def hoses_of_step(at: AtHoses, size: str, units: UnitChoice) -> dict[str, Any]:
    """Context of `_hoses.html`'s `hose_panel`.

    Args:
        size: the sentence of `size_words`.
        units: for what the hoses hold.

    Returns
        `now`: the picture as it should be when the step is done (for the shots: while one is
        given); `before`: as it is at its start, or `None` when the step turns nothing; `moves`:
        one picture after each turn, with what it does; `valves`: how each should be set and what
        it means if it is not; `grams`: trapped and released so far.
    """
    return {
        "now": _when_done(at),
        "before": _at_start(at),
        "moves": _moves(at),
        "valves": _valves(at),
        "grams": _grams_line(at.runs, units) + " " + size,
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


def dangers_here(at: AtHoses) -> list[Hazard]:
    """What is wrong with the step at these pressures even when it is done as written."""
    here = at.here
    if at.running:
        last = at.step.id == last_with_actions(at.procedure)
        here = watched(at.procedure, at.conditions, at.step, here, last)
    found: list[Hazard] = []
    for _, hazard in hazards_of([here]):
        if hazard not in found:
            found.append(hazard)
    return found


def _at_start(at: AtHoses) -> dict[str, Any] | None:
    turned: dict[str, str] = {}
    for one in at.here.turns:
        if _changes(at.here, one):
            before = turned.get(one.action.valve, "")
            turned[one.action.valve] = and_line(before, one.action.line)
    if not turned:
        return None
    hoses = at.here.before
    return draw(at.procedure, at.conditions, hoses, (), turned, TURN_RINGED, at.running)


def _changes(here: StepRun, one: Turn) -> bool:
    """Whether the valve is not set so already."""
    return (
        here.before.settings.get(one.action.valve) != one.action.to
        or len([other for other in here.turns if other.action.valve == one.action.valve]) > 1
    )


def _when_done(at: AtHoses) -> dict[str, Any]:
    if at.step.page == CHARGE_PAGE and at.here.turns:
        turned = {valve.id: "" for valve in handled(at.procedure, at.step)}
        shot = at.here.turns[0]
        return draw(at.procedure, at.conditions, shot.after, shot.flows, turned, "During a shot")
    after = at.here.after
    return draw(at.procedure, at.conditions, after, (), {}, "When the step is done", at.running)


def _moves(at: AtHoses) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    turns = [one for one in at.here.turns if _changes(at.here, one)]
    for one in turns:
        line = one.action.line
        title = valve_title(at.procedure, one.action.valve)
        caption = ("" if line == "" else line + ". ") + title + ": " + SETTING_WORDS[one.action.to]
        turned = {one.action.valve: ""}
        found.append(
            draw(at.procedure, at.conditions, one.after, one.flows, turned, caption, at.running)
        )
    return found


def _valves(at: AtHoses) -> list[dict[str, Any]]:
    """Each valve: how it should be set, and what it means if it is set the other way."""
    settings = at.here.after.settings
    found: list[dict[str, Any]] = []
    for valve in at.procedure.valves:
        if valve.b == RECOVERY:
            continue
        other = other_setting(valve, settings[valve.id])
        action = Action(valve.id, other)
        if in_the_way(at.procedure, settings, action) is not None:
            continue
        hazards = _if_set(at, action)
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


def _if_set(at: AtHoses, action: Action) -> list[Hazard]:
    """The first thing that goes wrong if the valve is set so and nobody sees it."""
    final = last_with_actions(at.procedure)
    rest = at.procedure.steps[position(at.procedure, at.step.id) + 1 :]
    if not at.running:
        off = off_steps_for(at.procedure, at.conditions.withdrawal)
        final = off[len(off) - 1].id
        rest = off[[step.id for step in off].index(at.step.id) + 1 :]
    made = turn(at.procedure, at.conditions, at.here.after, action)
    now = made.after
    if made.hazards:
        return list(made.hazards)
    left = hazards_left(at.procedure, at.conditions, now, at.step.id == final)
    if left:
        return list(left)
    for step in rest:
        again = run_step(at.procedure, at.conditions, now, step, step.id == final)
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
