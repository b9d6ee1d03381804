"""Units and readings for the tests of the charge: built from superheat and subcooling, in °F."""

from dataclasses import replace

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import bubble_temperature, dew_temperature
from lowside.core.handbook.system import BY_CHART, BY_SUBCOOLING, FIXED, TXV, Reading, System
from lowside.core.judging.findings import Finding, Unknown
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import PSI_PA

STANDARD_PA = 101325.0
DEGREE = 5.0 / 9.0
"""One degree Fahrenheit as a difference [K]."""

VALVE_UNIT = System("R-410A", TXV, BY_SUBCOOLING, STANDARD_PA, maker_subcooling_k=10.0 * DEGREE)
FIXED_UNIT = System("R-22", FIXED, BY_CHART, STANDARD_PA)


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) * 5.0 / 9.0


def pascal(psig: float) -> float:
    return psig * PSI_PA + STANDARD_PA


def dew_of(handbook: Handbook, refrigerant: str, psig: float) -> float:
    found = dew_temperature(handbook.tables[refrigerant], pascal(psig))
    assert isinstance(found, float)
    return found


def bubble_of(handbook: Handbook, refrigerant: str, psig: float) -> float:
    found = bubble_temperature(handbook.tables[refrigerant], pascal(psig))
    assert isinstance(found, float)
    return found


def reading_of(
    handbook: Handbook,
    system: System,
    superheat: float,
    subcooling: float,
    suction: float = 130.0,
    liquid: float = 370.0,
    **others: float,
) -> Reading:
    """A reading with this superheat and subcooling [°F] at these pressures [psig]; `others` are
    fields of `Reading` in SI."""
    return replace(
        Reading(
            suction_pressure_pa=pascal(suction),
            suction_line_k=dew_of(handbook, system.refrigerant, suction) + superheat * DEGREE,
            liquid_pressure_pa=pascal(liquid),
            liquid_line_k=bubble_of(handbook, system.refrigerant, liquid) - subcooling * DEGREE,
        ),
        **others,
    )


def summer(outdoor: float = 95.0, dry: float = 78.0, wet: float = 66.0) -> dict[str, float]:
    """Air within every method's limits [°F in, K out]."""
    return {
        "outdoor_dry_bulb_k": kelvin(outdoor),
        "return_dry_bulb_k": kelvin(dry),
        "return_wet_bulb_k": kelvin(wet),
    }


NOTHING = Reading(None, None, None, None)
UNKNOWN = Unknown(Finding("x", "shows"))
US = UnitChoice("psig", "°F", "lb+oz", "ft")


def lines_read() -> Reading:
    """A reading with all four instruments on the lines."""
    return Reading(1.0e6, 285.0, 2.5e6, 310.0)


def codes(found: list[Finding]) -> list[str]:
    return [each.code for each in found]


def air(outdoor: float | None = None, indoor: float | None = None, **rest: float) -> Reading:
    """Air in °F."""
    return replace(
        NOTHING,
        outdoor_dry_bulb_k=None if outdoor is None else kelvin(outdoor),
        return_dry_bulb_k=None if indoor is None else kelvin(indoor),
        **rest,
    )


def facts_of(finding: Finding) -> dict[str, float]:
    """The figures of a finding."""
    return {each.name: each.value for each in finding.facts if each.quantity != "text"}
