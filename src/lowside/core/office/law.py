"""What the leak rules say of one session at one unit: whom they cover, the rate, what is recorded.

This is an aid to the person who is responsible. Their decision is shown before what is worked out
here, and every figure carries the citation to check.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.fields import read_fields
from lowside.core.handbook.refrigerants import Refrigerant
from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.office.coverage import (
    NOT_YET,
    UNKNOWN_STANDING,
    Applicability,
    UnitFacts,
    applicability,
    governing,
)
from lowside.core.office.dates import day_text, local_day, year_of
from lowside.core.office.leak_rate import (
    ANNUALIZING,
    ROLLING,
    Addition,
    annualized,
    calendar_year,
    reaches,
    rolling,
    taken_out,
)
from lowside.core.office.rate_lines import RateLine, rate_line, with_taken_out
from lowside.core.office.rule_set import Coverage, Rule, RuleSet, Threshold
from lowside.core.office.service_record import (
    RATE_METHOD_NAMES,
    REASON_NAMES,
    RECORD,
    RULING_NAMES,
    Answers,
    FullCharge,
    UnitRecord,
    addition,
    answer_from,
    answers,
    full_charge,
    method_from,
    use_from,
    written_charge,
)
from lowside.core.office.went_in import service_days
from lowside.core.session.amount import amount
from lowside.core.session.ledger import ROUNDING_KG
from lowside.core.session.state import State
from lowside.core.session.unit import designation

LawLevel = Literal["stop", "warn", "good", ""]

CHECK_THE_TEXT = (
    "This page is an aid. Check the current text of the law, and state and local law. The "
    "responsible person decides."
)


@dataclass(frozen=True)
class RecordLine:
    """One thing the rules ask to be written down; `value` is empty while it is missing."""

    rule: Rule
    value: str


@dataclass(frozen=True)
class Law:
    """Everything the office's page says of the law about one session."""

    standings: tuple[Applicability, ...]
    covered_by: Coverage | None
    threshold: Threshold | None
    full: FullCharge
    rates: tuple[RateLine, ...]
    level: LawLevel
    verdict: str
    decided: str
    """What the responsible person decided, empty while nobody has."""
    year: str
    """The calendar year's total where it must be reported; else empty."""
    service: tuple[RecordLine, ...]
    unit: tuple[RecordLine, ...]
    written: Answers


def law_of(
    state: State,
    refrigerant: Refrigerant | None,
    additions: Sequence[Addition],
    records: Sequence[UnitRecord],
    rules: RuleSet,
) -> Law:
    """What the rules say of a session.

    Args:
        state: the session.
        refrigerant: facts of what its unit holds; `None` when not known.
        additions: of every session at this unit, this one's among them.
        records: what the office wrote in the sessions at this unit.
        rules: the country's.
    """
    written = answers(state, records)
    full = full_charge(state, written.fields)
    choice = state.units
    texts = written.fields.texts
    light = texts.get("light", "") or state.checks.get("leak_exempt", "")
    unit = UnitFacts(refrigerant, full.kg, use_from(texts.get("use", "")), answer_from(light))
    mine = addition(state)
    day = None if mine is None else mine.day
    standings = () if day is None else applicability(unit, day, rules, choice)
    covering = governing(standings)
    coverage = None if covering is None else covering.coverage
    threshold = _threshold(coverage, unit)
    rates: tuple[RateLine, ...] = ()
    if mine is not None and full.kg is not None and mine.counts and mine.due:
        wanted = method_from(texts.get("method", ""))
        since = None if coverage is None else coverage.counts_from_day
        out = taken_out(additions, mine)
        rates = tuple(
            rate_line(method, rate, threshold, out, choice)
            for method, rate in (
                (ANNUALIZING, annualized(additions, mine.day, full.kg, since)),
                (ROLLING, rolling(additions, mine.day, full.kg, since)),
            )
            if wanted in ("", method)
        )
        rates = with_taken_out(rates, out, choice)
    level, verdict = _verdict(standings, unit, threshold, mine, rates)
    return Law(
        standings=standings,
        covered_by=coverage,
        threshold=threshold,
        full=full,
        rates=rates,
        level=level,
        verdict=verdict,
        decided=_decided(written),
        year=_year(additions, day, full, standings),
        service=tuple(
            RecordLine(rule, _service_value(rule.id, state, written, full, rates))
            for rule in rules.service_record
        ),
        unit=tuple(
            RecordLine(rule, _unit_value(rule.id, state, written, full, records))
            for rule in rules.unit_record
        ),
        written=written,
    )


def _threshold(coverage: Coverage | None, unit: UnitFacts) -> Threshold | None:
    """By the unit's use; the strictest while nobody has said what that is."""
    if coverage is None:
        return None
    if unit.use != "":
        return coverage.thresholds[unit.use]
    strictest: Threshold | None = None
    for one in coverage.thresholds.values():
        if strictest is None or one.percent < strictest.percent:
            strictest = one
    return strictest


def _verdict(
    standings: Sequence[Applicability],
    unit: UnitFacts,
    threshold: Threshold | None,
    mine: Addition | None,
    rates: Sequence[RateLine],
) -> tuple[LawLevel, str]:
    if threshold is None:
        if not standings or any(one.standing == UNKNOWN_STANDING for one in standings):
            return "warn", "Not decided. A fact about the unit is missing: see below."
        if mine is not None and _before_the_rules(standings, mine.day):
            words = "no rule kept here for its refrigerant is that old. Check the date."
            return "warn", f"Not decided. The date is {day_text(mine.day)}, and {words}"
        return "good", "No federal leak-rate rule kept here covers this unit."
    if mine is None or not mine.due:
        words = "Nothing was added in this session"
        if mine is not None and mine.refilled:
            words = "No more was added in this session than was recovered"
        return "good", words + ", so no leak rate is due."
    if not mine.counts:
        return "good", "No leak rate is due: the addition was not for a leak, by the record."
    if unit.full_charge_kg is None or not rates:
        return "warn", "The leak rate is due and cannot be worked out."
    limit = f"{format_decimal(threshold.percent, 0)} % ({threshold.rule.citation})"
    if unit.use == "":
        limit = limit + ", the strictest, because nobody has said what the unit is for"
    above = [RATE_METHOD_NAMES[line.method].lower() for line in rates if line.surely]
    if len(above) > 0:
        return "stop", (
            f"The leak rate by {' and by '.join(above)} is over {limit}. The leak must be repaired."
        )
    if any(line.over for line in rates):
        words = "this addition may have replaced recovered charge, see below."
        return "warn", f"Whether the leak rate is over {limit} is not decided: {words}"
    if any(line.rate is not None and line.rate.at_least for line in rates):
        return "warn", f"Whether the leak rate is over {limit} is not known."
    return "good", f"The leak rate is not over {limit}."


def _before_the_rules(standings: Sequence[Applicability], day: int) -> bool:
    """What applied on the day is not kept here: before a section that is about the refrigerant
    began, or before all of them."""
    not_yet = any(one.standing == NOT_YET for one in standings)
    return not_yet or all(day < one.coverage.from_day for one in standings)


def _decided(written: Answers) -> str:
    texts = written.fields.texts
    ruling = texts.get("ruling", "")
    if ruling == "":
        return ""
    words = texts.get("responsible", "Someone") + ": " + RULING_NAMES.get(ruling, ruling) + "."
    why = texts.get("ruling_why", "")
    return words if why == "" else words + " " + why


def _year(
    additions: Sequence[Addition],
    day: int | None,
    full: FullCharge,
    standings: Sequence[Applicability],
) -> str:
    """What must be reported of the calendar year: by the section that applies, else by each that
    may apply."""
    if day is None or full.kg is None:
        return ""
    covering = governing(tuple(standings))
    asked = [one for one in standings if one.standing == UNKNOWN_STANDING]
    year = year_of(day)
    rate = calendar_year(additions, year, full.kg)
    found: list[str] = []
    for one in asked if covering is None else [covering]:
        chronic = one.coverage.chronic
        if reaches(rate, chronic.percent):
            words = ""
            if covering is None:
                words = f"Whether {one.coverage.name} covers this unit is not known. If it does: "
            note = "" if chronic.rule.note == "" else " " + chronic.rule.note
            found.append(f"{words}{chronic.rule.text} ({chronic.rule.citation}).{note}")
    if not found:
        return ""
    least = "at least " if rate.at_least else ""
    percent = format_decimal(rate.percent, 0)
    return f"In {year} {least}{percent} % of the full charge was added. {' '.join(found)}"


def _service_value(
    name: str, state: State, written: Answers, full: FullCharge, rates: Sequence[RateLine]
) -> str:
    texts = written.fields.texts
    if name == "R21":
        return _place(state, texts.get("address", ""))
    if name == "R22":
        return _days(state)
    if name == "R23":
        return texts.get("parts", "")
    if name == "R24":
        return texts.get("service", "")
    if name == "R25":
        return _person(state, written)
    if name == "R26":
        return _amount(state, written)
    if name == "R27":
        return _full(state, full)
    if name == "R28":
        known = [line for line in rates if line.rate is not None]
        return " ".join(line.sentence for line in known)
    return ""


def _unit_value(
    name: str, state: State, written: Answers, full: FullCharge, records: Sequence[UnitRecord]
) -> str:
    texts = written.fields.texts
    if name == "R11":
        return texts.get("owner", "")
    if name == "R12":
        return texts.get("address", "")
    if name == "R13":
        return _full(state, full)
    if name == "R14":
        low = written.fields.numbers.get("full_charge_low")
        high = written.fields.numbers.get("full_charge_high")
        if texts.get("full_charge_how", "") != "range":
            return "Not a range"
        if low is None or high is None or full.kg is None:
            return ""
        return (
            f"{label('mass', low, state.units)} to {label('mass', high, state.units)}, midpoint "
            f"{label('mass', full.kg, state.units)}"
        )
    if name == "R15":
        return _revisions(records, state.units)
    return ""


def _days(state: State) -> str:
    days = service_days(state)
    if days is None:
        return ""
    first, last = days
    return day_text(first) if first == last else day_text(first) + " to " + day_text(last)


def _place(state: State, address: str) -> str:
    if state.job is None:
        return ""
    words = state.job.unit_label + ", " + state.job.site
    return words if address == "" else words + ", " + address


def _person(state: State, written: Answers) -> str:
    texts = written.fields.texts
    person = texts.get("person", "")
    if person == "" and state.job is not None:
        person = state.job.technician
    certification = texts.get("certification", "")
    if person == "":
        return ""
    if certification == "":
        return person + ", certification not on record"
    return person + ", certification " + certification


def _amount(state: State, written: Answers) -> str:
    found = amount(state)
    name = designation(state.unit_texts)
    if name == "":
        return ""
    words = label("mass", found.added_kg, state.units) + " " + name + " added"
    if found.at_least and found.added_kg <= ROUNDING_KG:
        words = name + " added, how much is not known: a shot was not weighed"
    elif found.at_least:
        words = "At least " + words + ": a shot was not weighed"
    elif found.by_weights:
        words = words + ", by start and end weight"
    if found.recovered_kg > ROUNDING_KG:
        words = words + "; " + label("mass", found.recovered_kg, state.units) + " recovered"
    if len([one for one in state.recovered if one.kg is None]) > 0:
        words = words + "; recovered, how much is not known: the weight before is missing"
    why = written.fields.texts.get("why", "")
    return words if why == "" else words + ". " + REASON_NAMES[why]


def _full(state: State, full: FullCharge) -> str:
    if full.kg is None:
        return ""
    words = label("mass", full.kg, state.units)
    return words if full.how == "" else words + ". " + full.how


def _revisions(records: Sequence[UnitRecord], choice: UnitChoice) -> str:
    """Each full charge the office wrote, with its day; one that repeats is left out."""
    ordered = list(records)
    ordered.sort(key=lambda record: record.moment.at)
    lines: list[str] = []
    last = ""
    for record in ordered:
        kilograms, how = written_charge(read_fields(RECORD, record.data))
        if kilograms is None:
            continue
        words = label("mass", kilograms, choice)
        words = words if how == "" else words + ", " + how
        if words != last:
            lines.append(day_text(local_day(record.moment)) + ": " + words)
        last = words
    return "; ".join(lines) if lines else "Not written down"
