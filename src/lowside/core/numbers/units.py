"""Units, at the edges only: text and a unit in, SI out, and back to text for the screen.

Conversions are exact by definition (international avoirdupois pound, 1959; psi and ton of
refrigeration as in NIST SP 811, appendix B).
"""

from dataclasses import dataclass
from typing import Literal

from lowside.core.numbers.arithmetic import (
    POWERS_OF_TEN,
    BadNumber,
    format_decimal,
    nearest,
    parse_decimal,
)

PSI_PA = 6894.757293168
POUND_KG = 0.45359237
OUNCE_KG = POUND_KG / 16.0
INCH_MERCURY_PA = 3386.389
"""Conventional inch of mercury, at 0 °C (NIST SP 811, recalled)."""
INCH_WATER_PA = 249.08891
"""Conventional inch of water, at 4 °C (NIST SP 811, recalled)."""
FOOT_M = 0.3048
INCH_M = 0.0254
TON_W = 3516.8528420667
"""Ton of refrigeration: 12 000 Btu(IT)/h."""
ZERO_CELSIUS_K = 273.15
FAHRENHEIT_OFFSET = 459.67


@dataclass(frozen=True)
class Scale:
    """SI = value * factor + offset; `decimals` is how the screen writes it."""

    factor: float
    offset: float
    decimals: int


GAUGE_PRESSURE: dict[str, Scale] = {
    "psig": Scale(PSI_PA, 0.0, 0),
    "kPa": Scale(1000.0, 0.0, 0),
    "bar": Scale(100000.0, 0.0, 2),
}
"""Gauge pressure [Pa above the site's atmosphere]."""

TEMPERATURE: dict[str, Scale] = {
    "°F": Scale(5.0 / 9.0, FAHRENHEIT_OFFSET * 5.0 / 9.0, 1),
    "°C": Scale(1.0, ZERO_CELSIUS_K, 1),
}
"""Temperature [K]."""

TEMPERATURE_DIFFERENCE: dict[str, Scale] = {
    "°F": Scale(5.0 / 9.0, 0.0, 1),
    "°C": Scale(1.0, 0.0, 1),
}
"""Superheat, subcooling, tolerances [K]."""

IN_WORDS = "lb oz"
"""Unit of a weight typed into one box, as people write it: `23 lb 4.6 oz`, `23-4.6`, `371.2 oz`."""

MASS: dict[str, Scale] = {
    "lb+oz": Scale(POUND_KG, 0.0, 1),
    IN_WORDS: Scale(POUND_KG, 0.0, 1),
    "lb": Scale(POUND_KG, 0.0, 2),
    "oz": Scale(OUNCE_KG, 0.0, 1),
    "kg": Scale(1.0, 0.0, 3),
    "g": Scale(0.001, 0.0, 0),
}
"""Mass [kg]. `lb+oz` takes two numbers, whole pounds and ounces; older entries have it."""

LENGTH: dict[str, Scale] = {
    "ft": Scale(FOOT_M, 0.0, 0),
    "m": Scale(1.0, 0.0, 1),
}
"""Length and elevation [m]."""

HOSE_LENGTH: dict[str, Scale] = {
    "ft": Scale(FOOT_M, 0.0, 1),
    "m": Scale(1.0, 0.0, 2),
}
"""Length of a hose [m]: short, so with one decimal more than `LENGTH`."""

BORE: dict[str, Scale] = {
    "in": Scale(INCH_M, 0.0, 3),
    "mm": Scale(0.001, 0.0, 1),
}
"""Inner diameter of a hose [m]."""

LINE_ADDER: dict[str, Scale] = {
    "oz/ft": Scale(OUNCE_KG / FOOT_M, 0.0, 2),
    "g/m": Scale(0.001, 0.0, 0),
}
"""Charge added per length of line set [kg/m]."""

CAPACITY: dict[str, Scale] = {
    "ton": Scale(TON_W, 0.0, 1),
    "kW": Scale(1000.0, 0.0, 1),
}
"""Cooling capacity [W]."""

RELATIVE_HUMIDITY: dict[str, Scale] = {"%": Scale(0.01, 0.0, 0)}
"""Relative humidity [0..1]."""

AIR_PRESSURE: dict[str, Scale] = {
    "in wc": Scale(INCH_WATER_PA, 0.0, 2),
    "Pa": Scale(1.0, 0.0, 0),
}
"""Static pressure in ducts [Pa above the room]."""

CURRENT: dict[str, Scale] = {"A": Scale(1.0, 0.0, 1)}
"""Electric current [A]."""

DURATION: dict[str, Scale] = {"s": Scale(1.0, 0.0, 0), "min": Scale(60.0, 0.0, 0)}
"""Time [s]."""

VACUUM: dict[str, Scale] = {
    "microns": Scale(0.13332236842105263, 0.0, 0),
    "Pa": Scale(1.0, 0.0, 1),
}
"""Absolute pressure of an evacuated unit [Pa]; 1000 microns are one torr, 101325/760 Pa."""

HOLD: dict[str, Scale] = {"min": Scale(60.0, 0.0, 0)}
"""How long a pressure or a vacuum was held [s]."""

Quantity = Literal[
    "gauge_pressure",
    "temperature",
    "temperature_difference",
    "mass",
    "length",
    "hose_length",
    "bore",
    "line_adder",
    "capacity",
    "relative_humidity",
    "air_pressure",
    "current",
    "duration",
    "vacuum",
    "hold",
]

QUANTITIES: dict[Quantity, dict[str, Scale]] = {
    "gauge_pressure": GAUGE_PRESSURE,
    "temperature": TEMPERATURE,
    "temperature_difference": TEMPERATURE_DIFFERENCE,
    "mass": MASS,
    "length": LENGTH,
    "hose_length": HOSE_LENGTH,
    "bore": BORE,
    "line_adder": LINE_ADDER,
    "capacity": CAPACITY,
    "relative_humidity": RELATIVE_HUMIDITY,
    "air_pressure": AIR_PRESSURE,
    "current": CURRENT,
    "duration": DURATION,
    "vacuum": VACUUM,
    "hold": HOLD,
}


def parse(quantity: Quantity, text: str, unit: str, ounces: str = "") -> float | BadNumber:
    """Read one typed quantity.

    Args:
        quantity: what is measured.
        text: the number as typed.
        unit: the unit shown beside it. Never guessed: an unknown one is refused.
        ounces: second box of `lb+oz`; empty counts as 0 when pounds are given.

    Returns
        The value in SI (see the table of the quantity), or `BadNumber`.
    """
    scales = QUANTITIES[quantity]
    if unit not in scales:
        return BadNumber(f"Choose a unit: {', '.join(scales)}.")
    if unit == IN_WORDS and ounces.strip() == "":
        return _weight_in_words(text)
    value = parse_decimal(text)
    if unit in ("lb+oz", IN_WORDS):
        return _pounds_and_ounces(value, text, ounces)
    if isinstance(value, BadNumber):
        return value
    return value * scales[unit].factor + scales[unit].offset


def show(quantity: Quantity, si: float, unit: str) -> str:
    """The value in `unit` as the screen writes it, without the unit's name (except `lb+oz`)."""
    if quantity == "mass" and unit in ("lb+oz", IN_WORDS):
        return _show_pounds_and_ounces(si)
    scale = QUANTITIES[quantity][unit]
    decimals = scale.decimals
    if unit == "lb" and si < POUND_KG and si > -POUND_KG:
        decimals = 3
    return format_decimal((si - scale.offset) / scale.factor, decimals)


def as_shown(quantity: Quantity, si: float, unit: str) -> float:
    """The value that the screen writes for this one, in SI; not for pounds and ounces."""
    scale = QUANTITIES[quantity][unit]
    tens = POWERS_OF_TEN[scale.decimals]
    steps = nearest(abs((si - scale.offset) / scale.factor) * tens)
    if si < scale.offset:
        steps = -steps
    return steps / tens * scale.factor + scale.offset


def shown_step(quantity: Quantity, unit: str) -> float:
    """The last digit that the screen writes, in SI."""
    scale = QUANTITIES[quantity][unit]
    return scale.factor / POWERS_OF_TEN[scale.decimals]


def label(quantity: Quantity, si: float, unit: str) -> str:
    """The value with its unit, for sentences: `118 psig`, `21 lb 4.5 oz`, `−5 psig (10 inHg)`."""
    text = show(quantity, si, unit)
    if unit in ("lb+oz", IN_WORDS):
        return text
    if unit == "%":
        return text + unit
    text = text + " " + unit
    if unit == "psig" and si < 0.0:
        text = text + " (" + format_decimal(-si / INCH_MERCURY_PA, 0) + " inHg)"
    return text


def limit_label(quantity: Quantity, limit: float, unit: str, most: bool) -> str:
    """A limit as the last figure within it that the screen can write: what is named is taken."""
    plain = "oz" if unit in ("lb+oz", IN_WORDS) else unit
    shown = as_shown(quantity, limit, plain)
    step = shown_step(quantity, plain)
    if most and shown > limit:
        shown = shown - step
    elif not most and shown < limit:
        shown = shown + step
    return label(quantity, shown, unit)


def _pounds_and_ounces(
    pounds: float | BadNumber, pounds_text: str, ounces_text: str
) -> float | BadNumber:
    if pounds_text.strip() == "" and ounces_text.strip() != "":
        pounds = 0.0
    if isinstance(pounds, BadNumber):
        return pounds
    if ounces_text.strip() == "":
        return pounds * POUND_KG
    ounces = parse_decimal(ounces_text)
    if isinstance(ounces, BadNumber):
        return ounces
    if ounces < 0.0 or pounds < 0.0:
        return BadNumber("Pounds and ounces cannot be negative. Type the weight as shown.")
    if ounces >= 16.0:
        return BadNumber("Ounces go up to 15.9. Carry the rest into pounds.")
    if pounds != float(int(pounds)):
        return BadNumber("Type whole pounds when you also give ounces, or leave ounces empty.")
    return pounds * POUND_KG + ounces * OUNCE_KG


_POUNDS = ("lb", "lbs", "#")
_OUNCES = ("oz",)
_UNCLEAR = "Pounds or ounces? Type it like 23 lb 4.6 oz, 23-4.6 or 371.2 oz."


def _weight_in_words(text: str) -> float | BadNumber:
    """A weight as written: a bare number other than 0 could be either unit and is not guessed."""
    body = text.strip().lower()
    negative = body != "" and body[0] in "-\u2212"
    parts = _parts_of(body[1:] if negative or body.startswith("+") else body)
    value = _weight_of(parts, text)
    if isinstance(value, BadNumber):
        return value
    return -value if negative and value != 0.0 else value


def _parts_of(body: str) -> list[str]:
    """Numbers and words apart: `23lb 4.6 oz` is `23`, `lb`, `4.6`, `oz`. A dash is a blank."""
    parts: list[str] = []
    kind = ""
    for character in body:
        now = "word"
        if character in "0123456789.,":
            now = "number"
        elif character in " \t\u00a0\u202f-\u2212\u2013":
            now = ""
        if now != "" and now == kind:
            parts[len(parts) - 1] = parts[len(parts) - 1] + character
        elif now != "":
            parts.append(character)
        kind = now
    return parts


def _weight_of(parts: list[str], text: str) -> float | BadNumber:
    if not parts:
        return parse_decimal(text)
    pounds = parse_decimal(parts[0])
    if isinstance(pounds, BadNumber):
        return pounds
    if len(parts) == 1:
        return 0.0 if pounds == 0.0 else BadNumber(_UNCLEAR)
    if len(parts) == 2 and parts[1] in _OUNCES:
        return pounds * OUNCE_KG
    if len(parts) == 2 and parts[1] in _POUNDS:
        return pounds * POUND_KG
    rest = parts[2:] if parts[1] in _POUNDS else parts[1:]
    ounces_end = len(rest) == 1 or (len(rest) == 2 and rest[1] in _OUNCES)
    thousands = len(rest[0]) > 2 and rest[0][0] == "0" and rest[0][1] in "0123456789"
    if ounces_end and not thousands and rest[0][0] in "0123456789.,":
        return _pounds_and_ounces(pounds, parts[0], rest[0])
    return BadNumber(_UNCLEAR)


def _show_pounds_and_ounces(si: float) -> str:
    tenths = int(nearest(abs(si) / OUNCE_KG * 10.0))
    sign = "\u2212" if si < 0 and tenths != 0 else ""
    pounds = tenths // 160
    ounces = format_decimal(float(tenths - pounds * 160) / 10.0, 1) + " oz"
    if pounds == 0:
        return sign + ounces
    return sign + str(pounds) + " lb " + ounces
