"""The whole charge by weight: nameplate and line set."""

from dataclasses import dataclass, replace

from lowside.core.handbook.system import System
from lowside.core.judging.findings import WARN, Fact, Finding, Unknown, missing


@dataclass(frozen=True)
class WeighIn:
    """A charge by weight [kg]: nameplate, correction for the line set (`None`: not given), sum."""

    nameplate_kg: float
    line_kg: float | None
    total_kg: float


def weigh_in(system: System) -> WeighIn | Unknown:
    """The whole charge by weight: nameplate + (line length − length it covers) × adder.

    Whether a shorter line set takes charge off is for its instructions to say: one table does
    (READ: XPG20, 38HQ), another adds nothing (READ: MMY p. 121). Without any of the three line
    figures `line_kg` is `None` and the total is the nameplate's; with some, the missing are named.

    Where a retrofit label names another refrigerant, the nameplate's figures are not for it (READ:
    R-407C takes 90 to 95 % of the weight of R-22, a distributor's R-22 retrofit brochure, step 8).
    The label has the amount in the system, line set included (its step 11).
    """
    if system.nameplate_refrigerant != "":
        charge = system.retrofit_charge_kg
        if charge is None:
            return Unknown(missing(("retrofit_charge",)))
        return WeighIn(charge, 0.0, charge)
    if system.nameplate_charge_kg is None:
        return Unknown(missing(("nameplate_charge",)))
    length = system.line_length_m
    included = system.line_included_m
    adder = system.line_adder_kg_per_m
    if length is None or included is None or adder is None:
        figures = (("line_length", length), ("line_included", included), ("line_adder", adder))
        absent = [name for name, value in figures if value is None]
        if len(absent) == len(figures):
            return WeighIn(system.nameplate_charge_kg, None, system.nameplate_charge_kg)
        return Unknown(missing(tuple(absent)))
    line = (length - included) * adder
    if line < 0.0:
        if system.short_line_takes_off is None:
            return Unknown(Finding("short_line_unasked", WARN))
        if not system.short_line_takes_off:
            line = 0.0
    return WeighIn(system.nameplate_charge_kg, line, system.nameplate_charge_kg + line)


def full_by_labels(system: System | None) -> float | None:
    """The full charge by the labels [kg], with the line set where its figures are known; `None`
    when they do not say it. A line set that takes off half of it is a slip (our choice)."""
    if system is None:
        return None
    charge = weigh_in(system)
    if not isinstance(charge, Unknown) and charge.total_kg > 0.5 * charge.nameplate_kg:
        return charge.total_kg
    return system.nameplate_charge_kg if system.nameplate_refrigerant == "" else None


def near_full(system: System | None) -> float | None:
    """The same for an estimate: a shorter line set takes charge off unless its instructions do
    not, and the old plate's counts where a retrofit label gives none."""
    if system is None:
        return None
    if system.short_line_takes_off is None:
        system = replace(system, short_line_takes_off=True)
    charge = full_by_labels(system)
    return system.nameplate_charge_kg if charge is None else charge


def by_weight(system: System) -> Finding:
    """Why a unit charged by weight has no target to charge to by readings."""
    charge = weigh_in(system)
    if isinstance(charge, Unknown):
        return charge.reason
    nameplate = Fact("nameplate", "mass", charge.nameplate_kg)
    if charge.line_kg is None:
        return Finding("by_weight_without_line", WARN, (nameplate,))
    return Finding(
        "by_weight",
        WARN,
        (
            Fact("total", "mass", charge.total_kg),
            nameplate,
            Fact("line", "mass", charge.line_kg),
        ),
    )
