"""The field pages: parse the address, record or fold, view, render. No rules here."""

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.pages import addresses
from lowside.core.pages.addresses import parse_path
from lowside.core.pages.page import NO_PAGE, NO_SESSION, NoPage, missing
from lowside.core.pages.recording import Refusal, posted_to
from lowside.core.pages.screen import Attempt, Screen
from lowside.core.pages.view import home, view
from lowside.core.session.listed import CLOSED_ON_HOME
from lowside.rendering import render
from lowside.store.outline import is_abandoned
from lowside.store.ulid import is_ulid
from lowside.web.clock import new_ulid
from lowside.web.field.desk import Desk

MAX_FIELDS = 160
MAX_FIELD_BYTES = 16_384
OPEN_ON_HOME = 60
"""On one page; a link leads to older ones."""

router = APIRouter()


def the_desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


async def typed_form(request: Request) -> Mapping[str, str]:
    """Every text field of a posted form."""
    async with request.form(
        max_files=0, max_fields=MAX_FIELDS, max_part_size=MAX_FIELD_BYTES
    ) as form:
        typed = {name: text for name, text in form.items() if isinstance(text, str)}
    if any("\ud800" <= character <= "\udfff" for text in typed.values() for character in text):
        # Half a character, from a charset no browser sends: it cannot be stored or shown.
        raise HTTPException(400, "A text of this form is not valid Unicode.")
    return typed


TheDesk = Annotated[Desk, Depends(the_desk)]
Typed = Annotated[Mapping[str, str], Depends(typed_form)]


@router.get("/")
def home_page(desk: TheDesk, before: Annotated[str, Query(max_length=60)] = "") -> Response:
    return _home(desk, before=before)


@router.post("/start")
def start(desk: TheDesk, typed: Typed) -> Response:
    first = desk.start(typed)
    return _home(desk, 422) if first is None else RedirectResponse(first.next_path, 303)


@router.get("/s/{rest:path}")
def session_page(request: Request, desk: TheDesk) -> Response:
    return _session_page(request, desk, request.url.path)


@router.post("/s/{rest:path}")
def session_form(request: Request, desk: TheDesk, typed: Typed) -> Response:
    return record(request, desk, typed)


def record(request: Request, desk: Desk, typed: Mapping[str, str]) -> Response:
    """Record a form, then lead to the next page, or show the form again."""
    address = posted_to(request.url.path, typed)
    if isinstance(address, NoPage):
        return no_page(address)
    outcome = desk.post(address, typed)
    if outcome is None:
        return no_page(NO_SESSION)
    if isinstance(outcome, Refusal):
        path = addresses.path(outcome.address)
        return _session_page(request, desk, path, outcome.attempt)
    return RedirectResponse(outcome.next_path, 303)


def not_found(sentence: str) -> Response:
    """A page that says why there is nothing here."""
    return no_page(NoPage(sentence))


def no_page(why: NoPage) -> Response:
    """The same with the core's words."""
    page = missing(why)
    return HTMLResponse(render(page.template, page.context), 404)


def _home(desk: Desk, status: int = 200, before: str = "") -> Response:
    opened = desk.store.sessions(
        open_only=True, practice=False, limit=OPEN_ON_HOME + 1, before=place_from(before)
    )
    now_ms = desk.clock.now().at
    page_of_them = opened[:OPEN_ON_HOME]
    shown = [one for one in page_of_them if not is_abandoned(one, now_ms)]
    closed = desk.store.sessions(closed_only=True, practice=False, limit=CLOSED_ON_HOME)
    states = desk.states_for_lists([listed.sid for listed in (*shown, *closed)])
    older = ""
    if len(opened) > len(page_of_them):
        last = page_of_them[-1]
        older = f"/?before={last.begun}-{last.sid}"
    page = home(states, desk.handbook, new_ulid(now_ms), older)
    return HTMLResponse(render(page.template, page.context), status)


def place_from(text: str) -> tuple[int, str] | None:
    """A place in a list, as a link of the list names it; `None` is its beginning."""
    begun, _, sid = text.partition("-")
    if begun.isascii() and begun.isdigit() and len(begun) <= 15 and is_ulid(sid):
        return int(begun), sid
    return None


def _session_page(
    request: Request, desk: Desk, path: str, attempt: Attempt | None = None
) -> Response:
    address = parse_path(path)
    if address is None:
        return no_page(NO_PAGE)
    state = desk.state(address.sid)
    if state is None:
        return no_page(NO_SESSION)
    if state.practice:
        return RedirectResponse(addresses.in_practice(path), 303)
    uses = tuple(desk.cylinder_uses(state))
    visits = (*desk.visits_lately(state), *desk.visits(state))
    now = desk.clock.now()
    screen = Screen(state, desk.handbook, now, new_ulid(now.at), uses, attempt, visits)
    page = view(screen, address)
    if isinstance(page, NoPage):
        return no_page(page)
    return HTMLResponse(render(page.template, page.context), 200 if attempt is None else 422)
