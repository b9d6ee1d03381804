"""Pairs of numbers that do not go together in cooling, and a coil that may be iced.

Such a reading is kept, but nothing is added on it and no later figure is made of it. What no
reading can be is in `plausibility.py`.
"""

from lowside.core.handbook.saturation import OutOfRange, PropertyTable, bubble_temperature
from lowside.core.handbook.system import Reading
from lowside.core.judging.conditions import (
    FREEZING_K,
    SLACK_K,
    SUCTION_GAUGE_PA,
    thermometer_error,
)
from lowside.core.judging.findings import REFUSE, Fact, Finding, Unknown
from lowside.core.judging.plausibility import WET_ABOVE_DRY, WET_AGAINST_HUMIDITY
from lowside.core.judging.targets import FAHRENHEIT_DEGREE_K

LINE_WARMS_K = 3.0 * FAHRENHEIT_DEGREE_K
LINE_WARMS_SHARE = 1.0 / 3.0
"""Suction gas leaves the coil no warmer than return air (physics). From there its line warms it by
a few degrees in an attic or in the sun, or by this share of the way to warmer outdoor air: 100 ft
of bare 7/8 in line at half the usual flow comes out at about a quarter (COMPUTED). Our choice."""
COIL_BELOW_RETURN_K = 10.0 * FAHRENHEIT_DEGREE_K
"""Low-side saturation is at least this far below return air in a unit that cools. Manufacturers'
tables come out at 28 to 30 °F (COMPUTED from READ); the limit is our choice."""
ICED_SUPERHEAT_K = 20.0 * FAHRENHEIT_DEGREE_K
"""Below freezing, less superheat than this is that of a coil without air, as with ice on it; a coil
that missing charge freezes has more (READ: 8 to 12 °F normal, 25 to 30 undercharged, U-5 IOM p.
17). The limit between them is our choice."""
ICED_AT_FREEZING_K = 10.0 * FAHRENHEIT_DEGREE_K
ICED_PER_K = 5.0
"""The fins are a few degrees warmer than the refrigerant (common practice, no source): right below
freezing only the superheat of a fed coil says ice, and for each degree colder five more. Our
choice. By the midpoint too: the first rows of a wide-glide coil are colder still, but by them a
sound one at 38 °F in the middle would be refused."""

APART = (
    "line_above_air",
    "coil_near_return",
    "supply_below_coil",
    WET_ABOVE_DRY,
    WET_AGAINST_HUMIDITY,
)
"""Codes of findings that say which numbers of a reading do not go together. A liquid line below
outdoor air is none of them: a restriction before the clamp cools it."""


def do_not_go_together(
    reading: Reading, coil_k: float | None, coldest_k: float | None
) -> list[Finding]:
    """Two numbers that cannot both be right.

    Args:
        reading: temperatures of air and lines.
        coil_k: midpoint at suction pressure [K]; `None` when not known.
        coldest_k: the coldest the coil can be at that pressure, the gauge's error allowed [K].
    """
    found: list[Finding] = []
    indoor = reading.return_dry_bulb_k
    if indoor is None:
        return found
    line = reading.suction_line_k
    air = Fact("return_air", "temperature", indoor)
    if line is not None:
        warms = LINE_WARMS_K
        if reading.outdoor_dry_bulb_k is not None:
            warms = max(warms, LINE_WARMS_SHARE * (reading.outdoor_dry_bulb_k - indoor))
        if line > indoor + warms + thermometer_error(line) + thermometer_error(indoor):
            fact = Fact("suction_line", "temperature", line)
            found.append(Finding("line_above_air", REFUSE, (fact, air)))
    if coil_k is not None and coil_k > indoor - COIL_BELOW_RETURN_K + SLACK_K:
        fact = Fact("coil", "temperature", coil_k)
        found.append(Finding("coil_near_return", REFUSE, (fact, air)))
    supply = reading.supply_dry_bulb_k
    if supply is None or coldest_k is None or supply >= coldest_k - thermometer_error(supply):
        return found
    facts = (Fact("supply", "temperature", supply), Fact("coil", "temperature", coldest_k))
    found.append(Finding("supply_below_coil", REFUSE, facts))
    return found


def coldest(table: PropertyTable, reading: Reading) -> float | None:
    """Where the coil begins to boil at the lowest suction pressure its gauge allows [K]."""
    if reading.suction_pressure_pa is None:
        return None
    found = bubble_temperature(table, reading.suction_pressure_pa - SUCTION_GAUGE_PA)
    return None if isinstance(found, OutOfRange) else found


def iced(coil_k: float | None, superheat: float | Unknown) -> Finding | None:
    """Why a low side below freezing blocks adding: by its superheat the coil lacks air."""
    if coil_k is None or isinstance(superheat, Unknown) or coil_k >= FREEZING_K - SLACK_K:
        return None
    limit = ICED_AT_FREEZING_K + ICED_PER_K * (FREEZING_K - coil_k)
    if superheat >= min(limit, ICED_SUPERHEAT_K) - SLACK_K:
        return None
    value = Fact("superheat", "temperature_difference", superheat)
    return Finding("iced", REFUSE, (Fact("coil", "temperature", coil_k), value))


def apart(findings: tuple[Finding, ...]) -> bool:
    """Whether a reading says so of two of its numbers."""
    return len([each for each in findings if each.code in APART]) > 0
