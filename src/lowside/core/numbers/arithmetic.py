"""The only numeric primitives the core uses, so that the phone gets the same bits.

`exp`, `log`, `pow`, `round` and the printf family differ between CPython and V8 in the last bits;
the four operations, `sqrt`, `floor` and comparisons do not. So numbers are parsed from digits,
formatted from digits, and everything transcendental is a table.
"""

from dataclasses import dataclass
from math import floor, sqrt

POWERS_OF_TEN = (1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12)
"""Exact in binary floating point."""

MAX_DIGITS = 15
"""A decimal of at most this many digits is an exact integer over an exact power of ten."""

_SPACES = " \t\n\r\u00a0\u202f"


@dataclass(frozen=True)
class BadNumber:
    """Text that is not a number Lowside accepts; `reason` is a sentence for the user."""

    reason: str


def parse_decimal(text: str) -> float | BadNumber:
    """Read a number exactly as a technician types it.

    Accepts an optional sign, ASCII digits and one decimal point or comma. No exponent, no
    thousands separator: `5,280` could be 5.28 or 5280, so it is refused rather than guessed.

    Returns
        The nearest double to the decimal typed, or `BadNumber` with what to do about it.
    """
    body = text.strip(_SPACES)
    if body == "":
        return BadNumber("Nothing entered. Type a number.")
    if len(body) <= len(POWERS_OF_TEN):  # most numbers are digits, or digits around a point
        rest = body.strip("0123456789")
        if rest == "":
            return int(body) / 1.0
        if rest == "." and body != ".":
            parts = body.split(".")
            return int(parts[0] + parts[1]) / POWERS_OF_TEN[len(parts[1])]
    negative = False
    if body[0] in "+-\u2212":
        negative = body[0] != "+"
        body = body[1:]
    whole, separator, fraction = _split_at_separator(body)
    if whole + fraction == "" or not _all_digits(whole + fraction):
        return BadNumber(
            f"“{text.strip(_SPACES)}” is not a number. Type it alone, like 118 or 54.5. "
            "Its unit is beside the box."
        )
    if separator == "," and len(fraction) == 3 and whole not in ("", "0"):
        return BadNumber(
            f"“{text.strip(_SPACES)}” can be read two ways. Type {whole}{fraction} "
            f"or {whole}.{fraction}."
        )
    if len(whole) + len(fraction) > MAX_DIGITS or len(fraction) >= len(POWERS_OF_TEN):
        return BadNumber("Too many digits. Type the number as the instrument shows it.")
    value = int(whole + fraction) / POWERS_OF_TEN[len(fraction)]
    return -value if negative and value != 0.0 else value


def format_decimal(value: float, decimals: int) -> str:
    """Write `value` with `decimals` digits after the point, halves away from zero.

    Raises
        ValueError: the value is not finite or too large to write exactly (a programming error:
        out-of-range values never reach formatting).
    """
    scaled = nearest(abs(value) * POWERS_OF_TEN[decimals])
    if not scaled < 9007199254740992:
        raise ValueError("the number is too large to write")
    digits = str(int(scaled))
    while len(digits) <= decimals:
        digits = "0" + digits
    sign = "\u2212" if value < 0 and scaled != 0 else ""
    if decimals == 0:
        return sign + digits
    cut = len(digits) - decimals
    return sign + digits[:cut] + "." + digits[cut:]


def nearest(value: float) -> float:
    """The nearest whole number, a half upward."""
    return float(floored(value + 0.5))


def floored(value: float) -> int:
    """The largest whole number that is not above it."""
    return floor(value)


def to_step(value: float, step: float) -> float:
    """The nearest whole number of steps; `step` above 0."""
    return nearest(value / step) * step


def segment(grid: tuple[float, ...], x: float) -> int:
    """Index `i` with `grid[i] <= x <= grid[i + 1]` for an increasing grid that covers `x`."""
    low = 0
    high = len(grid) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if grid[middle] <= x:
            low = middle
        else:
            high = middle
    return low


def hermite(
    grid: tuple[float, ...],
    values: tuple[float, ...],
    slopes: tuple[float, ...],
    x: float,
    i: int,
) -> float:
    """Cubic Hermite value at `x` in segment `i` (see `segment`). The caller checks the range."""
    width = grid[i + 1] - grid[i]
    t = (x - grid[i]) / width
    u = 1.0 - t
    return (
        values[i] * (1.0 + 2.0 * t) * u * u
        + slopes[i] * width * t * u * u
        + values[i + 1] * (3.0 - 2.0 * t) * t * t
        - slopes[i + 1] * width * t * t * u
    )


def linear(grid: tuple[float, ...], values: tuple[float, ...], x: float) -> float:
    """Straight-line interpolation in a table that covers `x`."""
    i = segment(grid, x)
    t = (x - grid[i]) / (grid[i + 1] - grid[i])
    return values[i] + (values[i + 1] - values[i]) * t


def square_root(value: float) -> float:
    """Correctly rounded on both sides."""
    return sqrt(value)


def _split_at_separator(body: str) -> tuple[str, str, str]:
    for i, character in enumerate(body):
        if character in ".,":
            return body[:i], character, body[i + 1 :]
    return body, "", ""


def _all_digits(text: str) -> bool:
    return text.strip("0123456789") == ""
