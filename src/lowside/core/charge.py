"""What one reading says of the charge: superheat, subcooling, target, findings and a verdict.

Superheat is suction-line temperature minus dew; subcooling is bubble minus liquid-line
temperature. Never a mid-point.
"""

from dataclasses import dataclass

from lowside.core import findings
from lowside.core.conditions import condition_findings
from lowside.core.faults import Signs, fault_findings
from lowside.core.findings import REFUSE, SHOWS, WARN, Fact, Finding, Unknown, missing, sentence
from lowside.core.handbook import Handbook
from lowside.core.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_temperature,
    dew_temperature,
)
from lowside.core.system import Reading, System
from lowside.core.targets import (
    SUPERHEAT,
    NoTarget,
    Target,
    expected_superheat,
    target_for,
    wet_bulb_of,
)
from lowside.core.unit_choice import UnitChoice

ADD = "add"
ON_TARGET = "on_target"
OVER = "over"
DO_NOT_ADD = "do_not_add"
STOP = "stop"
UNKNOWN = "unknown"

GRAVITY = (findings.STOP, REFUSE, WARN, SHOWS)
"""Levels of findings, the gravest first."""


@dataclass(frozen=True)
class Assessment:
    """A judged reading [K]."""

    superheat_k: float | Unknown
    subcooling_k: float | Unknown
    dew_k: float | None
    """Saturation the superheat counts from."""
    bubble_k: float | None
    """Saturation the subcooling counts from."""
    target: Target | NoTarget
    expected_superheat_k: tuple[float, float] | None
    """What this metering device should show, whatever the method."""
    verdict: str
    reason: Finding
    """Why this verdict; one of `findings`."""
    findings: tuple[Finding, ...]
    """The gravest first."""


def assess(system: System, reading: Reading, handbook: Handbook) -> Assessment:
    """Judge a reading.

    Args:
        system: the unit; a refrigerant without a table is judged UNKNOWN.
        reading: whatever was read; what is missing makes its figures `Unknown`.
        handbook: tables and charts.
    """
    table = handbook.tables.get(system.refrigerant)
    if table is None:
        return _no_table(system)
    dew = _saturation(system, table, "Suction pressure", reading.suction_pressure_pa)
    bubble = _saturation(system, table, "Liquid pressure", reading.liquid_pressure_pa)
    superheat = _superheat(reading, dew)
    subcooling = _subcooling(reading, bubble)
    wet_bulb = wet_bulb_of(reading, system.atmosphere_pa, handbook.psychrometrics)
    chart = handbook.charts.target_superheat
    target = target_for(system, reading, wet_bulb, chart)
    expected = expected_superheat(system, reading, wet_bulb, chart)
    signs = Signs(
        superheat_k=_known(superheat),
        superheat_range_k=expected,
        subcooling_k=_known(subcooling),
        target=target,
        dew_k=_known(dew),
        bubble_k=_known(bubble),
        wet_bulb_k=wet_bulb,
    )
    found = condition_findings(system, reading, signs.superheat_k, signs.dew_k)
    found.extend(fault_findings(system, reading, signs, handbook.charts.target_split))
    verdict, reason = _verdict(target, superheat, subcooling, found)
    return Assessment(
        superheat_k=superheat,
        subcooling_k=subcooling,
        dew_k=signs.dew_k,
        bubble_k=signs.bubble_k,
        target=target,
        expected_superheat_k=expected,
        verdict=verdict,
        reason=reason,
        findings=_by_gravity(found, reason),
    )


def reason(assessment: Assessment, choice: UnitChoice) -> str:
    """Why the verdict is what it is, in the user's units."""
    return sentence(assessment.reason, choice)


def target_text(assessment: Assessment, choice: UnitChoice) -> str:
    """The target with its tolerance and source, or why there is none."""
    if isinstance(assessment.target, Target):
        return sentence(assessment.target.basis, choice)
    return sentence(assessment.target.reason, choice)


def weigh_in_kg(system: System) -> float | Unknown:
    """Full charge by weight [kg]: nameplate plus the line set beyond what it covers.

    A shorter line set than covered takes charge off. RA3.2.3, 2013 (read).
    """
    if system.nameplate_charge_kg is None:
        return Unknown(missing(("nameplate_charge",)))
    if system.line_length_m is None and system.line_adder_kg_per_m is None:
        return system.nameplate_charge_kg
    if system.line_length_m is None:
        return Unknown(missing(("line_length",)))
    if system.line_included_m is None:
        return Unknown(missing(("line_included",)))
    if system.line_adder_kg_per_m is None:
        return Unknown(missing(("line_adder",)))
    beyond = system.line_length_m - system.line_included_m
    return system.nameplate_charge_kg + beyond * system.line_adder_kg_per_m


def _no_table(system: System) -> Assessment:
    finding = Finding("no_table", REFUSE, (Fact("refrigerant", "text", text=system.refrigerant),))
    unknown = Unknown(finding)
    return Assessment(
        superheat_k=unknown,
        subcooling_k=unknown,
        dew_k=None,
        bubble_k=None,
        target=NoTarget(finding),
        expected_superheat_k=None,
        verdict=UNKNOWN,
        reason=finding,
        findings=(finding,),
    )


def _saturation(
    system: System, table: PropertyTable, which: str, pressure_pa: float | None
) -> float | Unknown:
    low = which == "Suction pressure"
    if pressure_pa is None:
        return Unknown(missing(("suction_pressure" if low else "liquid_pressure",)))
    kelvin = dew_temperature(table, pressure_pa) if low else bubble_temperature(table, pressure_pa)
    if isinstance(kelvin, OutOfRange):
        gauge = pressure_pa - system.atmosphere_pa
        facts = (Fact("which", "text", text=which), Fact("pressure", "gauge_pressure", gauge))
        return Unknown(Finding("pressure_out_of_table", WARN, facts))
    return kelvin


def _superheat(reading: Reading, dew: float | Unknown) -> float | Unknown:
    if reading.suction_line_k is None:
        return Unknown(missing(("suction_line",)))
    if isinstance(dew, Unknown):
        return dew
    return reading.suction_line_k - dew


def _subcooling(reading: Reading, bubble: float | Unknown) -> float | Unknown:
    if reading.liquid_line_k is None:
        return Unknown(missing(("liquid_line",)))
    if isinstance(bubble, Unknown):
        return bubble
    return bubble - reading.liquid_line_k


def _verdict(
    target: Target | NoTarget,
    superheat: float | Unknown,
    subcooling: float | Unknown,
    found: list[Finding],
) -> tuple[str, Finding]:
    for level, verdict in ((findings.STOP, STOP), (REFUSE, DO_NOT_ADD)):
        for finding in found:
            if finding.level == level:
                return verdict, finding
    if isinstance(target, NoTarget):
        verdict = DO_NOT_ADD if target.reason.level == REFUSE else UNKNOWN
        return verdict, target.reason
    value = superheat if target.quantity == SUPERHEAT else subcooling
    if isinstance(value, Unknown):
        return UNKNOWN, value.reason
    facts = (
        Fact("value", "temperature_difference", value),
        Fact("target", "temperature_difference", target.value_k),
        Fact("tolerance", "temperature_difference", target.tolerance_k),
    )
    gap = value - target.value_k
    if abs(gap) <= target.tolerance_k:
        name = Fact("quantity", "text", text=target.quantity.capitalize())
        return ON_TARGET, Finding("charge_right", SHOWS, (name, *facts))
    short = gap > 0.0 if target.quantity == SUPERHEAT else gap < 0.0
    if short:
        return ADD, Finding("low_charge_" + target.quantity, SHOWS, facts)
    return OVER, Finding("overcharge_" + target.quantity, REFUSE, facts)


def _by_gravity(found: list[Finding], reason_finding: Finding) -> tuple[Finding, ...]:
    every = list(found)
    if reason_finding not in every:
        every.append(reason_finding)
    return tuple(finding for level in GRAVITY for finding in every if finding.level == level)


def _known(value: float | Unknown) -> float | None:
    return None if isinstance(value, Unknown) else value
