"""Every single slip in every shipped procedure, and what the hose model says of it.

What happens is judged here from what moved (the flows) and what the hoses hold. What was flagged
comes from the hazards, which are judged from the open ways before anything moves. The two are
worked out apart, so that a missing warning shows. `lowside hoses` prints the tables.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CHARGE_PAGE,
    CLOSED,
    CYLINDER,
    INVERTED,
    LIQUID_LINE,
    LOOSE,
    NUT,
    OFF,
    OUTSIDE,
    RECOVERY,
    STARTED,
    SUCTION,
    TIGHT,
    Action,
    Procedure,
    Step,
    Valve,
    ValveSetting,
    last_with_actions,
    valve_by_id,
)
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.hoses import hazard_words as hz
from lowside.core.hoses.contents import (
    LIQUID,
    Conditions,
    Hoses,
    bare,
    liquid_at,
    unit_off,
    usual_conditions,
)
from lowside.core.hoses.flow import Flow, settle
from lowside.core.hoses.network import links
from lowside.core.hoses.run import (
    actions_of,
    hazards_left,
    in_the_way,
    is_due,
    other_setting,
    turn,
)
from lowside.core.numbers.arithmetic import format_decimal
from lowside.thermo.tables import load_properties

HARMLESS = "harmless"
WASTEFUL = "wasteful"
DANGEROUS = "dangerous"

FLAGS_FOR: dict[str, tuple[str, ...]] = {
    "air goes into the cylinder": (hz.AIR_IN,),
    "air goes into the unit": (hz.AIR_IN,),
    "liquid sprays out": (hz.LIQUID_OUT, hz.CORE_PRESSED),
    "the recovery machine pulls on unit or cylinder": (hz.RECOVERY_DRAWS,),
    "the unit fills the cylinder": (hz.HIGH_TO_CYLINDER, hz.UNIT_TO_CYLINDER),
    "liquid line runs into the suction": (hz.HIGH_TO_SUCTION,),
    "the cylinder runs into the suction uncounted": (
        hz.LIQUID_HELD_OPEN,
        hz.CYLINDER_HELD_OPEN,
    ),
    "refrigerant keeps blowing out": (hz.LEFT_BLOWING, hz.LIQUID_OUT, hz.VAPOR_OUT),
    "liquid is trapped and bursts a hose": (hz.LIQUID_LOCKED,),
    "a hose with liquid in it is off": (hz.OFF_WITH_LIQUID,),
    "a hose is left on": (hz.HOSE_LEFT_ON,),
    "the cylinder is left open or upside down": (hz.CYLINDER_LEFT_OPEN,),
    "liquid is left in a hose": (hz.OFF_WITH_LIQUID,),
}
"""Every danger and the hazards that warn of just that."""

REFRIGERANT = "R-410A"
WASTE_KG = 2.0e-4
"""More than this escaping beyond the right run counts as waste."""
_NOTHING_KG = 1.0e-6


@dataclass(frozen=True)
class Mutation:
    """One slip: the procedure's steps with the actions as they were really done."""

    what: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Consequence:
    """What came of it. `danger_at`/`flagged_at` count moments; -1: never."""

    kind: str
    effect: str
    danger_at: int
    flagged_at: int
    flag: str
    noticed: str


@dataclass(frozen=True)
class Facts:
    """A run as it went: (moment, what) of dangers and flags, and what else matters."""

    dangers: tuple[tuple[int, str], ...]
    flags: tuple[tuple[int, str], ...]
    released_kg: float
    charged: str
    """Phase the shot fed; empty when nothing came."""
    unread: tuple[str, ...]
    noticed: str


def mutations(procedure: Procedure, conditions: Conditions) -> list[Mutation]:
    """Every omission, every swap of neighbors and every valve left wrong after a step."""
    found: list[Mutation] = []
    places = [
        (i, j)
        for i, step in enumerate(procedure.steps)
        for j in range(len(actions_of(procedure, conditions, step)))
    ]
    own = [list(actions_of(procedure, conditions, step)) for step in procedure.steps]
    for i, j in places:
        changed = [list(actions) for actions in own]
        gone = changed[i].pop(j)
        found.append(
            _mutation(procedure, f"{procedure.steps[i].id}: omit {_said(procedure, gone)}", changed)
        )
    for i, step in enumerate(procedure.steps):
        if len(own[i]) > 1:
            changed = [list(actions) for actions in own]
            changed[i] = []
            found.append(_mutation(procedure, f"{step.id}: omit the whole step", changed))
    for (i, j), (k, m) in pairwise(places):
        changed = [list(actions) for actions in own]
        changed[i][j], changed[k][m] = changed[k][m], changed[i][j]
        first, second = _said(procedure, own[k][m]), _said(procedure, own[i][j])
        found.append(
            _mutation(procedure, f"{procedure.steps[i].id}: {first} before {second}", changed)
        )
    found.extend(_left_wrong(procedure, own))
    return found


def judge(facts: Facts, right: Facts) -> Consequence:
    """What came of a slip, compared with the right run."""
    flagged_at, flag = facts.flags[0] if facts.flags else (-1, "")
    if facts.dangers:
        danger_at, effect = facts.dangers[0]
        return Consequence(DANGEROUS, effect, danger_at, flagged_at, flag, facts.noticed)
    effects: list[str] = []
    if facts.released_kg > right.released_kg + WASTE_KG:
        more = format_decimal((facts.released_kg - right.released_kg) * 1000.0, 1)
        effects.append(f"{more} g more escapes")
    if facts.charged == "":
        effects.append("the shot gives nothing")
    elif facts.charged != right.charged:
        effects.append("the shot feeds vapor: slow, and a blend changes its make-up")
    for step_id in facts.unread:
        if step_id not in right.unread:
            effects.append(f"a gauge reads nothing at {step_id}")
    kind = WASTEFUL if effects else HARMLESS
    effect = "; ".join(effects)
    if facts.flags and kind == HARMLESS:
        kind, effect = WASTEFUL, "nothing yet, but warned of"
    return Consequence(kind, effect, -1, flagged_at, flag, facts.noticed)


def unwarned(facts: Facts) -> list[tuple[int, str]]:
    """Dangers that no hazard of their own kind warned of, then or before."""
    return [
        (moment, danger)
        for moment, danger in facts.dangers
        if not [1 for at, code in facts.flags if at <= moment and code in FLAGS_FOR[danger]]
    ]


def facts_of_right_run(procedure: Procedure, conditions: Conditions) -> Facts:
    """The procedure as it is written."""
    return carry_out(procedure, conditions, _as_done(procedure, conditions))


def table_conditions() -> Conditions:
    """The conditions of the table in the documents: R-410A in mild weather at sea level."""
    found = usual_conditions(load_properties().tables[REFRIGERANT], SEA_LEVEL_PA)
    if isinstance(found, OutOfRange):
        raise ValueError(f"{REFRIGERANT} has no table at {found.value}")
    return found


def _as_done(procedure: Procedure, conditions: Conditions) -> tuple[Step, ...]:
    own = [list(actions_of(procedure, conditions, step)) for step in procedure.steps]
    return _mutation(procedure, "", own).steps


def _mutation(procedure: Procedure, what: str, actions: Sequence[Sequence[Action]]) -> Mutation:
    steps = tuple(
        replace(step, actions=tuple(done))
        for step, done in zip(procedure.steps, actions, strict=True)
    )
    return Mutation(what, steps)


def _left_wrong(procedure: Procedure, own: Sequence[Sequence[Action]]) -> list[Mutation]:
    found: list[Mutation] = []
    now = {valve.id: valve.start for valve in procedure.valves}
    for i, step in enumerate(procedure.steps):
        for action in own[i]:
            now[action.valve] = action.to
        if not own[i]:
            continue
        for valve in procedure.valves:
            for to in others(valve, now[valve.id]):
                wrong = Action(valve.id, to)
                if in_the_way(procedure, now, wrong) is not None:
                    continue
                changed = [list(actions) for actions in own]
                changed[i].append(wrong)
                said = f"{step.id}: {_state(procedure, wrong)} when the step ends"
                found.append(_mutation(procedure, said, changed))
    return found


def others(valve: Valve, now: ValveSetting) -> tuple[ValveSetting, ...]:
    """Settings a valve may be left in by mistake. A recovery machine is not there to be used."""
    if valve.b == RECOVERY:
        return ()
    if valve.kind == NUT and valve.core:
        return tuple(to for to in (TIGHT, LOOSE, STARTED) if to != now)
    return (other_setting(valve, now),)


def carry_out(
    procedure: Procedure,
    conditions: Conditions,
    steps: Sequence[Step],
    start: Hoses | None = None,
) -> Facts:
    """Do these steps and note what happens and what is flagged.

    Args:
        start: for the close-out with the unit off, the hoses as they are; else from bare hoses.
    """
    dangers: list[tuple[int, str]] = []
    flags: list[tuple[int, str]] = []
    unread: list[str] = []
    noticed = ""
    released = 0.0
    charged = ""
    now = bare(procedure, conditions) if start is None else start
    final = last_with_actions(procedure) if start is None else steps[-1].id
    moment = 0
    for i, step in enumerate(steps):
        if start is not None and i == 1:
            conditions = unit_off(conditions)
        begun = now
        for action in step.actions:
            if not is_due(action, now.settings, begun):
                continue
            blocked = in_the_way(procedure, now.settings, action)
            if blocked is not None:
                noticed = noticed or f"{blocked.title} is in the way"
                continue
            one = turn(procedure, conditions, now, action, step.page == CHARGE_PAGE)
            moment = moment + 2
            now = one.after
            flags.extend([(moment, hazard.code) for hazard in one.hazards])
            for flow in one.flows:
                wrong = _danger(flow, step.page == CHARGE_PAGE)
                if wrong != "":
                    dangers.append((moment, wrong))
                if flow.end == OUTSIDE:
                    released = released + flow.kg
                if flow.steady and (flow.start, flow.end) == (CYLINDER, SUCTION):
                    charged = flow.phase
        if step.form in ("reading", "final_reading"):
            unread.extend(_unread(procedure, now.settings, step))
        if step.actions or step.id == final:
            left = hazards_left(procedure, conditions, now, step.id == final)
            flags.extend([(moment + 1, hazard.code) for hazard in left])
            dangers.extend(
                (moment + 1, wrong)
                for wrong in _danger_at_rest(procedure, conditions, now, step.id == final)
            )
    return Facts(tuple(dangers), tuple(flags), released, charged, tuple(unread), noticed)


def _danger(flow: Flow, in_shot: bool) -> str:
    """What a flow does to people, unit or air; empty when it does nothing bad."""
    if flow.air > 0.0 and flow.end in (SUCTION, LIQUID_LINE, CYLINDER):
        return "air goes into the " + ("cylinder" if flow.end == CYLINDER else "unit")
    if flow.end == OUTSIDE and flow.phase == LIQUID and flow.kg > _NOTHING_KG:
        return "liquid sprays out"
    if not flow.steady:
        return ""
    if flow.end == RECOVERY and flow.start in (SUCTION, LIQUID_LINE, CYLINDER):
        return "the recovery machine pulls on unit or cylinder"
    if flow.end == CYLINDER and flow.start in (SUCTION, LIQUID_LINE):
        return "the unit fills the cylinder"
    if flow.end == SUCTION and flow.start == LIQUID_LINE:
        return "liquid line runs into the suction"
    if flow.end == SUCTION and flow.start == CYLINDER and not in_shot:
        return "the cylinder runs into the suction uncounted"
    return ""


def _danger_at_rest(
    procedure: Procedure, conditions: Conditions, now: Hoses, last: bool
) -> list[str]:
    found: list[str] = []
    for flow in settle(procedure, conditions, now).flows:
        if flow.steady and flow.end == OUTSIDE and flow.kg > 0.0:
            found.append("refrigerant keeps blowing out")
        wrong = _danger(flow, False)
        if wrong != "":
            found.append(wrong)
    if _locked(procedure, conditions, now):
        found.append("liquid is trapped and bursts a hose")
    for volume in procedure.volumes:
        ends = [v for v in procedure.valves if v.a == volume.id and v.b in BOUNDARIES]
        wet = now.contents[volume.id].liquid_kg > _NOTHING_KG
        if ends and wet and all(now.settings[v.id] == OFF for v in ends):
            found.append("a hose with liquid in it is off")
    if last:
        for valve in procedure.valves:
            if valve.kind == NUT and valve.b in BOUNDARIES and now.settings[valve.id] != OFF:
                found.append("a hose is left on")
        inverted = now.settings["cylinder_position"] == INVERTED
        if inverted or now.settings["cylinder_valve"] != CLOSED:
            found.append("the cylinder is left open or upside down")
        if any(one.liquid_kg > _NOTHING_KG for one in now.contents.values()):
            found.append("liquid is left in a hose")
    return found


def _locked(procedure: Procedure, conditions: Conditions, now: Hoses) -> bool:
    """Whether a hose is full to the brim, and so is everything it can reach, with no way out."""
    ways = [(way.a, way.b) for way in links(procedure, now.settings)]
    full = {
        name: one.liquid_kg / liquid_at(conditions.densities, one.pressure_pa)
        for name, one in now.contents.items()
    }
    for volume in procedure.volumes:
        reach = {volume.id}
        for _ in procedure.valves:
            reach |= {b for a, b in ways if a in reach and a not in BOUNDARIES}
            reach |= {a for a, b in ways if b in reach and b not in BOUNDARIES}
        if reach & set(BOUNDARIES):
            continue
        room = sum(_size(procedure, conditions, name) for name in reach)
        if sum(full[name] for name in reach) > 0.8 * room:
            return True
    return False


def _size(procedure: Procedure, conditions: Conditions, name: str) -> float:
    start = bare(procedure, conditions).contents[name]
    return start.air / conditions.atmosphere_pa


def _unread(procedure: Procedure, settings: Mapping[str, ValveSetting], step: Step) -> list[str]:
    """The step's id when a gauge's hose is not open to its port."""
    joined = [(way.a, way.b) for way in links(procedure, settings)]
    names = [volume.id for volume in procedure.volumes]
    if ("blue", SUCTION) not in joined:
        return [step.id]
    if "red" in names and ("red", LIQUID_LINE) not in joined:
        return [step.id]
    return []


def _said(procedure: Procedure, action: Action) -> str:
    valve = valve_by_id(procedure, action.valve)
    return f"“{valve.title if valve is not None else action.valve} {action.to}”"


def _state(procedure: Procedure, action: Action) -> str:
    valve = valve_by_id(procedure, action.valve)
    return f"{valve.title if valve is not None else action.valve} {action.to}"
