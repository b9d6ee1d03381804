"""One session in the office: what was done, what the law asks, and the office's review of it."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.handbook.fields import Form, read_fields
from lowside.core.handbook.forms import FORMS
from lowside.core.office.flags import BESIDE, Flag
from lowside.core.office.review import (
    ARRIVED,
    COMMENT,
    ENTRIES,
    SIGN_OFF,
    covers_now,
    judged_now,
    offices_own,
)
from lowside.core.pages import addresses
from lowside.core.pages.recording import SAVED_BEFORE
from lowside.core.pages.screen import Attempt
from lowside.core.session.entry import kept_data
from lowside.core.session.photos import photos_of
from lowside.core.session.state import STANDS, State, find_entry
from lowside.library import load_rules
from lowside.outlining import SUMMARY, summary_from
from lowside.rendering import render
from lowside.store import lists
from lowside.store.ulid import is_ulid
from lowside.web.access.guard import visitor_of
from lowside.web.field.desk import Desk
from lowside.web.field.pages import TheDesk, Typed
from lowside.web.office.content import session_context
from lowside.web.office.law_content import law_context
from lowside.web.office.links import session_href
from lowside.web.office.missing import not_found
from lowside.web.office.office_form import saved_before
from lowside.web.office.photo_content import photos_context
from lowside.web.office.record_pages import NO_SUCH_SESSION, screen_of
from lowside.web.office.review_content import flags_now, last_assessment, review_context
from lowside.web.office.unit_records import sessions_beside

UNKNOWN_PAGE = "This form came from an unknown page. Open the session and try again."

router = APIRouter(prefix="/office")


@router.get("/session/{sid}")
def office_session(
    request: Request, desk: TheDesk, sid: str, entries: Annotated[str, Query(max_length=9)] = ""
) -> Response:
    state = desk.state(sid)
    if state is None:
        return not_found(NO_SUCH_SESSION)
    if state.practice:
        return RedirectResponse(addresses.in_practice(addresses.current(sid)), 303)
    return _session(request, desk, state, None, entries)


@router.post("/session/{sid}/comment")
def comment(request: Request, desk: TheDesk, sid: str, typed: Typed) -> Response:
    return _write(request, desk, sid, typed, COMMENT)


@router.post("/session/{sid}/sign-off")
def sign_off(request: Request, desk: TheDesk, sid: str, typed: Typed) -> Response:
    """It keeps how the session was judged when it was signed off."""
    return _write(request, desk, sid, typed, SIGN_OFF)


@router.post("/session/{sid}/void")
def void(request: Request, desk: TheDesk, sid: str, typed: Typed) -> Response:
    """Of an entry of the office's, or of a void of one: then it counts again."""
    state = desk.state(sid)
    entry = None if state is None else find_entry(state, typed.get("target", ""))
    if state is None or entry is None or entry.eid not in offices_own(state, desk.device):
        return not_found("The office wrote no such entry.")
    form = FORMS["void"]
    eid = typed.get("eid", "")
    if read_fields(form, typed).problems or not is_ulid(eid):
        return not_found(UNKNOWN_PAGE)
    if entry.status == STANDS:
        desk.write_once(
            sid, eid, form.kind, kept_data(form, typed) | {"by": visitor_of(request).name}
        )
    return RedirectResponse(session_href(sid) + "#timeline", 303)


def _write(request: Request, desk: Desk, sid: str, typed: Typed, form: Form) -> Response:
    state = desk.state(sid)
    if state is None or state.practice:
        return not_found(NO_SUCH_SESSION)
    problems = dict(read_fields(form, typed).problems)
    attempt = Attempt(form.name, typed, problems)
    if form is SIGN_OFF and state.closed is None:
        still_open = "This session is still open. It is signed off once it is closed."
        return _session(request, desk, state, Attempt(form.name, typed, problems, still_open))
    if problems:
        return _session(request, desk, state, attempt)
    eid = typed.get("eid", "")
    data = kept_data(form, typed) | {"by": visitor_of(request).name}
    if form is SIGN_OFF:
        count = covers_now(state)
        if find_entry(state, eid) is None and typed.get(ENTRIES, "") != count:
            return _session(request, desk, state, Attempt(form.name, typed, {}, ARRIVED))
        data[ENTRIES] = count
        screen = screen_of(desk, state)
        data |= judged_now(state, last_assessment(screen), desk.handbook.version)
        codes = dict.fromkeys(flag.code for flag in flags_now(screen, _beside(desk, sid)))
        data["flags"] = " ".join(codes)
    written = desk.write_once(sid, eid, form.kind, data)
    if written is None:
        return not_found(UNKNOWN_PAGE)
    other = saved_before(form, typed, written)
    before = find_entry(state, eid)
    if before is not None and before.status != STANDS:
        other = Attempt(form.name, typed, {}, SAVED_BEFORE)
    if other is not None:
        return _session(request, desk, state, other)
    return RedirectResponse(session_href(sid) + "#review", 303)


def _beside(desk: Desk, sid: str) -> list[Flag]:
    """Flags that other sessions raise are in this one's row."""
    text = lists.of_session(desk.store, SUMMARY, sid)
    return [] if text == "" else [flag for flag in summary_from(text).flags if flag.code in BESIDE]


def _session(
    request: Request, desk: Desk, state: State, attempt: Attempt | None, up_to: str = ""
) -> Response:
    visitor = visitor_of(request)
    screen = screen_of(desk, state, attempt)
    law = sessions_beside(desk, state).law(state, desk.handbook, load_rules())
    context = session_context(screen, up_to, offices_own(state, desk.device))
    context["photos"] = photos_context(desk, [(state.sid, photo) for photo in photos_of(state)])
    context["law"] = law_context(law, screen)
    context["review"] = review_context(
        screen, "" if visitor.owner else visitor.name, _beside(desk, state.sid)
    )
    html = render("office/session.html", context)
    return HTMLResponse(html, 200 if attempt is None else 422)
