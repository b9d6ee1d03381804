"""The pages about cylinders: the register, and one cylinder with what the office keeps of it."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.handbook.fields import read_fields
from lowside.core.office.cylinders import (
    ABOUT,
    CHARGING,
    RECOVERY,
    Register,
    abouts_of,
    check_about,
    registers,
    uses_of,
)
from lowside.core.pages.home import unit_name
from lowside.core.pages.screen import Attempt
from lowside.core.session.entry import kept_data
from lowside.core.session.ledger import label_key
from lowside.core.session.recovering import month_of
from lowside.core.session.state import State
from lowside.rendering import render
from lowside.web.access.guard import visitor_of
from lowside.web.field.desk import Desk
from lowside.web.field.pages import TheDesk, Typed, not_found
from lowside.web.office.cylinder_content import SHOWS, cylinder_context, register_context
from lowside.web.office.links import cylinder_href
from lowside.web.office.record_pages import screen_of

NO_SUCH_CYLINDER = "No session has used a cylinder of this number."

router = APIRouter(prefix="/office")

Number = Annotated[str, Query(max_length=200)]


@router.get("/cylinders")
def cylinders_page(desk: TheDesk, show: str = "") -> Response:
    found = _registers(desk, _all_states(desk))
    shown = show if show in SHOWS else ""
    context = register_context(found, shown, month_of(desk.clock.now()))
    return HTMLResponse(render("office/cylinders.html", context))


@router.get("/cylinder")
def cylinder_page(desk: TheDesk, label: Number = "", kind: str = CHARGING) -> Response:
    return _cylinder(desk, label, kind, None)


@router.post("/cylinder")
def save_cylinder(
    request: Request, desk: TheDesk, typed: Typed, label: Number = "", kind: str = CHARGING
) -> Response:
    states = _all_states(desk)
    one = _find(_registers(desk, states), label, kind)
    if one is None:
        return not_found(NO_SUCH_CYLINDER)
    sid = one.lines[-1].use.weighed.sid
    state = next(state for state in states if state.sid == sid)
    problems = check_about(read_fields(ABOUT, typed, state.units))
    if problems:
        return _cylinder(desk, label, kind, Attempt(ABOUT.name, typed, problems))
    data = kept_data(ABOUT, typed)
    data |= {"label": one.label, "kind": one.kind, "by": visitor_of(request).name}
    if not desk.write_once(sid, typed.get("eid", ""), ABOUT.kind, data):
        return not_found("This form came from an unknown page. Open the cylinder and try again.")
    return RedirectResponse(cylinder_href(one.label, one.kind), 303)


def _cylinder(desk: Desk, label: str, kind: str, attempt: Attempt | None) -> Response:
    states = _all_states(desk)
    one = _find(_registers(desk, states), label, kind)
    if one is None:
        return not_found(NO_SUCH_CYLINDER)
    names = {state.sid: unit_name(state) for state in states}
    newest = next(state for state in states if state.sid == one.lines[-1].use.weighed.sid)
    context = cylinder_context(one, screen_of(desk, newest, attempt), desk.handbook, names)
    return HTMLResponse(render("office/cylinder.html", context), 200 if attempt is None else 422)


def _find(found: Sequence[Register], label: str, kind: str) -> Register | None:
    wanted = RECOVERY if kind == RECOVERY else CHARGING
    for one in found:
        if one.kind == wanted and label_key(one.label) == label_key(label):
            return one
    return None


def _registers(desk: Desk, states: Sequence[State]) -> Sequence[Register]:
    uses = [use for state in states for use in uses_of(state)]
    abouts = [about for state in states for about in abouts_of(state)]
    return registers(uses, abouts, desk.handbook)


def _all_states(desk: Desk) -> list[State]:
    return desk.states_for_lists([each.sid for each in desk.store.sessions(practice=False)])
