"""What a reading means: superheat, subcooling, the target, and whether charge is called for.

Superheat is the suction line above the **dew** point at suction pressure; subcooling is the liquid
line below the **bubble** point at liquid pressure; never a midpoint. Air, freezing and the switch
are held against the midpoint. The rules and their sources are in `docs/charge.md`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.charts import TARGET_SPLIT, TARGET_SUPERHEAT
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.refrigerants import REFRIGERATION
from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_temperature,
    dew_temperature,
)
from lowside.core.handbook.system import FIXED, Reading, System
from lowside.core.judging.by_target import (
    AT_TARGET,
    SHORT,
    Compared,
    Measured,
    beside_chart,
    compare,
    gross_approach,
    midpoint,
    shortfall,
    target_finding,
    value_of,
)
from lowside.core.judging.chart_points import target_of
from lowside.core.judging.conditions import (
    air_and_lines,
    by_hand,
    labels,
    liquid_below_outdoor,
    method_limits,
    plates,
    pressures,
    split_finding,
    split_of,
    too_near_the_limit,
)
from lowside.core.judging.contrary import backs_up, contrary
from lowside.core.judging.faults import (
    HIGH,
    LOW,
    Signs,
    approach_contradicted,
    condensing_below_outdoor,
    looks_short,
    pattern,
    signs_of,
)
from lowside.core.judging.findings import (
    DANGER,
    REFUSE,
    SHOWS,
    WARN,
    Fact,
    Finding,
    Unknown,
    missing,
    sentence,
)
from lowside.core.judging.floodback import floodback, superheat_floor
from lowside.core.judging.plausibility import (
    not_of_a_running_unit,
    one_wet_bulb,
    out_of_table,
    pressure_of,
    two_airs,
)
from lowside.core.judging.starvation import (
    COOLER_K,
    LOW_SUCTION,
    STARVED,
    VACUUM_SEEN,
    starved_findings,
    suction_share,
    vacuum_findings,
)
from lowside.core.judging.targets import (
    SUBCOOLING,
    NoTarget,
    Target,
    TargetQuantity,
    all_needed,
    expected_superheat,
    judged_by_pressure,
    still_needed,
)
from lowside.core.judging.together import APART, coldest, do_not_go_together, iced
from lowside.core.numbers.unit_choice import UnitChoice

Verdict = Literal["add", "on_target", "over", "do_not_add", "weigh_in", "stop", "unknown"]
"""What one reading says about the charge. What to do next is an `advice.AdvisedAction`."""

CALLS_FOR_CHARGE: Verdict = "add"
"""Charge is missing and nothing speaks against adding it."""
ON_TARGET: Verdict = "on_target"
OVER: Verdict = "over"
"""Too much inside: recover, never vent."""
POINTS_ELSEWHERE: Verdict = "do_not_add"
"""The readings point elsewhere, or cannot be charged by today."""
NEARLY_EMPTY: Verdict = "weigh_in"
"""Nothing is added to what is inside. Recover, evacuate, weigh in."""
UNSAFE: Verdict = "stop"
"""Close the low-side manifold valve now. The cylinder valve stays open as the relief."""
UNKNOWN: Verdict = "unknown"
"""Something needed is missing."""

SHOWS_TOO_MUCH = ("overcharge", "superheat_floor", "split_bars", "current_high")
"""Refusals that agree with too much inside, or block adding only, and do not overrule it."""


@dataclass(frozen=True)
class Assessment:
    """What one reading means. Temperatures and differences in K; words come from `reason`,
    `target_text` and `findings.sentence`, in the units asked for."""

    measured: Measured
    wet_bulb_k: float | Unknown
    """Of the return air, measured or computed."""
    target: Target | NoTarget
    expected_superheat_k: tuple[float, float] | None
    """What this metering device should show, whatever the method."""
    verdict: Verdict
    reason_finding: Finding
    """Why that verdict; also among `findings`."""
    findings: tuple[Finding, ...]
    """Everything the readings say, the gravest first."""
    split_over_k: float | None = None
    """How far the air's temperature drop is above the table's; `None` when not known."""
    suction_share: float | None = None
    """Density of the suction gas as a share of the rated; `None` when not known."""
    bars_adding: Finding | None = None
    """On target: why nothing may be added in spite of that. Else `None`: what blocks adding is then
    the reason of the verdict."""


def assess(system: System, reading: Reading, handbook: Handbook) -> Assessment:
    """Judge one reading.

    Args:
        system: the unit, its method and the manufacturer's figures.
        reading: instrument readings; whatever is missing makes `Unknown`, never an exception.
        handbook: property tables and charts.
    """
    wet_bulb = one_wet_bulb(system, reading, handbook)
    chart = handbook.charts[TARGET_SUPERHEAT]
    table = handbook.tables.get(system.refrigerant)
    target = target_of(system, reading, wet_bulb, chart, table)
    expected = expected_superheat(system, reading, wet_bulb, target, chart)
    wrong = not_of_a_running_unit(system, reading, table)
    if table is None or wrong is not None:
        return _no_figures(system, wrong, wet_bulb, target, expected)
    dew = _saturation(system, table, dew_temperature, "suction_pressure", reading)
    bubble = _saturation(system, table, bubble_temperature, "liquid_pressure", reading)
    liquid_dew = _saturation(system, table, dew_temperature, "liquid_pressure", reading)
    suction_bubble = _saturation(system, table, bubble_temperature, "suction_pressure", reading)
    superheat = _from_saturation(
        dew, reading.suction_line_k, ("suction_pressure", "suction_line"), False
    )
    subcooling = _from_saturation(
        bubble, reading.liquid_line_k, ("liquid_pressure", "liquid_line"), True
    )
    measured = Measured(
        superheat,
        subcooling,
        None if isinstance(dew, Unknown) else dew,
        None if isinstance(bubble, Unknown) else bubble,
        midpoint(dew, suction_bubble),
        midpoint(liquid_dew, bubble),
    )

    share = suction_share(table, reading)
    found = (
        by_hand(reading)
        + pressures(system, reading, measured.coil_k)
        + vacuum_findings(system, reading)
        + method_limits(system, reading)
    )
    found.extend(plates(system, reading) + labels(system))
    found.extend(two_airs(wet_bulb, target) + air_and_lines(reading, liquid_dew))
    found.extend(floodback(superheat, reading))
    found.extend(
        gross_approach(target, reading)
        + beside_chart(system, target, superheat, reading, wet_bulb, chart)
    )
    split = split_of(reading, wet_bulb, handbook.charts[TARGET_SPLIT])
    signs = signs_of(system, reading, measured, target, expected, split)
    thin = _too_thin(system, reading, handbook, signs, share)
    # A restriction says "switch off" before what bars the method; a freezer may run so.
    found = [*thin, *found] if signs.subcooling == HIGH else [*found, *thin]
    by_subcooling = isinstance(target, Target) and target.quantity == SUBCOOLING
    by_maker = by_subcooling or system.maker_subcooling_k is not None
    looks_like = pattern(signs, system.metering, by_maker)
    if isinstance(target, Target):
        other = contrary(signs, looks_like, reading, wet_bulb, expected, system)
        looks_like = looks_like if other is None else other
    if looks_like is None or looks_like.code != "weak_compressor" or signs.head != LOW:
        found.extend(do_not_go_together(reading, measured.coil_k, coldest(table, reading)))
    if looks_like is not None:
        found.append(looks_like)
    found.extend(liquid_below_outdoor(reading))
    found.extend(condensing_below_outdoor(reading, measured.bubble_k, looks_like))
    found.extend(approach_contradicted(system, target, reading, subcooling))
    low = superheat_floor(superheat)
    found.extend([low] if low is not None and system.metering == FIXED else [])
    found.extend(backs_up(reading, signs, expected))
    found.extend(_split(split, signs, looks_like))
    for unknown in (dew, bubble):
        if isinstance(unknown, Unknown) and unknown.reason.code == "out_of_table":
            found.append(unknown.reason)
    if isinstance(target, NoTarget):
        found.append(target.reason)
    elif target.basis.level != SHOWS:
        found.append(target.basis)

    short = looks_short(signs, looks_like, system.metering)
    verdict, why = _verdict(system, reading, measured, target, found, short)
    return Assessment(
        measured,
        wet_bulb,
        target,
        expected,
        verdict,
        why,
        _gravest_first(found, why),
        None if split is None else split[0] - split[1],
        share,
        _bars_adding(system, reading, measured) if verdict == ON_TARGET else None,
    )


def gap_of(assessment: Assessment, reading: Reading, quantity: TargetQuantity) -> float | None:
    """How far a reading is on the side of missing charge [K], by its own target; `None` when that
    is of another quantity, or something is missing."""
    target = assessment.target
    if isinstance(target, NoTarget) or target.quantity != quantity:
        return None
    value = value_of(target, reading, assessment.measured)
    return None if isinstance(value, Unknown) else shortfall(target, value)


def reason(assessment: Assessment, choice: UnitChoice) -> str:
    """Why the verdict, in one or two sentences."""
    return sentence(assessment.reason_finding, choice)


def target_text(assessment: Assessment, choice: UnitChoice) -> str:
    """The target with its tolerance and its source, or why there is none."""
    if isinstance(assessment.target, NoTarget):
        return sentence(assessment.target.reason, choice)
    return sentence(assessment.target.basis, choice)


def _from_saturation(
    saturation: float | Unknown, line_k: float | None, fields: tuple[str, str], below: bool
) -> float | Unknown:
    """How far the line is above its saturation, or `below` it [K]."""
    if isinstance(saturation, Unknown):
        if line_k is None and saturation.reason.code == "missing":
            return Unknown(missing(fields))
        return saturation
    if line_k is None:
        return Unknown(missing((fields[1],)))
    return saturation - line_k if below else line_k - saturation


def _saturation(
    system: System,
    table: PropertyTable,
    temperature: Callable[[PropertyTable, float], float | OutOfRange],
    field: str,
    reading: Reading,
) -> float | Unknown:
    pressure = pressure_of(reading, field)
    if pressure is None:
        return Unknown(missing((field,)))
    found = temperature(table, pressure)
    if isinstance(found, OutOfRange):
        return Unknown(out_of_table(system, field, pressure, table))
    return found


def _too_thin(
    system: System, reading: Reading, handbook: Handbook, signs: Signs, share: float | None
) -> list[Finding]:
    """Suction too low to run on. With liquid backed up that is a restriction, and a freezer or a
    cooler runs so low: neither is nearly empty."""
    backed_up = signs.subcooling == HIGH
    room = reading.return_dry_bulb_k
    freezer = handbook.refrigerants[system.refrigerant].use == REFRIGERATION
    if room is not None and room < COOLER_K:
        freezer = True
    code = LOW_SUCTION if backed_up or freezer else STARVED
    return starved_findings(system, reading, None if backed_up else share, code)


def _split(
    split: tuple[float, float] | None, signs: Signs, looks_like: Finding | None
) -> list[Finding]:
    """The temperature split by itself, unless a pattern already speaks of it or explains it."""
    if split is None:
        return []
    code = "" if looks_like is None else looks_like.code
    if signs.split == HIGH and code not in ("low_airflow", "airflow_first"):
        if signs.split_sure:
            return [split_finding("split_bars", REFUSE, split)]
        return [split_finding("split_high", WARN, split)]
    if signs.split == LOW and code not in ("undercharge", "undercharge_valve"):
        return [split_finding("split_low", WARN, split)]
    return []


def _verdict(
    system: System,
    reading: Reading,
    measured: Measured,
    target: Target | NoTarget,
    found: list[Finding],
    looks_undercharged: bool,
) -> tuple[Verdict, Finding]:
    for finding in found:
        if finding.level == DANGER:
            return UNSAFE, finding
    refusals = [finding for finding in found if finding.level == REFUSE]
    empty = [finding for finding in refusals if finding.code in (VACUUM_SEEN, STARVED)]
    if empty:
        return NEARLY_EMPTY, empty[0]
    outside = [finding for finding in found if finding.code == "out_of_table"]
    if outside:
        # Also by superheat: how near its limits the high side runs, nobody knows.
        return _cannot_say(refusals, system, reading, outside[0])
    if isinstance(target, NoTarget):
        return _cannot_say(refusals, system, reading, target.reason)
    value = value_of(target, reading, measured)
    if isinstance(value, Unknown):
        return _cannot_say(refusals, system, reading, value.reason)
    compared = compare(target, value)
    verdict = _verdict_of(compared)
    others = [each for each in refusals if verdict != OVER or each.code not in SHOWS_TOO_MUCH]
    if others:
        return POINTS_ELSEWHERE, others[0]
    absent = still_needed(system, reading)
    if verdict == CALLS_FOR_CHARGE:
        absent = all_needed(system, reading)
    if absent:
        return UNKNOWN, missing(absent)
    if judged_by_pressure(target.quantity) and (compared == SHORT) != looks_undercharged:
        # READ: not by suction pressure but for gross undercharge (DZ13SC p. 9): never alone.
        alone = Finding("pressure_alone", REFUSE)
        found.append(alone)
        return POINTS_ELSEWHERE, alone
    bars = _bars_adding(system, reading, measured) if verdict == CALLS_FOR_CHARGE else None
    if bars is not None:
        found.append(bars)
        return POINTS_ELSEWHERE, bars
    return verdict, target_finding(compared, system, target, reading, value)


def _bars_adding(system: System, reading: Reading, measured: Measured) -> Finding | None:
    """What blocks adding only, and neither “on target” nor “over”."""
    absent = all_needed(system, reading)
    if absent:
        return missing(absent)
    near = too_near_the_limit(system, measured.condensing_k)
    if near is not None:
        return near
    ice = iced(measured.coil_k, measured.superheat_k)
    if ice is not None or system.maker_superheat_k is not None:
        return ice
    return superheat_floor(measured.superheat_k)


def _verdict_of(compared: Compared) -> Verdict:
    if compared == AT_TARGET:
        return ON_TARGET
    return CALLS_FOR_CHARGE if compared == SHORT else OVER


def _cannot_say(
    refusals: list[Finding], system: System, reading: Reading, first: Finding
) -> tuple[Verdict, Finding]:
    """Without a figure a refusal counts; else all that the method needs is named, not only the
    first that is missing."""
    if refusals:
        return POINTS_ELSEWHERE, refusals[0]
    absent = all_needed(system, reading) if first.code == "missing" else ()
    return UNKNOWN, missing(absent) if absent else first


def _no_figures(
    system: System,
    wrong: Finding | None,
    wet_bulb: float | Unknown,
    target: Target | NoTarget,
    expected: tuple[float, float] | None,
) -> Assessment:
    """By what no running unit shows, or without a table."""
    why = Finding("no_table", WARN, (Fact("refrigerant", "text", text=system.refrigerant),))
    verdict = UNKNOWN
    if wrong is not None:
        why = wrong
        verdict = UNSAFE
    nothing = Measured(Unknown(why), Unknown(why), None, None, None, None)
    return Assessment(nothing, wet_bulb, target, expected, verdict, why, (why,))


def _gravest_first(found: list[Finding], why: Finding) -> tuple[Finding, ...]:
    """By level; within a level the reason first, the rest as found."""
    if not found:
        return (why,)
    ordered: list[Finding] = []
    for grade in (DANGER, REFUSE, WARN, SHOWS):
        if why.level == grade:
            ordered.append(why)
        for finding in found:
            if finding.level == grade and not _same_words(finding, why):
                ordered.append(finding)
    return tuple(ordered)


def _same_words(finding: Finding, why: Finding) -> bool:
    """The reason itself, what it says more of, or what cannot be said beside it: that a reading
    looks undercharged which is not to be believed."""
    codes = (finding.code, why.code)
    if finding.level == SHOWS and why.code in ("iced", "drier", "superheat_floor", *APART):
        return True
    return finding is why or codes in (("missing", "missing"), ("freezing", "iced"))
