"""The record for the law: its form on a session, and the rules it rests on."""

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.handbook.fields import read_fields
from lowside.core.office.service_record import RECORD, check_record
from lowside.core.pages.screen import Attempt, Screen
from lowside.core.session.entry import kept_data
from lowside.core.session.state import State
from lowside.library import load_rules
from lowside.rendering import render
from lowside.web.access.guard import visitor_of
from lowside.web.clock import new_ulid
from lowside.web.field.desk import Desk
from lowside.web.field.pages import TheDesk, Typed
from lowside.web.office.law_content import record_context, rules_context
from lowside.web.office.links import session_href
from lowside.web.office.missing import not_found
from lowside.web.office.office_form import saved_before
from lowside.web.office.unit_records import sessions_beside

NO_SUCH_SESSION = "There is no such session in this store."

router = APIRouter(prefix="/office")


@router.get("/rules")
def rules_page() -> Response:
    return HTMLResponse(render("office/rules.html", rules_context(load_rules())))


@router.get("/session/{sid}/record")
def record_page(desk: TheDesk, sid: str) -> Response:
    state = desk.state(sid)
    if state is None or state.practice:
        return not_found(NO_SUCH_SESSION)
    return _record(desk, state, None)


@router.post("/session/{sid}/record")
def save_record(request: Request, desk: TheDesk, sid: str, typed: Typed) -> Response:
    state = desk.state(sid)
    if state is None or state.practice:
        return not_found(NO_SUCH_SESSION)
    problems = check_record(read_fields(RECORD, typed))
    if problems:
        return _record(desk, state, Attempt(RECORD.name, typed, problems))
    data = kept_data(RECORD, typed) | {"by": visitor_of(request).name}
    written = desk.write_once(sid, typed.get("eid", ""), RECORD.kind, data)
    if written is None:
        return not_found("This form came from an unknown page. Open the session and try again.")
    other = saved_before(RECORD, typed, written)
    if other is not None:
        return _record(desk, state, other)
    return RedirectResponse(session_href(sid) + "#law-head", 303)


def screen_of(desk: Desk, state: State, attempt: Attempt | None = None) -> Screen:
    """A session for a page that shows one of the office's forms."""
    now = desk.clock.now()
    return Screen(state, desk.handbook, now, new_ulid(now.at), (), attempt)


def _record(desk: Desk, state: State, attempt: Attempt | None) -> Response:
    beside = sessions_beside(desk, state)
    law = beside.law(state, desk.handbook, load_rules())
    context = record_context(screen_of(desk, state, attempt), law, beside.records)
    return HTMLResponse(render("office/record.html", context), 200 if attempt is None else 422)
