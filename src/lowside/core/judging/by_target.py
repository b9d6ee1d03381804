"""How a reading compares with its target: undercharged, right, or too much."""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.charts import Chart
from lowside.core.handbook.system import Reading, System
from lowside.core.judging.findings import (
    REFUSE,
    SHOWS,
    WARN,
    Fact,
    Finding,
    Grade,
    Unknown,
    missing,
)
from lowside.core.judging.targets import (
    APPROACH,
    APPROACH_GROSS_K,
    LIQUID_PRESSURE,
    SUPERHEAT,
    SUPERHEAT_TOLERANCE_K,
    NoTarget,
    Target,
    chart_target,
    judged_by_pressure,
    within,
)
from lowside.core.numbers.units import as_shown

Compared = Literal["short", "right", "over"]
"""Where a reading is by its target."""

SHORT: Compared = "short"
AT_TARGET: Compared = "right"
TOO_MUCH: Compared = "over"

CODES: dict[Compared, str] = {SHORT: "add", AT_TARGET: "on_target", TOO_MUCH: "over"}
"""What the code of the finding begins with."""


ABOVE_CHART = "above_chart"
"""Code of the finding that a typed superheat is far above the chart's."""


@dataclass(frozen=True)
class Measured:
    """What was read, as temperatures [K]: superheat, subcooling, and saturation on both sides."""

    superheat_k: float | Unknown
    subcooling_k: float | Unknown
    dew_k: float | None
    """At suction pressure."""
    bubble_k: float | None
    """At liquid pressure."""
    coil_k: float | None
    condensing_k: float | None
    """Of coil and condenser: `midpoint`."""


def midpoint(dew: float | Unknown, bubble: float | Unknown) -> float | None:
    """Mean temperature [K] of a coil or condenser, from both ends of its glide. Only what is held
    against air, freezing or the switch goes by it, never superheat or subcooling.

    READ: a training article takes the midpoint of a blend for the coil below return air and for
    condensing above ambient; a compressor manufacturer calls it more or less the average (MT
    compressors p. 77). The coil at 60 % dew, which the article names too, is 1 °F warmer with
    R-407C.
    """
    if isinstance(dew, Unknown) or isinstance(bubble, Unknown):
        return None
    return (dew + bubble) / 2.0


def value_of(target: Target, reading: Reading, measured: Measured) -> float | Unknown:
    """What the target is held against [K]."""
    if target.quantity == SUPERHEAT:
        return measured.superheat_k
    if target.quantity == APPROACH:
        return approach_of(reading)
    if not judged_by_pressure(target.quantity):
        return measured.subcooling_k
    liquid = target.quantity == LIQUID_PRESSURE
    value = measured.bubble_k if liquid else measured.dew_k
    if value is None:
        return Unknown(missing(("liquid_pressure" if liquid else "suction_pressure",)))
    return value


def approach_of(reading: Reading) -> float | Unknown:
    """Liquid line less outdoor air [K]."""
    line = reading.liquid_line_k
    outdoor = reading.outdoor_dry_bulb_k
    if line is None:
        return Unknown(missing(("liquid_line",)))
    if outdoor is None:
        return Unknown(missing(("outdoor_dry_bulb",)))
    return line - outdoor


def shortfall(target: Target, value_k: float) -> float:
    """How far the value is on the side of missing charge [K]; negative: on the other."""
    return target.value_k - value_k if target.short_below else value_k - target.value_k


def compare(target: Target, value_k: float) -> Compared:
    """Where the value [K] is by its target."""
    if within(target, value_k):
        return AT_TARGET
    return SHORT if shortfall(target, value_k) > 0.0 else TOO_MUCH


def is_short_by(target: Target, gap_k: float) -> bool:
    """Whether a reading so far on the side of missing charge [K] is beyond the tolerance."""
    value = target.value_k - gap_k if target.short_below else target.value_k + gap_k
    return compare(target, value) == SHORT


def gross_approach(target: Target | NoTarget, reading: Reading) -> list[Finding]:
    """An approach so far off that the method says nothing."""
    if isinstance(target, NoTarget) or target.quantity != APPROACH:
        return []
    value = approach_of(reading)
    if isinstance(value, Unknown) or abs(value - target.value_k) <= APPROACH_GROSS_K:
        return []
    gap = abs(value - target.value_k)
    return [Finding("approach_gross", REFUSE, (Fact("gap", "temperature_difference", gap),))]


def beside_chart(
    system: System,
    target: Target | NoTarget,
    superheat: float | Unknown,
    reading: Reading,
    wet_bulb_k: float | Unknown,
    chart: Chart,
) -> list[Finding]:
    """A typed superheat far from the chart's, at a reading that the higher of the two calls enough.
    In this weather manufacturers' charts agree with it within 1.5 °F, within 5 °F in three cells
    (READ); a figure kept for all weathers floods the compressor in some (common practice, no
    source). Above the chart the same distance is our choice: there charge is taken out."""
    usual = chart_target(system, reading.outdoor_dry_bulb_k, wet_bulb_k, chart)
    if isinstance(target, NoTarget) or isinstance(usual, NoTarget):
        return []
    below_k = usual.value_k - target.value_k
    if target.quantity != SUPERHEAT or abs(below_k) <= SUPERHEAT_TOLERANCE_K:
        return []
    if (
        isinstance(superheat, Unknown)
        or compare(usual if below_k > 0.0 else target, superheat) == SHORT
    ):
        return []
    code = "below_chart" if below_k > 0.0 else ABOVE_CHART
    return [Finding(code, WARN, (Fact("usual", "temperature_difference", usual.value_k),))]


def target_finding(
    compared: Compared, system: System, target: Target, reading: Reading, value_k: float
) -> Finding:
    """Where the reading is; target and tolerance are facts of the target's own basis. The gap is
    that of the two numbers as they are shown."""
    level: Grade = REFUSE if compared == TOO_MUCH else SHOWS
    if not judged_by_pressure(target.quantity):
        shown = as_shown("temperature_difference", value_k, system.temperature_unit)
        aim = as_shown("temperature_difference", target.value_k, system.temperature_unit)
        return Finding(
            CODES[compared] + "_" + target.quantity,
            level,
            (
                Fact("value", "temperature_difference", value_k),
                Fact("gap", "temperature_difference", abs(shown - aim)),
                *target.basis.facts,
            ),
        )
    pressure = reading.suction_pressure_pa
    if target.quantity == LIQUID_PRESSURE:
        pressure = reading.liquid_pressure_pa
    gauge = 0.0 if pressure is None else pressure - system.atmosphere_pa
    shown = as_shown("gauge_pressure", gauge, system.pressure_unit)
    aim = as_shown("gauge_pressure", target.gauge_pa, system.pressure_unit)
    return Finding(
        CODES[compared] + "_pressure",
        level,
        (
            Fact("value", "gauge_pressure", gauge),
            Fact("gap", "gauge_pressure", abs(shown - aim)),
            *target.basis.facts,
        ),
    )
