"""What the office pages print. Every judgment comes from the core; this only arranges it."""

import json
from collections.abc import Collection, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from lowside.core.numbers.unit_choice import UnitChoice, small_mass_unit
from lowside.core.numbers.units import label, show
from lowside.core.office.cylinders import ABOUT
from lowside.core.office.dates import day_text
from lowside.core.office.law import Law
from lowside.core.office.review import COMMENT, SIGN_OFF, without_effect
from lowside.core.office.service_record import RECORD
from lowside.core.office.visits import Visit, side_by_side
from lowside.core.pages.home import unit_name
from lowside.core.pages.screen import Screen
from lowside.core.pages.ticket import ticket_context
from lowside.core.pages.timeline import (
    FIRST_VOID_FORM,
    entry_context,
    page_of,
    titles_of,
    typed_lines,
)
from lowside.core.pages.wording import day, ticket_number
from lowside.core.session.events import Moment, elapsed, writer_of
from lowside.core.session.state import Entry, State, sum_of_shots
from lowside.core.session.unit_history import UnitLine, total_text, unit_histories
from lowside.store import Quarantined
from lowside.store.lists import Unit
from lowside.web.office.law_content import additions_context, law_context
from lowside.web.office.links import session_href, unit_href, void_href
from lowside.web.office.unit_chart import added_chart, readings_chart
from lowside.web.office.unit_records import UnitSessions

OFFICE_FORMS = {form.kind: form for form in (RECORD, ABOUT, COMMENT, SIGN_OFF)}
"""The office's own entries by kind."""

UNITS = 100
"""On one page of the list of units."""

NOTES = 50
"""On the page of one session."""

WEIGHTS = UnitChoice()
"""Lists mix sessions of different units, so they are shown in one."""


def session_context(screen: Screen, up_to: str, own: Collection[str]) -> dict[str, Any]:
    """Context of `office/session.html`: the ticket, a page of the timeline and the chart's series.

    Args:
        up_to: the number of the last entry of that page, see `timeline.page_of`.
        own: eids of the entries that the office may void.
    """
    state, handbook = screen.state, screen.handbook
    count = len(state.entries)
    first, last = page_of(count, up_to)
    titles = titles_of(state)
    idle = without_effect(state)
    here = session_href(state.sid)
    series = chart_series(state)
    record = ticket_context(state, handbook)
    return record | {
        "notes": _last_notes(record["notes"]),
        "title": unit_name(state),
        "heading": unit_name(state),
        "sid": state.sid,
        "ticket": ticket_number(state.sid),
        "entries": [
            _entry(screen, FIRST_VOID_FORM + n - first, state.entries[n], titles, own)
            | ({"mark": "Does not count"} if state.entries[n].eid in idle else {})
            for n in range(first, last)
        ],
        "timeline_note": f"Entries {first + 1} to {last} of {count}."
        if last - first < count
        else "",
        "older": f"{here}?entries={first}#timeline" if first > 0 else "",
        "newest": f"{here}#timeline" if last < count else "",
        "unit_href": unit_href(state.job.site, state.job.unit_label)
        if state.job is not None
        else "",
        "series": json.dumps(series) if series is not None else "",
        "chart_text": chart_text(series),
    }


def _last_notes(notes: Sequence[str]) -> list[str]:
    """The last ones: the timeline beside them has all, page by page."""
    left_out = len(notes) - NOTES
    if left_out <= 0:
        return list(notes)
    return [f"{left_out} earlier notes are on the timeline below.", *notes[-NOTES:]]


def _entry(
    screen: Screen, number: int, entry: Entry, titles: Mapping[str, str], own: Collection[str]
) -> dict[str, Any]:
    """A line of the timeline; the office's own forms are known here and not on a phone. Its own
    entries can be voided, by the form of this number."""
    state = screen.state
    shown = entry_context(state, screen.procedure, entry, screen.eid(number), titles, "")
    if entry.eid not in own:
        shown["void"] = None
    elif shown["void"] is not None:
        shown["void"]["action"] = void_href(state.sid)
    if entry.kind in OFFICE_FORMS:
        shown["lines"] = typed_lines(OFFICE_FORMS[entry.kind], entry.data)
    if (entry.kind in OFFICE_FORMS or entry.eid in own) and entry.data.get("by", "") != "":
        shown["lines"].append("Written by: " + entry.data["by"])
    return shown


def chart_series(state: State) -> dict[str, Any] | None:
    """Superheat, subcooling and charge added over minutes; `None` when there is nothing to draw."""
    if state.started is None or not state.readings:
        return None
    choice = state.units
    mass_unit = small_mass_unit(choice)
    minutes: list[float] = []
    superheat: list[float | None] = []
    subcooling: list[float | None] = []
    added: list[float] = []
    for taken in state.readings:
        minutes.append(_minutes(state.started, taken.moment))
        superheat.append(
            _degrees(taken.assessment and taken.assessment.measured.superheat_k, choice)
        )
        subcooling.append(
            _degrees(taken.assessment and taken.assessment.measured.subcooling_k, choice)
        )
        added.append(_amount(taken.added_kg, mass_unit))
    for number, shot in enumerate(state.shots, start=1):
        if shot.closed is None:
            continue
        minutes.append(_minutes(state.started, shot.closed))
        superheat.append(None)
        subcooling.append(None)
        added.append(_amount(sum_of_shots(state.shots[:number]), mass_unit))
    order = sorted(range(len(minutes)), key=lambda i: minutes[i])
    return {
        "minutes": [minutes[i] for i in order],
        "superheat": [superheat[i] for i in order],
        "subcooling": [subcooling[i] for i in order],
        "added": [added[i] for i in order],
        "degree": choice.temperature,
        "mass": mass_unit,
    }


def units_context(found: Sequence[Unit], show: str, first: bool) -> dict[str, Any]:
    """Context of `office/units.html`.

    Args:
        found: at most one more than `UNITS`, in order.
        show: "repeat" for units topped up more than once, else "".
        first: this is the first page.
    """
    rows = found[:UNITS]
    return {
        "title": "Units",
        "repeat": show == "repeat",
        "rows": [
            {
                "href": unit_href(site, unit_label),
                "name": unit_label + ", " + site,
                "sessions": sessions,
                "repeated": f"Added in {adding} sessions" if adding > 1 else "",
                "added": _in_all(added_kg, unknown > 0) if adding > 0 else "",
                "last": day(Moment("", 0, last, tz)),
            }
            for _, site, unit_label, sessions, adding, added_kg, last, tz, unknown in rows
        ],
        "more": "/office/units?" + urlencode({"show": show, "after": rows[-1][0]})
        if len(found) > UNITS
        else "",
        "first": "" if first else "/office/units?" + urlencode({"show": show}),
    }


def unit_context(found: UnitSessions, law: Law, screen: Screen) -> dict[str, Any]:
    """Context of `office/unit.html`: one unit, what was added to it, and what the law says."""
    uses = [one.use for one in found.rows if one.use is not None]
    (history,) = unit_histories(uses)
    newest = history.lines[-1].use
    visits = side_by_side([one.visit for one in found.rows if one.visit is not None])
    return {
        "title": history.unit_label,
        "name": history.unit_label + ", " + history.site,
        "refrigerant": newest.refrigerant,
        "full": ""
        if law.full.kg is None
        else label("mass", law.full.kg, WEIGHTS.mass) + ". " + law.full.how,
        "repeated": history.sentence(WEIGHTS),
        "additions": additions_context(found.additions, found.records, law, WEIGHTS),
        "lines": [_unit_line(line) for line in reversed(history.lines)],
        "visits": [_visit(one) for one in reversed(visits)],
        "added_chart": added_chart(found.additions),
        "readings_chart": readings_chart(visits),
        "law": law_context(law, screen),
    }


def set_aside_context(items: Sequence[Quarantined]) -> dict[str, Any]:
    """Context of `office/set_aside.html`: events that contradict stored ones, kept for a person."""
    return {
        "title": "Set aside",
        "rows": [
            {
                "session": ticket_number(item.event.sid),
                "href": session_href(item.event.sid),
                "kind": item.event.kind,
                "device": ticket_number(writer_of(item.event.dev)),
                "data": ", ".join(f"{name}: {text}" for name, text in item.event.data.items()),
                "reason": item.reason,
            }
            for item in items
        ],
    }


def _visit(one: Visit) -> dict[str, Any]:
    return {
        "href": session_href(one.sid),
        "day": day_text(one.day),
        "outdoor": "" if one.outdoor_k is None else label("temperature", one.outdoor_k, "°F"),
        "superheat": _difference(one.superheat_k),
        "subcooling": _difference(one.subcooling_k),
        "approach": _difference(one.approach_k),
        "similar": one.similar,
    }


def _difference(kelvin: float | None) -> str:
    return "" if kelvin is None else label("temperature_difference", kelvin, "°F")


def _unit_line(line: UnitLine) -> dict[str, Any]:
    use = line.use
    return {
        "href": session_href(use.sid),
        "day": day(use.started),
        "technician": use.technician,
        "added": "" if use.added_kg <= 0.0 and use.unweighed_shots else _mass(use.added_kg),
        "unweighed": use.unweighed_shots,
        "total": _in_all(line.total_kg, line.at_least),
        "status": "closed" if use.closed is not None else "open",
    }


def _in_all(kilograms: float, at_least: bool) -> str:
    told = total_text(kilograms, at_least, WEIGHTS)
    return "Not known" if told == "" else told[0].upper() + told[1:]


def _mass(kilograms: float | None) -> str:
    return "" if kilograms is None else label("mass", kilograms, WEIGHTS.mass)


def chart_text(series: Mapping[str, Any] | None) -> str:
    """What the chart shows, in words."""
    if series is None:
        return ""
    return (
        f"Superheat and subcooling in {series['degree']} and charge added in {series['mass']}, "
        f"over {len(series['minutes'])} points. The timeline holds the same values as text."
    )


def _minutes(start: Moment, moment: Moment) -> float:
    return elapsed(start, moment).seconds / 60.0


def _degrees(value: object, choice: UnitChoice) -> float | None:
    if not isinstance(value, float):
        return None
    return _plain(show("temperature_difference", value, choice.temperature))


def _amount(kilograms: float, unit: str) -> float:
    return _plain(show("mass", kilograms, unit))


def _plain(text: str) -> float:
    return float(text.replace("−", "-"))
