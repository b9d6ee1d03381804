"""Fault patterns: which readings are high or low together, and what that looks like.

The pattern of each fault is that of a published service table (`docs/charge.md`); a sign that is
not known neither makes nor breaks a pattern unless the pattern rests on it. The table's column
“subcooling” is not used for weak compressors, where teaching differs, and “amps” is not used at
all: a reading has no rated current to compare with.
"""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.system import EEV, TXV, Metering, Reading, System
from lowside.core.judging.by_target import SHORT, Measured, approach_of, compare, value_of
from lowside.core.judging.conditions import (
    SLACK_K,
    SPLIT_TOLERANCE_K,
    thermometer_error,
)
from lowside.core.judging.findings import REFUSE, SHOWS, WARN, Fact, Finding, Grade, Unknown
from lowside.core.judging.targets import (
    APPROACH,
    FAHRENHEIT_DEGREE_K,
    SUBCOOLING,
    SUBCOOLING_TOLERANCE_K,
    NoTarget,
    Target,
    passing,
)
from lowside.core.numbers.units import FAHRENHEIT_OFFSET

SignLevel = Literal["low", "normal", "high", ""]
"""How a reading compares with what it should be."""

LOW: SignLevel = "low"
NORMAL: SignLevel = "normal"
HIGH: SignLevel = "high"
NOT_KNOWN: SignLevel = ""

Sign = Literal["superheat", "subcooling", "suction", "head", "split"]

USUAL_SUBCOOLING_LOWEST_K = 5.0 * FAHRENHEIT_DEGREE_K
USUAL_SUBCOOLING_HIGHEST_K = 18.0 * FAHRENHEIT_DEGREE_K
"""Subcooling of healthy units without a manufacturer's figure. Published figures lie between 7.8
and 15.7 °F (50XZ; another manufacturer 12 to 15; a third 10 to 12, and 20 to 25 when
overcharged)."""
BACKED_UP_SUBCOOLING_K = 12.0 * FAHRENHEIT_DEGREE_K
"""And from here it is not added to. Upper end of “normal” in the same table; our choice."""
TELLING_SUBCOOLING_K = 10.0 * FAHRENHEIT_DEGREE_K
"""From here a fixed orifice with high superheat makes one think of a restriction. Lower end of
“normal” in a manufacturer's service table (U-5)."""

SUCTION_LOW_BELOW_RETURN_K = 45.0 * FAHRENHEIT_DEGREE_K
SUCTION_HIGH_BELOW_RETURN_K = 22.0 * FAHRENHEIT_DEGREE_K
"""Low-side saturation (the `midpoint`) below return air. Published: 35 ± 5 °F at 400 cfm/ton, about
40 at 350; manufacturers' tables at 80 °F return and 67 °F wet bulb come out at 28 to 30 °F; the 22
is ours."""
SUCTION_LOW_K = (32.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
SUCTION_HIGH_K = (60.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Without return air: freezing, and 5 °F above the highest in the manufacturers' tables."""

HEAD_LOW_ABOVE_OUTDOOR_K = 10.0 * FAHRENHEIT_DEGREE_K
HEAD_HIGH_ABOVE_OUTDOOR_K = 35.0 * FAHRENHEIT_DEGREE_K
HEAD_HIGH_LOWEST_K = (100.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Condensing above outdoor air: a manufacturer's table comes out at 15 to 22 °F; old units reach 30
(common practice, no source). In cool weather head-pressure controls hold condensing near 90 °F, so
below 100 °F it never counts as high (common practice, no source)."""


@dataclass(frozen=True)
class Signs:
    """The level of each sign and its value [K]."""

    superheat: SignLevel
    superheat_k: float
    subcooling: SignLevel
    subcooling_k: float
    suction: SignLevel
    coil_k: float
    head: SignLevel
    above_outdoor_k: float
    split: SignLevel
    split_k: float
    split_sure: bool = True
    """A high split is further out than its two thermometers may err."""
    short: bool = False
    """Missing charge by the target itself, of whatever quantity."""


def signs_of(
    system: System,
    reading: Reading,
    measured: Measured,
    target: Target | NoTarget,
    expected: tuple[float, float] | None,
    split: tuple[float, float] | None,
) -> Signs:
    """How each reading compares: superheat with `expected`, subcooling with the manufacturer's
    figure or the usual range, the rest against the air. All in K."""
    superheat = measured.superheat_k
    subcooling = measured.subcooling_k
    coil_k = measured.coil_k
    condensing_k = measured.condensing_k
    superheat_level = NOT_KNOWN
    superheat_k = 0.0
    if not isinstance(superheat, Unknown):
        superheat_k = superheat
        if expected is not None:
            superheat_level = sign_level(superheat, expected[0], expected[1])
    subcooling_level = NOT_KNOWN
    subcooling_k = 0.0
    if not isinstance(subcooling, Unknown):
        subcooling_k = subcooling
        lowest, highest = _usual_subcooling(system, target)
        subcooling_level = sign_level(subcooling, lowest, highest)
    short = False
    if isinstance(target, Target):
        value = value_of(target, reading, measured)
        short = not isinstance(value, Unknown) and compare(target, value) == SHORT
    outdoor = reading.outdoor_dry_bulb_k
    head = NOT_KNOWN
    above_outdoor = 0.0
    if condensing_k is not None and outdoor is not None:
        head = head_level(condensing_k, outdoor)
        above_outdoor = condensing_k - outdoor
    return Signs(
        superheat_level,
        superheat_k,
        subcooling_level,
        subcooling_k,
        NOT_KNOWN if coil_k is None else suction_level(coil_k, reading.return_dry_bulb_k),
        0.0 if coil_k is None else coil_k,
        head,
        above_outdoor,
        split_level(split),
        0.0 if split is None else split[0],
        _sure(reading, split),
        short,
    )


def _usual_subcooling(system: System, target: Target | NoTarget) -> tuple[float, float]:
    if isinstance(target, Target) and target.quantity == SUBCOOLING:
        return passing(target)
    value = system.maker_subcooling_k
    if value is not None:
        return value - SUBCOOLING_TOLERANCE_K, value + SUBCOOLING_TOLERANCE_K
    return USUAL_SUBCOOLING_LOWEST_K, USUAL_SUBCOOLING_HIGHEST_K


def sign_level(value_k: float, lowest_k: float, highest_k: float) -> SignLevel:
    """LOW, NORMAL or HIGH; the limits themselves are normal."""
    if value_k < lowest_k - SLACK_K:
        return LOW
    if value_k > highest_k + SLACK_K:
        return HIGH
    return NORMAL


def suction_level(coil_k: float, return_air_k: float | None) -> SignLevel:
    """How low-side saturation [K] compares with return air [K]."""
    if return_air_k is None:
        return sign_level(coil_k, SUCTION_LOW_K, SUCTION_HIGH_K)
    return sign_level(
        coil_k,
        return_air_k - SUCTION_LOW_BELOW_RETURN_K,
        return_air_k - SUCTION_HIGH_BELOW_RETURN_K,
    )


def head_level(condensing_k: float, outdoor_k: float) -> SignLevel:
    """How condensing temperature [K] compares with outdoor air [K]."""
    found = sign_level(
        condensing_k, outdoor_k + HEAD_LOW_ABOVE_OUTDOOR_K, outdoor_k + HEAD_HIGH_ABOVE_OUTDOOR_K
    )
    if found == HIGH and condensing_k <= HEAD_HIGH_LOWEST_K:
        return NORMAL
    return found


def split_level(split: tuple[float, float] | None) -> SignLevel:
    """How the air's temperature drop compares with the chart (`conditions.split_of`)."""
    if split is None:
        return NOT_KNOWN
    return sign_level(split[0], split[1] - SPLIT_TOLERANCE_K, split[1] + SPLIT_TOLERANCE_K)


def _sure(reading: Reading, split: tuple[float, float] | None) -> bool:
    """Whether the split fails the test of RA3.2 (2008) whatever its thermometers may err."""
    supply = reading.supply_dry_bulb_k
    indoor = reading.return_dry_bulb_k
    if split is None or supply is None or indoor is None:
        return False
    error = thermometer_error(supply) + thermometer_error(indoor)
    return split[0] > split[1] + SPLIT_TOLERANCE_K + error + SLACK_K


def pattern(signs: Signs, metering: Metering, maker_subcooling: bool) -> Finding | None:
    """What the signs look like together; `None` when they look like nothing in particular.

    Args:
        signs: which readings are high or low.
        metering: of the unit.
        maker_subcooling: whether subcooling was held against the manufacturer's figure; against the
            usual range alone, normal subcooling does not rule out missing charge.
    """
    valve = metering in (TXV, EEV)
    if signs.suction == HIGH and signs.head == LOW:
        return finding_of("weak_compressor", REFUSE, signs, ("suction", "head"))
    if signs.head == HIGH:
        return _high_head(signs, valve)
    if _starved_of_air(signs):
        return finding_of("low_airflow", REFUSE, signs, ("superheat", "suction", "split"))
    starved = signs.superheat == HIGH or signs.subcooling == LOW
    if signs.split == HIGH and signs.split_sure and starved:
        return finding_of("airflow_first", REFUSE, signs, ("split", "superheat", "subcooling"))
    if signs.superheat == HIGH:
        return _high_superheat(signs, valve, maker_subcooling)
    if signs.superheat == LOW:
        return _low_superheat(signs, valve)
    if signs.subcooling == HIGH:
        if valve:
            return finding_of("overcharge", REFUSE, signs, ("subcooling", "head"))
        return finding_of("subcooling_high", WARN, signs, ("subcooling",))
    if signs.subcooling == LOW and valve:
        return finding_of("undercharge_valve", SHOWS, signs, ("subcooling", "suction", "head"))
    if signs.suction == LOW:
        return finding_of("suction_low", WARN, signs, ("suction",))
    return None


def approach_contradicted(
    system: System, target: Target | NoTarget, reading: Reading, subcooling: float | Unknown
) -> list[Finding]:
    """A short approach beside enough subcooling: the condenser holds its liquid, so the heat does
    not get out of it. Missing charge lowers one and raises the other."""
    if isinstance(target, NoTarget) or target.quantity != APPROACH:
        return []
    value = approach_of(reading)
    if isinstance(value, Unknown) or isinstance(subcooling, Unknown):
        return []
    enough = BACKED_UP_SUBCOOLING_K
    most = USUAL_SUBCOOLING_HIGHEST_K
    if system.maker_subcooling_k is not None:
        enough = system.maker_subcooling_k
        most = enough + SUBCOOLING_TOLERANCE_K
    # Charge raises condensing, if anything. So it brings at least this much with the approach.
    then = subcooling + value - target.value_k
    if compare(target, value) != SHORT or (
        subcooling < enough - SLACK_K and then <= most + SLACK_K
    ):
        return []
    return [
        Finding(
            "approach_contradicted",
            REFUSE,
            (
                Fact("approach", "temperature_difference", value),
                Fact("subcooling", "temperature_difference", subcooling),
            ),
        )
    ]


def condensing_below_outdoor(
    reading: Reading, bubble_k: float | None, looks_like: Finding | None
) -> list[Finding]:
    """Condensing colder than the air that takes the heat: a wrong reading, or hardly any charge. By
    the bubble point: no condenser makes liquid colder than its air (physics)."""
    outdoor = reading.outdoor_dry_bulb_k
    if bubble_k is None or outdoor is None:
        return []
    if bubble_k >= outdoor - 2.0 * thermometer_error(outdoor):
        return []
    if looks_like is not None and looks_like.code == "weak_compressor":
        return []
    return [
        Finding(
            "condensing_below_outdoor",
            REFUSE,
            (
                Fact("condensing", "temperature", bubble_k),
                Fact("outdoor", "temperature", outdoor),
            ),
        )
    ]


def looks_short(signs: Signs, looks_like: Finding | None, metering: Metering) -> bool:
    """Whether the readings by themselves, whatever the target, look like missing charge."""
    if looks_like is not None and looks_like.code in ("undercharge", "undercharge_valve"):
        return True
    valve = metering in (TXV, EEV)
    return not valve and signs.superheat == HIGH and signs.subcooling == NOT_KNOWN


def _high_head(signs: Signs, valve: bool) -> Finding:
    if signs.subcooling == LOW:
        return finding_of("low_outdoor_airflow", REFUSE, signs, ("head", "subcooling", "superheat"))
    if signs.subcooling == HIGH:
        if signs.superheat == HIGH or (signs.superheat == NORMAL and not valve):
            return finding_of(
                "restriction_overcharge", REFUSE, signs, ("head", "subcooling", "superheat")
            )
        return finding_of("overcharge", REFUSE, signs, ("subcooling", "head", "superheat"))
    return finding_of("high_head", REFUSE, signs, ("head",))


def _starved_of_air(signs: Signs) -> bool:
    if signs.suction != LOW or LOW in (signs.subcooling, signs.split):
        return False
    if signs.superheat == HIGH:
        return False
    return signs.superheat == LOW or signs.split == HIGH


def _high_superheat(signs: Signs, valve: bool, maker_subcooling: bool) -> Finding | None:
    which: tuple[Sign, ...] = ("superheat", "subcooling", "suction", "head")
    if signs.subcooling == LOW:
        return finding_of("undercharge", SHOWS, signs, which)
    if signs.subcooling == HIGH:
        return finding_of("restriction", REFUSE, signs, which)
    if signs.subcooling == NOT_KNOWN:
        code = "valve_superheat_high" if valve else "subcooling_needed"
        return finding_of(code, WARN, signs, ("superheat",))
    if maker_subcooling:
        return with_normal("restriction", REFUSE, signs)
    if signs.subcooling_k >= TELLING_SUBCOOLING_K:
        backed_up = signs.subcooling_k >= BACKED_UP_SUBCOOLING_K
        return with_normal("restriction_possible", REFUSE if backed_up else WARN, signs)
    return finding_of("valve_superheat_high", WARN, signs, ("superheat",)) if valve else None


def _low_superheat(signs: Signs, valve: bool) -> Finding:
    if valve:
        return finding_of("valve_floods", REFUSE, signs, ("superheat",))
    if signs.subcooling == HIGH:
        return finding_of("overcharge", REFUSE, signs, ("superheat", "subcooling", "suction"))
    if signs.subcooling == LOW:
        return finding_of("overfed", REFUSE, signs, ("superheat", "subcooling"))
    return finding_of("low_superheat", WARN, signs, ("superheat",))


def finding_of(code: str, grade: Grade, signs: Signs, which: tuple[Sign, ...]) -> Finding:
    """The finding with those of `which` that are not normal."""
    return Finding(code, grade, (), _signs(signs, which, (LOW, HIGH)))


def with_normal(code: str, grade: Grade, signs: Signs) -> Finding:
    """A finding in which normal subcooling is part of the story."""
    which: tuple[Sign, ...] = ("superheat", "subcooling")
    return Finding(code, grade, (), _signs(signs, which, (LOW, NORMAL, HIGH)))


def _signs(
    signs: Signs, which: tuple[Sign, ...], levels: tuple[SignLevel, ...]
) -> tuple[Fact, ...]:
    """Those of `which` that have one of `levels`, as the sentence names them."""
    found: list[Fact] = []
    for name in which:
        if name == "superheat" and signs.superheat in levels:
            found.append(_difference("superheat", signs.superheat_k, signs.superheat))
        elif name == "subcooling" and signs.subcooling in levels:
            found.append(_difference("subcooling", signs.subcooling_k, signs.subcooling))
        elif name == "suction" and signs.suction in levels:
            found.append(Fact("mean coil temperature", "temperature", signs.coil_k, signs.suction))
        elif name == "head" and signs.head in levels:
            found.append(
                _difference("mean condensing above outdoor air", signs.above_outdoor_k, signs.head)
            )
        elif name == "split" and signs.split in levels:
            found.append(_difference("air temperature drop", signs.split_k, signs.split))
    return tuple(found)


def _difference(name: str, value_k: float, level: SignLevel) -> Fact:
    return Fact(name, "temperature_difference", value_k, level)
