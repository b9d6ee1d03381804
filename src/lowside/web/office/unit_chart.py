"""A unit over its visits as drawings: where each mark, line and label is.

The tables beside the drawings hold the same values. Positions are in the drawing's own units. A
narrow phone shows one a pixel.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lowside.core.numbers.units import POUND_KG
from lowside.core.office.dates import day_text
from lowside.core.office.leak_rate import Addition
from lowside.core.office.visits import Visit
from lowside.core.session.ledger import ROUNDING_KG

WIDTH, HEIGHT = 340.0, 210.0
LEFT, RIGHT, TOP, BOTTOM = 36.0, 14.0, 24.0, 26.0
MARK = 4.0
"""Half of a mark, and of a bar's width."""
LINES = 5
"""Lines across, about."""
LABELED = 6
"""With more bars than these their amounts would run into each other."""
SERIES = (("superheat", "Superheat"), ("subcooling", "Subcooling"), ("approach", "Approach"))
DEGREES_A_KELVIN = 1.8
"""Of a difference [°F/K]."""
STEPS = (1.0, 2.0, 5.0)


def added_chart(additions: Sequence[Addition]) -> dict[str, Any] | None:
    """What each visit added, as bars over time; `None` when nothing was."""
    moved = [one for one in additions if abs(one.kg) > ROUNDING_KG]
    if not moved:
        return None
    pounds = [one.kg / POUND_KG for one in moved]
    upward = _upward(pounds, 0.0)
    across = _across([one.day for one in moved])
    bars = []
    for one, amount in zip(moved, pounds, strict=True):
        ends = sorted((upward.at(0.0), upward.at(amount)))
        bars.append(
            {
                "x": _written(across.at(one.day) - MARK),
                "y": _written(ends[0]),
                "width": _written(2.0 * MARK),
                "height": _written(ends[1] - ends[0]),
                "middle": _written(across.at(one.day)),
                "above": _written(ends[0] - 4.0),
                "label": f"{amount:.1f}" if len(moved) <= LABELED else "",
            }
        )
    count = "1 visit" if len(moved) == 1 else f"{len(moved)} visits"
    said = f"Charge added at {count}, in pounds. The table below has each amount."
    return _frame(upward, across, "lb", said) | {"bars": bars}


def readings_chart(visits: Sequence[Visit]) -> dict[str, Any] | None:
    """Superheat, subcooling and approach at visits in similar weather; `None` with fewer than two
    such visits, which have nothing to compare."""
    alike = [one for one in visits if one.similar]
    lines: list[tuple[str, str, list[tuple[int, float]]]] = []
    for code, name in SERIES:
        values = [(one.day, _kelvin(one, code)) for one in alike]
        points = [(day, k * DEGREES_A_KELVIN) for day, k in values if k is not None]
        if points:
            lines.append((code, name, points))
    days = {day for _, _, points in lines for day, _ in points}
    if len(days) < 2:
        return None
    upward = _upward([value for _, _, points in lines for _, value in points], 0.0)
    across = _across(sorted(days))
    said = (
        f"{', '.join(name for _, name, _ in lines)} in °F at {len(alike)} visits in similar "
        "weather. The table below has each value."
    )
    return _frame(upward, across, "°F", said) | {
        "lines": [
            {
                "code": code,
                "name": name,
                "path": " ".join(
                    f"{_written(across.at(day))},{_written(upward.at(value))}"
                    for day, value in points
                ),
                "marks": [_mark(code, across.at(day), upward.at(value)) for day, value in points],
            }
            for code, name, points in lines
        ]
    }


@dataclass(frozen=True)
class _Scale:
    """A value's place along one side of the drawing."""

    low: float
    high: float
    first: float
    last: float
    step: float = 0.0

    def at(self, value: float) -> float:
        if self.high == self.low:
            return (self.first + self.last) / 2.0
        share = (value - self.low) / (self.high - self.low)
        return self.first + share * (self.last - self.first)


def _upward(values: Sequence[float], always: float) -> _Scale:
    """Whole steps around every value and the value that is always shown."""
    low, high = min(*values, always), max(*values, always)
    rough = max((high - low) / LINES, 0.1)
    ten = 10.0 ** math.floor(math.log10(rough))
    step = next((ten * each for each in STEPS if ten * each >= rough), ten * 10.0)
    low, high = math.floor(low / step) * step, math.ceil(high / step) * step
    return _Scale(low, max(high, low + step), HEIGHT - BOTTOM, TOP, step)


def _across(days: Sequence[int]) -> _Scale:
    return _Scale(min(days), max(days), LEFT + 3.0 * MARK, WIDTH - RIGHT - 3.0 * MARK)


def _frame(upward: _Scale, across: _Scale, unit: str, said: str) -> dict[str, Any]:
    decimals = 0 if upward.step >= 1.0 else 1
    count = round((upward.high - upward.low) / upward.step)
    levels = [upward.low + i * upward.step for i in range(count + 1)]
    ends = sorted({int(across.low), int(across.high)})
    return {
        "said": said,
        "bars": [],
        "lines": [],
        "unit": unit,
        "box": f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        "left": _written(LEFT),
        "right": _written(WIDTH - RIGHT),
        "levels": [
            {
                "y": _written(upward.at(level)),
                "text_y": _written(upward.at(level) + 4.0),
                "text": f"{level:.{decimals}f}".replace("-", "−"),
                "zero": abs(level) < upward.step / 2.0,
            }
            for level in levels
        ],
        "label_x": _written(LEFT - 5.0),
        "label_y": _written(HEIGHT - 6.0),
        "days": [
            {
                "text": day_text(day),
                "x": _written(across.at(day)),
                "anchor": "middle" if len(ends) == 1 else "start" if day == ends[0] else "end",
            }
            for day in ends
        ],
    }


def _mark(code: str, x: float, y: float) -> dict[str, str]:
    """Circle, square or triangle: told apart without their color."""
    if code == "superheat":
        return {"x": _written(x), "y": _written(y), "points": ""}
    if code == "subcooling":
        corners: tuple[tuple[float, float], ...]
        corners = ((-MARK, -MARK), (MARK, -MARK), (MARK, MARK), (-MARK, MARK))
    else:
        corners = ((0.0, -MARK - 1.0), (MARK + 1.0, MARK), (-MARK - 1.0, MARK))
    points = " ".join(f"{_written(x + dx)},{_written(y + dy)}" for dx, dy in corners)
    return {"x": "", "y": "", "points": points}


def _kelvin(one: Visit, code: str) -> float | None:
    if code == "superheat":
        return one.superheat_k
    return one.subcooling_k if code == "subcooling" else one.approach_k


def _written(value: float) -> str:
    return f"{value:.1f}"
