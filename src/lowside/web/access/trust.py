"""The page that tells how a phone comes to trust this server, and the certificate it installs.

Also served over plain http, because a phone that does not trust the certificate yet cannot open
anything else without a warning.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from lowside.rendering import render
from lowside.web.access.door import DoorKind, door_of
from lowside.web.access.guard import CERTIFICATE, PAIR, TRUST
from lowside.web.field.pages import not_found

if TYPE_CHECKING:
    from lowside.web.access.authority import Authority

router = APIRouter()


@dataclass(frozen=True)
class Reach:
    """How phones reach this server; all empty when only this machine does."""

    address: str = ""
    """https address of the first page, with its last stroke."""
    trust_address: str = ""
    """Plain http address of the page about trust, "" when no page is needed."""
    authority: "Authority | None" = None

    @property
    def pair_address(self) -> str:
        return self.address.rstrip("/") + PAIR


NOT_REACHED = Reach()
"""Only this machine reaches it."""


def reach_of(request: Request) -> Reach:
    reach: Reach = request.app.state.reach
    return reach


def qr(text: str) -> Mapping[str, Any]:
    """A QR code as an SVG path, one unit a square: `size` and `path`."""
    import qrcode  # noqa: PLC0415 - so that a start does not wait for it

    code = qrcode.QRCode(border=4)
    code.add_data(text)
    rows = code.get_matrix()
    path = "".join(
        f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark
    )
    return {"size": len(rows), "path": path}


@router.get(TRUST)
def trust_page(request: Request) -> Response:
    reach = reach_of(request)
    if reach.authority is None:
        return not_found("This server has no certificate of its own to trust.")
    context = {
        "title": "Trust this server",
        "address": reach.address,
        "qr": qr(reach.address),
        "certificate": CERTIFICATE,
        "fingerprint": reach.authority.fingerprint,
        "names": ", ".join(reach.authority.names),
        "plain": door_of(request.scope).kind is DoorKind.PLAIN,
    }
    return HTMLResponse(render("access/trust.html", context))


@router.get(CERTIFICATE)
def certificate(request: Request) -> Response:
    authority = reach_of(request).authority
    if authority is None:
        return not_found("This server has no certificate authority of its own.")
    return Response(authority.for_phones(), media_type="application/x-x509-ca-cert")
