"""Readings that cannot all be true.

Of the air, they are refused at entry, each with a sentence beside its field. Of the circuit, they
are recorded and judged: refused, such a reading would leave the advice of an older one as it was,
and the unit may have just stopped. Instrument errors are those the published procedure allows
(`conditions.py`). A reading that is odd but possible (no liquid in the liquid line, supply air not
cold, a pressure outside the table) is judged too.
"""

from dataclasses import replace

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import OutOfRange, PropertyTable, dew_temperature
from lowside.core.handbook.system import Reading, System
from lowside.core.judging.conditions import SUCTION_GAUGE_PA, thermometer_error
from lowside.core.judging.findings import DANGER, WARN, Fact, Finding, Unknown, sentence
from lowside.core.judging.targets import wet_bulb_of
from lowside.core.numbers.unit_choice import UnitChoice

WET_BULBS_APART_K = 3.0
"""Ten percent of humidity are 1.5 K; the thermometer's error comes on top. Our choice."""

NO_LIFT = "no_lift"
BELOW_DEW = "vapour_below_dew"

PRESSURE_FIELDS: dict[str, str] = {
    "suction_pressure": "Suction pressure",
    "liquid_pressure": "Liquid pressure",
}


def contradictions(
    system: System, reading: Reading, handbook: Handbook, choice: UnitChoice
) -> list[tuple[str, str]]:
    """Field name and sentence for each reading that contradicts another.

    Args:
        system: the unit.
        reading: what was typed.
        handbook: for the air's humidity.
        choice: units of the sentences.
    """
    found = _wet_above_dry(reading) + _by_humidity(system, reading, handbook)
    return [(field, sentence(finding, choice)) for field, finding in found]


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
    an instrument is wrong. Without a table only the pressures are compared."""
    idle = _no_lift(system, reading)
    if idle is not None or table is None:
        return idle
    return _vapor_below_dew(system, reading, table)


def _no_lift(system: System, reading: Reading) -> Finding | None:
    """Suction not below liquid pressure. A compressor lifts pressure: common practice, no source.
    A vacuum on both sides is a unit that is empty, and says more."""
    suction = reading.suction_pressure_pa
    liquid = reading.liquid_pressure_pa
    if suction is None or liquid is None or suction < liquid or suction <= system.atmosphere_pa:
        return None
    facts = (
        Fact("suction", "gauge_pressure", suction - system.atmosphere_pa),
        Fact("liquid", "gauge_pressure", liquid - system.atmosphere_pa),
    )
    return Finding(NO_LIFT, DANGER, facts)


def _wet_above_dry(reading: Reading) -> list[tuple[str, Finding]]:
    found: list[tuple[str, Finding]] = []
    dry = reading.return_dry_bulb_k
    wet = reading.return_wet_bulb_k
    if dry is not None and wet is not None and wet > dry + 2.0 * thermometer_error(dry):
        facts = (Fact("wet_bulb", "temperature", wet), Fact("dry_bulb", "temperature", dry))
        found.append(("return_wet_bulb", Finding("wet_above_dry", WARN, facts)))
    return found


def _by_humidity(system: System, reading: Reading, handbook: Handbook) -> list[tuple[str, Finding]]:
    """A wet bulb and a humidity of two different airs: a target would come from the wrong one."""
    wet = reading.return_wet_bulb_k
    unmeasured = replace(reading, return_wet_bulb_k=None)
    computed = wet_bulb_of(unmeasured, system.atmosphere_pa, handbook.psychrometrics)
    if wet is None or isinstance(computed, Unknown) or abs(wet - computed) <= WET_BULBS_APART_K:
        return []
    return [("return_humidity", Finding("wet_against_humidity", WARN))]


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
