"""Readings that cannot all be true: refused at entry, each with a sentence beside its field.

Instrument errors are those of the published procedure: thermometer ± (0.1 % of reading + 1.3 °F)
(RA3.2, 2008, read), pressure ± 3.5 psi suction and ± 7 psi liquid (RA3.2, 2013, read).
"""

from collections.abc import Callable

from lowside.core.handbook import Handbook
from lowside.core.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_temperature,
    dew_temperature,
)
from lowside.core.system import Reading, System
from lowside.core.targets import FAHRENHEIT_DEGREE_K
from lowside.core.unit_choice import UnitChoice, label
from lowside.core.units import PSI_PA

THERMOMETER_K = 1.5 * FAHRENHEIT_DEGREE_K
"""1.3 °F and 0.1 % of up to 150 °F."""
SUCTION_GAUGE_PA = 3.5 * PSI_PA
LIQUID_GAUGE_PA = 7.0 * PSI_PA

Problems = list[tuple[str, str]]


def contradictions(
    system: System, reading: Reading, handbook: Handbook, choice: UnitChoice
) -> Problems:
    """Field name and sentence for each reading that contradicts another or the table.

    Args:
        system: the unit; without a table for its refrigerant only plain comparisons are made.
        reading: what was typed.
        handbook: for the property table.
        choice: units of the sentences.
    """
    problems: Problems = []
    _pressures(reading, problems)
    _air(reading, choice, problems)
    table = handbook.tables.get(system.refrigerant)
    if table is not None:
        _suction(system, table, reading, choice, problems)
        _liquid(system, table, reading, choice, problems)
    return problems


def _pressures(reading: Reading, problems: Problems) -> None:
    suction = reading.suction_pressure_pa
    liquid = reading.liquid_pressure_pa
    if suction is None or liquid is None or suction < liquid:
        return
    problems.append(
        (
            "suction_pressure",
            "Suction is not below the liquid pressure. Swapped? If the unit stands still, start "
            "it before you read.",
        )
    )


def _air(reading: Reading, choice: UnitChoice, problems: Problems) -> None:
    dry = reading.return_dry_bulb_k
    wet = reading.return_wet_bulb_k
    if dry is not None and wet is not None and wet > dry + THERMOMETER_K:
        problems.append(
            (
                "return_wet_bulb",
                f"Wet bulb cannot be above the dry bulb of {label('temperature', dry, choice)}. "
                "Swapped?",
            )
        )
    supply = reading.supply_dry_bulb_k
    if dry is not None and supply is not None and supply > dry + THERMOMETER_K:
        problems.append(
            (
                "supply_dry_bulb",
                "Supply air is warmer than return air: the unit is not cooling. Check both, and "
                "that it runs in cooling.",
            )
        )


def _suction(
    system: System, table: PropertyTable, reading: Reading, choice: UnitChoice, problems: Problems
) -> None:
    pressure = reading.suction_pressure_pa
    if pressure is None:
        return
    dew = dew_temperature(table, pressure)
    if isinstance(dew, OutOfRange):
        problems.append(("suction_pressure", _out_of_table(system, dew, choice)))
        return
    line = reading.suction_line_k
    if line is None:
        return
    if line < dew - _allowance(dew_temperature, table, pressure, dew, SUCTION_GAUGE_PA):
        problems.append(
            (
                "suction_line",
                f"Colder than the dew point of {label('temperature', dew, choice)} at this "
                "pressure, by more than the instruments can be off. Check clamp, gauge and "
                "refrigerant.",
            )
        )


def _liquid(
    system: System, table: PropertyTable, reading: Reading, choice: UnitChoice, problems: Problems
) -> None:
    pressure = reading.liquid_pressure_pa
    if pressure is None:
        return
    bubble = bubble_temperature(table, pressure)
    if isinstance(bubble, OutOfRange):
        problems.append(("liquid_pressure", _out_of_table(system, bubble, choice)))
        return
    line = reading.liquid_line_k
    if line is None:
        return
    if line > bubble + _allowance(bubble_temperature, table, pressure, bubble, LIQUID_GAUGE_PA):
        problems.append(
            (
                "liquid_line",
                f"Warmer than the bubble point of {label('temperature', bubble, choice)} at this "
                "pressure, by more than the instruments can be off. Check clamp, gauge and "
                "refrigerant.",
            )
        )


def _allowance(
    saturation: Callable[[PropertyTable, float], float | OutOfRange],
    table: PropertyTable,
    pressure_pa: float,
    saturation_k: float,
    gauge_pa: float,
) -> float:
    """Error of a thermometer and a gauge together [K]; at the table's end the thermometer's."""
    beside = saturation(table, pressure_pa + gauge_pa)
    if isinstance(beside, OutOfRange):
        return THERMOMETER_K
    return THERMOMETER_K + (beside - saturation_k)


def _out_of_table(system: System, outside: OutOfRange, choice: UnitChoice) -> str:
    low = label("gauge_pressure", outside.lowest - system.atmosphere_pa, choice)
    high = label("gauge_pressure", outside.highest - system.atmosphere_pa, choice)
    return (
        f"Outside what is known of {system.refrigerant}, {low} to {high}. Check the number, its "
        "unit and the refrigerant."
    )
