"""Every single slip in recovery and in weigh-in, and what the hose model says of it.

What happened is judged here from what moved and what the hoses hold; what was flagged comes from
the hazards, which are judged from the open ways before anything moves.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CLOSED,
    CYLINDER,
    LIQUID_LINE,
    MACHINE_OUT,
    NITROGEN,
    NUT,
    OFF,
    OUTSIDE,
    PUMP,
    RECOVERY,
    RECOVERY_CYLINDER,
    SUCTION,
    Action,
    Procedure,
    valve_by_id,
)
from lowside.core.hoses import hazard_words as hz
from lowside.core.hoses.contents import (
    AIR,
    CHARGE,
    GAS,
    LIQUID,
    NOTHING,
    Conditions,
    liquid_at,
    volumes_of,
)
from lowside.core.hoses.flow import Flow, settle
from lowside.core.hoses.network import boundaries_of, groups, junctions, links
from lowside.core.hoses.run import in_the_way
from lowside.procedures.mutations import others
from lowside.procedures.walk_rig import (
    BREAK_GAUGE_PA,
    IN_SHOT,
    TEST_GAUGE_PA,
    Part,
    Played,
    recovery,
    recovery_of_part,
    unit_with,
    weigh_in,
)

RECOVER = "recovery"
PART = "recovery_of_part"
WEIGH = "weigh_in"
WALKS = (RECOVER, PART, WEIGH)

FLAGS: dict[str, tuple[str, ...]] = {
    "air into a cylinder": (hz.AIR_IN,),
    "air into the unit": (hz.AIR_IN, hz.IN_VACUUM),
    "liquid sprays out": (hz.LIQUID_OUT, hz.CORE_PRESSED),
    "refrigerant keeps blowing out": (hz.LEFT_BLOWING, hz.LIQUID_OUT, hz.VAPOR_OUT),
    "refrigerant through the pump": (hz.PUMP_UNDER_PRESSURE,),
    "liquid into a stopped compressor": (hz.FED_OFF,),
    "liquid is trapped": (hz.LIQUID_LOCKED,),
    "a hose with liquid in it is off": (hz.OFF_WITH_LIQUID,),
    "the machine pumps against a closed valve": (hz.DEAD_HEADED,),
    "the recovery machine pulls on the charging cylinder": (hz.RECOVERY_DRAWS,),
    "the unit fills the cylinder": (hz.HIGH_TO_CYLINDER, hz.UNIT_TO_CYLINDER),
    "the cylinder runs into the unit uncounted": (hz.LIQUID_HELD_OPEN, hz.CYLINDER_HELD_OPEN),
    "liquid line runs into the suction": (hz.HIGH_TO_SUCTION,),
    "a hose is left on": (hz.HOSE_LEFT_ON,),
    "the cylinder is left open": (hz.CYLINDER_LEFT_OPEN,),
}
"""Every danger and the hazards that warn of just that."""

_SOME_AIR = 1.0e-3
_SOME_KG = 1.0e-6
_PUMPED_KG = 1.0e-4

Slip = tuple[str, tuple[Part, ...]]


def walk_of(rig: Procedure, walk: str, there: Conditions) -> tuple[tuple[Part, ...], Conditions]:
    """The parts of a walk, and the unit as it begins."""
    air = there.atmosphere_pa
    if walk in (RECOVER, PART):
        parts = recovery(rig) if walk == RECOVER else recovery_of_part(rig)
        return parts, unit_with(there, CHARGE, there.cylinder_pa, air + BREAK_GAUGE_PA)
    return weigh_in(rig, there), unit_with(there, GAS, air, air + TEST_GAUGE_PA)


def slips(rig: Procedure, parts: Sequence[Part]) -> list[Slip]:
    """Every omission, every swap of neighbors and every valve left wrong after a step."""
    own = [list(part.moves) for part in parts]
    places = [(i, j) for i, moves in enumerate(own) for j in range(len(moves))]
    found: list[Slip] = []

    def add(what: str, changed: Sequence[Sequence[Action]]) -> None:
        made = zip(parts, changed, strict=True)
        found.append((what, tuple(replace(part, moves=tuple(moves)) for part, moves in made)))

    def copied() -> list[list[Action]]:
        return [list(moves) for moves in own]

    for i, part in enumerate(parts):
        changed = copied()
        changed[i] = []
        add(f"{part.step_id}: omit the whole step", changed)
    for i, j in places:
        changed = copied()
        gone = changed[i].pop(j)
        add(f"{parts[i].step_id}: omit {_said(rig, gone)}", changed)
    for (i, j), (k, m) in pairwise(places):
        changed = copied()
        changed[i][j], changed[k][m] = changed[k][m], changed[i][j]
        add(f"{parts[i].step_id}: {_said(rig, own[k][m])} before {_said(rig, own[i][j])}", changed)
    now = {valve.id: valve.start for valve in rig.valves}
    for i, part in enumerate(parts):
        now |= {move.valve: move.to for move in own[i]}
        for valve in rig.valves:
            for to in others(valve, now[valve.id]):
                wrong = Action(valve.id, to)
                if in_the_way(rig, now, wrong) is None:
                    changed = copied()
                    changed[i].append(wrong)
                    add(f"{part.step_id}: {_said(rig, wrong)} when the step ends", changed)
    return found


def dangers(rig: Procedure, played: Sequence[Played]) -> list[tuple[int, str]]:
    """What went wrong and at which move, by what moved and what is where."""
    found: list[tuple[int, str]] = []
    for i, move in enumerate(played):
        unit = move.conditions if i == 0 else played[i - 1].conditions
        if move.conditions.walk is None:
            unit = move.conditions
        found.extend((i, wrong) for flow in move.flows if (wrong := _of_flow(flow, unit)) != "")
        fed = [flow for flow in move.flows if (flow.start, flow.end) == (CYLINDER, SUCTION)]
        if unit.walk is None and fed and not move.what.startswith(IN_SHOT):
            found.append((i, "the cylinder runs into the unit uncounted"))
        if move.what.endswith(": done"):
            found.extend((i, wrong) for wrong in _at_rest(rig, move))
        if _alone(rig, move):
            found.append((i, "the machine pumps against a closed valve"))
    last = played[-1].after.settings
    for valve in rig.valves:
        if valve.kind == NUT and valve.b in BOUNDARIES and last[valve.id] != OFF:
            found.append((len(played) - 1, "a hose is left on"))
    if last["cylinder_valve"] != CLOSED:
        found.append((len(played) - 1, "the cylinder is left open"))
    return found


def unwarned(rig: Procedure, played: Sequence[Played]) -> list[tuple[str, str]]:
    """(move, danger) that no hazard of its own kind warned of, then or before."""
    flags = [(i, one.code) for i, move in enumerate(played) for one in move.hazards]
    return [
        (played[i].what, danger)
        for i, danger in dangers(rig, played)
        if not [1 for at, code in flags if at <= i and code in FLAGS[danger]]
    ]


def _of_flow(flow: Flow, unit: Conditions) -> str:
    """What a flow does to people, unit or cylinders; empty when it does nothing bad."""
    walk = unit.walk
    live = walk is None or walk.holds in (CHARGE, NOTHING)
    into_unit = flow.end in (SUCTION, LIQUID_LINE)
    if flow.air > _SOME_AIR and flow.end in (CYLINDER, RECOVERY_CYLINDER):
        return "air into a cylinder"
    if flow.air > _SOME_AIR and flow.end == RECOVERY and flow.start == NITROGEN:
        return "air into a cylinder"
    if flow.air > _SOME_AIR and into_unit and live:
        return "air into the unit"
    if flow.end == OUTSIDE and flow.phase == LIQUID and flow.kg > _SOME_KG:
        return "liquid sprays out"
    if flow.end == PUMP and flow.phase != AIR and flow.kg > _PUMPED_KG:
        return "refrigerant through the pump"
    if (flow.start, flow.end, flow.phase) == (CYLINDER, SUCTION, LIQUID) and walk is not None:
        return "liquid into a stopped compressor"
    if not flow.steady:
        return ""
    if flow.start == CYLINDER and flow.end == RECOVERY:
        return "the recovery machine pulls on the charging cylinder"
    if walk is not None:
        return ""  # a unit that is off is as warm as the cylinder: nothing runs between them
    if flow.end == CYLINDER and flow.start in (SUCTION, LIQUID_LINE):
        return "the unit fills the cylinder"
    if (flow.start, flow.end) == (LIQUID_LINE, SUCTION):
        return "liquid line runs into the suction"
    return ""


def _at_rest(rig: Procedure, move: Played) -> list[str]:
    found: list[str] = []
    for flow in settle(rig, move.conditions, move.after).flows:
        if flow.steady and flow.end == OUTSIDE and flow.phase != AIR and flow.kg > 0.0:
            found.append("refrigerant keeps blowing out")
    if _trapped(rig, move):
        found.append("liquid is trapped")
    for volume in rig.volumes:
        ends = [v for v in rig.valves if v.a == volume.id and v.b in BOUNDARIES]
        wet = move.after.contents[volume.id].liquid_kg > _SOME_KG
        if ends and wet and all(move.after.settings[v.id] == OFF for v in ends):
            found.append("a hose with liquid in it is off")
    return found


def _alone(rig: Procedure, move: Played) -> bool:
    """Whether the machine's outlet hose leads nowhere while the machine runs."""
    if move.after.settings["out_on_machine"] == OFF:
        return False
    ways = links(rig, move.after.settings)
    return any(
        boundaries_of(junctions(group, ways)) == [MACHINE_OUT] for group in groups(rig, ways)
    )


def _trapped(rig: Procedure, move: Played) -> bool:
    ways = links(rig, move.after.settings)
    sizes = volumes_of(rig, move.conditions)
    for group in groups(rig, ways):
        if junctions(group, ways):
            continue
        held = [move.after.contents[one] for one in group]
        full = sum(
            one.liquid_kg / liquid_at(move.conditions.densities, one.pressure_pa) for one in held
        )
        if full > 0.8 * sum(sizes[one] for one in group):
            return True
    return False


def _said(rig: Procedure, action: Action) -> str:
    valve = valve_by_id(rig, action.valve)
    return f"“{action.valve if valve is None else valve.title} {action.to}”"
