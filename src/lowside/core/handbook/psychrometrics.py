"""Air: the atmosphere at a site's elevation and the wet bulb of moist air at that pressure.

Elevation to pressure is the standard atmosphere as ASHRAE gives it, tabled every 500 m. Wet bulb
is the psychrometric equation of ASHRAE Fundamentals, chapter 1 (SI, above freezing), with the
saturation pressure of water from a table and solved by halving. Errors: `docs/numbers.md`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lowside.core.handbook.saturation import OutOfRange, even_slopes
from lowside.core.numbers.arithmetic import hermite, segment
from lowside.core.numbers.units import ZERO_CELSIUS_K

SEA_LEVEL_PA = 101325.0
"""Pressure of the standard atmosphere at sea level [Pa]. ASHRAE Fundamentals, chapter 1."""

ELEVATION_STEP_M = 500.0
LOWEST_ELEVATION_M = -500.0
ATMOSPHERE_PA = (
    107477.5,
    SEA_LEVEL_PA,
    95460.8,
    89874.5,
    84555.9,
    79495.1,
    74682.4,
    70108.4,
    65763.9,
    61640.1,
    57728.2,
)
"""Pressure [Pa] from -500 m to 4500 m: 101325 (1 - 2.25577e-5 z)^5.2559, ASHRAE Fundamentals,
chapter 1, which takes height as geopotential (25 Pa less at 4500 m than with true height)."""
ELEVATIONS_M = tuple(LOWEST_ELEVATION_M + ELEVATION_STEP_M * i for i in range(len(ATMOSPHERE_PA)))
_ATMOSPHERE_SLOPES = even_slopes(ATMOSPHERE_PA, ELEVATION_STEP_M)

LOWEST_ATMOSPHERE_PA = 55000.0
HIGHEST_ATMOSPHERE_PA = 110000.0

WATER_TO_AIR = 0.621945
"""Molar mass of water over that of dry air. ASHRAE Fundamentals, chapter 1."""

MOST_STEPS = 60
"""Of the search for the wet bulb; it takes about 5 and ends within `CLOSE_ENOUGH`."""
CLOSE_ENOUGH = 1.0e-10
"""Of humidity ratio [kg/kg]: less than 1e-6 K of wet bulb."""


@dataclass(frozen=True)
class PsychrometricTable:
    """Saturation pressure of water [Pa] on an even grid of temperature [K], 1 to 60 °C."""

    grid: tuple[float, ...]
    values: tuple[float, ...]
    slopes: tuple[float, ...]


def psychrometric_table_from(data: Mapping[str, Any]) -> PsychrometricTable:
    """The table as the tables file holds it: `lowest_k`, `step_k` and `saturation_pa`."""
    lowest = float(data["lowest_k"])
    step = float(data["step_k"])
    values = tuple(float(value) for value in data["saturation_pa"])
    grid = tuple(lowest + step * i for i in range(len(values)))
    return PsychrometricTable(grid, values, even_slopes(values, step))


def atmosphere_pressure(elevation_m: float) -> float | OutOfRange:
    """Standard atmospheric pressure [Pa] at `elevation_m` [m above sea], -500 to 4500 m.

    Within 0.1 Pa of the standard's formula. Weather moves the real one by about ±3 kPa.
    """
    highest = ELEVATIONS_M[len(ELEVATIONS_M) - 1]
    if not LOWEST_ELEVATION_M <= elevation_m <= highest:
        return OutOfRange("elevation", elevation_m, LOWEST_ELEVATION_M, highest)
    i = segment(ELEVATIONS_M, elevation_m)
    return hermite(ELEVATIONS_M, ATMOSPHERE_PA, _ATMOSPHERE_SLOPES, elevation_m, i)


def wet_bulb(
    table: PsychrometricTable, dry_bulb_k: float, humidity: float, atmosphere_pa: float
) -> float | OutOfRange:
    """Thermodynamic wet-bulb temperature [K].

    Args:
        table: saturation pressure of water.
        dry_bulb_k: dry bulb [K], within the table (1 to 60 °C).
        humidity: relative humidity [0..1]; below what gives a wet bulb of 1 °C it is out of range:
            near freezing a wet wick and a frozen one give two answers, and no charging method
            asks for either.
        atmosphere_pa: site pressure [Pa], 55 to 110 kPa.
    """
    coldest = table.grid[0]
    hottest = table.grid[len(table.grid) - 1]
    if not coldest <= dry_bulb_k <= hottest:
        return OutOfRange("temperature", dry_bulb_k, coldest, hottest)
    if not LOWEST_ATMOSPHERE_PA <= atmosphere_pa <= HIGHEST_ATMOSPHERE_PA:
        return OutOfRange("pressure", atmosphere_pa, LOWEST_ATMOSPHERE_PA, HIGHEST_ATMOSPHERE_PA)
    saturation = _saturation_pressure(table, dry_bulb_k)
    lowest = _humidity_ratio(table, dry_bulb_k, coldest, atmosphere_pa)
    driest = max(lowest * atmosphere_pa / (WATER_TO_AIR + lowest) / saturation, 0.0)
    if not driest <= humidity <= 1.0:
        return OutOfRange("humidity", humidity, driest, 1.0)
    vapor = humidity * saturation
    ratio = WATER_TO_AIR * vapor / (atmosphere_pa - vapor)
    # False position, halving the weight of an end that stays (the Illinois rule).
    low = coldest
    high = dry_bulb_k
    low_error = lowest - ratio
    high_error = WATER_TO_AIR * saturation / (atmosphere_pa - saturation) - ratio
    if low_error >= -CLOSE_ENOUGH:
        return low
    if high_error <= CLOSE_ENOUGH:
        return high
    side = 0
    middle = low
    for _ in range(MOST_STEPS):
        middle = (low * high_error - high * low_error) / (high_error - low_error)
        error = _humidity_ratio(table, dry_bulb_k, middle, atmosphere_pa) - ratio
        if abs(error) <= CLOSE_ENOUGH:
            return middle
        if error < 0.0:
            low = middle
            low_error = error
            if side == -1:
                high_error = high_error / 2.0
            side = -1
        else:
            high = middle
            high_error = error
            if side == 1:
                low_error = low_error / 2.0
            side = 1
    return middle


def _humidity_ratio(
    table: PsychrometricTable, dry_bulb_k: float, wet_bulb_k: float, atmosphere_pa: float
) -> float:
    """Water over dry air [kg/kg] of air with these bulbs; may come out negative.

    ASHRAE Fundamentals, chapter 1, psychrometric equation above freezing, temperatures in °C.
    """
    dry = dry_bulb_k - ZERO_CELSIUS_K
    wet = wet_bulb_k - ZERO_CELSIUS_K
    saturation = _saturation_pressure(table, wet_bulb_k)
    saturated = WATER_TO_AIR * saturation / (atmosphere_pa - saturation)
    return ((2501.0 - 2.326 * wet) * saturated - 1.006 * (dry - wet)) / (
        2501.0 + 1.86 * dry - 4.186 * wet
    )


def _saturation_pressure(table: PsychrometricTable, temperature_k: float) -> float:
    i = segment(table.grid, temperature_k)
    return hermite(table.grid, table.values, table.slopes, temperature_k, i)
