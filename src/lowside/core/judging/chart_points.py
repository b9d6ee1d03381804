"""A target from points that the technician types off this unit's own charging chart.

A point is a weather and what the chart gives for it. One point holds in its own weather, as far as
thermometers can tell. Between two points that enclose today's weather the target lies on the
straight line; it is never drawn on beyond them.
"""

from lowside.core.handbook.charts import Chart
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_SUBCOOLING,
    BY_SUPERHEAT,
    FIXED,
    ChartPoint,
    Reading,
    System,
)
from lowside.core.judging.findings import REFUSE, SHOWS, Fact, Finding, Unknown, missing
from lowside.core.judging.targets import (
    APPROACH,
    APPROACH_TOLERANCE_K,
    FAHRENHEIT_DEGREE_K,
    SUBCOOLING,
    SUBCOOLING_TOLERANCE_K,
    SUPERHEAT,
    SUPERHEAT_TOLERANCE_K,
    NoTarget,
    Target,
    target_for,
)

POINT_REACH_K = 1.4 * FAHRENHEIT_DEGREE_K
"""A point's weather counts as met within this [K]: what a thermometer may err by RA3.2 (2008) near
80 °F."""


def target_of(
    system: System, reading: Reading, wet_bulb_k: float | Unknown, chart: Chart
) -> Target | NoTarget:
    """The target by the system's method, from typed points of this unit's chart where there are
    any. An expansion valve is not judged by superheat, whoever's chart it is."""
    by_superheat = system.method == BY_SUPERHEAT and system.metering != FIXED
    if not system.by_points or by_superheat:
        return target_for(system, reading, wet_bulb_k, chart)
    outdoor = reading.outdoor_dry_bulb_k
    value = value_by_points(system, outdoor, wet_bulb_k)
    if isinstance(value, Unknown):
        return NoTarget(value.reason)
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
                Fact("outdoor", "temperature", 0.0 if outdoor is None else outdoor),
            ),
        ),
    )


def value_by_points(
    system: System, outdoor_k: float | None, wet_bulb_k: float | Unknown
) -> float | Unknown:
    """The chart's value [K] in today's weather, or why the typed points give none."""
    points = system.chart_points
    if not points:
        return Unknown(missing(("chart_points",)))
    if outdoor_k is None:
        return Unknown(missing(("outdoor_dry_bulb",)))
    asks_wet = asks_wet_bulb(system)
    if not asks_wet:
        return _by_outdoor(points, outdoor_k)
    if isinstance(wet_bulb_k, Unknown):
        return wet_bulb_k
    return _by_both(points, outdoor_k, wet_bulb_k)


def asks_wet_bulb(system: System) -> bool:
    """Whether a typed point names a wet bulb, so that today's is needed."""
    return len([each for each in system.chart_points if each.wet_bulb_k is not None]) > 0


def in_line(first: ChartPoint, second: ChartPoint) -> bool:
    """Whether a line lies between these points: they differ in one temperature and only in it."""
    one = first.wet_bulb_k
    other = second.wet_bulb_k
    if one is None and other is None:
        return first.outdoor_k != second.outdoor_k
    if one is None or other is None:
        return False
    return (first.outdoor_k != second.outdoor_k) != (one != other)


def _by_outdoor(points: tuple[ChartPoint, ...], outdoor_k: float) -> float | Unknown:
    first = points[0]
    if len(points) == 1:
        return first.value_k if _met(outdoor_k, first.outdoor_k) else _outside(outdoor_k)
    second = points[1]
    return _between(outdoor_k, outdoor_k, first.outdoor_k, second.outdoor_k, first, second)


def _by_both(
    points: tuple[ChartPoint, ...], outdoor_k: float, wet_bulb_k: float
) -> float | Unknown:
    first = points[0]
    second = points[len(points) - 1]
    one = first.wet_bulb_k
    other = second.wet_bulb_k
    if one is None or other is None:
        return _outside(outdoor_k)
    if len(points) == 1:
        met = _met(outdoor_k, first.outdoor_k) and _met(wet_bulb_k, one)
        return first.value_k if met else _outside(outdoor_k)
    if not in_line(first, second):
        return _outside(outdoor_k)
    if one == other:
        if not _met(wet_bulb_k, one):
            return _outside(outdoor_k)
        return _between(outdoor_k, outdoor_k, first.outdoor_k, second.outdoor_k, first, second)
    if not _met(outdoor_k, first.outdoor_k):
        return _outside(outdoor_k)
    return _between(outdoor_k, wet_bulb_k, one, other, first, second)


def _between(
    outdoor_k: float,
    today_k: float,
    first_k: float,
    second_k: float,
    first: ChartPoint,
    second: ChartPoint,
) -> float | Unknown:
    """On the straight line, at `today_k` between `first_k` and `second_k` [K]."""
    if first_k == second_k or today_k < min(first_k, second_k) or today_k > max(first_k, second_k):
        return _outside(outdoor_k)
    share = (today_k - first_k) / (second_k - first_k)
    return first.value_k + share * (second.value_k - first.value_k)


def _met(today_k: float, point_k: float) -> bool:
    return abs(today_k - point_k) <= POINT_REACH_K


def _outside(outdoor_k: float) -> Unknown:
    return Unknown(Finding("outside_points", REFUSE, (Fact("outdoor", "temperature", outdoor_k),)))
