"""What the office's pages print of the law. The core decides; this only arranges it."""

from collections.abc import Sequence
from typing import Any

from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.office.coverage import APPLIES, UNKNOWN_STANDING
from lowside.core.office.dates import day_text
from lowside.core.office.law import CHECK_THE_TEXT, Law, RecordLine
from lowside.core.office.leak_rate import Addition, annualized, over, rolling
from lowside.core.office.rate_lines import percent_text
from lowside.core.office.rule_set import NOT_VERIFIED, Rule, RuleSet, topics
from lowside.core.office.service_record import (
    RECORD,
    UnitRecord,
    full_kg_then,
    known_data,
    written_charges,
)
from lowside.core.pages.drafts import NO_DRAFT
from lowside.core.pages.form import Posting, Prefill
from lowside.core.pages.home import unit_name
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import day
from lowside.core.session.ledger import ROUNDING_KG
from lowside.web.office.links import record_href, session_href, unit_href
from lowside.web.office.office_form import office_form

WORDS = {"stop": "Over the threshold.", "warn": "Open.", "good": "Leak rate."}


def law_context(law: Law, screen: Screen) -> dict[str, Any]:
    """Part of the context of `office/session.html` and `office/record.html`."""
    state = screen.state
    written = law.written
    taken_over = ""
    if written.unit_from is not None:
        both = written.charge_from == written.unit_from
        taken_over = "Owner, address, use and full charge" if both else "Owner, address and use"
        taken_over = taken_over + f" are from this unit’s record of {day(written.unit_from)}."
        if written.charge_from is not None and not both:
            taken_over = (
                taken_over + f" The full charge is from that of {day(written.charge_from)}."
            )
    return {
        "level": law.level,
        "word": WORDS.get(law.level, ""),
        "verdict": law.verdict,
        "decided": law.decided,
        "year": law.year,
        "standings": [
            {"text": one.sentence, "cite": _citations(one.rules)} for one in law.standings
        ],
        "rates": [line.sentence for line in law.rates],
        "service": [_line(line) for line in law.service],
        "unit": [_line(line) for line in law.unit],
        "service_cite": _cite(law, law.service),
        "unit_cite": _cite(law, law.unit),
        "then": [_rule(rule) for rule in law.covered_by.then]
        if law.covered_by is not None and law.level == "stop"
        else [],
        "taken_over": taken_over,
        "written": written.written,
        "href": record_href(state.sid),
        "unit_href": unit_href(state.job.site, state.job.unit_label)
        if state.job is not None
        else "",
        "check": CHECK_THE_TEXT,
    }


def record_context(screen: Screen, law: Law, records: Sequence[UnitRecord]) -> dict[str, Any]:
    """Context of `office/record.html`: the form, filled with what is known."""
    tried = screen.refused(RECORD.name)
    known = tried.typed if tried is not None else known_data(screen.state, records).data
    posting = Posting(record_href(screen.sid), screen.eid(1), "", "", NO_DRAFT, RECORD.button)
    return {
        "title": "Record for the law",
        "heading": unit_name(screen.state),
        "back": session_href(screen.sid),
        "form": office_form(screen, RECORD, Prefill(known, tried), posting),
        "law": law_context(law, screen),
    }


def rules_context(rules: RuleSet) -> dict[str, Any]:
    """Context of `office/rules.html`: every rule kept here, with how well it is known."""
    return {
        "title": "Rules",
        "country": rules.country,
        "read_as_of": rules.read_as_of,
        "check": CHECK_THE_TEXT,
        "topics": [
            {"name": name, "rules": [_rule(rule) for rule in found]}
            for name, found in topics(rules.rules)
        ],
    }


def additions_context(
    additions: Sequence[Addition], records: Sequence[UnitRecord], law: Law, choice: UnitChoice
) -> list[dict[str, Any]]:
    """Each addition at a unit with the leak rates of its day, by the full charge of that day, the
    newest first."""
    found = []
    written = written_charges(records)
    since = None if law.covered_by is None else law.covered_by.counts_from_day
    for one in sorted(additions, key=lambda each: (each.day, each.sid), reverse=True):
        row: dict[str, Any] = {
            "href": session_href(one.sid),
            "day": day_text(one.day),
            "added": _added(one, choice),
            "annualizing": "",
            "rolling": "",
            "over": "",
        }
        full_kg = full_kg_then(one, written)
        if full_kg is not None and one.counts:
            by_year = annualized(additions, one.day, full_kg, since)
            by_rolling = rolling(additions, one.day, full_kg, since)
            if by_year is not None:
                row["annualizing"] = percent_text(by_year)
            if by_rolling is not None:
                row["rolling"] = percent_text(by_rolling)
            limit = None if law.threshold is None else law.threshold.percent
            rates = [rate for rate in (by_year, by_rolling) if rate is not None]
            if limit is not None and any(over(rate, limit) for rate in rates):
                row["over"] = "Over " + format_decimal(limit, 0) + " %"
        found.append(row)
    return found


def _added(one: Addition, choice: UnitChoice) -> str:
    """What went in less what was recovered, as the rates count it."""
    if one.at_least:
        return label("mass", one.kg, choice) + " or more" if one.kg > ROUNDING_KG else "Not known"
    if one.refilled and not one.due:
        return "No more than recovered"
    return label("mass", one.kg, choice)


def _line(line: RecordLine) -> dict[str, str]:
    return {
        "name": line.rule.text,
        "value": line.value,
    }


def _cite(law: Law, lines: Sequence[RecordLine]) -> str:
    """The section that asks for this record; empty where it does not cover the unit."""
    cite = lines[0].rule.citation
    for one in law.standings:
        covers = one.standing in (APPLIES, UNKNOWN_STANDING)
        if cite.startswith(one.coverage.name) and not covers:
            return ""
    return cite


def _citations(rules: Sequence[Rule]) -> str:
    found: list[str] = []
    for rule in rules:
        if rule.citation not in found:
            found.append(rule.citation)
    return ", ".join(found)


def _rule(rule: Rule) -> dict[str, str]:
    from_day = "" if rule.effective_from == "" else "From " + rule.effective_from
    return {
        "id": rule.id,
        "text": rule.text,
        "cite": rule.citation,
        "basis": "" if rule.verified else NOT_VERIFIED,
        "from_day": from_day.replace("From to ", "Until "),
        "note": rule.note,
        "value": (rule.value + " " + rule.unit).strip(),
    }
