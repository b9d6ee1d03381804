"""Runs a procedure through the hose model: what every turn does, step by step."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lowside.core.handbook.procedure import (
    ANY_HOSE,
    BOUNDARIES,
    CHARGE_PAGE,
    CLOSED,
    CYLINDER,
    INVERTED,
    LOOSE,
    MACHINE_OUT,
    NUT,
    OFF,
    OPEN,
    OUTSIDE,
    POSITION,
    PUMP,
    RECOVERY_CYLINDER,
    STARTED,
    TIGHT,
    UPRIGHT,
    Action,
    Procedure,
    Step,
    Valve,
    ValveSetting,
    last_with_actions,
    off_steps_for,
    valve_by_id,
)
from lowside.core.handbook.system import DIP_TUBE
from lowside.core.hoses.contents import (
    AIR,
    LIQUID,
    Conditions,
    Hoses,
    bare,
    filling_of,
    held_kg,
    unit_off,
)
from lowside.core.hoses.flow import Flow, settle
from lowside.core.hoses.hazard_words import Hazard
from lowside.core.hoses.hazards import hazards_at_rest, hazards_of_turn


@dataclass(frozen=True)
class Turn:
    """One turn of a valve: the hoses after it, what moved, and what is wrong with it."""

    action: Action
    after: Hoses
    flows: tuple[Flow, ...]
    hazards: tuple[Hazard, ...]


@dataclass(frozen=True)
class StepRun:
    """One step carried out. `hazards` are about how the valves are left; turns have their own."""

    step_id: str
    before: Hoses
    turns: tuple[Turn, ...]
    after: Hoses
    hazards: tuple[Hazard, ...]


@dataclass(frozen=True)
class Grams:
    """Of a whole run [kg]: what is still in the hoses, and what went into the open air."""

    trapped_kg: float
    released_kg: float
    released_liquid_kg: float


def turn(
    procedure: Procedure,
    conditions: Conditions,
    hoses: Hoses,
    action: Action,
    in_shot: bool = False,
) -> Turn:
    """Set one valve and let everything settle. A valve this hardware lacks changes nothing."""
    made = moved(procedure, conditions, hoses, action)
    hazards = hazards_of_turn(procedure, conditions, hoses, made.after.settings, in_shot)
    return replace(made, hazards=tuple(hazards))


def moved(procedure: Procedure, conditions: Conditions, hoses: Hoses, action: Action) -> Turn:
    """The same, without looking for what is wrong with it."""
    settings = dict(hoses.settings)
    if valve_by_id(procedure, action.valve) is not None:
        settings[action.valve] = action.to
    settled = settle(procedure, conditions, Hoses(settings, hoses.contents, hoses.received_kg))
    return Turn(action, settled.hoses, settled.flows, ())


def in_the_way(
    procedure: Procedure, settings: Mapping[str, ValveSetting], action: Action
) -> Valve | None:
    """The joint that has to come off first: a port takes one hose, a hose end one port."""
    moved = valve_by_id(procedure, action.valve)
    if moved is None or moved.kind != NUT or moved.b not in BOUNDARIES or action.to == OFF:
        return None
    for valve in procedure.valves:
        if valve.kind != NUT or valve.id == moved.id or valve.b not in BOUNDARIES:
            continue
        if PUMP in (valve.b, moved.b) and CYLINDER in (valve.b, moved.b):
            continue  # a tee: pump and charging cylinder share the end of one hose
        if MACHINE_OUT in (valve.b, moved.b) and RECOVERY_CYLINDER in (valve.b, moved.b):
            continue  # the two ends of the outlet hose
        if settings[valve.id] != OFF and (valve.b == moved.b or valve.a == moved.a):
            return valve
    return None


def other_setting(valve: Valve, now: ValveSetting) -> ValveSetting:
    """How the valve is left when its turn is forgotten or done twice."""
    if valve.kind == NUT:
        return LOOSE if now == TIGHT or (valve.core and now == STARTED) else TIGHT
    if valve.kind == POSITION:
        return UPRIGHT if now == INVERTED else INVERTED
    return CLOSED if now == OPEN else OPEN


def run_step(
    procedure: Procedure,
    conditions: Conditions,
    hoses: Hoses,
    step: Step,
    last: bool = False,
) -> StepRun:
    """Carry out the step's actions. `last`: it is the last with actions, so hoses must be off."""
    made = follow_step(procedure, conditions, hoses, step)
    return watched(procedure, conditions, step, made, last)


def follow_step(procedure: Procedure, conditions: Conditions, hoses: Hoses, step: Step) -> StepRun:
    """Carry out the step's actions without looking for dangers."""
    turns: list[Turn] = []
    now = hoses
    for action in actions_of(procedure, conditions, step):
        if not is_due(action, now.settings, hoses):
            continue
        made = moved(procedure, conditions, now, action)
        turns.append(made)
        now = made.after
    return StepRun(step.id, hoses, tuple(turns), now, ())


def watched(
    procedure: Procedure, conditions: Conditions, step: Step, made: StepRun, last: bool
) -> StepRun:
    """A step that was followed, with what is wrong with its turns and with how it ends."""
    in_shot = step.page == CHARGE_PAGE
    turns: list[Turn] = []
    now = made.before
    for one in made.turns:
        hazards = hazards_of_turn(procedure, conditions, now, one.after.settings, in_shot)
        turns.append(replace(one, hazards=tuple(hazards)))
        now = one.after
    left = hazards_left(procedure, conditions, now, last) if turns or last else ()
    return replace(made, turns=tuple(turns), hazards=left)


def hazards_left(
    procedure: Procedure, conditions: Conditions, hoses: Hoses, last: bool
) -> tuple[Hazard, ...]:
    """What is wrong with leaving everything as it is now and going on to the next step."""
    left = hazards_of_turn(procedure, conditions, hoses, hoses.settings, False)
    for one in hazards_at_rest(procedure, conditions, hoses, last):
        if one not in left:
            left.append(one)
    return tuple(left)


def run(procedure: Procedure, conditions: Conditions) -> tuple[StepRun, ...]:
    """Carry out the whole procedure from bare hoses."""
    runs: list[StepRun] = []
    final = last_with_actions(procedure)
    for step, made in zip(procedure.steps, follow(procedure, conditions), strict=True):
        runs.append(watched(procedure, conditions, step, made, step.id == final))
    return tuple(runs)


def follow(procedure: Procedure, conditions: Conditions) -> tuple[StepRun, ...]:
    """The same without looking for dangers: what the hoses hold, step by step."""
    runs: list[StepRun] = []
    now = bare(procedure, conditions)
    for step in procedure.steps:
        made = follow_step(procedure, conditions, now, step)
        runs.append(made)
        now = made.after
    return tuple(runs)


def is_due(action: Action, settings: Mapping[str, ValveSetting], at_start: Hoses) -> bool:
    """Whether the move is to be made: from these settings, with the hoses as the step began."""
    if action.only_if not in ("", settings.get(action.valve, "")):
        return False
    if action.only_if_liquid == "":
        return True
    for name, contents in at_start.contents.items():
        if action.only_if_liquid in (ANY_HOSE, name) and filling_of(contents) == LIQUID:
            return True
    return False


def run_off(
    procedure: Procedure, conditions: Conditions, hoses: Hoses, through: str = ""
) -> tuple[StepRun, ...]:
    """Carry out the close-out with the unit off from hoses as they are, or through a step of it.

    The first step comes at once, while the suction is still as low as `conditions` say; then both
    sides of the unit have come to one pressure.
    """
    runs: list[StepRun] = []
    now = hoses
    steps = off_steps_for(procedure, conditions.withdrawal)
    for i, step in enumerate(steps):
        there = conditions if i == 0 else unit_off(conditions)
        made = run_step(procedure, there, now, step, i == len(steps) - 1)
        runs.append(made)
        now = made.after
        if step.id == through:
            break
    return tuple(runs)


def actions_of(procedure: Procedure, conditions: Conditions, step: Step) -> tuple[Action, ...]:
    """The step's actions; a cylinder with a dip tube is not turned over."""
    if conditions.withdrawal != DIP_TUBE:
        return step.actions
    kept: list[Action] = []
    for action in step.actions:
        valve = valve_by_id(procedure, action.valve)
        if valve is None or valve.kind != POSITION:
            kept.append(action)
    return tuple(kept)


def hazards_of(runs: Sequence[StepRun]) -> tuple[tuple[str, Hazard], ...]:
    """(step id, hazard) of a whole run in order: what an editor of procedures must show."""
    found: list[tuple[str, Hazard]] = []
    for made in runs:
        for one in made.turns:
            found.extend([(made.step_id, hazard) for hazard in one.hazards])
        for hazard in made.hazards:
            if (made.step_id, hazard) not in found:
                found.append((made.step_id, hazard))
    return tuple(found)


def grams(runs: Sequence[StepRun]) -> Grams:
    """Trapped and released over these steps."""
    released = 0.0
    liquid = 0.0
    for made in runs:
        for one in made.turns:
            for flow in one.flows:
                if flow.end == OUTSIDE and flow.phase != AIR:
                    released = released + flow.kg
                    liquid = liquid + (flow.kg if flow.phase == LIQUID else 0.0)
    return Grams(held_kg(runs[-1].after) if runs else 0.0, released, liquid)


def handled(procedure: Procedure, step: Step) -> tuple[Valve, ...]:
    """The valves a step turns, in order, each once."""
    found: list[Valve] = []
    for action in step.actions:
        valve = valve_by_id(procedure, action.valve)
        if valve is not None and valve not in found:
            found.append(valve)
    return tuple(found)
