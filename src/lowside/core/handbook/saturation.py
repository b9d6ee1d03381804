"""Saturation: dew, bubble and the densities and enthalpies on both, read from a property table.

A table is a grid, even in the fourth root of absolute pressure, with one value a point for each
property; between points the cubic Hermite of `arithmetic.hermite`, with slopes from the values of
five neighboring points (`even_slopes`). How tables are made and how far off they are:
`docs/numbers.md`. Outside a table the answer is `OutOfRange`, never an extrapolation.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lowside.core.numbers.arithmetic import hermite, segment, square_root

BISECTIONS = 50
"""Halvings of the pressure range when a pressure is sought: leaves less than 1e-9 Pa of it."""

RULE_COLUMNS = ("bubble_k", "dew_k", "liquid_density", "vapour_density")
"""What the rules ask a table for [K, K, kg/m³, kg/m³]. A phone is sent no more."""
COLUMNS = (*RULE_COLUMNS, "liquid_enthalpy", "vapour_enthalpy", "vapour_heat_capacity")
"""What a table holds at each pressure; the last three [J/kg, J/kg, J/(kg K)] are for simulated
units. The names are part of a table's version, which sessions have on record, so they keep their
spelling."""


@dataclass(frozen=True)
class OutOfRange:
    """A value nobody has numbers for. `quantity` is its name (`pressure`, `temperature`,
    `elevation`, `humidity`), `value` and the limits are in SI."""

    quantity: str
    value: float
    lowest: float
    highest: float


@dataclass(frozen=True)
class Column:
    """One property on the grid: its values and its slopes by the grid's coordinate."""

    values: tuple[float, ...]
    slopes: tuple[float, ...]


@dataclass(frozen=True)
class PropertyTable:
    """One refrigerant, from `lowest_pa` to `highest_pa` [Pa absolute].

    `grid` is the fourth root of pressure [Pa^¼], increasing and even; `columns` has a `Column` for
    each name it was read with.
    """

    refrigerant: str
    lowest_pa: float
    highest_pa: float
    grid: tuple[float, ...]
    columns: Mapping[str, Column]


def table_from(data: Mapping[str, Any], names: Sequence[str]) -> PropertyTable:
    """The table as the tables file holds it.

    Args:
        data: `refrigerant`, `lowest_pa`, `highest_pa`, `count` and the value lists of the columns.
        names: the columns to read, `COLUMNS` or `RULE_COLUMNS`.

    Raises
        ValueError: a column is missing or has another length than `count`.
    """
    name = str(data["refrigerant"])
    lowest = float(data["lowest_pa"])
    highest = float(data["highest_pa"])
    count = int(data["count"])
    if count < 5 or not 0.0 < lowest < highest:
        raise ValueError("The table of " + name + " has no usable grid.")
    first = fourth_root(lowest)
    step = (fourth_root(highest) - first) / (count - 1)
    columns: dict[str, Column] = {}
    for column in names:
        values = tuple(float(value) for value in data[column])
        if len(values) != count:
            raise ValueError("The table of " + name + " has the wrong length in " + column + ".")
        columns[column] = Column(values, even_slopes(values, step))
    grid = tuple(first + step * i for i in range(count))
    return PropertyTable(name, lowest, highest, grid, columns)


def dew_temperature(table: PropertyTable, pressure_pa: float) -> float | OutOfRange:
    """Temperature [K] at which vapor at `pressure_pa` [Pa absolute] starts to condense.

    Superheat is the suction line's temperature above this.
    """
    return _at_pressure(table, "dew_k", pressure_pa)


def bubble_temperature(table: PropertyTable, pressure_pa: float) -> float | OutOfRange:
    """Temperature [K] at which liquid at `pressure_pa` [Pa absolute] starts to boil.

    Subcooling is the liquid line's temperature below this.
    """
    return _at_pressure(table, "bubble_k", pressure_pa)


def dew_pressure(table: PropertyTable, temperature_k: float) -> float | OutOfRange:
    """Absolute pressure [Pa] at which vapor at `temperature_k` [K] starts to condense."""
    return _at_temperature(table, "dew_k", temperature_k)


def bubble_pressure(table: PropertyTable, temperature_k: float) -> float | OutOfRange:
    """Absolute pressure [Pa] at which liquid at `temperature_k` [K] starts to boil: what a
    cylinder at rest with liquid in it shows."""
    return _at_temperature(table, "bubble_k", temperature_k)


def liquid_density(table: PropertyTable, pressure_pa: float) -> float | OutOfRange:
    """Density [kg/m³] of boiling liquid at `pressure_pa` [Pa absolute]."""
    return _at_pressure(table, "liquid_density", pressure_pa)


def vapor_density(table: PropertyTable, pressure_pa: float) -> float | OutOfRange:
    """Density [kg/m³] of vapor at its dew point at `pressure_pa` [Pa absolute]."""
    return _at_pressure(table, "vapour_density", pressure_pa)


def liquid_enthalpy(table: PropertyTable, pressure_pa: float) -> float | OutOfRange:
    """Enthalpy [J/kg] of boiling liquid; 200 kJ/kg at 0 °C. Only differences mean anything."""
    return _at_pressure(table, "liquid_enthalpy", pressure_pa)


def vapor_enthalpy(table: PropertyTable, pressure_pa: float) -> float | OutOfRange:
    """Enthalpy [J/kg] of vapor at its dew point, on the scale of `liquid_enthalpy`."""
    return _at_pressure(table, "vapour_enthalpy", pressure_pa)


def vapor_heat_capacity(table: PropertyTable, pressure_pa: float) -> float | OutOfRange:
    """Heat capacity at constant pressure [J/(kg K)] of vapor at its dew point."""
    return _at_pressure(table, "vapour_heat_capacity", pressure_pa)


def fourth_root(value: float) -> float:
    """Two square roots: the grid's coordinate."""
    return square_root(square_root(value))


def _at_pressure(table: PropertyTable, name: str, pressure_pa: float) -> float | OutOfRange:
    if not table.lowest_pa <= pressure_pa <= table.highest_pa:
        return OutOfRange("pressure", pressure_pa, table.lowest_pa, table.highest_pa)
    column = table.columns[name]
    root = fourth_root(pressure_pa)
    return hermite(table.grid, column.values, column.slopes, root, segment(table.grid, root))


def _at_temperature(table: PropertyTable, name: str, temperature_k: float) -> float | OutOfRange:
    column = table.columns[name]
    coldest = column.values[0]
    hottest = column.values[len(column.values) - 1]
    if not coldest <= temperature_k <= hottest:
        return OutOfRange("temperature", temperature_k, coldest, hottest)
    i = segment(column.values, temperature_k)
    low = table.grid[i]
    high = table.grid[i + 1]
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        if hermite(table.grid, column.values, column.slopes, middle, i) <= temperature_k:
            low = middle
        else:
            high = middle
    pressure = low * low * low * low
    if pressure < table.lowest_pa:
        return table.lowest_pa
    if pressure > table.highest_pa:
        return table.highest_pa
    return pressure


def even_slopes(values: Sequence[float], step: float) -> tuple[float, ...]:
    """Slopes on an even grid from five points: central inside, one-sided at the two points of
    each end (fourth order; Abramowitz and Stegun, table 25.2)."""
    n = len(values)
    slopes = []
    for i in range(n):
        k = i - 2
        k = max(k, 0)
        k = min(k, n - 5)
        a, b, c, d, e = values[k], values[k + 1], values[k + 2], values[k + 3], values[k + 4]
        if i == k + 2:
            rise = a - 8.0 * b + 8.0 * d - e
        elif i == k:
            rise = -25.0 * a + 48.0 * b - 36.0 * c + 16.0 * d - 3.0 * e
        elif i == k + 1:
            rise = -3.0 * a - 10.0 * b + 18.0 * c - 6.0 * d + e
        elif i == k + 3:
            rise = 3.0 * e + 10.0 * d - 18.0 * c + 6.0 * b - a
        else:
            rise = 25.0 * e - 48.0 * d + 36.0 * c - 16.0 * b + 3.0 * a
        slopes.append(rise / (12.0 * step))
    return tuple(slopes)
