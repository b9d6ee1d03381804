"""What is wrong with a turn of a valve, and with how the hoses are left after a step.

Judged from the open ways and the pressures alone, before anything moves, so a warning comes at
the moment of danger and not after it.
"""

from collections.abc import Mapping, Sequence

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
    NUT,
    OFF,
    OUTSIDE,
    PUMP,
    RECOVERY,
    RECOVERY_CYLINDER,
    SUCTION,
    TIGHT,
    Boundary,
    Procedure,
    ValveSetting,
)
from lowside.core.hoses.contents import (
    AIR,
    CHARGE,
    LIQUID,
    TRACE_KG,
    Conditions,
    Contents,
    Hoses,
    filling_of,
    gives_liquid,
    liquid_at,
    volumes_of,
)
from lowside.core.hoses.hazard_words import (
    AIR_IN,
    CORE_PRESSED,
    CYLINDER_HELD_OPEN,
    CYLINDER_LEFT_OPEN,
    DEAD_HEADED,
    HIGH_TO_CYLINDER,
    HIGH_TO_SUCTION,
    HOSE_LEFT_ON,
    IN_VACUUM,
    LEFT_BLOWING,
    LIQUID_HELD_OPEN,
    LIQUID_LOCKED,
    LIQUID_OUT,
    OFF_WITH_LIQUID,
    RECOVERY_DRAWS,
    UNIT_TO_CYLINDER,
    VAPOR_FED,
    VAPOR_OUT,
    Hazard,
    boundary_title,
    hazard,
)
from lowside.core.hoses.network import (
    Junction,
    Link,
    boundaries_of,
    groups,
    junctions,
    links,
    path,
    phase_from,
    pressure_at,
    way_through,
)
from lowside.core.hoses.vessels import at_a_vessel, below_air, takes_air

FULL_SHARE = 0.8
"""A closed-off hose filled with liquid beyond this share has no room left for it to expand; the
share is the usual filling limit of cylinders."""


def hazards_of_turn(
    procedure: Procedure,
    conditions: Conditions,
    before: Hoses,
    settings: Mapping[str, ValveSetting],
    in_shot: bool,
) -> list[Hazard]:
    """What goes wrong the moment the valves are as in `settings`.

    Args:
        before: contents as they are, with any settings.
        in_shot: a metered shot is being given, so liquid may run into the suction.
    """
    found = _at_the_nuts(procedure, conditions, before.settings, settings)
    now = Hoses(settings, before.contents, before.received_kg)
    ways = links(procedure, settings)
    for group in groups(procedure, ways):
        joined = junctions(group, ways)
        names = boundaries_of(joined)
        found.extend(_joined_wrongly(conditions, settings, names, in_shot))
        if OUTSIDE in names:
            found.extend(_blown_out(procedure, conditions, now, group, ways))
        where = _air_goes_to(conditions, before, group, joined, ways)
        if where is not None:
            found.append(hazard(AIR_IN, boundary_title(where)))
        found.extend(at_a_vessel(conditions, now, group, names, in_shot))
    for way in ways:
        for boundary in BOUNDARIES:
            if way.a == boundary and way.b == OUTSIDE:
                phase = phase_from(conditions, settings, boundary)
                liquid = phase == LIQUID
                code = LIQUID_OUT if liquid else VAPOR_OUT
                if phase == AIR:
                    continue
                if below_air(conditions, boundary):
                    found.append(hazard(AIR_IN, boundary_title(boundary)))
                else:
                    found.append(hazard(code, valve_title(procedure, way.valve)))
    return _once(found)


def hazards_at_rest(
    procedure: Procedure, conditions: Conditions, hoses: Hoses, last: bool
) -> list[Hazard]:
    """What is wrong with leaving the valves so when a step is done; `last`: hoses should be off."""
    found: list[Hazard] = []
    ways = links(procedure, hoses.settings)
    sizes = volumes_of(procedure, conditions)
    for group in groups(procedure, ways):
        joined = junctions(group, ways)
        names = boundaries_of(joined)
        if not names and _brim_full(conditions, hoses.contents, sizes, group):
            found.append(hazard(LIQUID_LOCKED, _hose_title(procedure, group)))
        if names == [MACHINE_OUT]:
            found.append(hazard(DEAD_HEADED))
        fed = [
            name
            for name in names
            if name in (SUCTION, LIQUID_LINE, CYLINDER, MACHINE_OUT, RECOVERY_CYLINDER)
            and phase_from(conditions, hoses.settings, name) != AIR
        ]
        if OUTSIDE in names and fed:
            found.append(hazard(LEFT_BLOWING, _leak_title(procedure, group, ways)))
    found.extend(_off_with_liquid(procedure, hoses))
    if last:
        found.extend(_left_behind(procedure, hoses))
    return _once(found)


def valve_title(procedure: Procedure, valve_id: str) -> str:
    """What the valve is called."""
    for valve in procedure.valves:
        if valve.id == valve_id:
            return valve.title
    return valve_id


def _at_the_nuts(
    procedure: Procedure,
    conditions: Conditions,
    before: Mapping[str, ValveSetting],
    settings: Mapping[str, ValveSetting],
) -> list[Hazard]:
    """Nuts that press a live liquid core while loose, and nuts moved while the unit is in a vacuum:
    one that is loosened anywhere, or one that goes onto the suction port."""
    found: list[Hazard] = []
    walk = conditions.walk
    vacuum = below_air(conditions, SUCTION)
    for valve in procedure.valves:
        if valve.kind != NUT:
            continue
        now = settings[valve.id]
        live = walk is None or walk.holds == CHARGE
        if live and valve.core and valve.b == LIQUID_LINE and now == LOOSE:
            found.append(hazard(CORE_PRESSED, valve.title))
        if walk is not None and valve.b not in (SUCTION, LIQUID_LINE):
            continue
        if vacuum and now != before[valve.id]:
            if before[valve.id] == TIGHT or (before[valve.id] == LOOSE and now != TIGHT):
                found.append(hazard(IN_VACUUM, "loosening the " + valve.title))
            elif valve.b == SUCTION:
                found.append(hazard(IN_VACUUM, "screwing on the " + valve.title))
    return found


def _joined_wrongly(
    conditions: Conditions,
    settings: Mapping[str, ValveSetting],
    names: Sequence[Boundary],
    in_shot: bool,
) -> list[Hazard]:
    found: list[Hazard] = []
    if conditions.walk is not None:
        return found
    liquid = gives_liquid(conditions, settings)
    if LIQUID_LINE in names and CYLINDER in names:
        found.append(hazard(HIGH_TO_CYLINDER))
    if LIQUID_LINE in names and SUCTION in names:
        found.append(hazard(HIGH_TO_SUCTION))
    if RECOVERY in names:
        for name in names:
            if name in (SUCTION, LIQUID_LINE, CYLINDER):
                found.append(hazard(RECOVERY_DRAWS, boundary_title(name)))
    if SUCTION in names and CYLINDER in names:
        if conditions.cylinder_pa <= conditions.suction_pa:
            found.append(hazard(UNIT_TO_CYLINDER))
        elif in_shot and not liquid:
            found.append(hazard(VAPOR_FED))
        elif not in_shot:
            found.append(hazard(LIQUID_HELD_OPEN if liquid else CYLINDER_HELD_OPEN))
    return found


def _blown_out(
    procedure: Procedure,
    conditions: Conditions,
    now: Hoses,
    group: Sequence[str],
    ways: Sequence[Link],
) -> list[Hazard]:
    """What leaves a group that is open to the air."""
    liquid = False
    for name in group:
        liquid = liquid or now.contents[name].liquid_kg > TRACE_KG
    fed = False
    for name in boundaries_of(junctions(group, ways)):
        phase = phase_from(conditions, now.settings, name)
        liquid = liquid or phase == LIQUID
        fed = fed or phase != AIR
    if liquid:
        return [hazard(LIQUID_OUT, _leak_title(procedure, group, ways))]
    for way in ways:
        if way.b == OUTSIDE and way.a in group and now.settings[way.valve] == OFF and fed:
            return [hazard(VAPOR_OUT, valve_title(procedure, way.valve))]
    return []


def _air_goes_to(
    conditions: Conditions,
    before: Hoses,
    group: Sequence[str],
    joined: Sequence[Junction],
    ways: Sequence[Link],
) -> Boundary | None:
    """Unit or cylinder into which air is pushed; `None` when none."""
    if not joined:
        return None
    sink = joined[0].boundary
    for junction in joined:
        if pressure_at(conditions, junction.boundary) < pressure_at(conditions, sink):
            sink = junction.boundary
    if sink == OUTSIDE:
        return None
    pressure = pressure_at(conditions, sink)
    drawn_off = sink in (RECOVERY, PUMP) or takes_air(conditions, sink)
    for entry in joined:
        for leaving in joined:
            if leaving.boundary != sink or entry.boundary == sink:
                continue
            if entry.boundary == OUTSIDE and not takes_air(conditions, sink):
                return sink
            if not drawn_off and _any_air(before, way_through(entry, leaving, ways)):
                return sink
    if drawn_off:
        # What is recovered goes to reclaim, never back: a hose's trace of air is no danger there.
        return None
    leavings = [junction.entry for junction in joined if junction.boundary == sink]
    for name in group:
        contents = before.contents[name]
        higher = contents.pressure_pa > pressure * (1.0 + 1.0e-9)
        boils = contents.liquid_kg > 0.0 and pressure < conditions.cylinder_pa
        if (higher or boils) and _any_air(before, path(name, leavings[0], ways)):
            return sink
    return None


def _any_air(before: Hoses, names: Sequence[str]) -> bool:
    return any(before.contents[name].air > 0.0 for name in names)


def _brim_full(
    conditions: Conditions,
    contents: Mapping[str, Contents],
    sizes: Mapping[str, float],
    group: Sequence[str],
) -> bool:
    filled = 0.0
    room = 0.0
    for name in group:
        filled = filled + contents[name].liquid_kg / liquid_at(
            conditions.densities, contents[name].pressure_pa
        )
        room = room + sizes[name]
    return filled > FULL_SHARE * room


def _off_with_liquid(procedure: Procedure, hoses: Hoses) -> list[Hazard]:
    found: list[Hazard] = []
    for volume in procedure.volumes:
        ports = [v for v in procedure.valves if v.a == volume.id and v.b in BOUNDARIES]
        off = [valve for valve in ports if hoses.settings[valve.id] == OFF]
        if ports and len(off) == len(ports) and filling_of(hoses.contents[volume.id]) == LIQUID:
            found.append(hazard(OFF_WITH_LIQUID, volume.title))
    return found


def _left_behind(procedure: Procedure, hoses: Hoses) -> list[Hazard]:
    found: list[Hazard] = []
    for valve in procedure.valves:
        now = hoses.settings[valve.id]
        if valve.kind == NUT and valve.b in BOUNDARIES and now != OFF:
            found.append(hazard(HOSE_LEFT_ON, valve.title))
        if valve.kind == GATE and valve.id == "cylinder_valve" and now != CLOSED:
            found.append(hazard(CYLINDER_LEFT_OPEN))
        if valve.id == "cylinder_position" and now == INVERTED:
            found.append(hazard(CYLINDER_LEFT_OPEN))
    for volume in procedure.volumes:
        if filling_of(hoses.contents[volume.id]) == LIQUID:
            found.append(hazard(OFF_WITH_LIQUID, volume.title))
    return found


def _leak_title(procedure: Procedure, group: Sequence[str], ways: Sequence[Link]) -> str:
    for way in ways:
        if way.b == OUTSIDE and way.a in group:
            return valve_title(procedure, way.valve)
    return ""


def _hose_title(procedure: Procedure, group: Sequence[str]) -> str:
    """The first hose of the group, or its first chamber."""
    for volume in procedure.volumes:
        if volume.id in group and volume.kind == HOSE:
            return volume.title
    for volume in procedure.volumes:
        if volume.id in group:
            return volume.title
    return ""


def _once(found: Sequence[Hazard]) -> list[Hazard]:
    kept: list[Hazard] = []
    for one in found:
        if one not in kept:
            kept.append(one)
    return kept
