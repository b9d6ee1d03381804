"""Saturated properties at a temperature, from the core's tables. The grid is quick enough to solve
thousands of units."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from lowside.core.handbook import saturation
from lowside.core.handbook.saturation import OutOfRange, PropertyTable
from lowside.library import load_handbook

COLDEST_K = 240.0
STEP_K = 0.5


@dataclass(frozen=True)
class Fluid:
    """One refrigerant between `COLDEST_K` and `hottest_k`, every `STEP_K`.

    `vapor` rows are at the dew temperature: pressure [Pa], density [kg/m³], enthalpy [J/kg], heat
    capacity [J/(kg K)], and at the same pressure liquid density and enthalpy. `liquid` rows are at
    the bubble temperature: pressure, liquid density and enthalpy, vapor density and enthalpy. The
    last column of both is half of the glide at that pressure [K].
    """

    name: str
    hottest_k: float
    vapor: tuple[tuple[float, ...], ...]
    liquid: tuple[tuple[float, ...], ...]
    liquid_heat_capacity: float
    """Heat capacity of subcooled liquid near 35 °C [J/(kg K)]."""

    def at_dew(self, temperature_k: float) -> tuple[float, float, float, float, float, float]:
        """Pressure; vapor density, enthalpy and heat capacity; liquid density and enthalpy."""
        low, high, s = _rows(self.vapor, temperature_k)
        a, b, c, d, e, f, _ = low
        a1, b1, c1, d1, e1, f1, _ = high
        return (
            a + (a1 - a) * s,
            b + (b1 - b) * s,
            c + (c1 - c) * s,
            d + (d1 - d) * s,
            e + (e1 - e) * s,
            f + (f1 - f) * s,
        )

    def at_bubble(self, temperature_k: float) -> tuple[float, float, float, float, float]:
        """Pressure; liquid density and enthalpy; vapor density and enthalpy."""
        low, high, s = _rows(self.liquid, temperature_k)
        a, b, c, d, e, _ = low
        a1, b1, c1, d1, e1, _ = high
        return (
            a + (a1 - a) * s,
            b + (b1 - b) * s,
            c + (c1 - c) * s,
            d + (d1 - d) * s,
            e + (e1 - e) * s,
        )

    def dew_k(self, coil_k: float) -> float:
        """Dew point of a coil with this mean temperature [K]. Over half of itself the glide hardly
        changes, so it is taken there."""
        return coil_k + _half_glide(self.vapor, coil_k)

    def bubble_k(self, condenser_k: float) -> float:
        """Bubble point of a condenser with this mean temperature [K]."""
        return condenser_k - _half_glide(self.liquid, condenser_k)


@lru_cache(maxsize=64)
def fluid(name: str) -> Fluid:
    """The refrigerant `name` (`R-410A`). The tables are read once."""
    return _build(load_handbook().tables, name)


def _build(tables: Mapping[str, PropertyTable], name: str) -> Fluid:
    table = tables[name]
    vapor: list[tuple[float, ...]] = []
    liquid: list[tuple[float, ...]] = []
    temperature = COLDEST_K
    while True:
        dew = saturation.dew_pressure(table, temperature)
        bubble = saturation.bubble_pressure(table, temperature)
        if isinstance(dew, OutOfRange) or isinstance(bubble, OutOfRange):
            break
        vapor.append(
            (
                dew,
                _sure(saturation.vapor_density(table, dew)),
                _sure(saturation.vapor_enthalpy(table, dew)),
                _sure(saturation.vapor_heat_capacity(table, dew)),
                _sure(saturation.liquid_density(table, dew)),
                _sure(saturation.liquid_enthalpy(table, dew)),
                round((temperature - _sure(saturation.bubble_temperature(table, dew))) / 2.0, 6),
            )
        )
        liquid.append(
            (
                bubble,
                _sure(saturation.liquid_density(table, bubble)),
                _sure(saturation.liquid_enthalpy(table, bubble)),
                _sure(saturation.vapor_density(table, bubble)),
                _sure(saturation.vapor_enthalpy(table, bubble)),
                round((_sure(saturation.dew_temperature(table, bubble)) - temperature) / 2.0, 6),
            )
        )
        temperature += STEP_K
    hottest = temperature - 2.0 * STEP_K
    warm = int((308.15 - COLDEST_K) / STEP_K)
    heat_capacity = (liquid[warm + 4][2] - liquid[warm - 4][2]) / (8.0 * STEP_K)
    return Fluid(name, hottest, tuple(vapor), tuple(liquid), heat_capacity)


def _rows(
    rows: tuple[tuple[float, ...], ...], temperature_k: float
) -> tuple[tuple[float, ...], tuple[float, ...], float]:
    """The rows below and above, and how far it is from the first to the second: between them are
    straight lines. The solver stays in range, so it never reaches the ends."""
    x = (temperature_k - COLDEST_K) / STEP_K
    i = min(max(int(x), 0), len(rows) - 2)
    return rows[i], rows[i + 1], x - i


def _half_glide(rows: tuple[tuple[float, ...], ...], temperature_k: float) -> float:
    low, high, s = _rows(rows, temperature_k)
    return low[-1] + (high[-1] - low[-1]) * s


def _sure(value: float | OutOfRange) -> float:
    if isinstance(value, OutOfRange):
        raise ValueError(f"outside the table: {value}")
    return value
