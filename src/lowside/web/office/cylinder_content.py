"""What the office's pages about cylinders print."""

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.office.cylinders import (
    ABOUT,
    FOR_CHARGING,
    FOR_RECOVERY,
    GONE,
    IN_USE,
    LOW_STOCK,
    MISFIT,
    MIXTURE,
    NO_ROOM,
    RECOVERING,
    TEST_DUE,
    Line,
    Movement,
    OnHand,
    Register,
    Show,
    due_by,
    on_hand,
)
from lowside.core.office.new_cylinder import NEW_CYLINDER
from lowside.core.pages.drafts import NO_DRAFT
from lowside.core.pages.form import Posting, Prefill
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import day, ticket_number
from lowside.core.session.recovering import fill_limits, month_of
from lowside.store.cylinder_rows import CylinderPage
from lowside.web.office.links import NEW_CYLINDER_HREF, cylinder_href, session_href
from lowside.web.office.office_form import office_form

WEIGHTS = UnitChoice()
"""Cylinders mix sessions of different units, so they are shown in one."""

ROWS = 100
"""On one page of the list."""

KIND_NAMES = {FOR_CHARGING: "Charging cylinder", FOR_RECOVERY: "Recovery cylinder"}

SHOWS: dict[str, Show] = {
    "": IN_USE,
    "low": LOW_STOCK,
    "lost": MISFIT,
    "due": TEST_DUE,
    "full": NO_ROOM,
    "recovery": RECOVERING,
    "gone": GONE,
}
"""What the list can be narrowed to, as an address has it."""
SHOW_NAMES: dict[Show, str] = {
    IN_USE: "All",
    LOW_STOCK: "Low on stock",
    MISFIT: "Weight does not fit",
    TEST_DUE: "Test due or overdue",
    NO_ROOM: "No room left",
    RECOVERING: "Recovery cylinders",
    GONE: "Returned or scrapped",
}


def register_context(
    found: CylinderPage, rows: Sequence[OnHand], show: Show, now_month: int
) -> dict[str, Any]:
    """Context of `office/cylinders.html`: the stock, and every cylinder or those asked for.

    Args:
        found: the page asked for, and what is told above it.
        rows: the cylinders on it.
        show: the list they are of.
        now_month: months since year 0.
    """
    counts = {**found.counts, TEST_DUE: found.due}
    code = next(code for code, one in SHOWS.items() if one == show)
    return {
        "title": "Cylinders",
        "any": any(counts.values()),
        "new": NEW_CYLINDER_HREF,
        "shows": [
            {
                "name": SHOW_NAMES[one],
                "href": _list_href(each, 1),
                "count": counts.get(one, 0),
                "on": one == show,
            }
            for each, one in SHOWS.items()
        ],
        "stock": [
            {
                "refrigerant": refrigerant,
                "kind": "Recovered" if kind == FOR_RECOVERY else "To charge from",
                "place": place,
                "net": _mass(net),
                "count": count,
            }
            for refrigerant, kind, place, net, count in found.stock
        ],
        "rows": [_row(one, now_month) for one in rows],
        "first": _list_href(code, 1) if found.page > 1 else "",
        "more": "" if found.is_last else _list_href(code, found.page + 1),
    }


def _list_href(show: str, page: int) -> str:
    asked = {"show": show, "page": str(page) if page > 1 else ""}
    kept = {name: text for name, text in asked.items() if text != ""}
    return "/office/cylinders" + ("?" + urlencode(kept) if kept else "")


def cylinder_context(
    one: Register, screen: Screen, handbook: Handbook, names: Mapping[str, str]
) -> dict[str, Any]:
    """Context of `office/cylinder.html`: one cylinder, its ledger and what the office keeps."""
    tried = screen.refused(ABOUT.name)
    known: Mapping[str, str] = {} if one.about is None else one.about.data
    href = cylinder_href(one.label, one.kind)
    posting = Posting(href, screen.eid(1), "", "", NO_DRAFT, ABOUT.button)
    shown = Prefill(tried.typed if tried is not None else known, tried)
    now_month = month_of(screen.now)
    return {
        "title": "Cylinder " + one.label,
        "kind": KIND_NAMES[one.kind],
        "is_recovery": one.kind == FOR_RECOVERY,
        "one": _row(on_hand(one), now_month),
        "limits": _limits(one, handbook),
        "limit": "" if one.limit is None else _mass(one.limit.kg),
        "limit_rule": "" if one.limit is None else one.limit.rule,
        "gross": ""
        if one.limit is None
        else _mass(one.limit.kg + one.lines[-1].use.weighed.tare_kg),
        "tare": _mass(one.lines[-1].use.weighed.tare_kg),
        "form": office_form(screen, ABOUT, shown, posting),
        "lines": [_line(line, names) for line in reversed(one.lines)],
    }


def new_cylinder_context(screen: Screen) -> dict[str, Any]:
    """Context of `office/cylinder_new.html`."""
    tried = screen.refused(NEW_CYLINDER.name)
    posting = Posting(NEW_CYLINDER_HREF, screen.eid(1), "", "", NO_DRAFT, NEW_CYLINDER.button)
    filling = Prefill(tried.typed if tried is not None else {}, tried)
    return {
        "title": "Register a cylinder",
        "form": office_form(screen, NEW_CYLINDER, filling, posting),
    }


def month_text(month: int | None) -> str:
    """`06/2029`."""
    if month is None:
        return ""
    return f"{month % 12 + 1:02d}/{month // 12:04d}"


def _row(one: OnHand, now_month: int) -> dict[str, Any]:
    marks = []
    if one.warned:
        marks.append("Weight does not fit")
    if one.low:
        marks.append("Low on stock")
    if one.is_full:
        marks.append("No room left")
    if one.due is not None and one.due < now_month:
        marks.append("Test overdue")
    elif one.due is not None and one.due <= due_by(now_month):
        marks.append("Test due soon")
    if one.gone:
        marks.append("Gone")
    return {
        "href": cylinder_href(one.label, one.kind),
        "label": one.label,
        "kind": KIND_NAMES[one.kind],
        "refrigerant": one.refrigerant,
        "net": "Not known"
        if one.net_kg is None
        else ("At most " if one.at_most else "") + _mass(one.net_kg),
        "basis": "as registered"
        if one.registered
        else ""
        if one.by_end_weight
        else "by its shots, no end weight",
        "room": "" if one.room_kg is None else _mass(max(one.room_kg, 0.0)),
        "place": one.place,
        "last": "" if one.used is None else day(one.used),
        "last_href": "" if one.registered else session_href(one.sid),
        "due": month_text(one.due),
        "marks": marks,
    }


def _limits(one: Register, handbook: Handbook) -> list[dict[str, Any]]:
    """What each published rule allows for what is inside; empty for a mixture."""
    water = one.lines[-1].use.water_kg
    table = handbook.tables.get(one.refrigerant)
    if water is None or table is None or one.refrigerant == MIXTURE:
        return []
    return [
        {
            "rule": rule.rule,
            "most": _mass(rule.kg),
            "holds": one.limit is not None and rule.rule == one.limit.rule,
        }
        for rule in fill_limits(water, table)
    ]


def _line(line: Line, names: Mapping[str, str]) -> dict[str, Any]:
    weighed = line.use.weighed
    return {
        "href": "" if line.use.registered else session_href(weighed.sid),
        "session": "Registered"
        if line.use.registered
        else names.get(weighed.sid, ticket_number(weighed.sid)),
        "day": "" if weighed.started is None else day(weighed.started),
        "technician": line.use.technician,
        "start": "" if weighed.start_kg is None else _mass(weighed.start_kg),
        "end": "" if weighed.end_kg is None else _mass(weighed.end_kg),
        "moved": "" if line.use.registered else _moved(line.use),
        "warnings": [warning.sentence(WEIGHTS) for warning in line.warnings],
    }


def _moved(use: Movement) -> str:
    unweighed = use.weighed.unweighed_shots
    if unweighed == 0:
        return _mass(use.moved_kg)
    told = f"{unweighed} not weighed"
    return f"{_mass(use.moved_kg)} and {told}" if use.moved_kg > 0.0 else told


def _mass(kilograms: float) -> str:
    return label("mass", kilograms, WEIGHTS)
