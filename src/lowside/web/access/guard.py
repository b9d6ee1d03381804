"""Who is let in, and to what: asked before anything else of every request.

On this machine nobody is asked. From anywhere else nothing is served but the page to pair a device
and the page about trusting the certificate, until the device holds a token.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Semaphore
from urllib.parse import urlsplit

import anyio.to_thread
from starlette.requests import Request
from starlette.responses import (
    HTMLResponse,
    JSONResponse,
    PlainTextResponse,
    RedirectResponse,
    Response,
)
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from lowside.rendering import render
from lowside.web.access.door import Door, DoorKind, door_of, host_of, is_owner
from lowside.web.access.pairing import TOKEN_LIVES_MS, Holder, Pairing
from lowside.web.access.people import PeopleError, Role
from lowside.web.access.secret_file import SecretError
from lowside.web.terminal import Terminal

COOKIE = "__Host-lowside"
"""The prefix makes browsers refuse it unless it is Secure and of this host alone."""

PAIR = "/pair"
TRUST = "/trust"
CERTIFICATE = "/trust/lowside-authority.crt"
STYLE = "/static/css/lowside.css"

UNPAIRED = (PAIR, TRUST, CERTIFICATE, STYLE, "/manifest.webmanifest")
UNPAIRED_FOLDERS = ("/static/icons/",)
"""The program's own files that the pages above need; nothing of the shop's is among them."""
PLAIN = (TRUST, CERTIFICATE, STYLE)

FIELD = (
    *("/", "/start", "/s", "/sw.js", "/api/sync", "/health", "/device", "/sign-out"),
    "/practice",
)
FIELD_FOLDERS = ("/s/", "/photo/", "/api/photo/", "/static/", "/unsent/", "/practice/")
"""Practice harms nobody and is in no book: whoever is let in may practice, or show another how."""

VISITOR = "lowside.visitor"

LARGEST_BODY = 1_000_000
"""[bytes]"""
LARGER_BODIES = {"/api/sync": 8_000_000}
LARGEST_PICTURE_FORM = 12_100_000
"""A picture as a camera makes it, to be made smaller here, and the form around it [bytes]."""
PICTURE_FORM = "/form/photo"
LARGEST_UNPAIRED_BODY = 4_096
MOST_HELD = 200_000_000
"""Of all requests that are being answered together [bytes]. Our choice: sixteen pictures, or a full
question of 25 phones."""
SMALL_BODY = 256_000
"""A body up to this size [bytes] is always taken, so whoever fills the room with large ones cannot
keep out another's entry. Our choice: what a phone sends as it works is smaller."""
BUSY = "Others are sending much at this moment. Nothing of this was saved. Send it again soon."
NOBODY = (
    "The server cannot find out who may sign in, so no device can sign in just now. What you typed "
    "stays on this device. The server says on its own terminal what is wrong."
)
LONGEST_JUDGING_S = 20.0
"""Our choice: a silent database is given up before, and a phone waits 30 s."""
MOST_JUDGED = 100
"""At one time. A thread cannot be stopped, so one that is given up is counted until it ends. More
than the 40 that are at work at most when nothing is silent."""
SILENT = f"For {LONGEST_JUDGING_S:.0f} s nobody said who asks: the database or the disk is silent."
HSTS = b"max-age=15552000"
"""Half a year."""


@dataclass(frozen=True)
class Visitor:
    """Who asks. `owner` is whoever sits at this machine."""

    name: str
    role: Role
    device: str = ""
    owner: bool = False


OWNER = Visitor("This machine", Role.OFFICE, owner=True)


def visitor_of(request: Request) -> Visitor:
    """Who asks; the gate has let them in."""
    visitor = request.scope[VISITOR]
    if not isinstance(visitor, Visitor):
        raise TypeError("a request came past the gate")
    return visitor


def may_open(role: Role, path: str) -> bool:
    """Whether a person with this role may open the address. What is not listed is the office's."""
    if role is Role.OFFICE:
        return True
    if _is_crooked(path):
        return False
    return _among(path, (*FIELD, *UNPAIRED), (*FIELD_FOLDERS, *UNPAIRED_FOLDERS))


class Gate:
    """The application behind the question who asks."""

    def __init__(self, app: ASGIApp, pairing: Pairing, terminal: Terminal, held: "Held") -> None:
        self._app = app
        self._pairing = pairing
        self._terminal = terminal
        self._held = held
        self._room = Semaphore(MOST_JUDGED)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        answer, cookie = None, ""
        if is_owner(scope):
            scope[VISITOR] = OWNER
        else:
            try:
                with anyio.fail_after(LONGEST_JUDGING_S):
                    answer, cookie = await anyio.to_thread.run_sync(
                        self._judged, scope, abandon_on_cancel=True
                    )
            except (PeopleError, SecretError, OSError) as error:
                self._terminal.tell(str(error) or SILENT)
                answer = _page_or_text(scope, 503, "Nobody can sign in", NOBODY)
        with self._held.share() as share:
            if answer is None:
                body = await _body(scope, receive, share)
                if isinstance(body, Response):
                    answer = body
                else:
                    receive = _again(body, receive)
            await (answer or self._app)(scope, receive, _sealed(scope, send, cookie))

    def _judged(self, scope: Scope) -> tuple[Response | None, str]:
        if not self._room.acquire(blocking=False):
            raise TimeoutError
        try:
            return self._judge(scope)
        finally:
            self._room.release()

    def _judge(self, scope: Scope) -> tuple[Response | None, str]:
        """The answer to someone who is not let in, or `None`; and a cookie to set, or ""."""
        door, path = door_of(scope), scope["path"]
        if door.kind is DoorKind.LOCAL or host_of(scope) not in door.names:
            return _wrong_name(door), ""
        if door.kind is DoorKind.PLAIN:
            return _plain(scope), ""
        token = Request(scope).cookies.get(COOKIE, "")
        holder = self._pairing.holder(token)
        if holder is None:
            return self._stranger(scope), ""
        visitor = Visitor(holder.person.name, holder.person.role, holder.device.id)
        scope[VISITOR] = visitor
        if not may_open(visitor.role, path):
            sentence = f"This page is not for devices of the role “{visitor.role.value}”."
            return _page_or_text(scope, 403, "Not for this device", sentence), ""
        return None, self._renewed(token, holder)

    def _renewed(self, token: str, holder: Holder) -> str:
        fresh = self._pairing.renewed(token, holder)
        return cookie_for(fresh) if fresh else ""

    def _stranger(self, scope: Scope) -> Response | None:
        path = scope["path"]
        if not _is_crooked(path) and _among(path, UNPAIRED, UNPAIRED_FOLDERS):
            return None
        if path.startswith("/api/"):
            return JSONResponse({"error": "This device is not paired. Sign in to send."}, 401)
        return pair_page(401)


def pair_page(status: int, problem: str = "", code: str = "", label: str = "") -> Response:
    """The page where a code is typed."""
    context = {
        "title": "Pair this device",
        "problem": problem,
        "code": code,
        "label": label,
    }
    return HTMLResponse(render("access/pair.html", context), status)


def cookie_for(token: str) -> str:
    """The `Set-Cookie` value that keeps a token; an empty token takes it away.

    Lax and not Strict, so that a link in a message opens a session; no address here changes
    anything when it is only opened.
    """
    lives_s = TOKEN_LIVES_MS // 1000 if token else 0
    return f"{COOKIE}={token}; Path=/; Max-Age={lives_s}; Secure; HttpOnly; SameSite=Lax"


def is_foreign(request: Request) -> bool:
    """Whether a page of another site sent this. Browsers say where a POST comes from."""
    origin = request.headers.get("origin")
    site = request.headers.get("sec-fetch-site", "same-origin")
    if site not in ("same-origin", "none"):
        return True
    if origin is None:
        return False
    try:
        parts = urlsplit(origin)
    except ValueError:
        return True
    own = (request.url.scheme, request.headers.get("host", "").lower())
    return (parts.scheme, parts.netloc.lower()) != own


def _wrong_name(door: Door) -> Response:
    where = "http://localhost" if door.kind is DoorKind.LOCAL else "the address it was started with"
    return PlainTextResponse(f"Lowside does not answer to this name. Open it as {where}.", 421)


def _plain(scope: Scope) -> Response | None:
    if scope["method"] not in ("GET", "HEAD"):
        return PlainTextResponse("Nothing can be sent over plain http. Nothing was saved.", 403)
    if scope["path"] in PLAIN:
        return None
    return RedirectResponse(TRUST, 303)


def _page_or_text(scope: Scope, status: int, title: str, sentence: str) -> Response:
    if scope["path"].startswith("/api/"):
        return JSONResponse({"error": sentence}, status)
    html = render("access/refused.html", {"title": title, "text": sentence})
    return HTMLResponse(html, status)


def _among(path: str, paths: tuple[str, ...], folders: tuple[str, ...]) -> bool:
    return path in paths or path.startswith(folders)


def _is_crooked(path: str) -> bool:
    """A path that a file system or a router might read as another one."""
    return "\\" in path or "//" in path or any(p in (".", "..") for p in path.split("/"))


def _largest_body(scope: Scope) -> int:
    if VISITOR not in scope:
        return LARGEST_UNPAIRED_BODY
    if scope["path"].startswith("/s/") and scope["path"].endswith(PICTURE_FORM):
        return LARGEST_PICTURE_FORM
    return LARGER_BODIES.get(scope["path"], LARGEST_BODY)


async def _body(scope: Scope, receive: Receive, share: "Share") -> bytes | Response:
    """The whole body, or the answer to one that is too long, or that broke off: half a form must
    not be read as a whole one."""
    limit = _largest_body(scope)
    for name, value in scope["headers"]:
        if name == b"content-length" and not (value.isdigit() and int(value[:20]) <= limit):
            return _too_large(scope, limit)
    parts: list[bytes] = []
    more = True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            # Nobody hears it, but the server misses an answer less than a mistake of ours.
            return PlainTextResponse("The request broke off.", 400)
        part: bytes = message.get("body", b"")
        if not share.take(len(part)):
            return _page_or_text(scope, 503, "Not now", BUSY)
        if share.size > limit:
            return _too_large(scope, limit)
        parts.append(part)
        more = message.get("more_body", False)
    return b"".join(parts)


def _too_large(scope: Scope, limit: int) -> Response:
    sentence = f"At most {limit} bytes can be sent at once. Nothing was saved."
    return _page_or_text(scope, 413, "Too large", sentence)


class Held:
    """How much of all large bodies is held at this moment. Only the event loop's thread asks."""

    def __init__(self) -> None:
        self.size = 0
        """[bytes]"""

    @contextmanager
    def share(self) -> Iterator["Share"]:
        """What one request holds, until it is answered."""
        share = Share(self)
        try:
            yield share
        finally:
            self.size -= share.counted


class Share:
    """What one request holds."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self.size = 0
        """[bytes]"""
        self.counted = 0
        """The same, 0 while it is small [bytes]."""

    def take(self, more: int) -> bool:
        """Hold so many more bytes; `False` when that is too much for all together."""
        self.size += more
        added = self.size - self.counted if self.size > SMALL_BODY else 0
        if added > 0 and self._held.size + added > MOST_HELD:
            return False
        self.counted += added
        self._held.size += added
        return True


def _again(body: bytes, receive: Receive) -> Receive:
    """A `receive` that gives the body that was already taken."""
    given = False

    async def receive_again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return receive_again


def _sealed(scope: Scope, send: Send, cookie: str) -> Send:
    """A `send` that adds what only the gate knows to the answer's headers."""

    async def send_sealed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = message["headers"] = list(message.get("headers", ()))
            if scope["scheme"] == "https":
                headers.append((b"strict-transport-security", HSTS))
            if cookie:
                headers.append((b"set-cookie", cookie.encode("ascii")))
        await send(message)

    return send_sealed
