"""Makes property tables from sweeps, and measures how far each is from CoolProp."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

from lowside.core.handbook.saturation import (
    COLUMNS,
    OutOfRange,
    PropertyTable,
    bubble_temperature,
    dew_temperature,
    fourth_root,
    liquid_density,
    liquid_enthalpy,
    table_from,
    vapor_density,
    vapor_enthalpy,
    vapor_heat_capacity,
)
from lowside.thermo.coolprop import BUBBLE, DEW, Mixture, Point, version, water_saturation_pa
from lowside.thermo.sweep import STEP_K, Sweep, SweepError, curve, sweep

Components = tuple[tuple[str, float], ...]
"""Designation and mass share [%] of each component."""

POINTS = 56
TOLERANCE_K = 0.01
PROPERTY_TOLERANCE = 0.002
"""Largest relative deviation of densities, and of enthalpies by latent heat."""
HEAT_CAPACITY_TOLERANCE = 0.01
"""Heat capacity grows without end toward the critical point. Only estimates use it."""

COLD_K = 228.15
"""-45 °C. Every table's dew starts here or colder, so -40 °C is inside."""
VACUUM_PA = 55000.0
"""Every table also starts below the thinnest air of any site, so zero on the gauge is inside."""
COLDEST_K = 200.0
"""No table goes below this. A refrigerant that freezes above it (R-744) starts just above its
triple point."""
HIGHEST_SHARE = 0.905
"""Upper end as a share of `Mixture.ceiling_pa`, so 0.9 of the critical pressure is inside."""
REQUIRED_K = 233.15
REQUIRED_SHARE = 0.9

CHECK_OFFSET_K = 0.19
"""`check` asks CoolProp at temperatures that the build did not use."""

AT_ZERO_ENTHALPY = 200000.0
"""Enthalpy [J/kg] of boiling liquid at 0 °C, as in most refrigerant tables."""

WATER_LOWEST_K = 274.15
WATER_STEP_K = 1.0
WATER_POINTS = 60


@dataclass(frozen=True)
class Report:
    """One refrigerant's table against CoolProp.

    `bubble_error_k`, `dew_error_k`: largest deviation [K] over `points` CoolProp points.
    `property_error`, `heat_capacity_error`: largest relative deviation of densities and enthalpies,
    and of heat capacity. `failed`: points that CoolProp did not find on its own. `rescued`: how
    many of them it found from a neighbor. `dropped`: points that were not believed. `refusal`:
    why there is no table; empty when there is one and it is in spec.
    """

    refrigerant: str
    lowest_pa: float = 0.0
    highest_pa: float = 0.0
    lowest_dew_k: float = 0.0
    highest_dew_k: float = 0.0
    ceiling_pa: float = 0.0
    points: int = 0
    bubble_error_k: float = 0.0
    dew_error_k: float = 0.0
    property_error: float = 0.0
    heat_capacity_error: float = 0.0
    failed: int = 0
    rescued: int = 0
    dropped: int = 0
    longest_gap_k: float = 0.0
    refusal: str = ""


def build(compositions: dict[str, Components]) -> dict[str, Any]:
    """All tables as the tables file holds them: `made_with`, `refrigerants`, `psychrometrics`,
    `reports`. A refrigerant whose table is out of spec has a report and no table."""
    tables = []
    reports = []
    for designation, components in compositions.items():
        data, report = build_one(designation, components)
        if data is not None and report.refusal == "":
            tables.append(data)
        reports.append(asdict(report))
    return {
        "made_with": "CoolProp " + version(),
        "refrigerants": tables,
        "psychrometrics": _psychrometrics(),
        "reports": reports,
    }


def build_one(designation: str, components: Components) -> tuple[dict[str, Any] | None, Report]:
    """One refrigerant's table and its report."""
    fluid = Mixture(components)
    try:
        lowest, highest = _range(fluid)
        bubble, dew = _sweeps(fluid, lowest, highest, 0.0)
        data = _table(designation, lowest, highest, bubble, dew)
    except SweepError as refused:
        return None, Report(designation, refusal=str(refused))
    return data, _report(table_from(data, COLUMNS), fluid, bubble, dew)


def check(table: PropertyTable, components: Components) -> Report:
    """Compare a table in use with points from CoolProp now, at other temperatures than the
    build's."""
    fluid = Mixture(components)
    try:
        bubble, dew = _sweeps(fluid, table.lowest_pa, table.highest_pa, CHECK_OFFSET_K)
    except SweepError as refused:
        return Report(table.refrigerant, refusal=str(refused))
    return _report(table, fluid, bubble, dew)


def _range(fluid: Mixture) -> tuple[float, float]:
    """Lowest and highest pressure [Pa] of the table."""
    lowest = min(_rounded_down(_dew_pressure(fluid, COLD_K)), VACUUM_PA)
    if fluid.lowest_k() > COLDEST_K:
        triple = _dew_pressure(fluid, fluid.lowest_k() + STEP_K)
        lowest = max(lowest, _rounded_down(triple) + 100.0)
    return lowest, _rounded_down(HIGHEST_SHARE * fluid.ceiling_pa())


def _dew_pressure(fluid: Mixture, temperature_k: float) -> float:
    fluid.start()
    point = fluid.point(DEW, temperature_k)
    if point is None:
        raise SweepError(f"CoolProp gives no dew point at {temperature_k} K.")
    return point.pressure_pa


def _rounded_down(pressure: float) -> float:
    return float(int(pressure / 100.0)) * 100.0


def _sweeps(fluid: Mixture, lowest: float, highest: float, offset: float) -> tuple[Sweep, Sweep]:
    bubble = sweep(fluid, BUBBLE, _first(fluid, BUBBLE, lowest) + offset, lowest, highest)
    if fluid.pure:
        dew = sweep(fluid, DEW, bubble.points[0].temperature_k, lowest, highest)
    else:
        dew = sweep(fluid, DEW, _first(fluid, DEW, lowest) + offset, lowest, highest)
    return bubble, dew


def _first(fluid: Mixture, side: int, lowest: float) -> float:
    """A temperature a few steps below the start of the range, on a raster of half kelvins."""
    floor = fluid.lowest_k()
    temperature = COLD_K
    fluid.start()
    while temperature > floor:
        point = fluid.point(side, temperature)
        if point is not None and point.pressure_pa < lowest:
            return max(temperature - 3.0 * STEP_K, floor)
        temperature -= STEP_K
    return floor


def _table(
    designation: str, lowest: float, highest: float, bubble: Sweep, dew: Sweep
) -> dict[str, Any]:
    first = fourth_root(lowest)
    step = (fourth_root(highest) - first) / (POINTS - 1)
    pressures = [(first + step * i) ** 4 for i in range(POINTS)]
    bubble_k = curve(bubble.points, lambda point: point.temperature_k)
    dew_k = bubble_k if _same(bubble, dew) else curve(dew.points, lambda p: p.temperature_k)
    zero = AT_ZERO_ENTHALPY - _at_temperature(bubble.points, 273.15)
    columns: dict[str, Callable[[float], float]] = {
        "bubble_k": bubble_k,
        "dew_k": dew_k,
        "liquid_density": curve(bubble.points, lambda point: point.density),
        "vapour_density": curve(dew.points, lambda point: point.density),
        "liquid_enthalpy": curve(bubble.points, lambda point: point.enthalpy + zero),
        "vapour_enthalpy": curve(dew.points, lambda point: point.enthalpy + zero),
        "vapour_heat_capacity": curve(dew.points, lambda point: point.heat_capacity),
    }
    data: dict[str, Any] = {
        "refrigerant": designation,
        "lowest_pa": lowest,
        "highest_pa": highest,
        "count": POINTS,
    }
    for name in COLUMNS:
        digits = _DIGITS[name]
        data[name] = [round(columns[name](pressure), digits) for pressure in pressures]
    return data


_DIGITS = {
    "bubble_k": 3,
    "dew_k": 3,
    "liquid_density": 1,
    "vapour_density": 3,
    "liquid_enthalpy": 0,
    "vapour_enthalpy": 0,
    "vapour_heat_capacity": 1,
}
"""Decimals kept: half a unit of the last is 0.0005 K, and below 0.04 % everywhere."""


def _same(bubble: Sweep, dew: Sweep) -> bool:
    return all(
        abs(a.pressure_pa - b.pressure_pa) <= 1e-9 * a.pressure_pa
        and a.temperature_k == b.temperature_k
        for a, b in zip(bubble.points, dew.points, strict=False)
    )


def _at_temperature(points: Sequence[Point], temperature_k: float) -> float:
    """Enthalpy at a temperature. It is linear, because it only sets the scale's zero."""
    for low, high in pairwise(points):
        if low.temperature_k <= temperature_k <= high.temperature_k:
            share = (temperature_k - low.temperature_k) / (high.temperature_k - low.temperature_k)
            return low.enthalpy + share * (high.enthalpy - low.enthalpy)
    return points[0].enthalpy


def _report(table: PropertyTable, fluid: Mixture, bubble: Sweep, dew: Sweep) -> Report:
    ceiling = fluid.ceiling_pa()
    inside = [
        [p for p in side.points if table.lowest_pa <= p.pressure_pa <= table.highest_pa]
        for side in (bubble, dew)
    ]
    bubble_error = _temperature_error(table, inside[0], bubble_temperature)
    dew_error = _temperature_error(table, inside[1], dew_temperature)
    property_error = _property_error(table, inside[0], inside[1])
    heat_capacity_error = max(
        abs(_number(vapor_heat_capacity(table, p.pressure_pa)) / p.heat_capacity - 1.0)
        for p in inside[1]
    )
    dews = table.columns["dew_k"].values
    refusals = []
    if not max(bubble_error, dew_error) <= TOLERANCE_K:
        refusals.append(f"The table is {max(bubble_error, dew_error):.4f} K from CoolProp.")
    if not property_error <= PROPERTY_TOLERANCE:
        refusals.append(f"A density or enthalpy is {property_error:.2%} from CoolProp.")
    if not heat_capacity_error <= HEAT_CAPACITY_TOLERANCE:
        refusals.append(f"A heat capacity is {heat_capacity_error:.2%} from CoolProp.")
    if not table.highest_pa >= REQUIRED_SHARE * ceiling:
        refusals.append("The table ends below 0.9 of the critical pressure.")
    if not dews[0] <= max(REQUIRED_K, fluid.lowest_k() + 2.0):
        refusals.append("The table starts above -40 °C.")
    if not _rises(table):
        refusals.append("The table does not rise everywhere.")
    return Report(
        refrigerant=table.refrigerant,
        lowest_pa=table.lowest_pa,
        highest_pa=table.highest_pa,
        lowest_dew_k=dews[0],
        highest_dew_k=dews[-1],
        ceiling_pa=ceiling,
        points=len(inside[0]) + len(inside[1]),
        bubble_error_k=bubble_error,
        dew_error_k=dew_error,
        property_error=property_error,
        heat_capacity_error=heat_capacity_error,
        failed=len(bubble.failed) + len(dew.failed),
        rescued=len(bubble.rescued) + len(dew.rescued),
        dropped=len(bubble.dropped) + len(dew.dropped),
        longest_gap_k=max(bubble.longest_gap_k, dew.longest_gap_k),
        refusal=" ".join(refusals),
    )


def _rises(table: PropertyTable) -> bool:
    """Bubble and dew rise with pressure and dew is not below bubble (0.001 K for an azeotrope)."""
    bubble = table.columns["bubble_k"].values
    dew = table.columns["dew_k"].values
    return all(
        bubble[i] < bubble[i + 1] and dew[i] < dew[i + 1] for i in range(len(dew) - 1)
    ) and all(d >= b - 0.001 for b, d in zip(bubble, dew, strict=True))


def _temperature_error(
    table: PropertyTable,
    points: Sequence[Point],
    read: Callable[[PropertyTable, float], float | OutOfRange],
) -> float:
    return max(abs(_number(read(table, p.pressure_pa)) - p.temperature_k) for p in points)


def _property_error(table: PropertyTable, bubble: Sequence[Point], dew: Sequence[Point]) -> float:
    """Densities relative to themselves. Enthalpies have a zero by convention, so they count as
    differences from the first point, relative to the latent heat there."""
    errors = []
    for p in bubble:
        errors.append(_number(liquid_density(table, p.pressure_pa)) / p.density - 1.0)
    for p in dew:
        errors.append(_number(vapor_density(table, p.pressure_pa)) / p.density - 1.0)
    shift = _number(liquid_enthalpy(table, bubble[0].pressure_pa)) - bubble[0].enthalpy
    latent = dew[0].enthalpy - bubble[0].enthalpy
    for side, read in ((bubble, liquid_enthalpy), (dew, vapor_enthalpy)):
        for p in side:
            errors.append((_number(read(table, p.pressure_pa)) - p.enthalpy - shift) / latent)
    return max(abs(error) for error in errors)


def _number(value: float | OutOfRange) -> float:
    if isinstance(value, OutOfRange):
        raise ValueError(f"{value.value} is outside {value.lowest} to {value.highest}.")
    return value


def _psychrometrics() -> dict[str, Any]:
    return {
        "lowest_k": WATER_LOWEST_K,
        "step_k": WATER_STEP_K,
        "saturation_pa": [
            round(water_saturation_pa(WATER_LOWEST_K + WATER_STEP_K * i), 2)
            for i in range(WATER_POINTS)
        ],
    }
