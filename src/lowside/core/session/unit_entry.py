"""Whether capacity and charge of a unit go together: a slip here makes every shot too large."""

from lowside.core.handbook.fields import Fields
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.numbers.units import POUND_KG, TON_W

LEAST_PER_TON_KG = 0.5 * POUND_KG
LEAST_PER_TON_SMALL_KG = 0.3 * POUND_KG
MOST_PER_TON_KG = 12.0 * POUND_KG
"""Charge a ton of cooling. Nameplates give about 2 to 4 lb, small microchannel units 1, large
multi-splits with long lines up to 10 (common practice, no source); wider here, to catch slips. A
unit too small for its tons to be a model number may hold less (our choice)."""
PLATE_FROM_W = 12.5 * TON_W
"""A larger unit is asked for its nameplate charge: 18 to 60 typed as tons are 1.5 to 5 tons of a
model number in thousands of Btu/h. Our choice."""


def check_unit(fields: Fields, choice: UnitChoice, problems: dict[str, str]) -> None:
    """Adds a sentence beside a field that cannot hold, or would not be used."""
    if "retrofit_charge" in fields.numbers and "retrofit_refrigerant" not in fields.texts:
        problems["retrofit_refrigerant"] = "Choose one."
    capacity = fields.numbers.get("capacity")
    if capacity is None or "capacity" in problems:
        return
    if capacity > PLATE_FROM_W and "nameplate_charge" not in fields.numbers:
        problems["nameplate_charge"] = (
            f"{label('capacity', capacity, choice)}? A 36 in a model number is 36,000 Btu/h, 3 "
            "tons. For a unit this large type the nameplate charge too."
        )
    tons = capacity / TON_W
    least = LEAST_PER_TON_KG if capacity > PLATE_FROM_W else LEAST_PER_TON_SMALL_KG
    for name in ("nameplate_charge", "retrofit_charge"):
        charge = fields.numbers.get(name)
        if charge is None:
            continue
        if charge < least * tons or charge > MOST_PER_TON_KG * tons:
            problems[name] = (
                f"{label('mass', charge, choice)} does not go with "
                f"{label('capacity', capacity, choice)}. Units hold 1 to 10 lb a ton. Check both "
                "numbers and their units: 36,000 Btu/h are 3 tons."
            )
