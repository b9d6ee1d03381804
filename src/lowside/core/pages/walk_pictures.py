"""The hookup of a step of recovery or weigh-in as a picture: what to turn, and in which order.

The hoses are on and the way to the ports is open; what the step turns is ringed. The moves are
those of `procedures/walk_rig.py`, and a test holds the two together.
"""

from dataclasses import dataclass, replace
from typing import Any

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    INVERTED,
    OPEN,
    POSITION,
    TIGHT,
    UPRIGHT,
    Procedure,
    Step,
    Valve,
    ValveSetting,
)
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import DIP_TUBE
from lowside.core.hoses.contents import (
    CHARGE,
    GAS,
    NOTHING,
    Conditions,
    Contents,
    Hoses,
    UnitHolds,
    Walk,
    bare,
    unit_off,
    usual_conditions,
    with_pressures,
)
from lowside.core.hoses.drawing import draw
from lowside.core.hoses.flow import settle
from lowside.core.hoses.network import VACUUM_PA
from lowside.core.hoses.words import and_line
from lowside.core.pages.hoses import TURN_RINGED
from lowside.core.session.state import State, withdrawal_of
from lowside.core.session.unit import designation

OWN_HOOKUP = "hand-valved-three-port"
"""The hookup of the walks where the session's hoses have no red one."""

PORT_NUTS = ("blue_nut", "red_nut", "yellow_nut")
PASSED = ("blue_end", "red_end", "yellow_end", "port_valve", "charge")
"""Tight and open before the step's own turns."""


@dataclass(frozen=True)
class Seen:
    """One step's hookup: what the yellow hose leads to (empty: the charging cylinder), what the
    unit holds (`None`: it runs), what is open already, and what is turned, in order."""

    vessel: str
    holds: UnitHolds | None
    opened: tuple[str, ...]
    turned: tuple[str, ...]
    lines: str
    """The line of the step each turn is in, a digit each."""


SEEN: dict[str, Seen] = {
    "rec_run": Seen("recovery machine", CHARGE, (), ("low", "cylinder_valve", "high"), "223"),
    "wi_pressure": Seen("nitrogen regulator", GAS, (), ("low", "high", "cylinder_valve"), "112"),
    "wi_vacuum": Seen("vacuum pump", GAS, ("low", "high"), ("cylinder_valve",), "3"),
    "wi_break": Seen(
        "",
        NOTHING,
        ("low", "high"),
        ("low", "high", "cylinder_position", "cylinder_valve", "high"),
        "11223",
    ),
    "wi_rest": Seen("", None, ("cylinder_valve",), ("low",), "2"),
}


def picture_of_walk(
    state: State, handbook: Handbook, procedure: Procedure, step: Step
) -> dict[str, Any] | None:
    """The picture of a walk's step, as `hose_picture` shows it; `None` where nothing is turned or
    no refrigerant is known. Which hose holds what is the same in any weather."""
    seen = SEEN.get(step.id)
    table = handbook.tables.get(designation(state.unit_texts))
    if seen is None or table is None:
        return None
    conditions = usual_conditions(table, SEA_LEVEL_PA, withdrawal_of(state))
    if isinstance(conditions, OutOfRange):
        return None
    base = procedure
    if "red" not in [volume.id for volume in procedure.volumes]:
        base = handbook.procedures[OWN_HOOKUP]
    rig = _rig(base, seen.vessel)
    there = _there(conditions, seen)
    settings = _settings(base, there, seen)
    contents = bare(rig, there).contents
    if seen.vessel == "":  # after the vacuum
        contents = {name: Contents(0.0, 0.0, 0.0, there.suction_pa) for name in contents}
    hoses = Hoses(settings, contents, {})
    if seen.holds != NOTHING:
        hoses = settle(rig, there, hoses).hoses
    turned: dict[str, str] = {}
    for i, name in enumerate(seen.turned):
        if name != "cylinder_position" or conditions.withdrawal != DIP_TUBE:
            turned[name] = and_line(turned.get(name, ""), seen.lines[i])
    return {
        "now": draw(rig, there, hoses, (), turned, TURN_RINGED, seen.holds is None),
        "grams": "",
    }


def _rig(base: Procedure, vessel: str) -> Procedure:
    """The hoses with this at the end of the yellow one."""
    if vessel == "":
        return base
    valves: list[Valve] = []
    for valve in base.valves:
        if valve.id == "cylinder_valve":
            valves.append(replace(valve, title=vessel))
        elif valve.kind != POSITION:
            title = valve.title.replace("the cylinder", "the " + vessel)
            valves.append(replace(valve, title=title))
    return replace(base, valves=tuple(valves))


def _there(conditions: Conditions, seen: Seen) -> Conditions:
    if seen.holds is None:
        return conditions
    pressure = conditions.atmosphere_pa
    if seen.holds == CHARGE:
        pressure = unit_off(conditions).suction_pa
    elif seen.holds == NOTHING:
        pressure = VACUUM_PA
    walk = Walk(seen.holds, conditions.atmosphere_pa)
    return replace(with_pressures(conditions, pressure, pressure), walk=walk)


def _settings(base: Procedure, there: Conditions, seen: Seen) -> dict[str, ValveSetting]:
    """All nuts tight, the way to the ports open, the manifold closed but for what is open."""
    found: dict[str, ValveSetting] = {}
    for valve in base.valves:
        found[valve.id] = valve.start
        if valve.kind == POSITION:
            given = seen.holds is None and there.withdrawal != DIP_TUBE
            found[valve.id] = INVERTED if given else UPRIGHT
        elif valve.id in PORT_NUTS:
            found[valve.id] = TIGHT
        elif valve.id in PASSED or valve.id in seen.opened:
            found[valve.id] = OPEN
    return found
