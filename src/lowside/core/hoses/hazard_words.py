"""What can go wrong at the hoses: each hazard, its sentence and what to do instead."""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.procedure import (
    CYLINDER,
    PUMP,
    RECOVERY,
    RECOVERY_CYLINDER,
    Boundary,
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
    "pump_under_pressure",
    "dead_headed",
    "fed_off",
]

AIR_IN: HazardCode = "air_in"
LIQUID_OUT: HazardCode = "liquid_out"
VAPOR_OUT: HazardCode = "vapour_out"
HIGH_TO_CYLINDER: HazardCode = "high_to_cylinder"
HIGH_TO_SUCTION: HazardCode = "high_to_suction"
UNIT_TO_CYLINDER: HazardCode = "unit_to_cylinder"
LIQUID_HELD_OPEN: HazardCode = "liquid_held_open"
CYLINDER_HELD_OPEN: HazardCode = "cylinder_held_open"
VAPOR_FED: HazardCode = "vapour_fed"
LIQUID_LOCKED: HazardCode = "liquid_locked"
OFF_WITH_LIQUID: HazardCode = "off_with_liquid"
LEFT_BLOWING: HazardCode = "left_blowing"
CYLINDER_LEFT_OPEN: HazardCode = "cylinder_left_open"
HOSE_LEFT_ON: HazardCode = "hose_left_on"
CORE_PRESSED: HazardCode = "core_pressed"
IN_VACUUM: HazardCode = "in_vacuum"
RECOVERY_DRAWS: HazardCode = "recovery_draws"
PUMP_UNDER_PRESSURE: HazardCode = "pump_under_pressure"
DEAD_HEADED: HazardCode = "dead_headed"
FED_OFF: HazardCode = "fed_off"


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
    VAPOR_OUT: (
        "Vapor blows out at the {where}.",
        "Stop. Close the valve behind it, or tighten the nut.",
    ),
    HIGH_TO_CYLINDER: (
        "The high side is open to the cylinder: its pressure would overfill the cylinder.",
        "Close the high-side manifold valve at once.",
    ),
    HIGH_TO_SUCTION: (
        "The high side is open to the suction: liquid floods the compressor.",
        "Close the high-side manifold valve at once.",
    ),
    UNIT_TO_CYLINDER: (
        "The unit’s pressure is above the cylinder’s: refrigerant runs into the cylinder.",
        "Close the low-side manifold valve. Warm the cylinder in warmer air, never with a flame.",
    ),
    LIQUID_HELD_OPEN: (
        "Liquid from the cylinder runs into the suction all the time, not as a shot.",
        "Close the low-side manifold valve. Open it for shots only.",
    ),
    CYLINDER_HELD_OPEN: (
        "The cylinder feeds the unit, and nobody weighs it.",
        "Close the low-side manifold valve.",
    ),
    VAPOR_FED: (
        "The cylinder gives vapor: the shot is slow, and a blend changes its make-up.",
        "Close the low-side manifold valve. Turn the cylinder so liquid comes out.",
    ),
    RECOVERY_DRAWS: (
        "The recovery machine pulls on the {where}, not on the hoses alone.",
        "Close the valve between them before you start the machine.",
    ),
    PUMP_UNDER_PRESSURE: (
        "The vacuum pump is open to pressure: it blows refrigerant out and breaks.",
        "Close the pump’s valve first.",
    ),
    DEAD_HEADED: (
        "The recovery machine pumps into a hose that is closed at its end.",
        "Stop the machine, or open the recovery cylinder’s valve at once.",
    ),
    FED_OFF: (
        "Liquid runs into the suction of a stopped unit and ends up in the compressor.",
        "Close the low-side manifold valve. Feed the liquid line only.",
    ),
    LIQUID_LOCKED: (
        "The {where} is full of liquid and closed at both ends: it bursts when it warms up.",
        "Open a way out at once. Red hose: open to its port again. Else the low-side manifold "
        "valve while the unit runs, the cylinder valve when it is off.",
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


def hazard(code: HazardCode, where: str = "") -> Hazard:
    """The hazard with its sentence; `where` fills the place in it."""
    sentence, cure = TEXTS[code]
    return Hazard(code, sentence.replace("{where}", where), cure)


def boundary_title(boundary: Boundary) -> str:
    """What a sentence calls it."""
    if boundary in (RECOVERY, RECOVERY_CYLINDER):
        return "recovery cylinder"
    if boundary == PUMP:
        return "vacuum pump"
    return "cylinder" if boundary == CYLINDER else "unit"
