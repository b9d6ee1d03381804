"""One thing the readings say, as a code and facts; words come last, in the user’s units."""

from dataclasses import dataclass
from typing import Literal

from lowside.core.judging.sentences import SENTENCES
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.numbers.units import Quantity

Grade = Literal["stop", "refuse", "warn", "shows"]
"""How grave a finding is."""

DANGER: Grade = "stop"
"""Close the low-side manifold valve now. The cylinder valve stays open as the relief."""
REFUSE: Grade = "refuse"
"""Do not add charge on these readings."""
WARN: Grade = "warn"
"""Go on with care."""
SHOWS: Grade = "shows"
"""Agrees with the verdict and explains it."""

ACTS: dict[Grade, str] = {
    DANGER: "Stop.",
    REFUSE: "Do not add.",
    WARN: "Caution.",
}
LEADS: dict[str, str] = {
    "add_superheat": "Undercharged.",
    "add_subcooling": "Undercharged.",
    "add_approach": "Undercharged.",
    "add_pressure": "Undercharged.",
    "on_target_superheat": "On target.",
    "on_target_subcooling": "On target.",
    "on_target_approach": "On target.",
    "on_target_pressure": "On target.",
    "undercharge": "Undercharged.",
    "undercharge_valve": "Undercharged.",
    "contents_agree": "Contents fit.",
    "weights_agree": "Weights agree.",
    "liquid_only": "Liquid only.",
    "liquid_preferred": "Liquid or vapor.",
}
"""The strong word before a finding that only shows something; the others ask for an act."""


@dataclass(frozen=True)
class Fact:
    """A value a sentence mentions: `value` in SI, or with quantity `text` the `text` to print."""

    name: str
    quantity: Quantity | Literal["text"]
    value: float = 0.0
    text: str = ""


@dataclass(frozen=True)
class Finding:
    """`code` is a key of `SENTENCES`.

    `signs` are the readings that say so: each a fact whose `text` is its level (“high”)."""

    code: str
    level: Grade
    facts: tuple[Fact, ...] = ()
    signs: tuple[Fact, ...] = ()


@dataclass(frozen=True)
class Unknown:
    """A value that cannot be had, and why."""

    reason: Finding


def sentence(finding: Finding, choice: UnitChoice) -> str:
    """The finding in words, every quantity in the units of `choice`."""
    text = SENTENCES[finding.code]
    for fact in finding.facts:
        text = text.replace("{" + fact.name + "}", _shown(fact, choice))
    if finding.signs:
        text = text.replace("{signs}", signs_text(finding.signs, choice))
    return text


def lead(finding: Finding) -> str:
    """The strong word before it: what to do, or for one that only shows something what it is."""
    return LEADS.get(finding.code, "Note.") if finding.level == SHOWS else ACTS[finding.level]


def signs_text(signs: tuple[Fact, ...], choice: UnitChoice) -> str:
    """`superheat high (31.0 °F), subcooling low (1.5 °F)`."""
    return ", ".join(f"{sign.name} {sign.text} ({_measured(sign, choice)})" for sign in signs)


def _shown(fact: Fact, choice: UnitChoice) -> str:
    return fact.text if fact.quantity == "text" else _measured(fact, choice)


def _measured(fact: Fact, choice: UnitChoice) -> str:
    return "" if fact.quantity == "text" else label(fact.quantity, fact.value, choice)


def missing(fields: tuple[str, ...]) -> Finding:
    """The finding that these readings or facts (names of `system.Reading` or `system.System`) are
    needed and were not given."""
    return Finding("missing", WARN, (Fact("what", "text", text=missing_text(fields)),))


def missing_text(fields: tuple[str, ...]) -> str:
    """These readings or facts by the words of `FIELD_WORDS`, as a list in a sentence."""
    names = [FIELD_WORDS[field] for field in fields]
    if len(names) == 1:
        return names[0]
    return ", ".join(names[:-1]) + " and " + names[-1]


FIELD_WORDS: dict[str, str] = {
    "suction_pressure": "suction pressure",
    "suction_line": "suction line temperature",
    "liquid_pressure": "liquid pressure",
    "liquid_line": "liquid line temperature",
    "outdoor_dry_bulb": "outdoor air temperature",
    "return_dry_bulb": "return air dry bulb",
    "return_wet_bulb": "return air wet bulb",
    "return_humidity": "return air relative humidity",
    "wet_bulb_or_humidity": "return air wet bulb or relative humidity",
    "supply_dry_bulb": "supply air temperature",
    "compressor_amps": "compressor current",
    "maker_subcooling": "the manufacturer’s subcooling",
    "maker_superheat": "the manufacturer’s superheat",
    "maker_approach": "the manufacturer’s approach",
    "chart_points": "a point of this unit’s chart",
    "nameplate_charge": "the nameplate charge",
    "retrofit_charge": "the whole charge on the retrofit label",
    "line_length": "the line set length",
    "line_included": "the length the nameplate charge covers",
    "line_adder": "the manufacturer’s charge per length",
}
"""How sentences call each field."""
