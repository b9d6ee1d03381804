"""How many connections a door takes, and how long it waits for each of them.

A connection costs a file descriptor, and a process has few. Without limits a stranger who opens a
thousand of them and says nothing takes the descriptors that saving an entry needs.
"""

import asyncio
import resource
import socket
import ssl
from collections import Counter
from dataclasses import dataclass
from typing import Any, Literal

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from lowside.web.access.door import Door, DoorKind

MOST = 200
"""Connections a door takes at one time. Our choice: a browser opens six at most."""
MOST_FROM_ONE = 50
"""Of these from one address, at the doors that strangers reach. Our choice: eight phones behind one
address. Our own machine and a proxy speak for many, so they have no share of their own."""
FILES_KEPT_FREE = 96
"""Descriptors no door may have: logs, the index, libraries."""
LARGEST_HEAD = 65_536
"""[bytes] Our choice; browsers send a few hundred."""
HEAD_S = 15.0
"""To say what is wanted, from the first moment on. Our choice, as for the next two."""
BODY_S = 60.0
"""To send it. A phone gives up after 30 s itself."""
ANSWER_S = 120.0
"""To be answered, and to take the answer."""
HANDSHAKE_S = 10.0


@dataclass(frozen=True)
class Limits:
    """What one door allows."""

    most: int
    most_from_one: int
    head_s: float = HEAD_S
    body_s: float = BODY_S
    answer_s: float = ANSWER_S


def limits_for(door: Door, doors: int, files: int | None = None) -> Limits:
    """The limits of one of `doors` doors, given how many descriptors the process may have."""
    if files is None:
        files = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    most = max(min(MOST, (files - FILES_KEPT_FREE) // doors), 1)
    alone = door.kind in (DoorKind.LOCAL, DoorKind.PROXY)
    return Limits(most, most if alone else min(MOST_FROM_ONE, most))


class Turnstile(socket.socket):
    """A listening socket that takes no more connections than it may; it hangs up on the others."""

    def __init__(self, listener: socket.socket, most: int, most_from_one: int) -> None:
        super().__init__(listener.family, listener.type, listener.proto, listener.detach())
        self._most = most
        self._most_from_one = most_from_one
        self._open_from: Counter[str] = Counter()
        self.open = 0
        self.setblocking(False)

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection that may come in. Raises BlockingIOError when none waits."""
        while True:
            connection, address = super().accept()
            peer = str(address[0])
            if self.open < self._most and self._open_from[peer] < self._most_from_one:
                return _Counted(connection, self, peer), address
            connection.close()

    def count(self, peer: str, by: int) -> None:
        """One connection from `peer` more (1) or fewer (-1)."""
        self.open += by
        self._open_from[peer] += by
        if self._open_from[peer] == 0:
            del self._open_from[peer]


class _Counted(socket.socket):
    """A connection that its turnstile counts until it is closed."""

    def __init__(self, taken: socket.socket, turnstile: Turnstile, peer: str) -> None:
        super().__init__(taken.family, taken.type, taken.proto, taken.detach())
        # asyncio leaves this out of a socket that does not name its protocol. Without it an answer
        # in two pieces waits some 40 ms for the phone to say that it has the first.
        self.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._turnstile: Turnstile | None = turnstile
        self._peer = peer
        turnstile.count(peer, 1)

    def close(self) -> None:
        super().close()
        if self._turnstile is not None:
            self._turnstile.count(self._peer, -1)
            self._turnstile = None


Awaited = Literal["head", "body", "answer"]
"""What a connection is waited for."""


class ImpatientProtocol(HttpToolsProtocol):
    """A connection that has to get on. Uvicorn itself waits for ever for a first request."""

    limits = Limits(MOST, MOST)
    _phase: Awaited | Literal[""] = ""
    _timer: asyncio.TimerHandle | None = None
    _awaits_head = True
    """Whether what comes next belongs to the head of a request; also while another is answered."""
    _head = 0
    """Bytes that came of a request whose head is not complete."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._enter("head")

    def data_received(self, data: bytes) -> None:
        if self._phase == "":  # empty lines begin no request, but they end Uvicorn's own wait
            self._enter("head")
        if self._awaits_head:
            self._head += len(data)
        super().data_received(data)
        if self._awaits_head and self._head > LARGEST_HEAD and not self.transport.is_closing():
            self.send_400_response("The head of this request is too long.")

    def on_headers_complete(self) -> None:
        super().on_headers_complete()
        self._awaits_head = False
        self._head = 0
        self._enter("body")

    def on_message_complete(self) -> None:
        super().on_message_complete()
        self._awaits_head = True
        # An answer may be complete before what was asked is.
        self._enter("head" if self.cycle.response_complete else "answer")

    def on_response_complete(self) -> None:
        super().on_response_complete()
        # Between two requests Uvicorn's own short wait holds; a timer of ours begins with the next.
        self._enter("" if self.timeout_keep_alive_task is not None else "answer")

    def connection_lost(self, exc: Exception | None) -> None:
        self._enter("")
        super().connection_lost(exc)

    def _enter(self, phase: Awaited | Literal[""]) -> None:
        """Begin to wait for the end of this."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self._phase = phase
        seconds: dict[Awaited, float] = {
            "head": self.limits.head_s,
            "body": self.limits.body_s,
            "answer": self.limits.answer_s,
        }
        if phase != "":
            self._timer = self.loop.call_later(seconds[phase], self.transport.abort)


def protocol_with(limits: Limits) -> type[ImpatientProtocol]:
    """The protocol of a door with these limits."""
    return type("_Protocol", (ImpatientProtocol,), {"limits": limits})


class _Loop(asyncio.SelectorEventLoop):
    """Waits less for a handshake than the usual minute: it holds a descriptor all the while."""

    async def create_server(self, *args: Any, **more: Any) -> asyncio.Server:
        if isinstance(more.get("ssl"), ssl.SSLContext):
            more.setdefault("ssl_handshake_timeout", HANDSHAKE_S)
        return await super().create_server(*args, **more)


def loop_for_doors() -> asyncio.AbstractEventLoop:
    """The event loop to serve with."""
    return _Loop()
