"""Which leak rules cover a unit, decided from what is known of it and shown with its citation.

What is not known is never taken for an exemption. The page that prints this says to check the
current text; the responsible person has the last word.
"""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.refrigerants import Refrigerant
from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.office.rule_set import (
    COMFORT_COOLING,
    OTHER_USE,
    OZONE,
    ApplianceUse,
    Coverage,
    Rule,
    RuleSet,
)
from lowside.core.session.federal import HFCS, OZONE_DEPLETING
from lowside.core.session.ledger import ROUNDING_KG

Standing = Literal["applies", "exempt", "below", "other_substance", "not_yet", "unknown"]

APPLIES: Standing = "applies"
EXEMPT: Standing = "exempt"
BELOW_LEAST: Standing = "below"
OTHER_SUBSTANCE: Standing = "other_substance"
NOT_YET: Standing = "not_yet"
UNKNOWN_STANDING: Standing = "unknown"

Answer = Literal["yes", "no", ""]

MAY_BE_EXEMPT: tuple[ApplianceUse | Literal[""], ...] = (COMFORT_COOLING, OTHER_USE, "")
"""Uses that can belong to residential and light commercial air conditioning or heat pumps."""


@dataclass(frozen=True)
class UnitFacts:
    """What the rules ask of a unit."""

    refrigerant: Refrigerant | None
    full_charge_kg: float | None
    use: ApplianceUse | Literal[""]
    light: Answer
    """Residential or light commercial air conditioning or heat pump."""


@dataclass(frozen=True)
class Applicability:
    """Whether one section covers a unit on a day."""

    coverage: Coverage
    standing: Standing
    sentence: str
    rules: tuple[Rule, ...]
    """What the sentence rests on."""


def applicability(
    unit: UnitFacts, day: int, rules: RuleSet, choice: UnitChoice
) -> tuple[Applicability, ...]:
    """For each section of the rule set, whether it covers the unit.

    Args:
        unit: what is known of it.
        day: of the service [days since 1970-01-01, by local calendar].
        rules: the country's.
        choice: units for the sentences.
    """
    return tuple(_one(unit, day, coverage, choice) for coverage in rules.coverages)


def governing(found: tuple[Applicability, ...]) -> Applicability | None:
    """The section that applies; where several do, the first of the rule set."""
    for one in found:
        if one.standing == APPLIES:
            return one
    return None


def _one(unit: UnitFacts, day: int, coverage: Coverage, choice: UnitChoice) -> Applicability:
    name = coverage.name
    if unit.refrigerant is None:
        return Applicability(
            coverage,
            UNKNOWN_STANDING,
            f"{name}: not known, because the unit’s refrigerant is not.",
            (coverage.scope,),
        )
    if not contains(unit.refrigerant, coverage):
        return Applicability(
            coverage,
            OTHER_SUBSTANCE,
            f"{name} does not cover {unit.refrigerant.designation}.",
            (coverage.scope,),
        )
    if day < coverage.from_day:
        return Applicability(
            coverage,
            NOT_YET,
            f"{name}, as it is kept here, begins on {coverage.scope.effective_from}. What applied "
            "before is not in here.",
            (coverage.scope,),
        )
    least = label("mass", coverage.least_charge_kg, choice)
    if unit.full_charge_kg is None:
        return Applicability(
            coverage,
            UNKNOWN_STANDING,
            f"{name}: not known, because the full charge is not. It begins at {least}.",
            (coverage.least_charge,),
        )
    full = label("mass", unit.full_charge_kg, choice)
    if unit.full_charge_kg < coverage.least_charge_kg - ROUNDING_KG:
        return Applicability(
            coverage,
            BELOW_LEAST,
            f"{name} does not apply: the full charge is {full}, and it begins at {least}.",
            (coverage.least_charge,),
        )
    if coverage.exempt is not None and unit.use in MAY_BE_EXEMPT:
        if unit.light == "yes":
            return Applicability(
                coverage,
                EXEMPT,
                f"{name} does not apply: residential and light commercial air conditioning and "
                "heat pumps are exempt.",
                (coverage.exempt,),
            )
        if unit.light == "":
            return Applicability(
                coverage,
                UNKNOWN_STANDING,
                f"{name}: not known. The full charge is {full}, and nobody has said whether this "
                "is residential or light commercial air conditioning, which is exempt.",
                (coverage.least_charge, coverage.exempt),
            )
    return Applicability(
        coverage,
        APPLIES,
        f"{name} applies: the unit holds {full} of {_what(unit.refrigerant, coverage)}. It begins "
        f"at {least}.",
        (coverage.scope, coverage.least_charge),
    )


def contains(refrigerant: Refrigerant, coverage: Coverage) -> bool:
    """Whether the section is about this refrigerant."""
    names = [part.designation for part in refrigerant.components]
    if coverage.contains == OZONE:
        return any(name in OZONE_DEPLETING for name in names)
    if any(name in HFCS for name in names):
        return True
    only_ozone = all(name in OZONE_DEPLETING for name in names)
    over = coverage.gwp_over is not None and (
        refrigerant.gwp is not None and refrigerant.gwp > coverage.gwp_over
    )
    return over and not only_ozone


def _what(refrigerant: Refrigerant, coverage: Coverage) -> str:
    name = refrigerant.designation
    if coverage.contains == OZONE:
        return f"{name}, which depletes ozone"
    names = [part.designation for part in refrigerant.components]
    if any(one in HFCS for one in names):
        return f"{name}, which is or contains an HFC"
    gwp = "" if refrigerant.gwp is None else format_decimal(refrigerant.gwp, 0)
    limit = "" if coverage.gwp_over is None else format_decimal(coverage.gwp_over, 0)
    return f"{name}, whose GWP of {gwp} is over {limit}"
