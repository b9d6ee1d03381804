"""The application: pages, static files and the headers every answer carries."""

import asyncio
import traceback
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from anyio import CapacityLimiter
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lowside.core.handbook.handbook import Handbook
from lowside.rendering import STATIC, render
from lowside.store import EventStore, StoreError
from lowside.web import watching
from lowside.web.access import people_pages, sign_in, trust
from lowside.web.access.guard import NOBODY, VISITOR, Gate, Held, is_foreign
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import PeopleError
from lowside.web.access.secret_file import SecretError
from lowside.web.access.trust import NOT_REACHED, Reach
from lowside.web.clock import Clock
from lowside.web.field import pages as field
from lowside.web.field.desk import Desk, NotStoredError
from lowside.web.keeping import Keeping
from lowside.web.looking import LookAgain
from lowside.web.measures import Measured, Measures
from lowside.web.office import (
    cylinder_pages,
    list_pages,
    month_pages,
    procedure_pages,
    record_pages,
    session_pages,
)
from lowside.web.office import pages as office
from lowside.web.office.workshop import Workshop
from lowside.web.own_files import OwnFiles
from lowside.web.phone import offline, straight, sync
from lowside.web.photos import pages as photos
from lowside.web.practice import drills
from lowside.web.practice import pages as practice
from lowside.web.practice.desk import PracticeDesk
from lowside.web.terminal import Terminal
from lowside.web.time_limit import TimeLimit

SECURITY_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}

MISTAKE = "Something went wrong on the server. If you sent an entry, send it again."
"""A mistake of ours: what is known of it is on the terminal, not on the page."""
ENDED = "The server was stopped before this was done. If you sent an entry, send it again later."


def create_app(  # noqa: PLR0913 - the server’s settings, most by name
    store: EventStore,
    handbook: Handbook,
    device: str,
    offline_copy: bool = False,
    reach: Reach = NOT_REACHED,
    *,
    keeping: Keeping,
    log: Callable[[str], None] | None = None,
) -> FastAPI:
    """The web side of one store.

    Args:
        store: open for writing; closed when the application ends.
        handbook: what judges readings, with the shipped procedures.
        device: this server's name as a writer of events.
        offline_copy: let phones take one. Without it every tap needs the server.
        reach: how devices other than this machine reach it.
        keeping: what is kept beside entries: people, and the shop's own procedures.
        log: takes a line of JSON for each request.
    """

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        yield
        store.close()

    app = _Application(
        title="Lowside", docs_url=None, redoc_url=None, openapi_url=None, lifespan=lifespan
    )
    clock = Clock()
    workshop = Workshop(keeping.shelf, handbook)
    app.state.workshop = workshop
    app.state.desk = Desk(store, workshop.handbook, clock, device)
    app.state.practice = PracticeDesk(app.state.desk)
    app.state.pairing = Pairing(keeping.access, lambda: clock.now().at)
    app.state.reach = reach
    app.state.measures = Measures()
    app.state.watchers = CapacityLimiter(watching.MOST_AT_ONCE)
    app.state.terminal = Terminal()
    app.state.offline = offline.Offline(workshop.handbook, SECURITY_HEADERS, offline_copy)

    def use_handbook(found: Handbook) -> None:
        app.state.desk.handbook = found
        app.state.offline = offline.Offline(found, SECURITY_HEADERS, offline_copy)

    workshop.publish = use_handbook

    app.mount("/static", GZipMiddleware(OwnFiles(directory=STATIC)), name="static")
    app.include_router(watching.router)
    app.include_router(offline.router)
    app.include_router(photos.router)
    app.include_router(sign_in.router)
    app.include_router(trust.router)
    app.include_router(people_pages.router)
    app.include_router(procedure_pages.router)
    app.include_router(drills.router)
    app.include_router(practice.router)
    app.include_router(list_pages.router)
    app.include_router(session_pages.router)
    app.include_router(month_pages.router)
    app.include_router(record_pages.router)
    app.include_router(cylinder_pages.router)
    app.include_router(office.router)
    app.include_router(field.router)
    for refused in (NotStoredError, StoreError, PeopleError, SecretError):
        app.add_exception_handler(refused, _not_stored)
    app.add_exception_handler(HTTPException, _no_page)
    app.add_exception_handler(RequestValidationError, _no_page)
    _put_layers(
        app,
        straight.Straight(),
        workshop if keeping.shelf.count() is not None else None,
        log,
    )
    return app


def _put_layers(
    app: "_Application",
    straight: ASGIApp,
    shared: Workshop | None,
    log: Callable[[str], None] | None,
) -> None:
    """Put what every request goes through around the pages and around sync.

    Args:
        shared: procedures that other servers may change, `None` when there are no others.
    """
    state = app.state
    held = Held()

    def up_to_date(inner: ASGIApp) -> ASGIApp:
        return inner if shared is None else TimeLimit(LookAgain(inner, shared.look_again))

    def guarded(inner: ASGIApp) -> ASGIApp:
        gate = Gate(inner, state.pairing, state.terminal, held)
        return Measured(_WithHeaders(_SameOriginPosts(gate)), state.measures, log)

    app.add_middleware(lambda pages: guarded(up_to_date(TimeLimit(pages))))
    app.sync = guarded(up_to_date(straight))


class _Application(FastAPI):
    """FastAPI, with a straight way to sync: phones ask this far more often than all else."""

    sync: ASGIApp

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["path"] == sync.SYNC and scope["method"] == "POST":
            scope["app"] = self
            await self.sync(scope, receive, send)
        else:
            await super().__call__(scope, receive, send)


class _WithHeaders:
    """The application, each of its answers with the headers above."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        may_be_kept = scope["path"].startswith("/static/")
        has_begun = False

        async def with_headers(message: Message) -> None:
            nonlocal has_begun
            if message["type"] == "http.response.start":
                has_begun = True
                headers = [one for one in message.get("headers", ()) if one[0] not in _SET]
                headers += _SECURITY_HEADERS
                if not may_be_kept and all(name != b"cache-control" for name, _ in headers):
                    headers.append((b"cache-control", b"no-store"))
                message["headers"] = headers
            await send(message)

        try:
            await self._app(scope, receive, with_headers)
        except asyncio.CancelledError:  # the server ends, and its patience with this is over
            if not has_begun:
                await _unanswered(scope, ENDED, 503)(scope, receive, with_headers)
        except Exception:  # the last place where a mistake of ours becomes an answer
            if has_begun:
                raise
            traceback.print_exc()
            await _unanswered(scope, MISTAKE, 500)(scope, receive, with_headers)


_SECURITY_HEADERS = [(k.lower().encode(), v.encode()) for k, v in SECURITY_HEADERS.items()]
_SET = frozenset(name for name, _ in _SECURITY_HEADERS)


class _SameOriginPosts:
    """A form of another site must not write here: browsers say where a POST comes from."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        is_read = scope["type"] != "http" or scope["method"] in ("GET", "HEAD")
        if is_read or not is_foreign(Request(scope)):
            await self._app(scope, receive, send)
        else:
            sentence = "This form was not sent from Lowside’s own page."
            await PlainTextResponse(sentence, 403)(scope, receive, send)


async def _no_page(request: Request, error: Exception) -> Response:
    """An address without a page, or a form no page of ours sends: a page that says so.

    Programs that ask `/api/` and scripts' own files get the plain answer.
    """
    status = error.status_code if isinstance(error, HTTPException) else 422
    if request.url.path.startswith(("/api/", "/static/")):
        return PlainTextResponse(str(error), status)
    if status == 404:
        return field.not_found("There is no page at this address.")
    html = render(
        "field/not_stored.html",
        {
            "title": "Not understood",
            "page": "not_stored",
            "text": "This did not come from one of Lowside’s own pages. Nothing was saved.",
        },
    )
    return HTMLResponse(html, status)


def _unanswered(scope: Scope, sentence: str, status: int) -> Response:
    """In place of an answer, as a page or for a program."""
    if scope["path"].startswith("/api/"):
        return JSONResponse({"error": sentence}, status)
    context = {"title": "Not answered", "page": "not_stored", "text": sentence}
    return HTMLResponse(render("field/not_stored.html", context), status)


async def _not_stored(request: Request, error: Exception) -> Response:
    """Nothing was acknowledged; the form's own draft on the phone still has everything typed."""
    text = str(error)
    if VISITOR not in request.scope:  # a stranger, who need not know where things are kept
        request.app.state.terminal.tell(text)
        text = NOBODY
    html = render(
        "field/not_stored.html",
        {"title": "Not saved", "page": "not_stored", "text": text},
    )
    return HTMLResponse(html, 503)
