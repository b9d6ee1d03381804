"""Readings that point elsewhere than to the charge: each a pattern of signs, and where it is from.

Patterns follow the fault table of refrigeration-engineer.com entry 355 (read): restriction has
superheat high with subcooling normal to high, low indoor airflow superheat and suction low, low
outdoor airflow head high, weak compressor valves suction high with head low. The limits that make
a reading “high” or “low” are stated with each constant.
"""

from dataclasses import dataclass

from lowside.core.charts import Chart, NoValue, look_up
from lowside.core.findings import REFUSE, WARN, Fact, Finding, Unknown
from lowside.core.system import EEV, TXV, Reading, System
from lowside.core.targets import FAHRENHEIT_DEGREE_K, SUBCOOLING, NoTarget, Target

SUBCOOLING_HIGH_K = 15.0 * FAHRENHEIT_DEGREE_K
"""Without a maker's figure, more than this behind a starved coil is liquid that cannot get through.
Normal is 10 to 12 °F, overcharged 20 to 25 °F (Mammoth U-5 manual p. 17, read): half way."""

COIL_BELOW_RETURN_K = 35.0 * FAHRENHEIT_DEGREE_K
"""The coil boils about 35 °F below return air at 400 cfm/ton, ± 5 °F (trade training text, read)."""
COIL_LOW_K = COIL_BELOW_RETURN_K + 10.0 * FAHRENHEIT_DEGREE_K
"""Further below return air than this is low: twice the ± 5 °F. Our choice."""
COIL_HIGH_K = COIL_BELOW_RETURN_K - 17.0 * FAHRENHEIT_DEGREE_K
"""Less below return air than this is high. Our choice, wide enough for humid houses."""

CONDENSING_HIGH_K = 40.0 * FAHRENHEIT_DEGREE_K
"""Condensing this far over outdoor air is high: 30 °F for the oldest units (from memory) and 10 °F
to spare. Our choice."""
CONDENSING_LOW_K = 6.0 * FAHRENHEIT_DEGREE_K
"""Condensing no further than this over outdoor air means little heat is being pumped. Our choice."""

SPLIT_TOLERANCE_K = 3.0 * FAHRENHEIT_DEGREE_K
"""Installer's width of the temperature split test (RA3.2, 2008, read for the low side)."""


@dataclass(frozen=True)
class Signs:
    """What the patterns are made of [K]; `None` where not known."""

    superheat_k: float | None
    superheat_range_k: tuple[float, float] | None
    """What this metering device should show."""
    subcooling_k: float | None
    target: Target | NoTarget
    dew_k: float | None
    bubble_k: float | None
    wet_bulb_k: float | Unknown


def fault_findings(
    system: System, reading: Reading, signs: Signs, split_chart: Chart
) -> list[Finding]:
    """Every pattern the reading shows; REFUSE: do not add on it."""
    found: list[Finding] = []
    for check in (_restriction, _weak_compressor, _low_airflow, _high_head):
        finding = check(system, reading, signs)
        if finding is not None:
            found.append(finding)
    split = _split(reading, signs, split_chart)
    if split is not None:
        found.append(split)
    return found


def _restriction(_system: System, _reading: Reading, signs: Signs) -> Finding | None:
    """Coil starved while liquid stands before the metering device."""
    if signs.superheat_k is None or signs.superheat_range_k is None or signs.subcooling_k is None:
        return None
    enough = SUBCOOLING_HIGH_K
    if isinstance(signs.target, Target) and signs.target.quantity == SUBCOOLING:
        enough = signs.target.value_k - signs.target.tolerance_k
    if signs.superheat_k <= signs.superheat_range_k[1] or signs.subcooling_k < enough:
        return None
    stands = "high" if signs.subcooling_k >= SUBCOOLING_HIGH_K else "not low"
    return _pattern(
        "restriction",
        _sign("superheat", "high", "temperature_difference", signs.superheat_k),
        _sign("subcooling", stands, "temperature_difference", signs.subcooling_k),
    )


def _low_airflow(system: System, reading: Reading, signs: Signs) -> Finding | None:
    """Coil too cold for the air it gets, without being starved."""
    if signs.dew_k is None or reading.return_dry_bulb_k is None or signs.superheat_k is None:
        return None
    if reading.return_dry_bulb_k - signs.dew_k <= COIL_LOW_K or signs.superheat_range_k is None:
        return None
    lowest, highest = signs.superheat_range_k
    suction = _sign("coil temperature", "low", "temperature", signs.dew_k)
    superheat = _sign("superheat", "low", "temperature_difference", signs.superheat_k)
    if signs.superheat_k < lowest:
        return _pattern("low_airflow", suction, superheat)
    if system.metering not in (TXV, EEV) or signs.superheat_k > highest:
        return None
    if signs.subcooling_k is None or not isinstance(signs.target, Target):
        return None
    if signs.subcooling_k < signs.target.value_k - signs.target.tolerance_k:
        return None
    return _pattern(
        "low_airflow",
        suction,
        _sign("subcooling", "not low", "temperature_difference", signs.subcooling_k),
    )


def _high_head(_system: System, reading: Reading, signs: Signs) -> Finding | None:
    if signs.bubble_k is None or reading.outdoor_dry_bulb_k is None:
        return None
    over = signs.bubble_k - reading.outdoor_dry_bulb_k
    if over <= CONDENSING_HIGH_K:
        return None
    return _pattern(
        "high_head",
        _sign("condensing over outdoor air", "high", "temperature_difference", over),
    )


def _weak_compressor(_system: System, reading: Reading, signs: Signs) -> Finding | None:
    if signs.bubble_k is None or signs.dew_k is None:
        return None
    if reading.outdoor_dry_bulb_k is None or reading.return_dry_bulb_k is None:
        return None
    over = signs.bubble_k - reading.outdoor_dry_bulb_k
    if over >= CONDENSING_LOW_K or reading.return_dry_bulb_k - signs.dew_k >= COIL_HIGH_K:
        return None
    return _pattern(
        "weak_compressor",
        _sign("coil temperature", "high", "temperature", signs.dew_k),
        _sign("condensing over outdoor air", "low", "temperature_difference", over),
    )


def _split(reading: Reading, signs: Signs, chart: Chart) -> Finding | None:
    """Return minus supply air against the published target split."""
    if reading.supply_dry_bulb_k is None or reading.return_dry_bulb_k is None:
        return None
    if isinstance(signs.wet_bulb_k, Unknown):
        return None
    target = look_up(chart, reading.return_dry_bulb_k, signs.wet_bulb_k)
    if isinstance(target, NoValue):
        return None
    split = reading.return_dry_bulb_k - reading.supply_dry_bulb_k
    if abs(split - target) <= SPLIT_TOLERANCE_K:
        return None
    return Finding(
        "split_high" if split > target else "split_low",
        WARN,
        (
            Fact("split", "temperature_difference", split),
            Fact("target", "temperature_difference", target),
        ),
    )


def _pattern(code: str, *signs: Fact) -> Finding:
    return Finding(code, REFUSE, (), signs)


def _sign(name: str, stands: str, quantity: str, value: float) -> Fact:
    return Fact(name, quantity, value, stands)
