"""Readings that cannot all be true. They are recorded and judged: refused, such a reading would
leave the advice of an older one as it was, and the unit may have just stopped. Of the circuit they
are a stop. Of the air nothing is added, and the rest is judged. Instrument errors are those the
published procedure allows (`conditions.py`).
"""

from dataclasses import replace

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import OutOfRange, PropertyTable, dew_temperature
from lowside.core.handbook.system import Reading, System
from lowside.core.judging.conditions import SUCTION_GAUGE_PA, thermometer_error
from lowside.core.judging.findings import DANGER, REFUSE, WARN, Fact, Finding, Unknown
from lowside.core.judging.targets import NoTarget, Target, wet_bulb_of

WET_BULBS_APART_K = 3.0
"""Ten percent of humidity are 1.5 K; the thermometer's error comes on top. Our choice."""

LEAST_A = 0.1
"""A compressor that runs draws more: the smallest plates say 2 or 3 A (common practice, no source).
The limit is our choice: a clamp meter may show a few hundredths around a dead wire."""

NO_LIFT = "no_lift"
NO_CURRENT = "no_current"
BELOW_DEW = "vapour_below_dew"
WET_ABOVE_DRY = "wet_above_dry"
WET_AGAINST_HUMIDITY = "wet_against_humidity"

PRESSURE_FIELDS: dict[str, str] = {
    "suction_pressure": "Suction pressure",
    "liquid_pressure": "Liquid pressure",
}


def one_wet_bulb(system: System, reading: Reading, handbook: Handbook) -> float | Unknown:
    """Of the return air [K], measured or computed; not known where two numbers are not of one air:
    a target would come from the wrong one."""
    wrong = _wet_above_dry(reading)
    if wrong is None:
        wrong = _against_humidity(system, reading, handbook)
    if wrong is not None:
        return Unknown(wrong)
    return wet_bulb_of(reading, system.atmosphere_pa, handbook.psychrometrics)


def two_airs(wet_bulb_k: float | Unknown, target: Target | NoTarget) -> list[Finding]:
    """That it is not known for that, unless there is no target for it."""
    if not isinstance(wet_bulb_k, Unknown) or wet_bulb_k.reason.level != REFUSE:
        return []
    if isinstance(target, NoTarget) and target.reason is wet_bulb_k.reason:
        return []
    return [wet_bulb_k.reason]


def pressure_of(reading: Reading, field: str) -> float | None:
    """The reading's pressure [Pa absolute] by the name of its field."""
    if field == "suction_pressure":
        return reading.suction_pressure_pa
    return reading.liquid_pressure_pa


def out_of_table(system: System, field: str, pressure_pa: float, table: PropertyTable) -> Finding:
    """That a pressure [Pa absolute] is outside the property table."""
    atmosphere = system.atmosphere_pa
    return Finding(
        "out_of_table",
        WARN,
        (
            Fact("what", "text", text=PRESSURE_FIELDS[field]),
            Fact("pressure", "gauge_pressure", pressure_pa - atmosphere),
            Fact("refrigerant", "text", text=system.refrigerant),
            Fact("lowest", "gauge_pressure", table.lowest_pa - atmosphere),
            Fact("highest", "gauge_pressure", table.highest_pa - atmosphere),
        ),
    )


def not_of_a_running_unit(
    system: System, reading: Reading, table: PropertyTable | None
) -> Finding | None:
    """What no running unit shows, so that no figure is worked out: the compressor does not pump, or
    an instrument is wrong. Without a table no temperature is compared. A low side in a vacuum is a
    unit that is empty, and says more."""
    suction = reading.suction_pressure_pa
    if suction is not None and suction <= system.atmosphere_pa:
        return None
    idle = _no_lift(system, reading)
    if idle is None:
        idle = _no_current(reading)
    if idle is not None or table is None:
        return idle
    return _vapor_below_dew(system, reading, table)


def _no_lift(system: System, reading: Reading) -> Finding | None:
    """Suction not below liquid pressure: a compressor lifts it (common practice, no source)."""
    suction = reading.suction_pressure_pa
    liquid = reading.liquid_pressure_pa
    if suction is None or liquid is None or suction < liquid:
        return None
    facts = (
        Fact("suction", "gauge_pressure", suction - system.atmosphere_pa),
        Fact("liquid", "gauge_pressure", liquid - system.atmosphere_pa),
    )
    return Finding(NO_LIFT, DANGER, facts)


def _no_current(reading: Reading) -> Finding | None:
    amps = reading.compressor_a
    if amps is None or amps >= LEAST_A:
        return None
    return Finding(NO_CURRENT, DANGER, (Fact("current", "current", amps),))


def _wet_above_dry(reading: Reading) -> Finding | None:
    dry = reading.return_dry_bulb_k
    wet = reading.return_wet_bulb_k
    if dry is None or wet is None or wet <= dry + 2.0 * thermometer_error(dry):
        return None
    facts = (Fact("wet_bulb", "temperature", wet), Fact("dry_bulb", "temperature", dry))
    return Finding(WET_ABOVE_DRY, REFUSE, facts)


def _against_humidity(system: System, reading: Reading, handbook: Handbook) -> Finding | None:
    """A wet bulb and a humidity of two different airs."""
    wet = reading.return_wet_bulb_k
    humidity = reading.return_humidity
    if wet is None or humidity is None:
        return None
    unmeasured = replace(reading, return_wet_bulb_k=None)
    computed = wet_bulb_of(unmeasured, system.atmosphere_pa, handbook.psychrometrics)
    if isinstance(computed, Unknown) or abs(wet - computed) <= WET_BULBS_APART_K:
        return None
    facts = (Fact("humidity", "relative_humidity", humidity), Fact("wet_bulb", "temperature", wet))
    return Finding(WET_AGAINST_HUMIDITY, REFUSE, facts)


def _vapor_below_dew(system: System, reading: Reading, table: PropertyTable) -> Finding | None:
    """The suction line colder than the coldest dew point the gauge's error allows. Where the unit
    just stopped, pressure rises before the metal warms."""
    pressure = reading.suction_pressure_pa
    line = reading.suction_line_k
    if pressure is None or line is None:
        return None
    dew = dew_temperature(table, pressure)
    if isinstance(dew, OutOfRange):
        return None
    lowest = dew_temperature(table, pressure - SUCTION_GAUGE_PA)
    if isinstance(lowest, OutOfRange) or line >= lowest - thermometer_error(line):
        return None
    return Finding(
        BELOW_DEW,
        DANGER,
        (
            Fact("suction_line", "temperature", line),
            Fact("pressure", "gauge_pressure", pressure - system.atmosphere_pa),
            Fact("refrigerant", "text", text=system.refrigerant),
            Fact("dew", "temperature", dew),
        ),
    )
