"""The hookup of recovery and weigh-in, and its moves: what the hose model plays of the walks.

The walk's own hookup is the session's manifold, or a three-port manifold with hand valves where the
session's hoses have no red one. The yellow hose goes from vessel to vessel: recovery machine,
nitrogen, and by a tee with a valve the vacuum pump beside the charging cylinder, so that the
charging hose is evacuated with the unit. The moves are those the steps of `walk-steps.json` name.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CLOSED,
    CYLINDER,
    GATE,
    HOSE,
    INVERTED,
    LIQUID_LINE,
    LOOSE,
    MACHINE_OUT,
    NITROGEN,
    NUT,
    OFF,
    OPEN,
    OUTSIDE,
    PUMP,
    RECOVERY,
    RECOVERY_CYLINDER,
    SUCTION,
    TIGHT,
    Action,
    Procedure,
    Valve,
    ValveSetting,
    Volume,
    valve_by_id,
)
from lowside.core.handbook.system import DIP_TUBE
from lowside.core.hoses.contents import (
    CHARGE,
    GAS,
    NOTHING,
    VAPOR_LEFT,
    Conditions,
    Contents,
    Hoses,
    UnitHolds,
    Walk,
    bare,
    vapor_at,
    volumes_of,
    with_pressures,
)
from lowside.core.hoses.flow import Flow, settle
from lowside.core.hoses.hazard_words import DEAD_HEADED, Hazard
from lowside.core.hoses.hazards import hazards_at_rest, hazards_of_turn
from lowside.core.hoses.network import VACUUM_PA, boundaries_of, groups, junctions, links
from lowside.core.hoses.run import in_the_way
from lowside.core.numbers.units import PSI_PA

OWN = "hand-valved-three-port"
"""The hookup where the session's hoses have no red one."""
TEST_GAUGE_PA = 150.0 * PSI_PA
BREAK_GAUGE_PA = 2.0 * PSI_PA
"""Nitrogen that breaks a vacuum is let in to just above 0 psig. Our choice."""

Moves = tuple[tuple[str, ValveSetting], ...]

PORTS_OPEN: Moves = (("blue_end", OPEN), ("yellow_end", OPEN), ("charge", OPEN), ("low", OPEN))
RED_OPEN: Moves = (("red_end", OPEN), ("port_valve", OPEN), ("high", OPEN))
RECOVER: Moves = (
    ("blue_nut", TIGHT),
    ("red_nut", TIGHT),
    ("yellow_on_recovery", TIGHT),
    ("out_on_machine", TIGHT),
    ("out_on_rc", LOOSE),
    *PORTS_OPEN,
    ("machine", OPEN),
    ("machine", CLOSED),
    ("out_on_rc", TIGHT),
    ("rc_valve", OPEN),
    ("machine", OPEN),
    *RED_OPEN,
)
CLEAR: Moves = (
    ("high", CLOSED),
    ("low", CLOSED),
    ("machine", CLOSED),
    ("rc_valve", CLOSED),
    ("out_on_rc", OFF),
    ("out_on_machine", OFF),
    ("yellow_on_recovery", OFF),
    ("yellow_on_nitrogen", TIGHT),
    ("low", OPEN),
    ("high", OPEN),
    ("nitrogen_valve", OPEN),
    ("nitrogen_valve", CLOSED),
    ("low", CLOSED),
    ("high", CLOSED),
    ("yellow_on_nitrogen", OFF),
    ("red_end", CLOSED),
    ("port_valve", CLOSED),
    ("blue_end", CLOSED),
    ("red_nut", OFF),
    ("blue_nut", OFF),
)
CLEAR_HIGH: Moves = (("low", CLOSED), ("red_end", CLOSED), ("port_valve", CLOSED))
"""After a part: the machine empties the red hose, off its port or closed there. Where its end
closes by itself it is taken off next."""
PART_OFF: Moves = (
    ("high", CLOSED),
    ("machine", CLOSED),
    ("rc_valve", CLOSED),
    ("out_on_rc", OFF),
    ("out_on_machine", OFF),
    ("yellow_on_recovery", OFF),
    ("red_nut", OFF),
    ("blue_end", CLOSED),
    ("blue_nut", OFF),
)
NITROGEN_IN: Moves = (
    ("blue_nut", TIGHT),
    ("red_nut", TIGHT),
    ("yellow_on_nitrogen", TIGHT),
    *PORTS_OPEN,
    *RED_OPEN,
    ("nitrogen_valve", OPEN),
    ("nitrogen_valve", CLOSED),
    ("yellow_on_nitrogen", LOOSE),
)
LET_OUT: Moves = (("yellow_body_nut", LOOSE), ("yellow_body_nut", TIGHT))
"""Nitrogen out of hoses whose ends close by themselves."""
VACUUM: Moves = (
    ("yellow_on_nitrogen", OFF),
    ("yellow_on_pump", TIGHT),
    ("yellow_nut", TIGHT),
    ("pump_valve", OPEN),
    ("pump_valve", CLOSED),
)
CHARGE_OFF: Moves = (
    ("low", CLOSED),
    ("high", CLOSED),
    ("cylinder_position", INVERTED),
    ("cylinder_valve", OPEN),
    ("high", OPEN),
    ("high", CLOSED),
)
REST: Moves = (("low", OPEN), ("low", CLOSED))
CLOSE_OUT = ("close_cylinder", "clear_hoses", "clear_high", "disconnect")
"""Steps of the hookup's own procedure that take the hoses off a unit that runs."""

STOPPED = Action("machine", CLOSED)
IN_SHOT = ("wi_break", "wi_rest")
"""Steps in which the cylinder is open to the unit on purpose."""


@dataclass(frozen=True)
class Part:
    """One step of a walk: its moves, and whether the unit runs meanwhile."""

    step_id: str
    moves: tuple[Action, ...]
    running: bool = False
    takes_part: bool = False
    """The recovery machine takes only a part: the unit keeps its charge."""


@dataclass(frozen=True)
class Played:
    """One move: what moved, what was wrong with it, and the hoses and the unit after it."""

    what: str
    flows: tuple[Flow, ...]
    hazards: tuple[Hazard, ...]
    after: Hoses
    conditions: Conditions


@dataclass(frozen=True)
class Run:
    """A walk done right."""

    parts: tuple[Part, ...]
    played: tuple[Played, ...]


def rig_of(procedure: Procedure, shipped: dict[str, Procedure]) -> Procedure:
    """The walk's hookup for these hoses: manifold, tee, machine and its outlet hose."""
    has_red = "red" in [volume.id for volume in procedure.volumes]
    base = procedure if has_red else shipped[OWN]
    yellow = valve_by_id(base, "yellow_nut")
    assert yellow is not None

    def joint(name: str, title: str, end: str, gate: str) -> Valve:
        return replace(yellow, id=name, title=title, b=end, b_gates=(gate,), start=OFF)

    own = (
        Valve("machine", "recovery machine", GATE, CLOSED),
        Valve("rc_valve", "recovery cylinder’s valve", GATE, CLOSED),
        Valve("nitrogen_valve", "nitrogen regulator", GATE, CLOSED),
        Valve("pump_valve", "pump valve on the tee", GATE, CLOSED),
        joint("yellow_on_recovery", "yellow hose on the recovery machine", RECOVERY, "machine"),
        joint("yellow_on_nitrogen", "yellow hose on the regulator", NITROGEN, "nitrogen_valve"),
        joint("yellow_on_pump", "pump on the tee", PUMP, "pump_valve"),
        Valve(
            "out_on_machine", "outlet hose on the machine", NUT, OFF, "out", MACHINE_OUT,
            b_gates=("machine",),
        ),
        Valve(
            "out_on_rc", "outlet hose on the recovery cylinder", NUT, OFF, "out",
            RECOVERY_CYLINDER, b_gates=("rc_valve",),
        ),
    )  # fmt: skip
    volumes = (*base.volumes, Volume("out", "outlet hose", HOSE, ""))
    return replace(base, volumes=volumes, valves=(*base.valves, *own))


def recovery(rig: Procedure) -> tuple[Part, ...]:
    """The moves of recovery of the whole charge."""
    return (Part("rec_run", _moves(rig, RECOVER)), Part("rec_clear", _moves(rig, CLEAR)))


def recovery_of_part(rig: Procedure) -> tuple[Part, ...]:
    """The moves of recovery where there was too much: the unit stays charged."""
    red = valve_by_id(rig, "red_nut")
    off: Moves = (("red_nut", OFF),) if red is not None and red.self_closing else ()
    return (
        Part("rec_run", _moves(rig, RECOVER), takes_part=True),
        Part("rec_part", _moves(rig, (*CLEAR_HIGH, *off, *PART_OFF)), takes_part=True),
    )


def weigh_in(rig: Procedure, conditions: Conditions) -> tuple[Part, ...]:
    """The moves of weigh-in, to the last hose."""
    off: list[Action] = []
    for step in rig.steps:
        if step.id in CLOSE_OUT:
            off.extend(step.actions)
    off.extend(_moves(rig, (("pump_valve", CLOSED), ("yellow_on_pump", OFF))))
    yellow = valve_by_id(rig, "yellow_nut")
    let_out = LET_OUT if yellow is not None and yellow.self_closing else ()
    return tuple(
        replace(part, moves=_by_withdrawal(part.moves, conditions))
        for part in (
            Part("wi_pressure", _moves(rig, (*NITROGEN_IN, *let_out))),
            Part("wi_vacuum", _moves(rig, VACUUM)),
            Part("wi_break", _moves(rig, CHARGE_OFF)),
            Part("wi_rest", _moves(rig, REST), True),
            Part("wi_off", tuple(off), True),
        )
    )


def _moves(rig: Procedure, moves: Moves) -> tuple[Action, ...]:
    return tuple(Action(name, to) for name, to in moves if valve_by_id(rig, name) is not None)


def _by_withdrawal(moves: tuple[Action, ...], conditions: Conditions) -> tuple[Action, ...]:
    """A cylinder with a dip tube is not turned over."""
    if conditions.withdrawal != DIP_TUBE:
        return moves
    return tuple(move for move in moves if move.valve != "cylinder_position")


def unit_with(
    conditions: Conditions, holds: UnitHolds, pressure_pa: float, gas_pa: float
) -> Conditions:
    """The unit, off, with this in it [Pa absolute]."""
    changed = with_pressures(conditions, pressure_pa, pressure_pa)
    return replace(changed, walk=Walk(holds, gas_pa))


def play(
    rig: Procedure,
    conditions: Conditions,
    parts: Sequence[Part],
    start: Conditions,
    right: Run | None = None,
) -> list[Played]:
    """Carry the parts out. A move whose joint is taken by another hose cannot be made.

    Args:
        conditions: of the unit when it runs with its whole charge.
        start: the unit as the walk begins (`unit_with`).
        right: the same walk done right; what these parts share with its beginning is taken from it.
    """
    played = [] if right is None else shared(right, parts)
    done = len(played)
    now = played[-1].after if played else bare(rig, conditions)
    unit = played[-1].conditions if played else start
    for part in parts:
        begun = max(0, min(done, len(part.moves) + 1))
        if begun == 0 and part.running:
            unit = conditions
        for move in part.moves[begun:]:
            if in_the_way(rig, now.settings, move) is not None:
                continue
            made = _turn(rig, unit, now, move, part)
            played.append(made)
            now = made.after
            unit = made.conditions
        last = part is parts[-1]
        if begun <= len(part.moves) and (part.moves or last):
            rest = tuple(hazards_at_rest(rig, unit, now, last))
            played.append(Played(f"{part.step_id}: done", (), rest, now, unit))
        done -= len(part.moves) + 1
    return played


def shared(right: Run, parts: Sequence[Part]) -> list[Played]:
    """The moves these parts have in common with the right run, up to the first that differs."""
    count = 0
    for part, other in zip(right.parts, parts, strict=True):
        if part.moves == other.moves:
            count += len(part.moves) + 1
            continue
        same = 0
        while same < min(len(part.moves), len(other.moves)):
            if part.moves[same] != other.moves[same]:
                break
            same += 1
        count += same
        break
    return list(right.played[:count])


def _turn(rig: Procedure, unit: Conditions, now: Hoses, move: Action, part: Part) -> Played:
    settings = dict(now.settings)
    settings[move.valve] = move.to
    joined = _joined_to_unit(rig, settings)
    if unit.walk is not None:
        draws = _drawn_off(unit, joined)
        unit = replace(unit, walk=replace(unit.walk, machine_liquid=draws))
    hazards = hazards_of_turn(rig, unit, now, settings, part.step_id in IN_SHOT)
    hazards += _dead_headed(rig, unit, Hoses(settings, now.contents, now.received_kg))
    settled = settle(rig, unit, Hoses(settings, now.contents, now.received_kg))
    after = unit
    if not (part.takes_part and _drawn_off(unit, joined)):
        after = _unit_after(unit, joined)
    hoses = settled.hoses
    if move == STOPPED and settings["out_on_rc"] == LOOSE:
        hoses = _blown_down(rig, unit, now, hoses)
    if after != unit:
        hoses = settle(rig, after, hoses).hoses
    what = f"{part.step_id}: {move.valve} {move.to}"
    return Played(what, settled.flows, tuple(hazards), hoses, after)


def _joined_to_unit(rig: Procedure, settings: dict[str, ValveSetting]) -> list[list[str]]:
    """What each side of the unit is open to now."""
    ways = links(rig, settings)
    found: list[list[str]] = []
    for group in groups(rig, ways):
        names: list[str] = list(boundaries_of(junctions(group, ways)))
        if SUCTION in names or LIQUID_LINE in names:
            found.append(names)
    for way in ways:
        if way.a in (SUCTION, LIQUID_LINE) and way.b in BOUNDARIES:
            found.append([way.a, way.b])
    return found


def _both(joined: Sequence[Sequence[str]], one: str, other: str) -> bool:
    return any(one in names and other in names for names in joined)


def _dead_headed(rig: Procedure, unit: Conditions, hoses: Hoses) -> list[Hazard]:
    """A machine that pumps into a closed hose."""
    return [one for one in hazards_at_rest(rig, unit, hoses, False) if one.code == DEAD_HEADED]


def _blown_down(rig: Procedure, unit: Conditions, before: Hoses, stopped: Hoses) -> Hoses:
    """The machine's outlet hose with its nut loose when the machine stops: its vapor blows down to
    the pressure of the air. Air goes in only if the next move leaves the nut loose."""
    if before.contents["out"].air > 0.0:
        return stopped
    air = unit.atmosphere_pa
    left = vapor_at(unit.densities, air) * volumes_of(rig, unit)["out"]
    given = {**stopped.received_kg, OUTSIDE: stopped.received_kg.get(OUTSIDE, 0.0) - left}
    contents = {**stopped.contents, "out": Contents(0.0, left, 0.0, air)}
    return Hoses(stopped.settings, contents, given)


def _drawn_off(unit: Conditions, joined: Sequence[Sequence[str]]) -> bool:
    """Whether the machine draws the unit's charge off at the liquid line."""
    holds = None if unit.walk is None else unit.walk.holds
    return holds == CHARGE and _both(joined, RECOVERY, LIQUID_LINE)


def _unit_after(unit: Conditions, joined: Sequence[Sequence[str]]) -> Conditions:
    """A small vessel beside a large one: the unit comes to what it was joined to."""
    walk = unit.walk
    if walk is None:
        return unit
    air = unit.atmosphere_pa
    names = [name for group in joined for name in group]
    if _drawn_off(unit, joined):
        return unit_with(unit, VAPOR_LEFT, air, walk.nitrogen_pa)
    if NITROGEN in names:
        return unit_with(unit, GAS, walk.nitrogen_pa, walk.nitrogen_pa)
    if PUMP in names:
        return unit_with(unit, NOTHING, VACUUM_PA, walk.nitrogen_pa)
    if OUTSIDE in names and walk.holds != CHARGE:
        return unit_with(unit, GAS, air, walk.nitrogen_pa)
    if _both(joined, CYLINDER, LIQUID_LINE):
        return unit_with(unit, CHARGE, unit.cylinder_pa, walk.nitrogen_pa)
    return unit
