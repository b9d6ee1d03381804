"""Limits of the method and of the unit: weather, house, pressure, ice, liquid at the compressor.

Minimum outdoor temperature 55 °F and the metering check's 4 °F are California RA3.2, 2008 (read);
the 70 °F return air is from memory of it, so it only warns.
"""

from lowside.core.findings import REFUSE, STOP, WARN, Fact, Finding
from lowside.core.system import BY_WEIGHT, EEV, TXV, Reading, System
from lowside.core.targets import VALVE_SUPERHEAT_LOWEST_K
from lowside.core.units import TEMPERATURE

_FAHRENHEIT = TEMPERATURE["°F"]

OUTDOOR_LOWEST_K = 55.0 * _FAHRENHEIT.factor + _FAHRENHEIT.offset
OUTDOOR_HIGHEST_K = 115.0 * _FAHRENHEIT.factor + _FAHRENHEIT.offset
"""Last row of the published chart."""
RETURN_LOWEST_K = 70.0 * _FAHRENHEIT.factor + _FAHRENHEIT.offset
FREEZING_K = 273.15


def condition_findings(
    system: System, reading: Reading, superheat_k: float | None, dew_k: float | None
) -> list[Finding]:
    """What stands outside a limit; STOP: shut the cylinder, REFUSE: do not add on this."""
    found: list[Finding] = []
    _pressure(system, reading, found)
    _superheat(system, superheat_k, found)
    outdoor = reading.outdoor_dry_bulb_k
    if outdoor is not None and system.method != BY_WEIGHT:
        if outdoor < OUTDOOR_LOWEST_K:
            found.append(_limit("outdoor_cold", REFUSE, "outdoor", outdoor, OUTDOOR_LOWEST_K))
        elif outdoor > OUTDOOR_HIGHEST_K:
            found.append(_limit("outdoor_hot", WARN, "outdoor", outdoor, OUTDOOR_HIGHEST_K))
    indoor = reading.return_dry_bulb_k
    if indoor is not None and indoor < RETURN_LOWEST_K and system.method != BY_WEIGHT:
        found.append(_limit("indoor_cold", WARN, "return_air", indoor, RETURN_LOWEST_K))
    if dew_k is not None and dew_k < FREEZING_K:
        found.append(Finding("coil_freezing", WARN, (Fact("dew", "temperature", dew_k),)))
    return found


def _pressure(system: System, reading: Reading, found: list[Finding]) -> None:
    if system.high_side_limit_pa is None or reading.liquid_pressure_pa is None:
        return
    gauge = reading.liquid_pressure_pa - system.atmosphere_pa
    if gauge > system.high_side_limit_pa:
        found.append(
            Finding(
                "over_pressure",
                STOP,
                (
                    Fact("pressure", "gauge_pressure", gauge),
                    Fact("limit", "gauge_pressure", system.high_side_limit_pa),
                ),
            )
        )


def _superheat(system: System, superheat_k: float | None, found: list[Finding]) -> None:
    if superheat_k is None:
        return
    value = Fact("value", "temperature_difference", superheat_k)
    if superheat_k <= 0.0:
        found.append(Finding("liquid_return", STOP, (value,)))
    elif system.metering in (TXV, EEV) and superheat_k < VALVE_SUPERHEAT_LOWEST_K:
        limit = Fact("limit", "temperature_difference", VALVE_SUPERHEAT_LOWEST_K)
        found.append(Finding("valve_superheat_low", REFUSE, (value, limit)))


def _limit(code: str, level: str, name: str, value_k: float, limit_k: float) -> Finding:
    facts = (Fact(name, "temperature", value_k), Fact("limit", "temperature", limit_k))
    return Finding(code, level, facts)
