"""Pairing a device with a code, and signing it out again."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.rendering import render
from lowside.web.access.door import host_of, peer_of
from lowside.web.access.guard import COOKIE, PAIR, cookie_for, pair_page, visitor_of
from lowside.web.access.pairing import Pairing, TooManyError
from lowside.web.access.people import PeopleError, TroubleError
from lowside.web.field.pages import Typed

DEFAULT_LABEL = "Phone"

router = APIRouter()


def pairing_of(request: Request) -> Pairing:
    pairing: Pairing = request.app.state.pairing
    return pairing


@router.get(PAIR)
def show_pair_page(code: Annotated[str, Query(max_length=40)] = "") -> Response:
    """Only shows it: what looks at a link ahead of the person must not use the code up."""
    return pair_page(200, code=code)


@router.post(PAIR)
def pair(request: Request, typed: Typed) -> Response:
    code, label = typed.get("code", ""), typed.get("label", "").strip() or DEFAULT_LABEL
    if request.url.scheme != "https":
        return pair_page(403, "A device is paired over https only. This computer needs no pairing.")
    pairing = pairing_of(request)
    try:
        token = pairing.pair(code, label, peer_of(request.scope))
    except TooManyError as error:
        answer = pair_page(429, str(error), code, label)
        answer.headers["Retry-After"] = "600"
        return answer
    except TroubleError:
        raise  # it says more than a stranger need know
    except PeopleError as error:
        return pair_page(422, str(error), code, label)
    before = pairing.holder(request.cookies.get(COOKIE, ""))
    if before is not None:
        pairing.revoke(before.device.id, "paired again")
    answer = RedirectResponse("/", 303)
    answer.headers["Set-Cookie"] = cookie_for(token)
    return answer


@router.get("/device")
def device_page(request: Request) -> Response:
    visitor = visitor_of(request)
    context = {
        "title": "This device",
        "name": visitor.name,
        "role": visitor.role.value,
        "owner": visitor.owner,
        "address": host_of(request.scope),
    }
    return HTMLResponse(render("access/device.html", context))


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """Let this device in no more. What it has not sent stays on it: nothing is cleared there."""
    visitor = visitor_of(request)
    if visitor.device == "":
        return RedirectResponse("/device", 303)
    pairing_of(request).revoke(visitor.device, "signed out")
    answer = HTMLResponse(
        render("access/signed_out.html", {"title": "Signed out", "name": visitor.name})
    )
    answer.headers["Set-Cookie"] = cookie_for("")
    return answer
