"""What is wrong at a unit that is off, its nitrogen, pump, recovery machine and cylinders."""

from collections.abc import Sequence

from lowside.core.handbook.procedure import (
    CYLINDER,
    LIQUID_LINE,
    NITROGEN,
    PUMP,
    RECOVERY,
    RECOVERY_CYLINDER,
    SUCTION,
    Boundary,
)
from lowside.core.hoses.contents import (
    CHARGE,
    GAS,
    VAPOR_LEFT,
    Conditions,
    Hoses,
    gives_liquid,
)
from lowside.core.hoses.hazard_words import (
    AIR_IN,
    CYLINDER_HELD_OPEN,
    FED_OFF,
    PUMP_UNDER_PRESSURE,
    RECOVERY_DRAWS,
    Hazard,
    boundary_title,
    hazard,
)
from lowside.core.hoses.network import pressure_at

EMPTIED_SHARE = 0.99
PUMP_SHARE = 1.05
"""Of the air's pressure: down to the first a unit counts as emptied to 0 psig, above the second
a vacuum pump is under pressure. Our choice."""


def takes_air(conditions: Conditions, sink: Boundary) -> bool:
    """Whether gas of a hose may go there: into a unit that the pump still has to draw down."""
    walk = conditions.walk
    if walk is None or sink not in (SUCTION, LIQUID_LINE):
        return False
    return walk.holds in (GAS, VAPOR_LEFT)


def below_air(conditions: Conditions, boundary: Boundary) -> bool:
    """Whether air would go in there. A unit that was emptied to 0 psig takes none."""
    pressure = pressure_at(conditions, boundary)
    if conditions.walk is None:
        return pressure <= conditions.atmosphere_pa
    return pressure < EMPTIED_SHARE * conditions.atmosphere_pa


def at_a_vessel(
    conditions: Conditions,
    hoses: Hoses,
    group: Sequence[str],
    names: Sequence[Boundary],
    in_shot: bool,
) -> list[Hazard]:
    """What goes wrong with a unit that is off, its nitrogen, pump, machine and cylinders."""
    found: list[Hazard] = []
    if PUMP in names and _pressed(conditions, hoses, group, names):
        found.append(hazard(PUMP_UNDER_PRESSURE))
    walk = conditions.walk
    if walk is None:
        return found
    unit = [name for name in names if name in (SUCTION, LIQUID_LINE)]
    gas = NITROGEN in names or (walk.holds == GAS and len(unit) > 0)
    for sink in (CYLINDER, RECOVERY, RECOVERY_CYLINDER):
        if gas and sink in names:
            found.append(hazard(AIR_IN, boundary_title(sink)))
    if NITROGEN in names and unit and walk.holds == CHARGE:
        found.append(hazard(AIR_IN, boundary_title(unit[0])))
    if CYLINDER not in names:
        return found
    if RECOVERY in names:
        found.append(hazard(RECOVERY_DRAWS, boundary_title(CYLINDER)))
    if SUCTION in names and gives_liquid(conditions, hoses.settings):
        found.append(hazard(FED_OFF))
    if LIQUID_LINE in names and not in_shot:
        found.append(hazard(CYLINDER_HELD_OPEN))
    return found


def _pressed(
    conditions: Conditions, hoses: Hoses, group: Sequence[str], names: Sequence[Boundary]
) -> bool:
    most = PUMP_SHARE * conditions.atmosphere_pa
    for name in names:
        if pressure_at(conditions, name) > most:
            return True
    return any(hoses.contents[name].pressure_pa > most for name in group)
