"""The questions about safety that more than one form asks."""

from lowside.core.handbook.fields import yes_no

QUALIFIED = yes_no("qualified", "I hold the license this work needs here")
PROTECTED = yes_no("protected", "Gloves and eye protection on")
FLAMMABLE_FIELDS = (
    yes_no("flammable_detector", "Flammable: detector for this refrigerant at hand and on", False),
    yes_no("flammable_air", "Flammable: ventilated, no ignition source within reach", False),
    yes_no("flammable_ground", "Flammable: unit grounded, gear bonded to it", False),
    yes_no("flammable_gear", "Flammable: hoses, scale and recovery gear rated for it", False),
    yes_no("flammable_covers", "Flammable: covers on all live electrical parts", False),
)
"""Asked only where the refrigerant burns; there each needs an answer."""
