"""What is wrong with a turn of a valve, and with how the hoses are left after a step.

Judged from the open ways and the pressures alone, before anything moves, so a warning comes at
the moment of danger and not after it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CLOSED,
    CYLINDER,
    GATE,
    HOSE,
    INVERTED,
    LIQUID_LINE,
    LOOSE,
    NUT,
    OFF,
    OUTSIDE,
    RECOVERY,
    SUCTION,
    TIGHT,
    Boundary,
    Procedure,
    ValveSetting,
)
from lowside.core.hoses.contents import (
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

HazardCode = Literal[
    "air_in",
    "liquid_out",
    "vapour_out",
    "high_to_cylinder",
    "high_to_suction",
    "unit_to_cylinder",
    "liquid_held_open",
    "cylinder_held_open",
    "vapour_fed",
    "liquid_locked",
    "off_with_liquid",
    "left_blowing",
    "cylinder_left_open",
    "hose_left_on",
    "core_pressed",
    "in_vacuum",
    "recovery_draws",
]

AIR_IN: HazardCode = "air_in"
LIQUID_OUT: HazardCode = "liquid_out"
VAPOUR_OUT: HazardCode = "vapour_out"
HIGH_TO_CYLINDER: HazardCode = "high_to_cylinder"
HIGH_TO_SUCTION: HazardCode = "high_to_suction"
UNIT_TO_CYLINDER: HazardCode = "unit_to_cylinder"
LIQUID_HELD_OPEN: HazardCode = "liquid_held_open"
CYLINDER_HELD_OPEN: HazardCode = "cylinder_held_open"
VAPOUR_FED: HazardCode = "vapour_fed"
LIQUID_LOCKED: HazardCode = "liquid_locked"
OFF_WITH_LIQUID: HazardCode = "off_with_liquid"
LEFT_BLOWING: HazardCode = "left_blowing"
CYLINDER_LEFT_OPEN: HazardCode = "cylinder_left_open"
HOSE_LEFT_ON: HazardCode = "hose_left_on"
CORE_PRESSED: HazardCode = "core_pressed"
IN_VACUUM: HazardCode = "in_vacuum"
RECOVERY_DRAWS: HazardCode = "recovery_draws"

FULL_SHARE = 0.8
"""A shut-in hose filled with liquid beyond this share has no room left for it to expand; the
share is the usual filling limit of cylinders."""


@dataclass(frozen=True)
class Hazard:
    """Something that hurts people, the unit or the air, what it is and what to do instead."""

    code: HazardCode
    sentence: str
    cure: str


TEXTS: dict[HazardCode, tuple[str, str]] = {
    CORE_PRESSED: (
        "The {where} is loose and still presses the core: liquid sprays out.",
        "Tighten it at once, gloves on. Start a nut by one turn only, or leave it off.",
    ),
    IN_VACUUM: (
        "The suction is at or below atmospheric pressure: {where} pulls air in.",
        "Touch no nut. Close the low-side manifold valve, stop the unit and find the cause.",
    ),
    AIR_IN: (
        "Air goes into the {where}.",
        "Stop. First blow the air out with vapor at a loose nut.",
    ),
    LIQUID_OUT: (
        "Liquid sprays out at the {where}.",
        "Stop. Close its valves, then clear the liquid to suction.",
    ),
    VAPOUR_OUT: (
        "Vapor blows out at the {where}.",
        "Stop. Close the valve behind it, or tighten the nut.",
    ),
    HIGH_TO_CYLINDER: (
        "The high side is open to the cylinder: its pressure would overfill the cylinder.",
        "Close the high-side manifold valve before you open the cylinder valve.",
    ),
    HIGH_TO_SUCTION: (
        "The high side is open to the suction: liquid floods the compressor.",
        "Close the valve at the red hose’s end before you open both manifold valves.",
    ),
    UNIT_TO_CYLINDER: (
        "The unit’s pressure is above the cylinder’s: refrigerant runs into the cylinder.",
        "Close the low-side manifold valve. Let the cylinder warm up in the air, never with a "
        "flame.",
    ),
    LIQUID_HELD_OPEN: (
        "Liquid from the cylinder runs into the suction all the time, not as a shot.",
        "Close the low-side manifold valve. Open it for shots only.",
    ),
    CYLINDER_HELD_OPEN: (
        "The cylinder feeds the unit, and nobody weighs it.",
        "Close the low-side manifold valve.",
    ),
    VAPOUR_FED: (
        "The cylinder gives vapor: the shot is slow, and a blend changes its make-up.",
        "Close the low-side manifold valve. Turn the cylinder so liquid comes out.",
    ),
    RECOVERY_DRAWS: (
        "The recovery machine pulls on the {where}, not on the hoses alone.",
        "Close the valve between them before you start the machine.",
    ),
    LIQUID_LOCKED: (
        "The {where} is full of liquid and closed at both ends: it bursts when it warms up.",
        "Open a way out at once: the low-side manifold valve while the unit runs, the cylinder "
        "valve when it is off.",
    ),
    OFF_WITH_LIQUID: (
        "The {where} is off its port with liquid inside.",
        "Do not open it. Clear it to suction through the manifold first.",
    ),
    LEFT_BLOWING: (
        "The {where} still leaks refrigerant.",
        "Tighten it before you go on.",
    ),
    CYLINDER_LEFT_OPEN: (
        "The cylinder valve is not closed, or the cylinder is not upright.",
        "Close its valve and set it upright.",
    ),
    HOSE_LEFT_ON: (
        "The {where} is still on.",
        "Clear the hose to suction, close it and take it off.",
    ),
}


def hazards_of_turn(
    procedure: Procedure,
    conditions: Conditions,
    before: Hoses,
    settings: Mapping[str, ValveSetting],
    in_shot: bool,
) -> list[Hazard]:
    """What goes wrong the moment the valves stand as in `settings`.

    Args:
        before: contents as they are, with any settings.
        in_shot: a metered shot is being given, so liquid may run into the suction.
    """
    found = _at_the_nuts(procedure, conditions, before.settings, settings)
    ways = links(procedure, settings)
    for group in groups(procedure, ways):
        joined = junctions(group, ways)
        names = boundaries_of(joined)
        found.extend(_joined_wrongly(conditions, settings, names, in_shot))
        if OUTSIDE in names:
            found.extend(_blown_out(procedure, conditions, before, settings, group, names, ways))
        where = _air_goes_to(conditions, before, group, joined, ways)
        if where is not None:
            found.append(hazard(AIR_IN, _boundary_title(where)))
    for way in ways:
        for boundary in BOUNDARIES:
            if way.a == boundary and way.b == OUTSIDE:
                liquid = phase_from(conditions, settings, boundary) == LIQUID
                code = LIQUID_OUT if liquid else VAPOUR_OUT
                if pressure_at(conditions, boundary) <= conditions.atmosphere_pa:
                    found.append(hazard(AIR_IN, _boundary_title(boundary)))
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
        if OUTSIDE in names and (SUCTION in names or LIQUID_LINE in names or CYLINDER in names):
            found.append(hazard(LEFT_BLOWING, _leak_title(procedure, group, ways)))
    found.extend(_off_with_liquid(procedure, hoses))
    if last:
        found.extend(_left_behind(procedure, hoses))
    return _once(found)


def hazard(code: HazardCode, where: str = "") -> Hazard:
    """The hazard with its sentence; `where` fills the place in it."""
    sentence, cure = TEXTS[code]
    return Hazard(code, sentence.replace("{where}", where), cure)


def valve_title(procedure: Procedure, valve_id: str) -> str:
    """What the valve is called."""
    for valve in procedure.valves:
        if valve.id == valve_id:
            return valve.title
    return valve_id


def _at_the_nuts(
    procedure: Procedure,
    conditions: Conditions,
    before: Mapping[str, str],
    settings: Mapping[str, str],
) -> list[Hazard]:
    """Nuts that press a live liquid core while loose, and nuts moved while the unit is in a vacuum:
    one that is loosened anywhere, or one that goes onto the suction port."""
    found: list[Hazard] = []
    vacuum = conditions.suction_pa <= conditions.atmosphere_pa
    for valve in procedure.valves:
        if valve.kind != NUT:
            continue
        now = settings[valve.id]
        if valve.core and valve.b == LIQUID_LINE and now == LOOSE:
            found.append(hazard(CORE_PRESSED, valve.title))
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
    liquid = gives_liquid(conditions, settings)
    if LIQUID_LINE in names and CYLINDER in names:
        found.append(hazard(HIGH_TO_CYLINDER))
    if LIQUID_LINE in names and SUCTION in names:
        found.append(hazard(HIGH_TO_SUCTION))
    if RECOVERY in names:
        for name in names:
            if name in (SUCTION, LIQUID_LINE, CYLINDER):
                found.append(hazard(RECOVERY_DRAWS, _boundary_title(name)))
    if SUCTION in names and CYLINDER in names:
        if conditions.cylinder_pa <= conditions.suction_pa:
            found.append(hazard(UNIT_TO_CYLINDER))
        elif in_shot and not liquid:
            found.append(hazard(VAPOUR_FED))
        elif not in_shot:
            found.append(hazard(LIQUID_HELD_OPEN if liquid else CYLINDER_HELD_OPEN))
    return found


def _blown_out(
    procedure: Procedure,
    conditions: Conditions,
    before: Hoses,
    settings: Mapping[str, ValveSetting],
    group: Sequence[str],
    names: Sequence[Boundary],
    ways: Sequence[Link],
) -> list[Hazard]:
    liquid = False
    for name in group:
        liquid = liquid or before.contents[name].liquid_kg > TRACE_KG
    fed = False
    for name in names:
        liquid = liquid or phase_from(conditions, settings, name) == LIQUID
        fed = fed or name != OUTSIDE
    if liquid:
        return [hazard(LIQUID_OUT, _leak_title(procedure, group, ways))]
    for way in ways:
        if way.b == OUTSIDE and way.a in group and settings[way.valve] == OFF and fed:
            return [hazard(VAPOUR_OUT, valve_title(procedure, way.valve))]
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
    for entry in joined:
        for leaving in joined:
            if leaving.boundary != sink or entry.boundary == sink:
                continue
            if entry.boundary == OUTSIDE:
                return sink
            if sink != RECOVERY and _any_air(before, way_through(entry, leaving, ways)):
                return sink
    if sink == RECOVERY:
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


def _boundary_title(boundary: Boundary) -> str:
    if boundary == RECOVERY:
        return "recovery cylinder"
    return "cylinder" if boundary == CYLINDER else "unit"


def _once(found: Sequence[Hazard]) -> list[Hazard]:
    kept: list[Hazard] = []
    for one in found:
        if one not in kept:
            kept.append(one)
    return kept
