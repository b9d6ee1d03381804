"""Which hoses are open to one another and to what, with the valves as they are."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CYLINDER,
    HANDWHEEL,
    LIQUID_LINE,
    LOOSE,
    MACHINE_OUT,
    NITROGEN,
    NUT,
    OFF,
    OPEN,
    OUTSIDE,
    PUMP,
    RECOVERY_CYLINDER,
    SUCTION,
    TIGHT,
    Boundary,
    Procedure,
    Valve,
    ValveSetting,
)
from lowside.core.hoses.contents import (
    AIR,
    CHARGE,
    GAS,
    LIQUID,
    VAPOR,
    Conditions,
    Phase,
    gives_liquid,
)

VACUUM_PA = 66.66
"""500 microns, as deep as a unit is pulled (READ: 507919-01 p. 10)."""
MACHINE_SHARE = 1.3
"""A recovery machine's outlet above the recovery cylinder. Our choice: it only has to be higher."""


@dataclass(frozen=True)
class Link:
    """An open way between two places; `throttle`: narrow enough to hold a pressure difference."""

    a: str
    b: str
    valve: str
    throttle: bool


@dataclass(frozen=True)
class Junction:
    """Where a group of hoses is joined to something; `entry` is the hose, `valve` the joint."""

    boundary: Boundary
    entry: str
    valve: str


def pressure_at(conditions: Conditions, boundary: Boundary) -> float:
    """Pressure [Pa absolute] of what the hoses are joined to.

    A recovery machine pulls to that of the air.
    """
    if boundary == SUCTION:
        return conditions.suction_pa
    if boundary == LIQUID_LINE:
        return conditions.liquid_pa
    if boundary in (CYLINDER, RECOVERY_CYLINDER):
        return conditions.cylinder_pa
    if boundary == MACHINE_OUT:
        return MACHINE_SHARE * conditions.cylinder_pa
    if boundary == PUMP:
        return VACUUM_PA
    if boundary == NITROGEN and conditions.walk is not None:
        return conditions.walk.nitrogen_pa
    return conditions.atmosphere_pa


def phase_from(
    conditions: Conditions, settings: Mapping[str, ValveSetting], boundary: Boundary
) -> Phase:
    """What comes out of it."""
    walk = conditions.walk
    if boundary in (OUTSIDE, NITROGEN):
        return AIR
    if boundary == MACHINE_OUT and walk is not None and walk.machine_liquid:
        return LIQUID
    if walk is not None and walk.holds != CHARGE and boundary in (SUCTION, LIQUID_LINE):
        return AIR if walk.holds == GAS else VAPOR
    if boundary == LIQUID_LINE:
        return LIQUID
    if boundary == CYLINDER:
        return LIQUID if gives_liquid(conditions, settings) else VAPOR
    return VAPOR


def links(procedure: Procedure, settings: Mapping[str, ValveSetting]) -> list[Link]:
    """Every open way with the valves as they are."""
    found: list[Link] = []
    for valve in procedure.valves:
        if valve.kind == HANDWHEEL and settings[valve.id] == OPEN:
            found.append(Link(valve.a, valve.b, valve.id, True))
        elif valve.kind == NUT and not _is_elsewhere(procedure, settings, valve):
            found.extend(_nut_links(valve, settings))
    return found


def _is_elsewhere(procedure: Procedure, settings: Mapping[str, ValveSetting], nut: Valve) -> bool:
    """The hose's end is off this port because it is on another one."""
    if settings[nut.id] != OFF or nut.b not in BOUNDARIES:
        return False
    for other in procedure.valves:
        # Few share the hose's end, so that is asked first: this runs more often than all else.
        same_end = other.a == nut.a and other.kind == NUT and other.b in BOUNDARIES
        if same_end and settings[other.id] != OFF:
            return True
    return False


def _nut_links(nut: Valve, settings: Mapping[str, ValveSetting]) -> list[Link]:
    tight = settings[nut.id] == TIGHT
    pressed = tight or settings[nut.id] == LOOSE
    a_open = _all_open(nut.a_gates, settings) and (tight or not nut.self_closing)
    b_open = nut.b != "" and _all_open(nut.b_gates, settings) and (pressed or not nut.core)
    if tight:
        return [Link(nut.a, nut.b, nut.id, False)] if a_open and b_open else []
    found: list[Link] = []
    if a_open and b_open and settings[nut.id] == LOOSE:
        found.append(Link(nut.a, nut.b, nut.id, False))
    if a_open:
        found.append(Link(nut.a, OUTSIDE, nut.id, True))
    if b_open:
        found.append(Link(nut.b, OUTSIDE, nut.id, True))
    return found


def _all_open(gates: Sequence[str], settings: Mapping[str, ValveSetting]) -> bool:
    # Quicker than `all`, and asked more often than anything else here.
    for gate in gates:  # noqa: SIM110
        if settings[gate] != OPEN:
            return False
    return True


def groups(procedure: Procedure, ways: Sequence[Link]) -> list[list[str]]:
    """Hoses and chambers open to one another, in the procedure's order."""
    names = [volume.id for volume in procedure.volumes]
    between = [way for way in ways if way.a in names and way.b in names]
    placed: list[str] = []
    found: list[list[str]] = []
    for name in names:
        if name in placed:
            continue
        group = reach(name, between)
        placed.extend(group)
        found.append([n for n in names if n in group])
    return found


def junctions(group: Sequence[str], ways: Sequence[Link]) -> list[Junction]:
    """Everything a group is joined to, in the order of `BOUNDARIES`."""
    outward: list[Link] = []
    outers: list[str] = []
    for way in ways:
        if way.a in group:
            outer = way.b
        elif way.b in group:
            outer = way.a
        else:
            continue
        if outer in BOUNDARIES:
            outward.append(way)
            outers.append(outer)
    found: list[Junction] = []
    for boundary in BOUNDARIES:
        # Few are met, so that is asked first: this runs very often.
        if boundary in outers:
            for name in group:
                for i, way in enumerate(outward):
                    if outers[i] == boundary and name in (way.a, way.b):
                        found.append(Junction(boundary, name, way.valve))
    return found


def boundaries_of(joined: Sequence[Junction]) -> list[Boundary]:
    """The boundaries of these junctions, each once, in their order."""
    found: list[Boundary] = []
    for junction in joined:
        if junction.boundary not in found:
            found.append(junction.boundary)
    return found


def way_through(entry: Junction, leaving: Junction, ways: Sequence[Link]) -> list[str]:
    """Hoses a stream blows through between two junctions; none when the two are no through way.

    A stream cannot leave a hose at the very joint it came in by: a nut that is loose at the
    manifold leaks beside the hose behind it and does not blow it out.
    """
    if entry.valve == leaving.valve:
        return []
    open_ways = [w for w in ways if w.valve not in (entry.valve, leaving.valve)]
    return path(entry.entry, leaving.entry, open_ways)


def beside(name: str, ways: Sequence[Link]) -> list[str]:
    """What a hose is joined to directly."""
    return [way.b if way.a == name else way.a for way in ways if name in (way.a, way.b)]


def path(start: str, end: str, ways: Sequence[Link]) -> list[str]:
    """Hoses and chambers from `start` to `end`, both included; none when there is no way."""
    came_from: dict[str, str] = {start: ""}
    queue = [start]
    for name in queue:
        for other in beside(name, ways):
            if other not in BOUNDARIES and other not in came_from:
                came_from[other] = name
                queue.append(other)
    if end not in came_from:
        return []
    steps = [end]
    while came_from[steps[0]] != "":
        steps = [came_from[steps[0]], *steps]
    return steps


def reach(start: str, ways: Sequence[Link]) -> list[str]:
    """Hoses and chambers reachable from one, nearest first."""
    found = [start]
    for name in found:
        for other in beside(name, ways):
            if other not in BOUNDARIES and other not in found:
                found.append(other)
    return found
