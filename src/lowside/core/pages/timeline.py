"""The timeline: every entry as it was typed, with its corrections."""

from collections.abc import Mapping
from typing import Any

from lowside.core.handbook.fields import FILE, NUMBER, Form, choice_text
from lowside.core.handbook.forms import FORM_OF_KIND, FORMS
from lowside.core.handbook.procedure import Procedure, step_by_id
from lowside.core.numbers.units import IN_WORDS
from lowside.core.pages import addresses
from lowside.core.pages.figures import figures_of
from lowside.core.pages.screen import Attempt, Screen
from lowside.core.pages.wording import clock_seconds, day, ticket_number, title_of
from lowside.core.session.corrections import owners
from lowside.core.session.events import FIRST_KIND, writer_of
from lowside.core.session.photos import PHOTO_KIND, photo_name
from lowside.core.session.state import READING_KINDS, STANDS, Entry, State

FIRST_VOID_FORM = 100
"""Forms of the timeline are numbered from here: none shares an id with the page's others."""

PER_PAGE = 100
"""Entries on a page. Our choice: more than almost any session has."""

LONGEST_NUMBER = 9

FIXED_KINDS = (FIRST_KIND, "event.voided", "event.amended", "step.done", PHOTO_KIND)
"""Kinds that can be voided, if at all, but have no values to correct."""

DATA_NAMES: dict[str, str] = {
    "practice": "Practice",
    "lesson": "Lesson",
    "seed": "Unit number",
    "valve": "Valve",
    "pace": "Speed",
    "recovery": "Recovery machine",
}
"""How the timeline calls the values of an entry that no form made."""

OF_PROGRAM = ("procedure", "tables", "rules")
"""Values of a session's start that are names within the program: the steps show the hoses, and the
record names the tables."""

DATA_WORDS: dict[str, str] = {"shut": "closed"}
"""Values that a screen words differently from the event."""


def page_of(count: int, about: str) -> tuple[int, int]:
    """The first entry of a page of the timeline, counted from 0, and the one after its last.

    Args:
        count: how many entries there are.
        about: the number of the last entry of the page; the newest page without one that fits.
    """
    is_number = about != "" and len(about) <= LONGEST_NUMBER and about.strip("0123456789") == ""
    last = int(about) if is_number else count
    if last < 1 or last > count:
        last = count
    return max(0, last - PER_PAGE), last


def timeline_context(screen: Screen, about: str) -> dict[str, Any]:
    """Part of the context of `field/timeline.html`: a page of the entries, the newest first.

    Args:
        about: as for `page_of`.
    """
    state = screen.state
    first, last = page_of(len(state.entries), about)
    here = addresses.timeline(state.sid, last if last < len(state.entries) else 0)
    titles = titles_of(state)
    owned = owners(state.entries)
    entries: list[dict[str, Any]] = []
    number = FIRST_VOID_FORM
    for entry in state.entries[first:last]:
        eid = screen.eid(number)
        shown = entry_context(state, screen.procedure, entry, eid, titles, here)
        if entry.eid in owned:
            shown["void"] = None
        if shown["day"] != day(state.entries[0].moment):
            shown["time"] = shown["day"] + " " + shown["time"]
        entries.append(shown)
        number += 1
    entries.reverse()
    return {
        "title": "Timeline",
        "page": "timeline",
        "entries": entries,
        "older": addresses.timeline(state.sid, first) if first > 0 else "",
        "newest": addresses.timeline(state.sid) if last < len(state.entries) else "",
        "back": addresses.ticket(state.sid)
        if state.closed is not None
        else addresses.current(state.sid),
        "message": _message(screen.attempt),
    }


def titles_of(state: State) -> dict[str, str]:
    """What each entry is called where another one is about it."""
    return {
        entry.eid: title_of(entry.kind) + " of " + clock_seconds(entry.moment)
        for entry in state.entries
    }


def entry_context(
    state: State,
    procedure: Procedure | None,
    entry: Entry,
    eid: str,
    titles: Mapping[str, str],
    back: str,
) -> dict[str, Any]:
    """One entry as the phone's timeline and the office's page list it."""
    standing = entry.status == STANDS
    form = FORM_OF_KIND.get(entry.kind)
    can_amend = standing and form is not None and len(form.fields) > 0
    return {
        "eid": entry.eid,
        "title": _title(procedure, entry),
        "time": clock_seconds(entry.moment),
        "day": day(entry.moment),
        "device": ticket_number(writer_of(entry.dev)),
        "status": entry.status,
        "mark": _mark(entry),
        "lines": entry_lines(entry, titles) + _worked_out(state, entry),
        "photo": photo_of(state, entry),
        "problems": list(entry.problems.values()),
        "amend": addresses.amend(state.sid, entry.eid)
        if can_amend and entry.kind not in FIXED_KINDS
        else "",
        "void": {
            "action": addresses.form(state.sid, "void"),
            "eid": eid,
            "step": "",
            "back": back,
            "button": "Restore it" if entry.kind == "event.voided" else "Void it",
        }
        if standing
        else None,
    }


def photo_of(state: State, entry: Entry) -> str:
    """Where the entry's picture is, "" when there is none to be seen."""
    shown = entry.kind == PHOTO_KIND and entry.status == STANDS and photo_name(entry.data) != ""
    return addresses.photo(state.sid, entry.data["photo"]) if shown else ""


def _worked_out(state: State, entry: Entry) -> list[str]:
    """What a reading comes to, after what was read."""
    if entry.kind not in READING_KINDS:
        return []
    for taken in state.readings:
        if taken.eid == entry.eid:
            return [
                figure["name"] + ", worked out: " + figure["value"] + " " + figure["unit"]
                for figure in figures_of(state.units, taken)
                if figure["unit"] != ""
            ]
    return []


def _title(procedure: Procedure | None, entry: Entry) -> str:
    """The kind in words; a step that was done by its name."""
    step_id = entry.data.get("step", "")
    if entry.kind != "step.done" or step_id == "":
        return title_of(entry.kind)
    step = step_by_id(procedure, step_id) if procedure is not None else None
    return title_of(entry.kind) + ": " + (step.title if step is not None else step_id)


def entry_lines(entry: Entry, titles: Mapping[str, str]) -> list[str]:
    """What an entry says, as typed, each value with its unit."""
    form = FORM_OF_KIND.get(entry.kind)
    if entry.kind in ("event.voided", "event.amended"):
        lines = [
            "About: " + titles.get(entry.data.get("target", ""), "an entry not on this device")
        ]
        reason = entry.data.get("reason", "")
        if reason != "":
            lines.append("Why: " + reason)
        return lines
    if entry.kind == "step.done":
        return []
    if form is None:
        # A session starts with units too, by the names their form has.
        units = [field.name for field in FORMS["units"].fields]
        return typed_lines(FORMS["units"], entry.data) + [
            DATA_NAMES.get(name, name) + ": " + DATA_WORDS.get(text, text)
            for name, text in entry.data.items()
            if name not in OF_PROGRAM and name not in units
        ]
    return typed_lines(form, entry.data)


def typed_lines(form: Form, data: Mapping[str, str]) -> list[str]:
    """Each filled-in field of a form with its label, text and unit."""
    lines = []
    for field in form.fields:
        text = data.get(field.name, "").strip()
        ounces = data.get(field.name + "_oz", "").strip()
        if (text == "" and ounces == "") or field.kind == FILE:
            continue
        if field.kind == NUMBER:
            unit = data.get(field.name + "_unit", "")
            shown = text if unit == IN_WORDS else text + " " + unit
            if unit == "lb+oz":
                shown = _pounds(text, ounces)
        else:
            shown = choice_text(field.choices, text)
        lines.append(field.label + ": " + shown)
    return lines


def _pounds(pounds: str, ounces: str) -> str:
    if ounces == "":
        return pounds + " lb"
    if pounds == "":
        return ounces + " oz"
    return pounds + " lb " + ounces + " oz"


def _mark(entry: Entry) -> str:
    if entry.status != STANDS:
        return "Void"
    if entry.amended:
        return "Corrected"
    return ""


def _message(attempt: Attempt | None) -> str:
    if attempt is None:
        return ""
    if attempt.message != "":
        return attempt.message
    return " ".join(attempt.problems.values())
