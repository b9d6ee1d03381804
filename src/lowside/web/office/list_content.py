"""What the office's list of sessions prints."""

from collections.abc import Mapping, Sequence
from typing import Any

from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.office.flags import FLAG_NAMES
from lowside.core.office.summary import Summary
from lowside.core.pages.wording import day_and_time, ticket_number
from lowside.outlining import ANY, summary_from
from lowside.store import Listed
from lowside.web.office.links import session_href, unit_href
from lowside.web.office.selecting import Asked

ROWS = 50
"""On one page; a link leads on."""

WEIGHTS = UnitChoice()

SHOWS = (("look", "Needs a look"), ("seen", "Flagged, signed off"), ("all", "All sessions"))
SORT_NAMES = (
    ("new", "Newest first"),
    ("old", "Oldest first"),
    ("added", "Most added first"),
    ("site", "By site and unit"),
)
STATES = (("", "Any state"), ("open", "Open"), ("closed", "Closed"))


def list_context(
    asked: Asked,
    found: Sequence[tuple[Listed, str]],
    counts: Mapping[str, int],
    after: str,
) -> dict[str, Any]:
    """Context of `office/list.html`.

    Args:
        asked: what the address asks for.
        found: at most one more than `ROWS`, with the text of each one's summary.
        counts: of sessions by flag, of those shown.
        after: the sid the page begins behind, "" on the first.
    """
    left_out = dict.fromkeys(asked.problems, "")
    shown = found[:ROWS]
    names: list[tuple[str, str]] = [("", "Any flag"), *FLAG_NAMES.items()]
    return {
        "title": dict(SHOWS)[asked.show],
        "shows": [
            {"name": name, "href": asked.href(show=code, flag=""), "on": code == asked.show}
            for code, name in SHOWS
        ],
        "flags": []
        if asked.show == "all"
        else [
            {
                "name": name,
                "count": counts.get(code or ANY, 0),
                "href": asked.href(flag=code),
                "on": asked.typed["flag"] == code,
            }
            for code, name in names
            if code in ("", asked.typed["flag"]) or counts.get(code, 0) > 0
        ],
        "typed": dict(asked.typed),
        "show": asked.show,
        "problems": [one + " It was left out." for one in asked.problems.values()],
        "narrowed": any(
            text != "" for name, text in asked.typed.items() if name not in ("q", "flag")
        ),
        "sorts": [_choice(code, name, asked.sort) for code, name in SORT_NAMES],
        "states": [_choice(code, name, asked.typed["state"]) for code, name in STATES],
        "rows": [row_of(listed, text) for listed, text in shown],
        "more": asked.href(after=shown[-1][0].sid) if len(found) > ROWS else "",
        "first": asked.href() if after != "" else "",
        "csv": asked.href("/office/sessions.csv", **left_out),
        "json": asked.href("/office/sessions.json", **left_out),
        "si": asked.href("/office/sessions.csv", **left_out, units="si"),
        "filtered": any(text != "" for text in asked.typed.values()),
    }


def row_of(listed: Listed, text: str) -> dict[str, Any]:
    """A session's line; times are those of its site."""
    if text == "":
        return _bare(listed)
    one: Summary = summary_from(text)
    where = one.unit_label + ", " + one.site if one.site != "" else "New session"
    state = "open" if one.closed is None else "closed"
    if one.signed_off != "":
        state = "signed off"
    return {
        "href": session_href(one.sid),
        "unit_href": unit_href(one.site, one.unit_label) if one.site != "" else "",
        "ticket": ticket_number(one.sid),
        "started": "" if one.started is None else day_and_time(one.started),
        "where": where,
        "technician": one.technician,
        "refrigerant": one.refrigerant,
        "added": added_text(one),
        "status": state,
        "flags": [{"name": FLAG_NAMES[flag.code], "detail": flag.detail} for flag in one.flags],
        "comments": one.comments,
    }


def added_text(one: Summary) -> str:
    if one.added_kg <= 0.0 and not one.at_least:
        return ""
    words = label("mass", one.added_kg, WEIGHTS)
    return words + " or more" if one.at_least else words


def _bare(listed: Listed) -> dict[str, Any]:
    """A session whose row could not be made; it is stored and can be opened."""
    return {
        "href": session_href(listed.sid),
        "unit_href": "",
        "ticket": ticket_number(listed.sid),
        "started": "",
        "where": "Session " + ticket_number(listed.sid),
        "technician": listed.outline.technician,
        "refrigerant": listed.outline.refrigerant,
        "added": "",
        "status": "open" if listed.outline.closed is None else "closed",
        "flags": [],
        "comments": 0,
    }


def _choice(code: str, name: str, chosen: str) -> dict[str, Any]:
    return {"value": code, "name": name, "on": code == chosen}
