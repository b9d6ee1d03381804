"""The field pages: parse the address, record or fold, view, render. No rules here."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.pages import addresses
from lowside.core.pages.addresses import FORM_TARGETS, parse_path
from lowside.core.pages.recording import Refusal
from lowside.core.pages.screen import Attempt, Screen
from lowside.core.pages.view import NoPage, home, view
from lowside.core.session.ledger import CylinderUse
from lowside.rendering import render
from lowside.web.clock import new_ulid
from lowside.web.field.desk import Desk

MAX_FIELDS = 60
MAX_FIELD_BYTES = 16_384
CLOSED_ON_HOME = 5

router = APIRouter()


def the_desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


async def typed_form(request: Request) -> Mapping[str, str]:
    """Every text field of a posted form."""
    async with request.form(
        max_files=0, max_fields=MAX_FIELDS, max_part_size=MAX_FIELD_BYTES
    ) as form:
        return {name: text for name, text in form.items() if isinstance(text, str)}


TheDesk = Annotated[Desk, Depends(the_desk)]
Typed = Annotated[Mapping[str, str], Depends(typed_form)]


@router.get("/")
def home_page(desk: TheDesk) -> Response:
    return _home(desk)


@router.post("/start")
def start(desk: TheDesk, typed: Typed) -> Response:
    sid = typed.get("sid", "")
    if not desk.start(sid, typed.get("eid", ""), typed):
        return _home(desk, 422)
    return RedirectResponse(addresses.current(sid), 303)


@router.get("/s/{rest:path}")
def session_page(request: Request, desk: TheDesk) -> Response:
    return _session_page(request, desk, request.url.path)


@router.post("/s/{rest:path}")
def session_form(request: Request, desk: TheDesk, typed: Typed) -> Response:
    address = parse_path(request.url.path)
    if address is None or address.page not in FORM_TARGETS:
        return not_found("There is nothing to save at this address.")
    if "eid" not in typed:
        return not_found("This form came from an unknown page. Open the session and try again.")
    outcome = desk.post(address, typed)
    if outcome is None:
        return not_found("There is no such session on this device.")
    if isinstance(outcome, Refusal):
        path = addresses.path(outcome.address)
        return _session_page(request, desk, path, outcome.attempt)
    return RedirectResponse(outcome.next_path, 303)


def not_found(sentence: str) -> Response:
    """A page that says why there is nothing here."""
    html = render("field/missing.html", {"title": "Not found", "page": "missing", "text": sentence})
    return HTMLResponse(html, 404)


def _home(desk: Desk, status: int = 200) -> Response:
    open_sids = [listed.sid for listed in desk.store.sessions(open_only=True, practice=False)]
    closed = desk.store.sessions(closed_only=True, practice=False, limit=CLOSED_ON_HOME)
    closed_sids = [listed.sid for listed in closed]
    states = desk.states_for_lists(open_sids + closed_sids)
    page = home(states, desk.handbook, new_ulid(desk.clock.now().at))
    return HTMLResponse(render(page.template, page.context), status)


def _session_page(
    request: Request, desk: Desk, path: str, attempt: Attempt | None = None
) -> Response:
    address = parse_path(path)
    if address is None:
        return not_found("There is no page at this address.")
    state = desk.state(address.sid)
    if state is None:
        return not_found("There is no such session on this device.")
    if state.practice:
        return RedirectResponse(addresses.in_practice(path), 303)
    uses: tuple[CylinderUse, ...] = ()
    if state.cylinder is not None:
        uses = tuple(desk.cylinder_uses(state.cylinder.label, state.sid))
    visits = desk.visits_lately(state.sid)
    if state.job is not None:
        visits += desk.visits(state.job.site, state.job.unit_label, state.sid)
    now = desk.clock.now()
    screen = Screen(state, desk.handbook, now, new_ulid(now.at), uses, attempt, tuple(visits))
    page = view(screen, address)
    if isinstance(page, NoPage):
        return not_found(page.sentence)
    return HTMLResponse(render(page.template, page.context), 200 if attempt is None else 422)
