"""The chart: a published two-way table with holes where the publisher gives no value."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from lowside.core.numbers.arithmetic import segment
from lowside.core.numbers.units import TEMPERATURE, TEMPERATURE_DIFFERENCE

WhyNoValue = Literal["beyond", "hole"]

BEYOND: WhyNoValue = "beyond"
"""Past the chart's first or last row or column."""
HOLE: WhyNoValue = "hole"
"""A corner needed to interpolate has no value in the chart."""

TARGET_SUPERHEAT = "target_superheat"
"""The chart with rows by outdoor air entering the condenser, dry bulb; columns by return air, wet
bulb."""
TARGET_SPLIT = "target_split"
"""Return minus supply air. Rows: return air, dry bulb; columns: return air, wet bulb."""

ON_LINE = 1.0e-6
"""Share of a cell closer than which a point lies on the grid line: units converted there and back
must not pull in a neighbor that has no value."""


@dataclass(frozen=True)
class Chart:
    """Temperature differences [K] over two temperatures [K]; `None` where the chart has none."""

    name: str
    source: str
    rows_k: tuple[float, ...]
    columns_k: tuple[float, ...]
    values_k: tuple[tuple[float | None, ...], ...]


@dataclass(frozen=True)
class NoValue:
    """The chart does not say."""

    code: WhyNoValue


def chart_from(data: Mapping[str, Any]) -> Chart:
    """Read one chart of `data/charts.json`, converting from the unit it was published in."""
    unit = data["unit"]
    difference = TEMPERATURE_DIFFERENCE[unit].factor
    return Chart(
        name=data["name"],
        source=data["source"],
        rows_k=_kelvins(data["row_values"], unit),
        columns_k=_kelvins(data["column_values"], unit),
        values_k=tuple(
            tuple(None if value is None else value * difference for value in row)
            for row in data["values"]
        ),
    )


def look_up(chart: Chart, row_k: float, column_k: float) -> float | NoValue:
    """The chart's value at (`row_k`, `column_k`) [K], straight lines between cells.

    Only corners that carry weight are asked: on a grid line two, on a cell one. When one of them
    has no value there is no value: a hole never shrinks by interpolation.
    """
    rows = chart.rows_k
    columns = chart.columns_k
    i = segment(rows, row_k)
    j = segment(columns, column_k)
    u = _share(rows, row_k, i)
    v = _share(columns, column_k, j)
    if not (0.0 <= u <= 1.0 and 0.0 <= v <= 1.0):
        return NoValue(BEYOND)
    total = 0.0
    for value, weight in (
        (chart.values_k[i][j], (1.0 - u) * (1.0 - v)),
        (chart.values_k[i + 1][j], u * (1.0 - v)),
        (chart.values_k[i][j + 1], (1.0 - u) * v),
        (chart.values_k[i + 1][j + 1], u * v),
    ):
        if weight > 0.0:
            if value is None:
                return NoValue(HOLE)
            total = total + value * weight
    return total


def edge(grid: tuple[float, ...], x: float) -> float:
    """The point of the grid's span nearest to `x`."""
    if x < grid[0]:
        return grid[0]
    if x > grid[-1]:
        return grid[-1]
    return x


def _kelvins(values: Sequence[float], unit: str) -> tuple[float, ...]:
    scale = TEMPERATURE[unit]
    return tuple(value * scale.factor + scale.offset for value in values)


def _share(grid: tuple[float, ...], x: float, i: int) -> float:
    """How far `x` lies into segment `i` [0..1], exactly 0 or 1 within `ON_LINE` of its ends."""
    share = (x - grid[i]) / (grid[i + 1] - grid[i])
    if abs(share) < ON_LINE:
        return 0.0
    if abs(share - 1.0) < ON_LINE:
        return 1.0
    return share
