"""The pages about cylinders: the register, and one cylinder with what the office keeps of it."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.handbook.fields import read_fields
from lowside.core.office.cylinders import (
    ABOUT,
    FOR_CHARGING,
    FOR_RECOVERY,
    IN_USE,
    TEST_DUE,
    Register,
    check_about,
    due_by,
    register_of,
)
from lowside.core.office.new_cylinder import NEW_CYLINDER, check_new
from lowside.core.pages.screen import Attempt
from lowside.core.session.entry import kept_data
from lowside.core.session.fold import fold
from lowside.core.session.recovering import month_of
from lowside.outlining import (
    ABOUT_CYLINDER,
    CYLINDER,
    MOST_USES,
    about_from,
    cylinder_key,
    cylinder_use_from,
    on_hand_from,
)
from lowside.rendering import render
from lowside.store import lists
from lowside.store.ulid import is_ulid
from lowside.web.access.guard import visitor_of
from lowside.web.field.desk import Desk
from lowside.web.field.pages import TheDesk, Typed
from lowside.web.office.cylinder_content import (
    ROWS,
    SHOWS,
    cylinder_context,
    new_cylinder_context,
    register_context,
)
from lowside.web.office.links import cylinder_href
from lowside.web.office.missing import not_found
from lowside.web.office.office_form import saved_before
from lowside.web.office.record_pages import screen_of

NO_SUCH_CYLINDER = "There is no cylinder of this number."

router = APIRouter(prefix="/office")

Number = Annotated[str, Query(max_length=200)]


@router.get("/cylinders")
def cylinders_page(desk: TheDesk, show: str = "", page: str = "") -> Response:
    shown = SHOWS.get(show, IN_USE)
    now_month = month_of(desk.clock.now())
    asked = None if shown == TEST_DUE else shown
    found = lists.cylinders(desk.store, asked, due_by(now_month), _number(page), ROWS)
    rows = [on_hand_from(text) for text in found.values]
    return HTMLResponse(
        render("office/cylinders.html", register_context(found, rows, shown, now_month))
    )


@router.get("/cylinder")
def cylinder_page(desk: TheDesk, label: Number = "", kind: str = FOR_CHARGING) -> Response:
    one = _one(desk, label, kind)
    return not_found(NO_SUCH_CYLINDER) if one is None else _cylinder(desk, one, None)


@router.get("/cylinder/new")
def new_cylinder_page(desk: TheDesk) -> Response:
    return _new(desk, None)


@router.post("/cylinder/new")
def register_cylinder(request: Request, desk: TheDesk, typed: Typed) -> Response:
    """Its log has the form's own id, so the same form sent twice registers one cylinder."""
    eid = typed.get("eid", "")
    fields = read_fields(NEW_CYLINDER, typed)
    label, kind = fields.texts.get("label", ""), fields.texts.get("kind", "")
    if not (is_ulid(eid) and desk.store.events(eid)):
        problems = check_new(fields)
        if label != "" and _one(desk, label, kind) is not None:
            problems["label"] = "There is one with this number already. Look it up in the list."
        if problems:
            return _new(desk, Attempt(NEW_CYLINDER.name, typed, problems))
    data = kept_data(NEW_CYLINDER, typed) | {"by": visitor_of(request).name}
    written = desk.write_once(eid, eid, NEW_CYLINDER.kind, data)
    if written is None:
        return not_found("This form came from an unknown page. Open it again.")
    other = saved_before(NEW_CYLINDER, typed, written)
    if other is not None:
        return _new(desk, other)
    return RedirectResponse(cylinder_href(label, kind), 303)


@router.post("/cylinder")
def save_cylinder(
    request: Request, desk: TheDesk, typed: Typed, label: Number = "", kind: str = FOR_CHARGING
) -> Response:
    one = _one(desk, label, kind)
    if one is None:
        return not_found(NO_SUCH_CYLINDER)
    sid = one.lines[-1].use.weighed.sid
    problems = check_about(read_fields(ABOUT, typed))
    if problems:
        return _cylinder(desk, one, Attempt(ABOUT.name, typed, problems))
    data = kept_data(ABOUT, typed)
    data |= {"label": one.label, "kind": one.kind, "by": visitor_of(request).name}
    written = desk.write_once(sid, typed.get("eid", ""), ABOUT.kind, data)
    if written is None:
        return not_found("This form came from an unknown page. Open the cylinder and try again.")
    other = saved_before(ABOUT, typed, written)
    if other is not None:
        return _cylinder(desk, one, other)
    return RedirectResponse(cylinder_href(one.label, one.kind), 303)


def _new(desk: Desk, attempt: Attempt | None) -> Response:
    context = new_cylinder_context(screen_of(desk, fold(()), attempt))
    html = render("office/cylinder_new.html", context)
    return HTMLResponse(html, 200 if attempt is None else 422)


def _number(page: str) -> int:
    """Of a page; the first for what is no number."""
    return int(page) if page.isascii() and page.isdigit() and len(page) < 7 else 1


def _cylinder(desk: Desk, one: Register, attempt: Attempt | None) -> Response:
    newest = desk.state(one.lines[-1].use.weighed.sid)
    if newest is None:
        return not_found(NO_SUCH_CYLINDER)
    names: dict[str, str] = {}
    for line in one.lines:
        listed = lists.one(desk.store, line.use.weighed.sid)
        if listed is not None and listed.outline.site != "":
            names[listed.sid] = listed.outline.unit_label + ", " + listed.outline.site
    context = cylinder_context(one, screen_of(desk, newest, attempt), desk.handbook, names)
    return HTMLResponse(render("office/cylinder.html", context), 200 if attempt is None else 422)


def _one(desk: Desk, label: str, kind: str) -> Register | None:
    key = cylinder_key(FOR_RECOVERY if kind == FOR_RECOVERY else FOR_CHARGING, label)
    uses = [cylinder_use_from(t) for t in desk.store.derived(CYLINDER, key, limit=MOST_USES)]
    abouts = [about_from(text) for text in desk.store.derived(ABOUT_CYLINDER, key)]
    return register_of(uses[::-1], abouts[::-1], desk.handbook)
