"""The record of a service that 40 CFR 82.157(l) asks for: what sessions say, and what the office
adds.

The office's answers are events of the session they are about. What is true of the unit (owner,
address, use, method) is taken over from the unit's newest record. The full charge is not: a
revision counts from its day on (40 CFR 82.157(l)(1) asks for each with its date).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.fields import (
    CHOICE,
    NUMBER,
    YES_NO,
    Field,
    Fields,
    Form,
    read_fields,
    text_field,
)
from lowside.core.judging.by_weight import full_by_labels, weigh_in
from lowside.core.judging.findings import Unknown
from lowside.core.office.coverage import Answer
from lowside.core.office.dates import local_day
from lowside.core.office.leak_rate import ANNUALIZING, ROLLING, Addition, RateMethod
from lowside.core.office.rule_set import USES, ApplianceUse
from lowside.core.office.went_in import day_of_addition
from lowside.core.session.amount import amount
from lowside.core.session.events import Moment
from lowside.core.session.ledger import ROUNDING_KG
from lowside.core.session.state import STANDS, State
from lowside.core.session.unit import by_labels
from lowside.core.session.weighing import whole_charge

USE_NAMES: dict[ApplianceUse, str] = {
    "comfort_cooling": "Comfort cooling",
    "commercial_refrigeration": "Commercial refrigeration",
    "industrial_process": "Industrial process refrigeration",
    "transport": "Refrigerated transport",
    "other": "Other",
}
RATE_METHOD_NAMES: dict[RateMethod, str] = {ANNUALIZING: "Annualizing", ROLLING: "Rolling average"}
HOW_NAMES: dict[str, str] = {
    "manufacturer": "Manufacturer’s value",
    "calculated": "Calculated from component sizes, density and volume",
    "weighed": "Measured by weight",
    "range": "A range, with its midpoint",
}
REASON_NAMES: dict[str, str] = {
    "leak": "Refrigerant was lost",
    "new": "Straight after installing the unit",
    "retrofit": "Straight after a retrofit",
    "seasonal": "Seasonal variance: taken out before",
}
RULING_NAMES: dict[str, str] = {
    "as_shown": "As shown on this page",
    "applies": "The rule applies",
    "not": "The rule does not apply",
}


def _most_mass(name: str, text: str, hint: str = "") -> Field:
    return Field(name, text, NUMBER, "mass", hint=hint, lowest=0.0, highest=20_000.0)


RECORD = Form(
    "record",
    "office.recorded",
    "Save the record",
    (
        text_field("owner", "Owner or operator"),
        Field("address", "Address of the unit", longest=300),
        Field("use", "What the unit is for", CHOICE, choices=tuple(USE_NAMES.items())),
        Field(
            "light",
            "Residential or light commercial air conditioning or heat pump?",
            CHOICE,
            hint="Window, split, package and rooftop units are named as such in 89 FR 82717-82719; "
            "chillers are not. For VRF the texts conflict: ask",
            choices=YES_NO,
        ),
        _most_mass("full_charge", "Full charge", "Left empty: nameplate and line set"),
        Field(
            "full_charge_how",
            "How the full charge was found",
            CHOICE,
            choices=tuple(HOW_NAMES.items()),
        ),
        _most_mass("full_charge_low", "If a range: lowest"),
        _most_mass("full_charge_high", "If a range: highest"),
        Field(
            "method",
            "Leak rate by",
            CHOICE,
            hint="One method for all units of a site",
            choices=tuple(RATE_METHOD_NAMES.items()),
        ),
        Field(
            "why",
            "Why refrigerant was added",
            CHOICE,
            choices=tuple(REASON_NAMES.items()),
        ),
        Field("parts", "Parts serviced", longest=500),
        Field("service", "Type of service for each part", longest=500),
        text_field("person", "Who did the service", "Left empty: the session’s technician"),
        text_field("certification", "That person’s certification", "Type and number"),
        Field("ruling", "Decided", CHOICE, choices=tuple(RULING_NAMES.items())),
        Field("ruling_why", "Why", longest=500),
        text_field("responsible", "Responsible person"),
    ),
)

OF_THE_UNIT = (
    "owner",
    "address",
    "use",
    "light",
    "method",
)
"""Fields of the form that are true of the unit, whatever the session."""

OF_ITS_DAY = ("full_charge", "full_charge_how", "full_charge_low", "full_charge_high")
"""The same, until another record says otherwise."""

FullFrom = Literal["record", "range", "nameplate", ""]


@dataclass(frozen=True)
class Answers:
    """What the office wrote, `unit_from` when the unit's part is from another session's record."""

    fields: Fields
    unit_from: Moment | None
    charge_from: Moment | None
    """The same of the full charge; `None` also when the nameplate says it."""
    written: bool
    """This session has a record of its own."""


@dataclass(frozen=True)
class FullCharge:
    """Full charge [kg] and where it is from; `None` when nothing says it."""

    kg: float | None
    source: FullFrom
    how: str


@dataclass(frozen=True)
class UnitRecord:
    """What the office wrote in one session, for the unit's other sessions."""

    sid: str
    moment: Moment
    data: Mapping[str, str]


def own_record(state: State) -> UnitRecord | None:
    """This session's last record."""
    found: UnitRecord | None = None
    for entry in state.entries:
        if entry.kind == RECORD.kind and entry.status == STANDS:
            found = UnitRecord(state.sid, entry.moment, entry.data)
    return found


@dataclass(frozen=True)
class Known:
    """What the form shows, and from when the unit's part and its full charge are; `None`: they are
    not another session's."""

    data: Mapping[str, str]
    unit_from: Moment | None = None
    charge_from: Moment | None = None


def known_data(state: State, records: Sequence[UnitRecord]) -> Known:
    """This session's record, else the unit's part of the newest other one, with the full charge as
    it was on the session's day."""
    own = own_record(state)
    if own is not None:
        return Known(own.data)
    written = written_charges(records)
    if not written:
        return Known({})
    newest = written[-1].record
    data = _parts(newest, OF_THE_UNIT)
    charge = _on_day(day_of_addition(state), _by_nameplate(state).kg, written)
    if charge is None:
        return Known(data, newest.moment)
    data.update(_parts(charge.record, OF_ITS_DAY))
    return Known(data, newest.moment, None if charge.kg is None else charge.record.moment)


def answers(state: State, records: Sequence[UnitRecord]) -> Answers:
    """The record as understood; `records` are of the unit's sessions, this one's too or not."""
    known = known_data(state, records)
    own = own_record(state) is not None
    fields = read_fields(RECORD, known.data)
    return Answers(fields, known.unit_from, known.charge_from, own)


@dataclass(frozen=True)
class WrittenCharge:
    """What one record says of the full charge [kg]; `None`: it leaves it to the nameplate."""

    record: UnitRecord
    day: int
    """It counts from then on."""
    kg: float | None


def written_charges(records: Sequence[UnitRecord]) -> list[WrittenCharge]:
    """What each record says of the full charge, the oldest first."""
    found: list[WrittenCharge] = []
    for one in records:
        kilograms = written_charge(read_fields(RECORD, one.data))[0]
        found.append(WrittenCharge(one, local_day(one.moment), kilograms))
    found.sort(key=lambda one: one.record.moment.at)
    return found


def full_kg_then(one: Addition, written: Sequence[WrittenCharge]) -> float | None:
    """The full charge on the day of an addition [kg], as that session's page has it."""
    counts: WrittenCharge | None = None
    for each in written:
        if each.record.sid == one.sid:
            counts = each
    if counts is None:
        counts = _on_day(one.day, one.plate_kg, written)
    return one.plate_kg if counts is None or counts.kg is None else counts.kg


def _on_day(
    day: int | None, plate_kg: float | None, written: Sequence[WrittenCharge]
) -> WrittenCharge | None:
    """The one that counts on a day: the newest of that day or before. Where neither it nor the
    nameplate says the full charge, the first later one that does."""
    before: WrittenCharge | None = None
    after: WrittenCharge | None = None
    for one in written:
        if day is not None and one.day <= day:
            before = one
        elif after is None and one.kg is not None:
            after = one
    if plate_kg is not None or (before is not None and before.kg is not None) or after is None:
        return before
    return after


def _parts(record: UnitRecord, names: Sequence[str]) -> dict[str, str]:
    kept: dict[str, str] = {}
    for name in names:
        for part in (name, name + "_unit", name + "_oz"):
            if part in record.data:
                kept[part] = record.data[part]
    return kept


def check_record(fields: Fields) -> dict[str, str]:
    """Sentences beside the fields that do not go together."""
    problems = dict(fields.problems)
    how = fields.texts.get("full_charge_how", "")
    low = fields.numbers.get("full_charge_low")
    high = fields.numbers.get("full_charge_high")
    if how == "range":
        if low is None:
            problems.setdefault("full_charge_low", "Needed for a range.")
        if high is None:
            problems.setdefault("full_charge_high", "Needed for a range.")
        if low is not None and high is not None and low > high:
            problems.setdefault("full_charge_high", "Less than the lowest. Check both.")
    for name in ("full_charge", "full_charge_high"):
        number = fields.numbers.get(name)
        if number is not None and number <= 0.0:
            problems.setdefault(name, "More than 0. Leave it empty when it is not known.")
    ruling = fields.texts.get("ruling", "")
    if ruling != "" and "responsible" not in fields.texts:
        problems.setdefault("responsible", "Needed. Who decided it?")
    if ruling in ("applies", "not") and "ruling_why" not in fields.texts:
        problems.setdefault("ruling_why", "Needed. Say why, for whoever reads the record.")
    return problems


def full_charge(state: State, fields: Fields) -> FullCharge:
    """By the record; else the nameplate with the line set."""
    written, how = written_charge(fields)
    if written is None:
        return _by_nameplate(state)
    source: FullFrom = "range" if how == HOW_NAMES["range"] else "record"
    return FullCharge(written, source, how)


def written_charge(fields: Fields) -> tuple[float | None, str]:
    """The full charge a record names [kg], of a range the midpoint, and how it was found."""
    how = fields.texts.get("full_charge_how", "")
    low = fields.numbers.get("full_charge_low")
    high = fields.numbers.get("full_charge_high")
    if how == "range" and low is not None and high is not None:
        return (low + high) / 2.0, HOW_NAMES[how]
    number = fields.numbers.get("full_charge")
    if number is not None and number > 0.0:
        return number, HOW_NAMES.get(how, "")
    return None, ""


def addition(state: State) -> Addition | None:
    """The session as the leak rate counts it; `None` when it has no start."""
    day = day_of_addition(state)
    if day is None or state.started is None:
        return None
    own = own_record(state)
    why = "" if own is None else own.data.get("why", "")
    found = amount(state)
    return Addition(
        sid=state.sid,
        day=day,
        kg=found.added_kg - found.recovered_kg,
        at_least=found.at_least,
        counts=why not in ("new", "retrofit", "seasonal"),
        refilled=found.added_kg > ROUNDING_KG,
        plate_kg=_by_nameplate(state).kg,
    )


def use_from(text: str) -> ApplianceUse | Literal[""]:
    for use in USES:
        if use == text:
            return use
    return ""


def answer_from(text: str) -> Answer:
    if text == "yes":
        return "yes"
    return "no" if text == "no" else ""


def method_from(text: str) -> RateMethod | Literal[""]:
    if text == ANNUALIZING:
        return ANNUALIZING
    return ROLLING if text == ROLLING else ""


def _by_nameplate(state: State) -> FullCharge:
    whole = whole_charge(state).total_kg
    unit = by_labels(state)
    kilograms = full_by_labels(unit) if whole is None else whole
    if unit is None or kilograms is None or kilograms <= 0.0:
        return FullCharge(None, "", "")
    if unit.nameplate_refrigerant != "":
        return FullCharge(kilograms, "nameplate", "Retrofit label")
    if whole is not None:
        return FullCharge(whole, "nameplate", "Nameplate, line set and adders")
    by_line = weigh_in(unit)
    # A line set that takes more than half off was typed wrong: the bare plate counts.
    if isinstance(by_line, Unknown) or by_line.line_kg is None or kilograms != by_line.total_kg:
        return FullCharge(kilograms, "nameplate", "Nameplate, without the line set")
    return FullCharge(kilograms, "nameplate", "Nameplate and line set")
