"""The office pages about people and their devices.

Any office device may block a lost phone. Letting someone in is for this machine alone: a
stolen office phone must not be able to bring in another one.
"""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.rendering import render
from lowside.web.access.guard import visitor_of
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import Device, PeopleError, Person, Role, Roll
from lowside.web.access.sign_in import pairing_of
from lowside.web.access.trust import qr, reach_of
from lowside.web.clock import new_ulid
from lowside.web.field.pages import TheDesk, Typed, not_found

PATH = "/office/people"
ROLES = {
    Role.FIELD: "Field: sessions and practice",
    Role.APPRENTICE: "Apprentice: sessions and practice",
    Role.OFFICE: "Office: everything",
}

NOT_REACHED = (
    "Phones cannot reach this server: it answers on this computer only. Start it with "
    "lowside serve --lan, or behind a proxy with a real name. See docs/serving-phones.md."
)

Change = Callable[[Pairing], None]

router = APIRouter(prefix=PATH)


@router.get("")
def people(request: Request, desk: TheDesk) -> Response:
    return _page(request, desk.clock.now().at, desk.clock.now().tz)


@router.post("/add")
def add(request: Request, desk: TheDesk, typed: Typed) -> Response:
    if not visitor_of(request).owner:
        return _only_here()
    now = desk.clock.now()
    role = typed.get("role", "")
    try:
        if role not in list(Role) or not typed.get("person", ""):
            raise PeopleError("Choose what they may open.")
        pairing_of(request).add(typed["person"][:26], typed.get("name", ""), Role(role))
    except PeopleError as error:
        return _page(request, now.at, now.tz, str(error), typed)
    return RedirectResponse(PATH, 303)


@router.post("/code")
def code(request: Request, desk: TheDesk, typed: Typed) -> Response:
    """Answers with the code itself: it is kept nowhere, so there is no address to show it at."""
    if not visitor_of(request).owner:
        return _only_here()
    reach = reach_of(request)
    now = desk.clock.now()
    if reach.address == "":
        return _page(request, now.at, now.tz, NOT_REACHED)
    pairing = pairing_of(request)
    try:
        made = pairing.make_code(typed.get("person", ""))
        name = pairing.roll().people[typed["person"]].name
    except PeopleError as error:
        return _page(request, now.at, now.tz, str(error))
    context = {
        "title": "Pairing code",
        "name": name,
        "code": made,
        "address": reach.address,
        "pair_address": reach.pair_address,
        "trust_address": reach.trust_address,
        "qr": qr(f"{reach.pair_address}?code={made}"),
    }
    return HTMLResponse(render("access/code.html", context))


@router.post("/role")
def role(request: Request, desk: TheDesk, typed: Typed) -> Response:
    if not visitor_of(request).owner:
        return _only_here()
    chosen = typed.get("role", "")
    if chosen not in list(Role):
        return not_found("There is no such role.")
    return _done(request, desk, lambda p: p.set_role(typed.get("person", ""), Role(chosen)))


@router.post("/remove")
def remove(request: Request, desk: TheDesk, typed: Typed) -> Response:
    return _done(request, desk, lambda p: p.remove(typed.get("person", "")))


@router.post("/revoke")
def revoke(request: Request, desk: TheDesk, typed: Typed) -> Response:
    why = f"revoked by {visitor_of(request).name}"
    return _done(request, desk, lambda p: p.revoke(typed.get("device", ""), why))


def _done(request: Request, desk: TheDesk, change: Change) -> Response:
    try:
        change(pairing_of(request))
    except PeopleError as error:
        now = desk.clock.now()
        return _page(request, now.at, now.tz, str(error))
    return RedirectResponse(PATH, 303)


def _only_here() -> Response:
    html = render(
        "access/refused.html",
        {
            "title": "Only on the server itself",
            "text": "Add people on the computer Lowside runs on: open http://localhost "
            "there. You can block a lost phone from here.",
        },
    )
    return HTMLResponse(html, 403)


def _page(
    request: Request,
    now_ms: int,
    tz: int,
    problem: str = "",
    typed: Mapping[str, str] | None = None,
) -> Response:
    reach = reach_of(request)
    roll = pairing_of(request).roll()
    context = {
        "title": "People",
        "problem": problem,
        "owner": visitor_of(request).owner,
        "address": reach.address,
        "trust_address": reach.trust_address,
        "not_reached": NOT_REACHED,
        "new_person": new_ulid(now_ms),
        "name": (typed or {}).get("name", ""),
        "roles": [{"value": role.value, "label": label} for role, label in ROLES.items()],
        "people": [
            _person(person, roll, tz) for person in roll.people.values() if not person.removed
        ],
    }
    return HTMLResponse(render("access/people.html", context), 200 if problem == "" else 422)


def _person(person: Person, roll: Roll, tz: int) -> dict[str, Any]:
    devices = [device for device in roll.devices.values() if device.person == person.id]
    return {
        "id": person.id,
        "name": person.name,
        "role": ROLES[person.role],
        "devices": [_device(device, tz) for device in devices],
    }


def _device(device: Device, tz: int) -> dict[str, Any]:
    at = datetime.fromtimestamp(device.paired_at / 1000.0, UTC)
    local = at.astimezone(timezone(timedelta(minutes=tz)))
    return {
        "id": device.id,
        "label": device.label,
        "paired": f"{local:%Y-%m-%d %H:%M}",
        "revoked": device.revoked,
    }
