"""Rules of law as data: text, citation, the date they begin, and how well each is known.

A rule that was only recalled (MEMORY) is shown as such and never applied: a coverage that names one
for a figure is refused when the file is read.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from lowside.core.numbers.arithmetic import BadNumber, parse_decimal
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.dates import day_of

Basis = Literal["READ", "COMPUTED", "MEMORY"]
Contains = Literal["ozone_depleting", "hfc"]
ApplianceUse = Literal[
    "comfort_cooling", "commercial_refrigeration", "industrial_process", "transport", "other"
]

OZONE: Contains = "ozone_depleting"
HFC: Contains = "hfc"

COMFORT_COOLING: ApplianceUse = "comfort_cooling"
COMMERCIAL: ApplianceUse = "commercial_refrigeration"
INDUSTRIAL: ApplianceUse = "industrial_process"
TRANSPORT: ApplianceUse = "transport"
OTHER_USE: ApplianceUse = "other"
USES: tuple[ApplianceUse, ...] = (COMFORT_COOLING, COMMERCIAL, INDUSTRIAL, TRANSPORT, OTHER_USE)

NOT_VERIFIED = "Not verified. Check the text."


@dataclass(frozen=True)
class Rule:
    """One rule. `value` and `unit` are as the text prints them."""

    id: str
    topic: str
    text: str
    value: str
    unit: str
    citation: str
    basis: Basis
    effective_from: str
    """ISO date, or empty when the text read names none."""
    note: str

    @property
    def verified(self) -> bool:
        return self.basis != "MEMORY"


@dataclass(frozen=True)
class Threshold:
    """A leak rate [% a year] above which something must be done; at the value nothing must."""

    percent: float
    rule: Rule


@dataclass(frozen=True)
class Coverage:
    """A section that makes owners work out leak rates, and whom it covers."""

    name: str
    contains: Contains
    scope: Rule
    least_charge: Rule
    least_charge_kg: float
    """A full charge of exactly this much is covered."""
    gwp_over: float | None
    """A refrigerant without an HFC is covered too when its GWP is over this."""
    exempt: Rule | None
    """What takes residential and light commercial air conditioning out, if anything does."""
    from_day: int
    """First day on which it applies [days since 1970-01-01]."""
    counts_from_day: int | None
    """Additions before this day do not count for its leak rates."""
    thresholds: Mapping[ApplianceUse, Threshold]
    annualizing: Rule
    rolling: Rule
    then: tuple[Rule, ...]
    """What follows when a rate is over: shown to be read, never applied here."""
    chronic: Threshold
    """Share of the full charge lost in a calendar year at which it must be reported; at the value
    it must."""


@dataclass(frozen=True)
class RuleSet:
    """The rules of one country."""

    country: str
    read_as_of: str
    rules: tuple[Rule, ...]
    coverages: tuple[Coverage, ...]
    service_record: tuple[Rule, ...]
    """What a record of one service holds, field by field."""
    unit_record: tuple[Rule, ...]


def rule_set_from(data: Mapping[str, Any]) -> RuleSet:
    """The rules of a file.

    Raises
        KeyError: an entry misses a field, or names a rule that is not there.
        ValueError: a figure is no number, a date no date, or rests on memory.
    """
    rules = [_rule_from(entry) for entry in data["rules"]]
    by_id = {rule.id: rule for rule in rules}
    return RuleSet(
        country=str(data["country"]),
        read_as_of=str(data["read_as_of"]),
        rules=tuple(rules),
        coverages=tuple(_coverage_from(entry, by_id) for entry in data["coverages"]),
        service_record=tuple(by_id[name] for name in data["service_record"]),
        unit_record=tuple(by_id[name] for name in data["unit_record"]),
    )


def topics(rules: Sequence[Rule]) -> list[tuple[str, list[Rule]]]:
    """The rules by topic, in the order of the file."""
    found: dict[str, list[Rule]] = {}
    for rule in rules:
        found.setdefault(rule.topic, []).append(rule)
    return list(found.items())


def _rule_from(entry: Mapping[str, Any]) -> Rule:
    return Rule(
        id=str(entry["id"]),
        topic=str(entry["topic"]),
        text=str(entry["text"]),
        value=str(entry["value"]),
        unit=str(entry["unit"]),
        citation=str(entry["citation"]),
        basis=_basis_from(str(entry["basis"])),
        effective_from=str(entry["effective_from"]),
        note=str(entry["note"]),
    )


def _basis_from(text: str) -> Basis:
    """Anything that is not known to be read or computed is recalled: the strictest."""
    if text == "READ":
        return "READ"
    return "COMPUTED" if text == "COMPUTED" else "MEMORY"


def _coverage_from(entry: Mapping[str, Any], rules: Mapping[str, Rule]) -> Coverage:
    scope = _applied(rules, str(entry["scope"]))
    least = _applied(rules, str(entry["least_charge"]))
    counts = str(entry["counts_from"])
    gwp = str(entry["gwp_over"])
    exempt = str(entry["exempt"])
    return Coverage(
        name=str(entry["name"]),
        contains=OZONE if entry["contains"] == OZONE else HFC,
        scope=scope,
        least_charge=least,
        least_charge_kg=_figure(least) * POUND_KG,
        gwp_over=None if gwp == "" else _figure(_applied(rules, gwp)),
        exempt=None if exempt == "" else _applied(rules, exempt),
        from_day=max(_begin(scope), _begin(least)),
        counts_from_day=None if counts == "" else _begin(_applied(rules, counts)),
        thresholds={use: _threshold(_applied(rules, entry["thresholds"][use])) for use in USES},
        annualizing=_applied(rules, str(entry["annualizing"])),
        rolling=_applied(rules, str(entry["rolling"])),
        then=tuple(rules[name] for name in entry["then"]),
        chronic=_threshold(_applied(rules, str(entry["chronic"]))),
    )


def _applied(rules: Mapping[str, Rule], name: str) -> Rule:
    rule = rules[name]
    if not rule.verified:
        raise ValueError(f"{name} rests on memory, so no figure may be taken from it.")
    return rule


def _threshold(rule: Rule) -> Threshold:
    return Threshold(_figure(rule), rule)


def _figure(rule: Rule) -> float:
    number = parse_decimal(rule.value)
    if isinstance(number, BadNumber):
        raise ValueError(f"{rule.id} has no figure: {rule.value}.")
    return number


def _begin(rule: Rule) -> int:
    day = day_of(rule.effective_from)
    if day is None:
        raise ValueError(f"{rule.id} has no date on which it begins.")
    return day
