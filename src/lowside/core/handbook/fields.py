"""What a form is made of, and the one parser of what was typed into it.

The entry check before an event is written and the fold that reads it back both use `read_fields`,
so what was accepted is what is later understood.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.numbers import units
from lowside.core.numbers.arithmetic import BadNumber
from lowside.core.numbers.units import Quantity

FieldKind = Literal["number", "choice", "text", "refrigerant", "file"]

NUMBER: FieldKind = "number"
CHOICE: FieldKind = "choice"
TEXT: FieldKind = "text"
REFRIGERANT: FieldKind = "refrigerant"
"""A choice among the refrigerants that have property tables."""
FILE: FieldKind = "file"
"""A picture. What is kept of it as text is its SHA-256, with its size in names of their own."""

FILE_FACTS = ("_bytes", "_width", "_height")
"""What an entry says of a file beside its name."""

YES_NO = (("yes", "Yes"), ("no", "No"))
NO_YES_UNKNOWN = (("no", "No"), ("yes", "Yes"), ("not_known", "Not known"))


@dataclass(frozen=True)
class Field:
    """One input. `lowest`/`highest` [SI] catch slips of the thumb, not physics."""

    name: str
    label: str
    kind: FieldKind = TEXT
    quantity: Quantity | Literal[""] = ""
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    lowest: float = -1.0e300
    highest: float = 1.0e300
    longest: int = 200
    good: str = ""
    """The answer when all is as it should be: one tap gives it to all such fields of a form."""


@dataclass(frozen=True)
class Form:
    """One thing that can be recorded: `kind` is the kind of the event it becomes."""

    name: str
    kind: str
    button: str
    fields: tuple[Field, ...] = ()


@dataclass(frozen=True)
class Fields:
    """What was understood of a form: SI numbers and texts by field name, and problems by field."""

    numbers: Mapping[str, float]
    texts: Mapping[str, str]
    problems: Mapping[str, str]


def pressure_field(name: str, text: str, hint: str = "") -> Field:
    """A gauge pressure."""
    return Field(name, text, NUMBER, "gauge_pressure", hint=hint, lowest=-1.0e5, highest=1.0e7)


def temperature_field(name: str, text: str, hint: str = "") -> Field:
    """A temperature."""
    return Field(name, text, NUMBER, "temperature", hint=hint, lowest=223.15, highest=423.15)


def mass_field(name: str, text: str, hint: str = "", required: bool = False) -> Field:
    """A weight."""
    return Field(
        name, text, NUMBER, "mass", required=required, hint=hint, lowest=0.0, highest=200.0
    )


def yes_no(name: str, text: str, required: bool = True, hint: str = "") -> Field:
    """A question with two answers."""
    return Field(name, text, CHOICE, required=required, choices=YES_NO, hint=hint)


def choice_text(choices: tuple[tuple[str, str], ...], code: str) -> str:
    """The words of a choice; those of an earlier program are shown as they are."""
    for value, text in choices:
        if value == code:
            return text
    return code


def checked(field: Field) -> Field:
    """The question in a checklist that one tap answers: “yes” is as it should be."""
    return replace(field, good="yes")


def scale_field(name: str, text: str, required: bool = False) -> Field:
    """What a scale shows with the hoses on: below zero when it was zeroed under the cylinder."""
    return Field(name, text, NUMBER, "mass", required=required, lowest=-200.0, highest=200.0)


def text_field(name: str, text: str, hint: str = "", required: bool = False) -> Field:
    """A line of text."""
    return Field(name, text, TEXT, required=required, hint=hint, longest=120)


def read_fields(form: Form, typed: Mapping[str, str]) -> Fields:
    """Understand what was typed.

    Args:
        form: which fields to look for.
        typed: texts by field name; a measured field `x` has its unit in `x_unit` and, for
            `lb+oz`, ounces in `x_oz`; older entries have that.

    Returns
        Numbers in SI and texts of the fields that were filled in and make sense; a sentence for
        each that does not. A field left empty is in neither, unless it is required.
    """
    numbers: dict[str, float] = {}
    texts: dict[str, str] = {}
    problems: dict[str, str] = {}
    for field in _to_be_read(form, typed):
        text = typed.get(field.name, "").strip()
        ounces = ""
        if field.quantity == "mass":
            ounces = typed.get(field.name + "_oz", "").strip()
        if text == "" and ounces == "":
            if field.required:
                problems[field.name] = _missing(field)
            continue
        if field.kind == NUMBER and field.quantity != "":
            number = units.parse(field.quantity, text, typed.get(field.name + "_unit", ""), ounces)
            if isinstance(number, BadNumber):
                problems[field.name] = number.reason
            elif number < field.lowest or number > field.highest:
                unit = typed.get(field.name + "_unit", "")
                problems[field.name] = _implausible(field, number, unit)
            else:
                numbers[field.name] = number
        elif field.kind == CHOICE and text not in [code for code, _ in field.choices]:
            problems[field.name] = "Choose one of the answers."
        elif len(text) > field.longest:
            problems[field.name] = (
                f"Too long: {len(text)} characters. Shorten it to {field.longest}."
            )
        else:
            texts[field.name] = text
    return Fields(numbers, texts, problems)


def _to_be_read(form: Form, typed: Mapping[str, str]) -> list[Field]:
    """All but those that nothing was typed into and that may be left out: most of most entries."""
    return [
        field
        for field in form.fields
        if field.name in typed or field.required or field.quantity == "mass"
    ]


def typed_names(form: Form) -> tuple[str, ...]:
    """Every name an event of this form may carry in its data."""
    names: list[str] = []
    for field in form.fields:
        names.append(field.name)
        if field.kind == NUMBER:
            names.append(field.name + "_unit")
        if field.quantity == "mass":
            names.append(field.name + "_oz")
        if field.kind == FILE:
            names.extend(field.name + fact for fact in FILE_FACTS)
    return tuple(names)


def _missing(field: Field) -> str:
    if field.kind in (CHOICE, REFRIGERANT):
        return "Choose one."
    if field.name == "elevation":
        return "Needed. A map or the weather service tells the site’s elevation."
    if field.kind == NUMBER:
        return "Needed. Type the number the instrument shows."
    return "Needed. Type a few words."


def _implausible(field: Field, number: float, unit: str) -> str:
    """Which limit was passed. A limit that would show as zero is said in words."""
    if field.quantity == "":
        return ""
    told = "Outside the possible range: "
    if number > field.highest:
        told = told + "at most " + units.limit_label(field.quantity, field.highest, unit, True)
    elif field.lowest > -1.0e-9 and field.lowest < 0.001:
        told = told + "more than zero" if field.lowest > 0.0 else told + "not below zero"
    else:
        told = told + "at least " + units.limit_label(field.quantity, field.lowest, unit, False)
    return told + ". Check the number and its unit (" + unit + ")."
