"""By which door a request comes in: this machine's own, the network's, a proxy's.

Each listener marks what it takes with its door. An unmarked request counts as one at the local
door, which admits nobody from elsewhere.
"""

from dataclasses import dataclass, field
from enum import Enum
from functools import lru_cache
from ipaddress import ip_address

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

LOCAL_NAMES = frozenset({"localhost", "127.0.0.1", "::1"})
MARK = "lowside.door"
_FORWARDING = (b"forwarded", b"via", b"x-real-ip")
_FORWARDING_PREFIX = b"x-forwarded-"


class DoorKind(Enum):
    LOCAL = "local"
    """Plain http on the loopback address: the owner's own browser."""
    TLS = "tls"
    """https on the network, with this server's own certificate."""
    PLAIN = "plain"
    """Plain http on the network: tells how to trust the certificate, and nothing else."""
    PROXY = "proxy"
    """Plain http from a proxy that speaks https to the world."""


@dataclass(frozen=True)
class Door:
    """One way in.

    `names` are what a request may call this server; `proxies` the addresses a proxy speaks from.
    """

    kind: DoorKind
    names: frozenset[str]
    proxies: frozenset[str] = field(default_factory=frozenset)


LOCAL_DOOR = Door(DoorKind.LOCAL, LOCAL_NAMES)


def door_of(scope: Scope) -> Door:
    """The door a request came in by."""
    door = scope.get(MARK)
    return door if isinstance(door, Door) else LOCAL_DOOR


def host_of(scope: Scope) -> str:
    """What the request calls this server, without port, in small letters; "" when unclear."""
    hosts = [value for name, value in scope["headers"] if name == b"host"]
    if len(hosts) != 1:
        return ""
    text = hosts[0].decode("latin-1").lower()
    if text.startswith("["):
        name, bracket, port = text[1:].partition("]")
        port = port.removeprefix(":") if bracket else "none"
    else:
        name, _, port = text.partition(":")
    return name if port == "" or (port.isascii() and port.isdigit()) else ""


def peer_of(scope: Scope) -> str:
    """The address at the other end, "" when there is none (a socket file)."""
    client = scope.get("client")
    return str(client[0]) if client else ""


@lru_cache(maxsize=1024)  # one phone asks often, and reading an address takes a while
def is_loopback(address: str) -> bool:
    """Whether this is an address of this machine to itself."""
    try:
        parsed = ip_address(address)
    except ValueError:
        return False
    mapped = getattr(parsed, "ipv4_mapped", None)
    return bool((mapped or parsed).is_loopback)


def was_forwarded(scope: Scope) -> bool:
    """Whether a proxy says it passed this on. Anyone can say so; only that is ever concluded.

    HTTP/1.0 says so too: no browser speaks it, and a common proxy does unless it is told otherwise.
    """
    return scope.get("http_version") == "1.0" or any(
        name in _FORWARDING or name.startswith(_FORWARDING_PREFIX) for name, _ in scope["headers"]
    )


def is_owner(scope: Scope) -> bool:
    """Whether this comes from a browser on this machine that means this machine.

    The peer alone is not enough: a page of another site may have its own name lead here. A request
    that any proxy passed on comes from somewhere else, whatever it calls this server.
    """
    return (
        door_of(scope).kind is DoorKind.LOCAL
        and is_loopback(peer_of(scope))
        and host_of(scope) in LOCAL_NAMES
        and not was_forwarded(scope)
    )


class Doorway:
    """Marks what a listener takes, and at a proxy's door puts back what the proxy saw."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self._app = app
        self._door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            scope = dict(scope) | {MARK: self._door}
            if self._door.kind is DoorKind.PROXY:
                if peer_of(scope) not in self._door.proxies:
                    refusal = PlainTextResponse("Only the proxy may come in here.", 403)
                    return await refusal(scope, receive, send)
                if _last(scope, b"x-forwarded-proto") != "https":
                    refusal = PlainTextResponse(
                        "The proxy did not say X-Forwarded-Proto: https. Lowside is served over "
                        "https only; see docs/serving-phones.md.",
                        403,
                    )
                    return await refusal(scope, receive, send)
                _put_back(scope)
        await self._app(scope, receive, send)
        return None


def _put_back(scope: Scope) -> None:
    scope["scheme"] = "https"
    # The last one is what the proxy itself saw; those before it are whatever the asker claims.
    seen = _last(scope, b"x-forwarded-for")
    if _is_address(seen):
        scope["client"] = (seen, 0)


def _last(scope: Scope, header: bytes) -> str:
    values = [value for name, value in scope["headers"] if name == header]
    return values[-1].decode("latin-1").rpartition(",")[2].strip() if values else ""


def _is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True
