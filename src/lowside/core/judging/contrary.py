"""What does not go with missing charge, although superheat and subcooling by themselves say so.

Missing charge lowers the low side and the high side. A high side that is as high as a whole charge
makes it, or a low side that is, has another cause, and charge does not mend it.
"""

from dataclasses import replace

from lowside.core.handbook.system import EEV, TXV, Reading, System
from lowside.core.judging.by_target import approach_of
from lowside.core.judging.conditions import (
    BACKED_UP_K,
    COOL_LIQUID_K,
    FREEZING_K,
    SHOWN_K,
    SLACK_K,
    thermometer_error,
)
from lowside.core.judging.faults import (
    HEAD_HIGH_LOWEST_K,
    HIGH,
    LOW,
    NOT_KNOWN,
    SUCTION_HIGH_BELOW_RETURN_K,
    TELLING_SUBCOOLING_K,
    Signs,
    finding_of,
    with_normal,
)
from lowside.core.judging.findings import REFUSE, WARN, Fact, Finding, Unknown
from lowside.core.judging.targets import (
    FAHRENHEIT_DEGREE_K,
    SUPERHEAT_TOLERANCE_K,
    VALVE_SUPERHEAT_HIGHEST_K,
)
from lowside.core.judging.together import COIL_BELOW_RETURN_K, iced
from lowside.core.numbers.units import FAHRENHEIT_OFFSET

SHORT_LIFT_HIGHEST_K = 32.0 * FAHRENHEIT_DEGREE_K
"""Condensing above outdoor air of a unit that is short. A manufacturer's table comes out at 15 to
22 °F with the whole charge (COMPUTED from READ), old units at 30 (MEMORY); two for the
instruments."""
SHORT_LIFT_LOWEST_K = 14.0 * FAHRENHEIT_DEGREE_K
SHORT_BELOW_RETURN_K = 26.5 * FAHRENHEIT_DEGREE_K
"""Low-side saturation below return air, with a high side that is low too. Manufacturers' tables
come out at 28 to 30 °F with the whole charge at 80 °F and 67 °F wet bulb (READ, COMPUTED from
them), and missing charge makes the coil colder. Both limits are those of the advice for later
readings."""
HUMID_K = (67.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Damper air keeps the coil warmer: above this wet bulb the limit gives way degree by degree."""
LIQUID_TO_SPARE_K = 5.0 * FAHRENHEIT_DEGREE_K
"""A coil that starves until its gas is as warm as return air has no liquid before its orifice, and
is cold: with this much subcooling (the low end of healthy units), or with a coil as warm as a fed
one, the clamp reads air. Of the sound units of both practice models none comes to more than 3.5 °F,
or within 35 °F of return air, with such a line. Our choice."""
NO_LIFT_K = 6.0 * FAHRENHEIT_DEGREE_K
"""Condensing this little above outdoor air, a coil that has its superheat moves no heat. Sound
units of both practice models come to 8.2 °F. Our choice."""
VALVE_LIQUID_K = 3.9
"""An expansion valve with this much subcooling before it [K], 7 °F, does not lack liquid (the
published range of healthy units begins at 7.8 °F, READ)."""
VALVE_STARVED_K = 9.5
"""An expansion valve that holds more than 17 °F of superheat (a manufacturer's guide: 8 to 12 °F,
READ, and the ±5 °F of RA3.2, READ) with `VALVE_LIQUID_K` before it does not lack liquid. The
manufacturer's own superheat goes first."""
HUNTS_K = 3.0 * FAHRENHEIT_DEGREE_K
"""At the first reading this much more, and only behind `TELLING_SUBCOOLING_K`. Sound valves of both
practice models come to 18.8 °F of superheat there. Our choice."""
DEPRESSION_HIGHEST_K = 20.5
DEPRESSION_PER_SUPERHEAT = 0.7
"""Low-side saturation below return air [K]: 35 ± 5 °F (16.7 to 22.2 K) at 400 cfm a ton, about
40 °F at 350 (READ, trade). A starved coil runs colder by up to 0.7 of its superheat (seen in our
practice model). The limit, 24 K at 5 K of superheat, is our choice."""
FED_K = 15.0 * FAHRENHEIT_DEGREE_K
"""Superheat of a valve that is fed. READ: 8 to 12 °F normal, 25 to 30 undercharged (U-5 IOM p. 17);
three more are ours."""
FAR_OVER_K = 15.0 * FAHRENHEIT_DEGREE_K
"""Superheat this far past its range of a fixed orifice leaves no `TELLING_SUBCOOLING_K` when charge
is missing. Our choice."""
STARVED_OVER_K = 20.0 * FAHRENHEIT_DEGREE_K
"""And this far not even `LIQUID_TO_SPARE_K`. Of 1550 sound units of both practice models, short by
6 to 30 %, none has it. Our choice."""

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
    system: System,
) -> Finding | None:
    """What speaks against missing charge; `None` when nothing does, or nothing looks short.

    Args:
        signs: which readings are high or low.
        looks_like: what they look like together.
        reading: for the air.
        wet_bulb_k: of the return air [K].
        expected: superheat this metering device should show [K].
        system: its metering device, and the superheat the manufacturer says it holds.
    """
    code = "" if looks_like is None else looks_like.code
    short = signs.short or signs.subcooling == LOW or signs.superheat == HIGH
    valve = system.metering in (TXV, EEV)
    if looks_like is not None and code == "low_superheat" and signs.short:
        # By approach: behind an orifice missing charge raises superheat.
        return replace(looks_like, level=REFUSE)
    if code not in UNDERCHARGED or (looks_like is not None and looks_like.level == REFUSE):
        return None
    cold = valve and signs.suction == LOW and signs.superheat != NOT_KNOWN
    if cold and signs.superheat_k <= FED_K and (short or signs.coil_k < FREEZING_K):
        # A valve that has its superheat is fed. A cold coil then lacks air, not refrigerant.
        return finding_of("low_airflow", REFUSE, signs, ("suction", "superheat", "subcooling"))
    if not short:
        return None
    refused = _side(signs, reading, wet_bulb_k)
    if refused is None:
        refused = _starved(signs, reading, expected, system)
    if refused is not None or signs.head == NOT_KNOWN:
        return refused
    lift = signs.above_outdoor_k
    if lift <= SHORT_LIFT_HIGHEST_K + SLACK_K:
        return None
    # A reason opens it, so it is said only where nothing else refuses.
    return Finding("head_held", WARN, (Fact("above", "temperature_difference", lift),))


def backs_up(reading: Reading, signs: Signs, expected: tuple[float, float] | None) -> list[Finding]:
    """Without the high-side gauge the liquid line still tells a restriction."""
    if signs.superheat != HIGH or reading.liquid_pressure_pa is not None:
        return []
    above = approach_of(reading)
    starved = expected is not None and signs.superheat_k > expected[1] + STARVED_OVER_K
    if isinstance(above, Unknown) or above > (BACKED_UP_K if starved else COOL_LIQUID_K) + SLACK_K:
        return []
    return [Finding("liquid_backs_up", REFUSE, (Fact("above", "temperature_difference", above),))]


def most_a_valve_holds(maker_k: float | None) -> float:
    """The superheat [K] above which an expansion valve starves."""
    return VALVE_STARVED_K if maker_k is None else maker_k + SUPERHEAT_TOLERANCE_K


def _starved(
    signs: Signs, reading: Reading, expected: tuple[float, float] | None, system: System
) -> Finding | None:
    """Superheat that missing charge does not make with this much liquid."""
    line = reading.suction_line_k
    indoor = reading.return_dry_bulb_k
    spare = signs.subcooling_k >= LIQUID_TO_SPARE_K - SLACK_K
    if indoor is not None and indoor - signs.coil_k < SHORT_BELOW_RETURN_K:
        spare = True
    if spare and line is not None and indoor is not None and line >= indoor:
        facts = (
            Fact("suction_line", "temperature", line),
            Fact("return_air", "temperature", indoor),
        )
        return Finding("line_above_air", REFUSE, facts)
    if system.metering in (TXV, EEV):
        fed = signs.subcooling_k >= VALVE_LIQUID_K - SLACK_K
        hot = signs.superheat == HIGH and signs.superheat_k > VALVE_SUPERHEAT_HIGHEST_K + SLACK_K
        most = most_a_valve_holds(system.maker_superheat_k) + HUNTS_K
        telling = signs.subcooling_k >= TELLING_SUBCOOLING_K - SHOWN_K
        if (fed and hot) or (telling and signs.superheat_k > most + SLACK_K):
            return with_normal("restriction", REFUSE, replace(signs, superheat=HIGH))
        return None
    if signs.superheat != HIGH or expected is None:
        return None
    over = signs.superheat_k - expected[1]
    liquid = signs.subcooling_k + SLACK_K
    far = over > FAR_OVER_K and liquid >= TELLING_SUBCOOLING_K
    if far or (over > STARVED_OVER_K and liquid >= LIQUID_TO_SPARE_K):
        return with_normal("restriction_possible", REFUSE, signs)
    return None


def _side(signs: Signs, reading: Reading, wet_bulb_k: float | Unknown) -> Finding | None:
    """A high or low side that missing charge does not make."""
    lift = signs.above_outdoor_k
    head = signs.head != NOT_KNOWN
    outdoor_k = 0.0 if reading.outdoor_dry_bulb_k is None else reading.outdoor_dry_bulb_k
    hot = outdoor_k + lift > HEAD_HIGH_LOWEST_K
    if head and hot and lift > SHORT_LIFT_HIGHEST_K + SLACK_K:
        high = replace(signs, head=HIGH)
        return finding_of("low_outdoor_airflow", REFUSE, high, ("head", "subcooling", "superheat"))
    indoor_k = reading.return_dry_bulb_k
    if indoor_k is None or signs.suction == NOT_KNOWN:
        return None
    below_k = indoor_k - signs.coil_k
    starved = DEPRESSION_HIGHEST_K + DEPRESSION_PER_SUPERHEAT * signs.superheat_k
    ice = iced(signs.coil_k, signs.superheat_k) is not None
    if signs.superheat != NOT_KNOWN and below_k > starved and not ice:
        cold = replace(signs, suction=LOW)
        return finding_of("low_airflow", REFUSE, cold, ("suction", "superheat", "subcooling"))
    # In damp air as in that of the manufacturers' tables.
    damp = 0.0 if isinstance(wet_bulb_k, Unknown) else max(wet_bulb_k - HUMID_K, 0.0)
    low = head and lift < SHORT_LIFT_LOWEST_K
    warm = below_k + damp < (SHORT_BELOW_RETURN_K if low else SUCTION_HIGH_BELOW_RETURN_K) - SLACK_K
    if warm and (low or below_k >= COIL_BELOW_RETURN_K):
        weak = replace(signs, suction=HIGH, head=LOW if low else signs.head)
        return finding_of("weak_compressor", REFUSE, weak, ("suction", "head"))
    if not head or signs.superheat == NOT_KNOWN or signs.superheat_k > VALVE_SUPERHEAT_HIGHEST_K:
        return None
    if not NO_LIFT_K > lift >= -2.0 * thermometer_error(outdoor_k):
        return None
    return finding_of("weak_compressor", REFUSE, replace(signs, head=LOW), ("head",))
