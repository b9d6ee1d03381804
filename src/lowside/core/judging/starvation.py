"""A suction side that is nearly empty: how thin its gas is, and when nothing may be added.

A compressor moves volume, so the flow that boils what is fed falls with the suction gas's density.
"""

from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    dew_pressure,
    dew_temperature,
    vapor_density,
)
from lowside.core.handbook.system import Reading, System
from lowside.core.judging.findings import REFUSE, Fact, Finding
from lowside.core.judging.targets import FAHRENHEIT_DEGREE_K
from lowside.core.numbers.units import FAHRENHEIT_OFFSET, PSI_PA

RATED_DEW_K = (45.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
RATED_SUPERHEAT_K = 10.0 * FAHRENHEIT_DEGREE_K
"""The suction gas at nominal capacity: 45 °F dew point, 10 °F superheat (common practice, no
source; manufacturers' tables at 80/67 °F come out at 46 to 52 °F)."""

LOWEST_SUCTION_PA = 20.0 * PSI_PA
"""Gauge. READ: below 20 psig for more than 5 s damages scrolls (condensing unit and heat pump
manual, p. 5); not below 20 psig in pump-down (GSX16 p. 113)."""
STARVED_SHARE = 0.45
"""Suction gas thinner than this share of the rated: nearly empty. Our choice; it comes out at
about 50 psig for R-410A and 26 for R-22, near 0 °F. Feeding a nearly empty scroll too slowly
also harms it (READ: FDKR200 sec. 9), so small shots are no way out."""

COOLER_K = (50.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Return air colder than this is no room's but a cooler's or freezer's, whatever the refrigerant.
Our choice."""

VACUUM_SEEN = "vacuum"
STARVED = "starved"
LOW_SUCTION = "low_suction"
"""Too low for an air conditioner, but with liquid backed up, or as a freezer runs."""


def suction_share(table: PropertyTable, reading: Reading) -> float | None:
    """Density of the suction gas as a share of the rated; `None` when it cannot be known.

    Superheated gas is taken as its dew-point density times the ratio of absolute temperatures.
    """
    pressure = reading.suction_pressure_pa
    line = reading.suction_line_k
    if pressure is None:
        return None
    dew = dew_temperature(table, pressure)
    density = vapor_density(table, pressure)
    rated_pressure = dew_pressure(table, RATED_DEW_K)
    if isinstance(dew, OutOfRange) or isinstance(density, OutOfRange):
        return None
    if isinstance(rated_pressure, OutOfRange):
        return None
    rated = vapor_density(table, rated_pressure)
    if isinstance(rated, OutOfRange):
        return None
    rated = rated * RATED_DEW_K / (RATED_DEW_K + RATED_SUPERHEAT_K)
    if line is not None and line > dew:
        density = density * dew / line
    return density / rated


def vacuum_findings(system: System, reading: Reading) -> list[Finding]:
    """Suction at or below the air around. READ: never run in a vacuum or at negative pressure
    (ASC13 S-103, AE-1318 R1 p. 9)."""
    suction = reading.suction_pressure_pa
    if suction is None or suction > system.atmosphere_pa:
        return []
    return [
        Finding(
            VACUUM_SEEN,
            REFUSE,
            (Fact("pressure", "gauge_pressure", suction - system.atmosphere_pa),),
        )
    ]


def starved_findings(
    system: System, reading: Reading, share: float | None, code: str = STARVED
) -> list[Finding]:
    """Suction above the air around, but too little gas to run on and to boil what is fed."""
    suction = reading.suction_pressure_pa
    if suction is None or suction <= system.atmosphere_pa:
        return []
    gauge = suction - system.atmosphere_pa
    if gauge >= LOWEST_SUCTION_PA and (share is None or share >= STARVED_SHARE):
        return []
    return [
        Finding(
            code,
            REFUSE,
            (Fact("pressure", "gauge_pressure", gauge),),
        )
    ]
