"""A target from points that the technician types off this unit's own charging chart.

A point is a weather and what the chart gives for it. One point holds in its own weather, as far as
thermometers can tell. Between points the target is on straight lines from each to the next; it is
never drawn on beyond them. What the chart gives is superheat, subcooling, approach, or a pressure.

Manufacturers differ on which side of a pressure chart means undercharged: a liquid pressure
above the curve asks for charge in one (READ: 38APD p. 34) and for taking some out in another (READ:
a 13 SEER R-22 manual, figs. 9 and 10). So that is asked, and without an answer there is no target.
"""

from dataclasses import replace
from typing import Literal

from lowside.core.handbook.charts import Chart
from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_temperature,
    dew_temperature,
)
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_LIQUID_PRESSURE,
    BY_SUBCOOLING,
    BY_SUCTION_PRESSURE,
    BY_SUPERHEAT,
    FIXED,
    ChartPoint,
    Reading,
    System,
)
from lowside.core.judging.findings import REFUSE, SHOWS, WARN, Fact, Finding, Unknown, missing
from lowside.core.judging.targets import (
    APPROACH,
    APPROACH_TOLERANCE_K,
    BOUNDARY_K,
    FAHRENHEIT_DEGREE_K,
    LIQUID_PRESSURE,
    SUBCOOLING,
    SUBCOOLING_TOLERANCE_K,
    SUCTION_PRESSURE,
    SUPERHEAT,
    SUPERHEAT_TOLERANCE_K,
    NoTarget,
    Target,
    asks_wet_bulb,
    judged_by_pressure,
    shows_within,
    target_for,
)
from lowside.core.numbers.arithmetic import linear
from lowside.core.numbers.units import PSI_PA

POINT_REACH_K = 1.4 * FAHRENHEIT_DEGREE_K
"""A point's weather counts as met within this [K]: what a thermometer may err by RA3.2 (2008) near
80 °F."""
SUCTION_TOLERANCE_PA = 5.0 * PSI_PA
LIQUID_TOLERANCE_PA = 10.0 * PSI_PA
"""Around a charted pressure when this unit's instructions name none. READ: XP14, table 5."""

JUST_BELOW_K = 2.0 * BOUNDARY_K
"""The screen writes a half away from zero: what is just at the upper end shows as beyond."""

Axis = Literal["outdoor", "wet_bulb", ""]
"""In which temperature typed points differ; empty: no line goes through them."""

OUTDOOR: Axis = "outdoor"
WET_BULB: Axis = "wet_bulb"
NO_LINE: Axis = ""


def target_of(
    system: System,
    reading: Reading,
    wet_bulb_k: float | Unknown,
    chart: Chart,
    table: PropertyTable | None,
) -> Target | NoTarget:
    """The target by the system's method, from typed points of this unit's chart where there are
    any. An expansion valve is judged neither by superheat nor by suction pressure, whoever's chart
    it is."""
    target = _target(system, reading, wet_bulb_k, chart, table)
    return target if isinstance(target, NoTarget) else _as_shown(target, system, table)


def _as_shown(target: Target, system: System, table: PropertyTable | None) -> Target:
    """The target with what the screen shows as within it."""
    if judged_by_pressure(target.quantity) and table is not None:
        low, high = shows_within(
            "gauge_pressure", target.gauge_pa, _tolerance_pa(system), system.pressure_unit
        )
        low_k = _saturation(system, low, table)
        high_k = _saturation(system, high, table)
        if isinstance(low_k, OutOfRange) or isinstance(high_k, OutOfRange):
            return target
        return replace(target, passing_k=(low_k, high_k - JUST_BELOW_K))
    lowest, highest = shows_within(
        "temperature_difference", target.value_k, target.tolerance_k, system.temperature_unit
    )
    return replace(target, passing_k=(lowest, highest - JUST_BELOW_K))


def _target(
    system: System,
    reading: Reading,
    wet_bulb_k: float | Unknown,
    chart: Chart,
    table: PropertyTable | None,
) -> Target | NoTarget:
    of_suction = system.method in (BY_SUPERHEAT, BY_SUCTION_PRESSURE)
    if not system.by_points or (of_suction and system.metering != FIXED):
        return target_for(system, reading, wet_bulb_k, chart)
    if judged_by_pressure(system.method):
        if system.short_below is None:
            return NoTarget(Finding("short_side_unasked", REFUSE))
        if table is None:
            return NoTarget(missing(("chart_points",)))
    value = value_by_points(system, reading.outdoor_dry_bulb_k, wet_bulb_k)
    if isinstance(value, Unknown):
        return NoTarget(value.reason)
    if table is not None and judged_by_pressure(system.method):
        return _pressure(system, reading, value, table)
    quantity = SUPERHEAT
    published = SUPERHEAT_TOLERANCE_K
    source = "by the installer’s test in California’s RA3.2"
    if system.method == BY_SUBCOOLING:
        quantity = SUBCOOLING
        published = SUBCOOLING_TOLERANCE_K
    elif system.method == BY_APPROACH:
        quantity = APPROACH
        published = APPROACH_TOLERANCE_K
        source = "by the manufacturers that use it"
    tolerance = published
    if system.maker_tolerance_k is not None:
        tolerance = system.maker_tolerance_k
        source = "by this unit’s chart"
    return Target(
        quantity,
        value,
        tolerance,
        Finding(
            "target_points",
            SHOWS,
            (
                Fact("quantity", "text", text=quantity),
                Fact("target", "temperature_difference", value),
                Fact("tolerance", "temperature_difference", tolerance),
                Fact("tolerance_source", "text", text=source),
                _outdoor_fact(reading),
            ),
        ),
        short_below=quantity == SUBCOOLING,
    )


def _pressure(
    system: System, reading: Reading, gauge_pa: float, table: PropertyTable
) -> Target | NoTarget:
    """A charted pressure as the saturation temperature that belongs to it. The tolerance is that
    of the side that means undercharged."""
    liquid = system.method == BY_LIQUID_PRESSURE
    tolerance = _tolerance_pa(system)
    source = "as one manufacturer allows"
    if system.chart_tolerance_pa is not None:
        source = "by this unit’s instructions"
    below = system.short_below is True
    middle = _saturation(system, gauge_pa, table)
    edge = gauge_pa - tolerance if below else gauge_pa + tolerance
    side = _saturation(system, edge, table)
    what = "liquid pressure" if liquid else "suction pressure"
    if isinstance(middle, OutOfRange) or isinstance(side, OutOfRange):
        return NoTarget(
            Finding(
                "out_of_table",
                WARN,
                (
                    Fact("what", "text", text="the chart’s " + what),
                    Fact("pressure", "gauge_pressure", gauge_pa),
                    Fact("refrigerant", "text", text=system.refrigerant),
                    Fact("lowest", "gauge_pressure", table.lowest_pa - system.atmosphere_pa),
                    Fact("highest", "gauge_pressure", table.highest_pa - system.atmosphere_pa),
                ),
            )
        )
    return Target(
        LIQUID_PRESSURE if liquid else SUCTION_PRESSURE,
        middle,
        abs(middle - side),
        Finding(
            "target_points",
            SHOWS,
            (
                Fact("quantity", "text", text=what),
                Fact("target", "gauge_pressure", gauge_pa),
                Fact("tolerance", "gauge_pressure", tolerance),
                Fact("tolerance_source", "text", text=source),
                _outdoor_fact(reading),
            ),
        ),
        below,
        gauge_pa,
    )


def _tolerance_pa(system: System) -> float:
    if system.chart_tolerance_pa is not None:
        return system.chart_tolerance_pa
    return LIQUID_TOLERANCE_PA if system.method == BY_LIQUID_PRESSURE else SUCTION_TOLERANCE_PA


def _saturation(system: System, gauge_pa: float, table: PropertyTable) -> float | OutOfRange:
    """The temperature that belongs to a pressure of this unit's chart [K]."""
    pressure = gauge_pa + system.atmosphere_pa
    if system.method == BY_LIQUID_PRESSURE:
        return bubble_temperature(table, pressure)
    return dew_temperature(table, pressure)


def _outdoor_fact(reading: Reading) -> Fact:
    outdoor = reading.outdoor_dry_bulb_k
    return Fact("outdoor", "temperature", 0.0 if outdoor is None else outdoor)


def value_by_points(
    system: System, outdoor_k: float | None, wet_bulb_k: float | Unknown
) -> float | Unknown:
    """What the chart gives in today's weather, or why the typed points give nothing."""
    points = system.chart_points
    if not points:
        return Unknown(missing(("chart_points",)))
    if outdoor_k is None:
        return Unknown(missing(("outdoor_dry_bulb",)))
    if asks_wet_bulb(system):
        if isinstance(wet_bulb_k, Unknown):
            return wet_bulb_k
        wet = points[0].wet_bulb_k
        if wet is None:
            return Unknown(Finding("points_no_line", REFUSE))
        if axis_of(points) == WET_BULB:
            if not _met(outdoor_k, points[0].outdoor_k):
                return _outside("outdoor air", outdoor_k, points[0].outdoor_k, points[0].outdoor_k)
            return _along(points, WET_BULB, wet_bulb_k)
        if not _met(wet_bulb_k, wet):
            return _outside("return air wet bulb", wet_bulb_k, wet, wet)
    return _along(points, OUTDOOR, outdoor_k)


def axis_of(points: tuple[ChartPoint, ...]) -> Axis:
    """The one temperature in which these points differ, each from each."""
    first = points[0]
    outdoors: list[float] = []
    wets: list[float] = []
    for point in points:
        if point.outdoor_k not in outdoors:
            outdoors.append(point.outdoor_k)
        if (point.wet_bulb_k is None) != (first.wet_bulb_k is None):
            return NO_LINE
        if point.wet_bulb_k is not None and point.wet_bulb_k not in wets:
            wets.append(point.wet_bulb_k)
    if len(outdoors) == len(points) and len(wets) <= 1:
        return OUTDOOR
    if len(outdoors) == 1 and len(wets) == len(points):
        return WET_BULB
    return NO_LINE


def _along(points: tuple[ChartPoint, ...], axis: Axis, today_k: float) -> float | Unknown:
    """On the straight lines between neighbors, at `today_k` [K]."""
    if axis_of(points) != axis:
        return Unknown(Finding("points_no_line", REFUSE))
    ordered = sorted(points, key=lambda point: _place(point, axis))
    places = tuple([_place(point, axis) for point in ordered])
    lowest = places[0]
    highest = places[len(places) - 1]
    name = "outdoor air" if axis == OUTDOOR else "return air wet bulb"
    if len(points) == 1:
        return points[0].value if _met(today_k, lowest) else _outside(name, today_k, lowest, lowest)
    if today_k < lowest or today_k > highest:
        return _outside(name, today_k, lowest, highest)
    return linear(places, tuple([point.value for point in ordered]), today_k)


def _place(point: ChartPoint, axis: Axis) -> float:
    wet = point.wet_bulb_k
    return wet if axis == WET_BULB and wet is not None else point.outdoor_k


def _met(today_k: float, point_k: float) -> bool:
    return abs(today_k - point_k) <= POINT_REACH_K


def _outside(name: str, today_k: float, lowest_k: float, highest_k: float) -> Unknown:
    """Beyond the typed points, and which way."""
    return Unknown(
        Finding(
            "outside_points" if lowest_k < highest_k else "outside_point",
            REFUSE,
            (
                Fact("air", "text", text=name),
                Fact("today", "temperature", today_k),
                Fact("lowest", "temperature", lowest_k),
                Fact("highest", "temperature", highest_k),
            ),
        )
    )
