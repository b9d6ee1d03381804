"""The office pages: lists, one session with its chart, the cylinders' ledgers."""

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, Response

from lowside.library import load_rules
from lowside.rendering import render
from lowside.store import lists
from lowside.web.field.pages import TheDesk
from lowside.web.office.content import (
    UNITS,
    set_aside_context,
    unit_context,
    units_context,
)
from lowside.web.office.missing import not_found
from lowside.web.office.photo_content import photos_context
from lowside.web.office.record_pages import screen_of
from lowside.web.office.unit_records import sessions_at

router = APIRouter(prefix="/office")


@router.get("/unit")
def office_unit(
    desk: TheDesk,
    site: Annotated[str, Query(max_length=200)] = "",
    unit: Annotated[str, Query(max_length=200)] = "",
) -> Response:
    found = sessions_at(desk, site, unit)
    newest = desk.state(found.rows[-1].sid) if found.rows else None
    if newest is None:
        return not_found("There is no such unit in this store.")
    law = found.law(newest, desk.handbook, load_rules())
    context = unit_context(found, law, screen_of(desk, newest))
    photos = [(one.sid, photo) for one in found.rows for photo in one.photos]
    context["photos"] = photos_context(desk, photos)
    return HTMLResponse(render("office/unit.html", context))


@router.get("/units")
def office_units(
    desk: TheDesk, show: str = "", after: Annotated[str, Query(max_length=500)] = ""
) -> Response:
    shown = "repeat" if show == "repeat" else ""
    found = lists.units(desk.store, after, UNITS + 1, shown == "repeat")
    context = units_context(found, shown, after == "")
    return HTMLResponse(render("office/units.html", context))


@router.get("/set-aside")
def office_set_aside(desk: TheDesk) -> Response:
    return HTMLResponse(
        render("office/set_aside.html", set_aside_context(desk.store.quarantined()))
    )
