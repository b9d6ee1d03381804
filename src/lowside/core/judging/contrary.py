"""What does not go with missing charge, although superheat and subcooling by themselves say so.

Missing charge lowers the low side and the high side. A high side that is as high as a whole charge
makes it, or a low side that is, has another cause, and charge does not mend it.
"""

from dataclasses import replace

from lowside.core.handbook.system import EEV, TXV, Metering, Reading
from lowside.core.judging.conditions import FREEZING_K, SLACK_K
from lowside.core.judging.faults import (
    HEAD_HIGH_LOWEST_K,
    HIGH,
    LOW,
    NOT_KNOWN,
    TELLING_SUBCOOLING_K,
    Signs,
    finding_of,
    with_normal,
)
from lowside.core.judging.findings import REFUSE, WARN, Fact, Finding, Unknown
from lowside.core.judging.targets import FAHRENHEIT_DEGREE_K
from lowside.core.numbers.units import FAHRENHEIT_OFFSET

SHORT_LIFT_HIGHEST_K = 32.0 * FAHRENHEIT_DEGREE_K
"""Condensing above outdoor air of a unit that is short. A maker's table comes out at 15 to 22 °F
with the whole charge (COMPUTED from READ), old units at 30 (MEMORY); two for the instruments."""
SHORT_LIFT_LOWEST_K = 14.0 * FAHRENHEIT_DEGREE_K
SHORT_BELOW_RETURN_K = 26.5 * FAHRENHEIT_DEGREE_K
"""Low-side saturation below return air, with a high side that is low too. Makers' tables come out
at 28 to 30 °F with the whole charge at 80 °F and 67 °F wet bulb (READ, COMPUTED from them), and
missing charge makes the coil colder. Both limits are those of the advice for later readings."""
HUMID_K = (67.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Damper air keeps the coil warmer: above this wet bulb the limit gives way degree by degree."""
FED_K = 15.0 * FAHRENHEIT_DEGREE_K
"""Superheat of a valve that is fed. READ: 8 to 12 °F normal, 25 to 30 undercharged (U-5 IOM p. 17);
three more are ours."""
FAR_OVER_K = 15.0 * FAHRENHEIT_DEGREE_K
"""Superheat this far past its range of a fixed orifice leaves no subcooling when charge is
missing. Our choice."""

UNDERCHARGED = (
    "undercharge",
    "undercharge_valve",
    "valve_superheat_high",
    "restriction_possible",
    "suction_low",
    "",
)
"""What the signs may look like for it to be asked; "": nothing in particular."""


def contrary(
    signs: Signs,
    looks_like: Finding | None,
    reading: Reading,
    wet_bulb_k: float | Unknown,
    expected: tuple[float, float] | None,
    metering: Metering,
) -> Finding | None:
    """What speaks against missing charge; `None` when nothing does, or nothing looks short.

    Args:
        signs: how the readings stand.
        looks_like: what they look like together.
        reading: for the air.
        wet_bulb_k: of the return air [K].
        expected: superheat this metering device should show [K].
        metering: of the unit.
    """
    code = "" if looks_like is None else looks_like.code
    short = signs.subcooling == LOW or signs.superheat == HIGH
    valve = metering in (TXV, EEV)
    if code not in UNDERCHARGED:
        return None
    cold = valve and signs.suction == LOW and signs.superheat != NOT_KNOWN
    if cold and signs.superheat_k <= FED_K and (short or signs.dew_k < FREEZING_K):
        # A valve that has its superheat is fed. A cold coil then lacks air, not refrigerant.
        return finding_of("low_airflow", REFUSE, signs, ("suction", "superheat", "subcooling"))
    if not short:
        return None
    outdoor = reading.outdoor_dry_bulb_k
    if outdoor is not None and signs.head != NOT_KNOWN:
        head = _head(signs, outdoor, _below_return(signs, reading, wet_bulb_k))
        if head is not None:
            return head
    if valve or expected is None or signs.superheat != HIGH:
        return None
    far = signs.superheat_k > expected[1] + FAR_OVER_K
    if far and signs.subcooling_k >= TELLING_SUBCOOLING_K - SLACK_K:
        return with_normal("restriction_possible", REFUSE, signs)
    return None


def _head(signs: Signs, outdoor_k: float, below_return_k: float | None) -> Finding | None:
    lift = signs.above_outdoor_k
    if lift > SHORT_LIFT_HIGHEST_K + SLACK_K:
        if outdoor_k + lift > HEAD_HIGH_LOWEST_K:
            high = replace(signs, head=HIGH)
            return finding_of(
                "low_outdoor_airflow", REFUSE, high, ("head", "subcooling", "superheat")
            )
        return Finding("head_held", WARN, (Fact("above", "temperature_difference", lift),))
    if below_return_k is None or lift >= SHORT_LIFT_LOWEST_K:
        return None
    if below_return_k >= SHORT_BELOW_RETURN_K - SLACK_K:
        return None
    weak = replace(signs, suction=HIGH, head=LOW)
    return finding_of("weak_compressor", REFUSE, weak, ("suction", "head"))


def _below_return(signs: Signs, reading: Reading, wet_bulb_k: float | Unknown) -> float | None:
    """Low-side saturation below return air [K], in damp air as in that of the makers' tables."""
    indoor = reading.return_dry_bulb_k
    if indoor is None or signs.suction == NOT_KNOWN:
        return None
    damp = 0.0 if isinstance(wet_bulb_k, Unknown) else max(wet_bulb_k - HUMID_K, 0.0)
    return indoor - signs.dew_k + damp
