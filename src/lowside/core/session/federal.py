"""Federal leak rules of the United States, as far as they say whether a leaking unit may wait.

Read in copies: 40 CFR 82.157 (a), in force since 2020-04-10; 40 CFR 84.106 (a) and (c), in force
since 2026-01-01; 89 FR 82717-82719. That a repair is due within 30 days is from memory. State and
local law is not in here.
"""

from lowside.core.handbook.refrigerants import REFRIGERATION, Refrigerant
from lowside.core.numbers.units import POUND_KG

OZONE_LIMIT_KG = 50.0 * POUND_KG
"""82.157: full charge of 50 lb or more of a class I or II refrigerant or a blend with one."""
HFC_LIMIT_KG = 15.0 * POUND_KG
"""84.106: full charge of 15 lb or more with a regulated HFC, whatever the blend's GWP."""

OZONE_DEPLETING = ("R-22",)
HFCS = ("R-32", "R-125", "R-134a", "R-143a", "R-152a", "R-227ea")
"""Regulated substances among the components of the refrigerants known here."""


def leak_rule(refrigerant: Refrigerant | None, full_charge_kg: float | None, exempt: bool) -> str:
    """The rule under which a known leak may not simply wait; empty when none of these covers it.

    Args:
        refrigerant: `None` when nothing is known of it.
        full_charge_kg: by the labels [kg], `None` when they do not say it.
        exempt: the technician says it is residential or light commercial air conditioning.
    """
    if full_charge_kg is None or refrigerant is None:
        return (
            "Enter the nameplate charge, or the retrofit label’s: the federal leak rules begin at "
            "15 lb (40 CFR 84.106) and 50 lb (40 CFR 82.157)."
        )
    names = [part.designation for part in refrigerant.components]
    if any(name in OZONE_DEPLETING for name in names):
        if full_charge_kg >= OZONE_LIMIT_KG:
            return (
                "40 CFR 82.157 applies: the unit holds 50 lb or more of an ozone-depleting "
                "refrigerant. Work out the leak rate at every addition. Above 10 % a year in "
                "comfort cooling the leak must be repaired."
            )
        return ""
    if not any(name in HFCS for name in names) or full_charge_kg < HFC_LIMIT_KG:
        return ""
    if refrigerant.use == REFRIGERATION:
        return (
            "40 CFR 84.106 applies: the unit holds 15 lb or more of an HFC. Work out the leak "
            "rate at every addition. Above 20 % a year in commercial refrigeration (30 % in "
            "industrial process, 10 % in other equipment) the leak must be repaired."
        )
    if exempt:
        return ""
    return (
        "40 CFR 84.106 applies: the unit holds 15 lb or more of an HFC. Residential and light "
        "commercial air conditioning is exempt (89 FR 82717-82719). Answer that at the checks, "
        "or repair the leak first."
    )
