"""The month's report, made to be printed."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, Response

from lowside.core.numbers.calendar import civil_date
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.office.dates import DAY_MS, day_text, local_day
from lowside.core.office.flags import FLAG_NAMES
from lowside.core.office.month import Month, Total, month_from, month_of_text
from lowside.core.office.summary import Summary
from lowside.core.pages.wording import day_and_time, ticket_number
from lowside.outlining import MONTH, SUMMARY, month_lines_from, summary_from
from lowside.rendering import render
from lowside.store import lists
from lowside.store.selection import OLDEST, Selection
from lowside.web.field.pages import TheDesk
from lowside.web.office.links import session_href
from lowside.web.office.list_content import added_text

MOST_LISTED = 300
"""Sessions printed one by one; the totals are of all, and the files have every one."""
WEIGHTS = UnitChoice()

NAMES = (
    *("January", "February", "March", "April", "May", "June", "July", "August", "September"),
    *("October", "November", "December"),
)

router = APIRouter(prefix="/office")


@router.get("/month")
def month_page(desk: TheDesk, month: Annotated[str, Query(max_length=20)] = "") -> Response:
    now = desk.clock.now()
    today = day_text(local_day(now))[:7]
    wanted, problem = month, ""
    days = month_of_text(month)
    if days is None:
        wanted, days = today, month_of_text(today)
        problem = "" if month == "" else "Type the month as 2026-05. This is the present one."
    if days is None:
        raise ValueError(f"the clock says {today}")
    first, before = days[0] * DAY_MS, days[1] * DAY_MS
    lines = lists.begun_between(desk.store, MONTH, first, before)
    selection = Selection(begun_from=first, begun_before=before, sort=OLDEST)
    texts = lists.selected(desk.store, selection, SUMMARY, limit=MOST_LISTED)
    found = [summary_from(text) for _, text in texts if text != ""]
    context = month_context(wanted, days, month_from(month_lines_from(lines)), found)
    context |= {
        "problem": problem,
        "printed": day_and_time(replace(now, run="")),
    }
    return HTMLResponse(render("office/month.html", context))


def month_context(
    month: str, days: tuple[int, int], figures: Month, found: Sequence[Summary]
) -> dict[str, Any]:
    """Context of `office/month.html`."""
    first, last = day_text(days[0]), day_text(days[1] - 1)
    files = f"show=all&from={first}&to={last}"
    year, number, _ = civil_date(days[0])
    return {
        "title": f"Report {month}",
        "heading": f"{NAMES[number - 1]} {year}",
        "month": month,
        "before": "/office/month?month=" + day_text(days[0] - 1)[:7],
        "after": "/office/month?month=" + day_text(days[1])[:7],
        "csv": "/office/sessions.csv?" + files,
        "json": "/office/sessions.json?" + files,
        "list": "/office?" + files,
        "figures": [
            {"name": "Sessions", "value": figures.sessions},
            {"name": "Closed", "value": figures.closed},
            {"name": "With a flag", "value": figures.flagged},
            {"name": "Signed off", "value": figures.signed_off},
        ],
        "refrigerants": [_total(one) for one in figures.by_refrigerant],
        "technicians": [_total(one) for one in figures.by_technician],
        "flags": [{"name": FLAG_NAMES[code], "count": count} for code, count in figures.flags],
        "rows": [_row(one) for one in found],
        "left_out": max(figures.sessions - len(found), 0),
    }


def _total(one: Total) -> dict[str, Any]:
    return {
        "name": one.name,
        "sessions": one.sessions,
        "added": label("mass", one.added_kg, WEIGHTS) + (" or more" if one.at_least else ""),
        "recovered": label("mass", one.recovered_kg, WEIGHTS) if one.recovered_kg > 0.0 else "",
        "flagged": one.flagged,
    }


def _row(one: Summary) -> dict[str, Any]:
    return {
        "href": session_href(one.sid),
        "ticket": ticket_number(one.sid),
        "started": "" if one.started is None else day_and_time(one.started),
        "where": one.unit_label + ", " + one.site if one.site != "" else "New session",
        "technician": one.technician,
        "refrigerant": one.refrigerant,
        "added": added_text(one),
        "verdict": one.verdict if one.closed is not None else "Still open",
        "flags": ", ".join(FLAG_NAMES[flag.code] for flag in one.flags),
        "signed_off": one.signed_off,
    }
