"""The office pages: lists, one session with its chart, the cylinders' ledgers."""

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.pages import addresses
from lowside.core.session.unit_history import unit_use_of
from lowside.library import load_rules
from lowside.rendering import render
from lowside.web.field.pages import TheDesk, not_found
from lowside.web.office.content import (
    list_context,
    session_context,
    set_aside_context,
    unit_context,
    units_context,
)
from lowside.web.office.law_content import law_context
from lowside.web.office.record_pages import screen_of
from lowside.web.office.unit_records import sessions_at, sessions_beside

MOST_ROWS = 200

router = APIRouter(prefix="/office")


@router.get("")
def office_list(desk: TheDesk, q: Annotated[str, Query(max_length=200)] = "") -> Response:
    store = desk.store
    context = list_context(
        store.sessions(query=q, limit=MOST_ROWS, practice=False),
        q,
        len(store.quarantined()),
        store.problems(),
        desk.clock.now().tz,
    )
    return HTMLResponse(render("office/list.html", context))


@router.get("/session/{sid}")
def office_session(desk: TheDesk, sid: str) -> Response:
    state = desk.state(sid)
    if state is None:
        return not_found("There is no such session in this store.")
    if state.practice:
        return RedirectResponse(addresses.in_practice(addresses.current(sid)), 303)
    beside = sessions_beside(desk, state)
    law = beside.law(state, desk.handbook, load_rules())
    context = session_context(state, desk.handbook)
    context["law"] = law_context(law, screen_of(desk, state))
    return HTMLResponse(render("office/session.html", context))


@router.get("/unit")
def office_unit(
    desk: TheDesk,
    site: Annotated[str, Query(max_length=200)] = "",
    unit: Annotated[str, Query(max_length=200)] = "",
) -> Response:
    found = sessions_at(desk, site, unit)
    if not found.states:
        return not_found("There is no such unit in this store.")
    newest = found.states[-1]
    law = found.law(newest, desk.handbook, load_rules())
    return HTMLResponse(
        render("office/unit.html", unit_context(found, law, screen_of(desk, newest)))
    )


@router.get("/units")
def office_units(desk: TheDesk) -> Response:
    states = desk.states_for_lists([listed.sid for listed in desk.store.sessions(practice=False)])
    uses = [use for use in map(unit_use_of, states) if use is not None]
    return HTMLResponse(render("office/units.html", units_context(uses)))


@router.get("/set-aside")
def office_set_aside(desk: TheDesk) -> Response:
    return HTMLResponse(
        render("office/set_aside.html", set_aside_context(desk.store.quarantined()))
    )
