"""The target: what superheat or subcooling this unit should show now, how closely, and who says so.

Tolerances are the installer's of the published charge verification (California Reference
Residential Appendix RA3.2, read in its 2008 edition): superheat ±5 °F, subcooling ±3 °F. The
manufacturer's own tolerance goes before them.
"""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.charts import HOLE, Chart, NoValue, edge, look_up
from lowside.core.handbook.psychrometrics import PsychrometricTable, wet_bulb
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_CHART,
    BY_LIQUID_PRESSURE,
    BY_SUBCOOLING,
    BY_SUCTION_PRESSURE,
    BY_SUPERHEAT,
    BY_WEIGHT,
    EEV,
    FIXED,
    METERING_UNKNOWN,
    TXV,
    ChargingMethod,
    Reading,
    System,
)
from lowside.core.judging.by_weight import by_weight
from lowside.core.judging.findings import REFUSE, SHOWS, WARN, Fact, Finding, Unknown, missing
from lowside.core.numbers.units import TEMPERATURE, Quantity, as_shown, shown_step

FAHRENHEIT_DEGREE_K = 5.0 / 9.0

SUPERHEAT_TOLERANCE_K = 5.0 * FAHRENHEIT_DEGREE_K
"""Installer, fixed orifice, either side of the target. RA3.2, 2008."""
SUBCOOLING_TOLERANCE_K = 3.0 * FAHRENHEIT_DEGREE_K
"""Installer, TXV or EEV, either side of the target. RA3.2, 2008."""

APPROACH_TOLERANCE_K = 1.0 * FAHRENHEIT_DEGREE_K
"""READ: HPXA16 table 10, 4SHP18LT table 9."""
APPROACH_GROSS_K = 15.0 * FAHRENHEIT_DEGREE_K
"""Not valid for grossly wrong charge (READ: EL072XCSS p. 2); how far that is, is our choice."""
SUPERHEAT_FLOOR_K = 5.0 * FAHRENHEIT_DEGREE_K
"""Fixed orifice: superheat at the suction port is never less. READ: 14ACX p. 26."""

VALVE_SUPERHEAT_LOWEST_K = 4.0 * FAHRENHEIT_DEGREE_K
VALVE_SUPERHEAT_HIGHEST_K = 25.0 * FAHRENHEIT_DEGREE_K
"""Metering check of RA3.2 (installer) when the manufacturer gives no range."""

FORMULA_REACH_K = 5.0 * FAHRENHEIT_DEGREE_K
"""How far outside the chart the formula is used. Our choice: further out nobody has checked it."""
FORMULA_ERROR_K = 3.0 * FAHRENHEIT_DEGREE_K
"""Within this the formula meets the chart in 95 % of its cells (computed over all cells)."""
LOWEST_TARGET_K = 5.0 * FAHRENHEIT_DEGREE_K
"""Below this a target superheat is no valid test. RA3.2, the dash of Table RA3.2-2."""

BOUNDARY_K = 1.0e-6
"""A value this close beyond its tolerance passes: units converted there and back, nothing else."""

TargetQuantity = Literal[
    "superheat", "subcooling", "approach", "suction_pressure", "liquid_pressure"
]
"""What the charge is judged by."""

SUPERHEAT: TargetQuantity = "superheat"
SUBCOOLING: TargetQuantity = "subcooling"
APPROACH: TargetQuantity = "approach"
SUCTION_PRESSURE: TargetQuantity = "suction_pressure"
LIQUID_PRESSURE: TargetQuantity = "liquid_pressure"


@dataclass(frozen=True)
class Target:
    """Where `quantity` should be [K]; `basis` says where that is from. Of a pressure it is the
    saturation temperature that belongs to it."""

    quantity: TargetQuantity
    value_k: float
    tolerance_k: float
    basis: Finding
    short_below: bool = False
    """Whether a value below means undercharged; superheat and approach are above then."""
    gauge_pa: float = 0.0
    """The pressure itself [Pa gauge]."""
    passing_k: tuple[float, float] | None = None
    """Lowest and highest value that the screen shows as within [K]; `None`: the tolerance."""


def judged_by_pressure(quantity: TargetQuantity | ChargingMethod) -> bool:
    """Whether it is a pressure by this unit's chart."""
    return quantity in (SUCTION_PRESSURE, LIQUID_PRESSURE)


@dataclass(frozen=True)
class NoTarget:
    """No number to charge to, and why."""

    reason: Finding


def wet_bulb_of(
    reading: Reading, atmosphere_pa: float, psychrometrics: PsychrometricTable
) -> float | Unknown:
    """Return-air wet bulb [K]: measured, else from dry bulb, humidity and the site's pressure."""
    if reading.return_wet_bulb_k is not None:
        return reading.return_wet_bulb_k
    if reading.return_humidity is None:
        return Unknown(missing(("wet_bulb_or_humidity",)))
    if reading.return_dry_bulb_k is None:
        return Unknown(missing(("return_dry_bulb",)))
    computed = wet_bulb(
        psychrometrics, reading.return_dry_bulb_k, reading.return_humidity, atmosphere_pa
    )
    if isinstance(computed, OutOfRange):
        return Unknown(
            Finding(
                "wet_bulb_out_of_table",
                WARN,
                (
                    Fact("dry_bulb", "temperature", reading.return_dry_bulb_k),
                    Fact("humidity", "relative_humidity", reading.return_humidity),
                ),
            )
        )
    return computed


def target_for(
    system: System, reading: Reading, wet_bulb_k: float | Unknown, chart: Chart
) -> Target | NoTarget:
    """The target by the system's method.

    Args:
        system: method, metering device and the manufacturer's figures.
        reading: outdoor dry bulb for the chart.
        wet_bulb_k: from `wet_bulb_of`.
        chart: target superheat by outdoor dry bulb and return wet bulb.
    """
    if system.method == BY_SUBCOOLING:
        return _subcooling(system)
    if system.method == BY_WEIGHT:
        return NoTarget(by_weight(system))
    if system.method == BY_APPROACH:
        return _approach(system)
    if system.metering in (TXV, EEV):
        return NoTarget(Finding("valve_by_superheat", REFUSE))
    if system.metering == METERING_UNKNOWN:
        return NoTarget(Finding("metering_unknown", REFUSE))
    if system.method == BY_SUPERHEAT:
        return _maker_superheat(system)
    if system.method == BY_CHART:
        return chart_target(system, reading.outdoor_dry_bulb_k, wet_bulb_k, chart)
    return NoTarget(Finding("method_unknown", WARN))


def still_needed(system: System, reading: Reading) -> tuple[str, ...]:
    """Names of the facts and readings the method cannot do without and has not got."""
    needed: list[tuple[str, float | None]] = []
    if system.method == BY_WEIGHT:
        return ()
    if system.method == BY_APPROACH:
        needed = [
            ("maker_approach", system.maker_approach_k),
            ("liquid_line", reading.liquid_line_k),
        ]
    if system.method == BY_SUBCOOLING:
        needed = [
            ("maker_subcooling", system.maker_subcooling_k),
            ("liquid_pressure", reading.liquid_pressure_pa),
            ("liquid_line", reading.liquid_line_k),
        ]
    elif system.method in (BY_SUPERHEAT, BY_CHART):
        needed = [
            ("suction_pressure", reading.suction_pressure_pa),
            ("suction_line", reading.suction_line_k),
        ]
    if system.method == BY_SUPERHEAT:
        needed.append(("maker_superheat", system.maker_superheat_k))
    elif system.method == BY_SUCTION_PRESSURE:
        needed = [("suction_pressure", reading.suction_pressure_pa)]
    elif system.method == BY_LIQUID_PRESSURE:
        needed = [("liquid_pressure", reading.liquid_pressure_pa)]
    needed.append(("outdoor_dry_bulb", reading.outdoor_dry_bulb_k))
    needed.append(("return_dry_bulb", reading.return_dry_bulb_k))
    if system.by_points:
        needed = [each for each in needed if not each[0].startswith("maker_")]
    if (system.method == BY_CHART or asks_wet_bulb(system)) and reading.return_wet_bulb_k is None:
        needed.append(("wet_bulb_or_humidity", reading.return_humidity))
    return tuple([name for name, value in needed if value is None])


def all_needed(system: System, reading: Reading) -> tuple[str, ...]:
    """Both: what the method cannot do without and what adding needs, each once."""
    found = list(still_needed(system, reading))
    found.extend([each for each in needed_to_add(system, reading) if each not in found])
    return tuple(found)


def needed_to_add(system: System, reading: Reading) -> tuple[str, ...]:
    """What adding needs beyond the method's own readings. The suction side always: only it shows
    liquid on its way to the compressor, a nearly empty coil, and behind a valve whether charge is
    missing at all (READ: a four-way table, GSZH5). Behind a fixed orifice the liquid line, since
    high superheat with a cool liquid line is a restriction (READ: the service table), and the wet
    bulb, since what its superheat should be depends on it."""
    needed = [
        ("suction_pressure", reading.suction_pressure_pa),
        ("suction_line", reading.suction_line_k),
    ]
    valve = system.metering in (TXV, EEV)
    by_pressure = judged_by_pressure(system.method)
    if not valve or by_pressure:
        needed.append(("liquid_line", reading.liquid_line_k))
    if system.method == BY_APPROACH or (by_pressure and valve):
        # A dirty coil raises the approach as missing charge does: subcooling tells them apart.
        needed.append(("liquid_pressure", reading.liquid_pressure_pa))
    told = system.maker_superheat_k is not None and system.method != BY_SUPERHEAT
    if not valve and not told and reading.return_wet_bulb_k is None:
        needed.append(("wet_bulb_or_humidity", reading.return_humidity))
    return tuple([name for name, value in needed if value is None])


def asks_wet_bulb(system: System) -> bool:
    """Whether a typed point names a wet bulb, so that today's is needed."""
    return len([each for each in system.chart_points if each.wet_bulb_k is not None]) > 0


def expected_superheat(
    system: System,
    reading: Reading,
    wet_bulb_k: float | Unknown,
    target: Target | NoTarget,
    chart: Chart,
) -> tuple[float, float] | None:
    """Lowest and highest superheat [K] this metering device should show, whatever the method.

    `target` (from `target_for`) when it is one of superheat; else the manufacturer's superheat,
    never below 4 °F; else 4 to 25 °F for a TXV or EEV (RA3.2 metering check, installer) and the
    chart for a fixed orifice, each ± tolerance; `None` when none of them says.
    """
    if isinstance(target, Target) and target.quantity == SUPERHEAT:
        return passing(target)
    maker = system.maker_superheat_k
    if maker is not None:
        # No figure takes a valve's superheat to where gauge and clamp cannot tell it from liquid.
        lowest = max(maker - SUPERHEAT_TOLERANCE_K, VALVE_SUPERHEAT_LOWEST_K)
        return lowest, maker + SUPERHEAT_TOLERANCE_K
    if system.metering in (TXV, EEV):
        return VALVE_SUPERHEAT_LOWEST_K, VALVE_SUPERHEAT_HIGHEST_K
    if system.metering != FIXED or system.method == BY_CHART:
        return None
    by_chart = chart_target(system, reading.outdoor_dry_bulb_k, wet_bulb_k, chart)
    if isinstance(by_chart, NoTarget):
        return None
    return by_chart.value_k - by_chart.tolerance_k, by_chart.value_k + by_chart.tolerance_k


def chart_target(
    system: System, outdoor_k: float | None, wet_bulb_k: float | Unknown, chart: Chart
) -> Target | NoTarget:
    """Target superheat from the chart; near its edges from the formula, and then it says so."""
    if outdoor_k is None:
        return NoTarget(missing(("outdoor_dry_bulb",)))
    if isinstance(wet_bulb_k, Unknown):
        return NoTarget(wet_bulb_k.reason)
    value = look_up(chart, outdoor_k, wet_bulb_k)
    conditions = (
        Fact("outdoor", "temperature", outdoor_k),
        Fact("wet_bulb", "temperature", wet_bulb_k),
    )
    if isinstance(value, NoValue):
        if value.code == HOLE:
            return NoTarget(Finding("no_test", REFUSE, conditions))
        return _formula_target(outdoor_k, wet_bulb_k, chart, conditions)
    return Target(
        SUPERHEAT,
        value,
        _tolerance(system, SUPERHEAT_TOLERANCE_K),
        Finding(
            "target_chart",
            SHOWS,
            (
                Fact("target", "temperature_difference", value),
                *conditions,
                *_tolerance_facts(system, SUPERHEAT_TOLERANCE_K),
            ),
        ),
    )


def within(target: Target, value_k: float) -> bool:
    """Whether `value_k` [K] passes; what shows as the tolerance itself passes."""
    lowest, highest = passing(target)
    return lowest - BOUNDARY_K <= value_k <= highest + BOUNDARY_K


def passing(target: Target) -> tuple[float, float]:
    """Lowest and highest value that passes [K]."""
    if target.passing_k is not None:
        return target.passing_k
    return target.value_k - target.tolerance_k, target.value_k + target.tolerance_k


def shows_within(
    quantity: Quantity, value: float, tolerance: float, unit: str
) -> tuple[float, float]:
    """Lowest and highest value [SI] that the screen shows as within: target, tolerance and reading
    are each held as they are written, so half of the last digit lies beyond the shown limits."""
    middle = as_shown(quantity, value, unit)
    beyond = as_shown(quantity, tolerance, unit) + shown_step(quantity, unit) / 2.0
    return middle - beyond, middle + beyond


def formula_superheat(outdoor_k: float, wet_bulb_k: float) -> float:
    """(3 × wet bulb − 80 − outdoor dry bulb) / 2 in °F, as a difference [K].

    A trade rule of thumb. Against the chart: within 3 °F in 95 % of cells, worst 6.4 °F too low in
    the hot and humid corner. It never says “no test”, so the chart's dash goes before it.
    """
    outdoor = _fahrenheit(outdoor_k)
    wet = _fahrenheit(wet_bulb_k)
    return (3.0 * wet - 80.0 - outdoor) / 2.0 * FAHRENHEIT_DEGREE_K


def _formula_target(
    outdoor_k: float, wet_bulb_k: float, chart: Chart, conditions: tuple[Fact, ...]
) -> Target | NoTarget:
    """The announced fallback: only just outside the chart, only where it meets the chart's nearest
    cell, and only where that cell has a target."""
    outdoor_edge = edge(chart.rows_k, outdoor_k)
    wet_edge = edge(chart.columns_k, wet_bulb_k)
    nearest = look_up(chart, outdoor_edge, wet_edge)
    if isinstance(nearest, NoValue) and outdoor_k >= outdoor_edge and wet_bulb_k <= wet_edge:
        return NoTarget(Finding("no_test", REFUSE, conditions))
    value = formula_superheat(outdoor_k, wet_bulb_k)
    usable = (
        not isinstance(nearest, NoValue)
        and outdoor_k >= chart.rows_k[0]
        and abs(outdoor_k - outdoor_edge) <= FORMULA_REACH_K
        and abs(wet_bulb_k - wet_edge) <= FORMULA_REACH_K
        and abs(nearest - formula_superheat(outdoor_edge, wet_edge)) <= FORMULA_ERROR_K
        and value >= LOWEST_TARGET_K
    )
    if not usable:
        return NoTarget(Finding("outside_chart", REFUSE, conditions))
    width = SUPERHEAT_TOLERANCE_K + FORMULA_ERROR_K
    return Target(
        SUPERHEAT,
        value,
        width,
        Finding(
            "target_formula",
            WARN,
            (
                Fact("target", "temperature_difference", value),
                *conditions,
                Fact("tolerance", "temperature_difference", width),
                Fact("formula_error", "temperature_difference", FORMULA_ERROR_K),
            ),
        ),
    )


def _subcooling(system: System) -> Target | NoTarget:
    value = system.maker_subcooling_k
    if value is None:
        return NoTarget(missing(("maker_subcooling",)))
    return Target(
        SUBCOOLING,
        value,
        _tolerance(system, SUBCOOLING_TOLERANCE_K),
        Finding(
            "target_maker_subcooling",
            SHOWS,
            (
                Fact("target", "temperature_difference", value),
                *_tolerance_facts(system, SUBCOOLING_TOLERANCE_K),
            ),
        ),
        short_below=True,
    )


def _approach(system: System) -> Target | NoTarget:
    value = system.maker_approach_k
    if value is None:
        return NoTarget(missing(("maker_approach",)))
    return Target(
        APPROACH,
        value,
        _tolerance(system, APPROACH_TOLERANCE_K),
        Finding(
            "target_maker_approach",
            SHOWS,
            (
                Fact("target", "temperature_difference", value),
                Fact(
                    "tolerance",
                    "temperature_difference",
                    _tolerance(system, APPROACH_TOLERANCE_K),
                ),
                Fact("tolerance_source", "text", text="tolerance by the manufacturers that use it"),
            ),
        ),
    )


def _maker_superheat(system: System) -> Target | NoTarget:
    value = system.maker_superheat_k
    if value is None:
        return NoTarget(missing(("maker_superheat",)))
    return Target(
        SUPERHEAT,
        value,
        _tolerance(system, SUPERHEAT_TOLERANCE_K),
        Finding(
            "target_maker_superheat",
            SHOWS,
            (
                Fact("target", "temperature_difference", value),
                *_tolerance_facts(system, SUPERHEAT_TOLERANCE_K),
            ),
        ),
    )


def _tolerance(system: System, published_k: float) -> float:
    if system.maker_tolerance_k is not None:
        return system.maker_tolerance_k
    return published_k


def _tolerance_facts(system: System, published_k: float) -> tuple[Fact, Fact]:
    source = "manufacturer’s tolerance"
    if system.maker_tolerance_k is None:
        source = "tolerance by California RA3.2, installer test"
    return (
        Fact("tolerance", "temperature_difference", _tolerance(system, published_k)),
        Fact("tolerance_source", "text", text=source),
    )


def _fahrenheit(kelvin: float) -> float:
    scale = TEMPERATURE["°F"]
    return (kelvin - scale.offset) / scale.factor
