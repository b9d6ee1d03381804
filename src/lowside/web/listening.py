"""The sockets beyond this machine, and running a server on each of them until stopped.

Every listener has its own door (`lowside.web.access.door`) in front of the one application.
"""

import asyncio
import os
import signal
import socket
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address
from pathlib import Path
from typing import Annotated

import uvicorn
from pydantic import Field
from pydantic.dataclasses import dataclass as checked
from starlette.types import ASGIApp

from lowside.web.access.door import LOCAL_DOOR, Door, DoorKind, Doorway
from lowside.web.access.secret_file import SecretError
from lowside.web.access.trust import NOT_REACHED, Reach
from lowside.web.connections import (
    Limits,
    Turnstile,
    limits_for,
    loop_for_doors,
    protocol_with,
)

HTTPS_PORT = 443
RENEWAL_LOOKED_AT_EVERY_S = 12 * 3600
ENDS_WITHIN_S = 8.0
"""So long after it was told to end the process ends, whatever its requests do. Our choice: those
who end it by force mostly wait ten seconds."""
GRACE_S = 5.0
"""For requests under way. Those who wait longer are told to send again. Our choice: longer than the
slowest of 200 phones that all send at once waited."""
HANGS_UP_WITHIN_S = 1
"""For connections of one door to be closed, once nothing is under way."""


class ListenError(Exception):
    """It cannot be served like this; the message is the sentence the user reads."""


Port = Annotated[int, Field(ge=0, le=65535)]
"""A TCP port; 0 takes a free one."""


@checked(frozen=True)
class Lan:
    """https to the local network with this server's own certificate."""

    names: tuple[str, ...] = ()
    """What phones call this machine, the one they are to use first; empty: its address."""
    port: Port = 8443
    trust_port: Port = 8080
    new_authority: bool = False


@checked(frozen=True)
class Proxy:
    """A proxy speaks https to the world under a real name and plain http to a door here."""

    name: str
    host: str = "127.0.0.1"
    port: Port = 8139
    peers: tuple[str, ...] = ("127.0.0.1", "::1")
    """The only addresses that may come in by that door."""


@dataclass(frozen=True)
class Listener:
    """A socket that listens already, the door behind it, and the certificate it shows if any."""

    socket: socket.socket
    door: Door
    certificate: Path | None = None
    key: Path | None = None


def listen(host: str, port: int, option: str) -> socket.socket:
    """A socket that takes calls from now on.

    Raises
        ListenError: the port is taken, or this machine does not have the address.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        if host == "::":
            listener.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)
        listener.bind((host, port))
        listener.listen()
    except OSError as error:
        listener.close()
        raise ListenError(
            f"Port {port} of {host} cannot be had ({error.strerror}). Choose one with {option}."
        ) from error
    return listener


def open_lan(data: Path, lan: Lan) -> tuple[Reach, list[Listener]]:
    """Listen to the network over https, and over plain http for the page about trust.

    Raises
        ListenError: a port or the certificate cannot be had.
    """
    from lowside.web.access import authority as ours  # noqa: PLC0415 - most starts need none

    try:
        names = tuple(map(ours.checked_host, lan.names)) or (ours.lan_address(),)
        authority = ours.open_authority(data, names, ours.utc_now(), lan.new_authority)
        authority.renew_leaf(ours.utc_now())
    except (ours.AuthorityError, SecretError, OSError) as error:
        raise ListenError(str(error)) from error
    everywhere = "::" if any(map(_is_v6, names)) else "0.0.0.0"
    secure = listen(everywhere, lan.port, "--lan-port")
    try:
        plain = listen(everywhere, lan.trust_port, "--trust-port")
    except ListenError:
        secure.close()
        raise
    allowed = frozenset(authority.names)
    first = names[0]
    reach = Reach(
        url("https", first, secure.getsockname()[1]),
        url("http", first, plain.getsockname()[1]) + "trust",
        authority,
    )
    return reach, [
        Listener(secure, Door(DoorKind.TLS, allowed), authority.leaf_path, authority.leaf_key_path),
        Listener(plain, Door(DoorKind.PLAIN, allowed)),
    ]


def open_proxy(proxy: Proxy) -> tuple[Reach, list[Listener]]:
    """Listen to a proxy.

    Raises
        ListenError: it is not a host name, or the port cannot be had.
    """
    from lowside.web.access import authority as ours  # noqa: PLC0415 - most starts need none

    try:
        name = ours.checked_host(proxy.name)
        peers = frozenset(str(ip_address(peer)) for peer in proxy.peers)
    except (ours.AuthorityError, ValueError) as error:
        raise ListenError(str(error)) from error
    door = Door(DoorKind.PROXY, frozenset({name}), peers)
    listener = Listener(listen(proxy.host, proxy.port, "--proxy-listen"), door)
    return Reach(url("https", name, HTTPS_PORT)), [listener]


def open_outside(data: Path, outside: Lan | Proxy | None) -> tuple[Reach, list[Listener]]:
    """Listen beyond this machine as asked. Raises ListenError."""
    if isinstance(outside, Lan):
        return open_lan(data, outside)
    if isinstance(outside, Proxy):
        return open_proxy(outside)
    return NOT_REACHED, []


def url(scheme: str, host: str, port: int) -> str:
    """Address of the first page: `https://192.168.1.20:8443/`."""
    shown = f"[{host}]" if _is_v6(host) else host
    plain = port == HTTPS_PORT and scheme == "https"
    return f"{scheme}://{shown}/" if plain else f"{scheme}://{shown}:{port}/"


def run(app: ASGIApp, local: socket.socket, listeners: Sequence[Listener]) -> None:
    """Serve on all sockets until the process is told to end.

    The local server is the last to end, because the application closes the store with it.
    """
    with asyncio.Runner(loop_factory=loop_for_doors) as runner:
        runner.run(_run(app, [Listener(local, LOCAL_DOOR), *listeners]))


async def _run(app: ASGIApp, listeners: Sequence[Listener]) -> None:
    loop = asyncio.get_running_loop()
    ending = asyncio.Event()

    def end() -> None:
        ending.set()
        last = threading.Timer(ENDS_WITHIN_S, _end_now)
        last.daemon = True
        last.start()

    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, end)
    await serve_all(app, listeners, ending)


def _end_now() -> None:
    """End although a request is still being worked on. It was not answered, so nothing it did was
    acknowledged; what was acknowledged is on the disk."""
    print("Ended before every request was answered.", file=sys.stderr, flush=True)
    os._exit(1)


async def serve_all(app: ASGIApp, listeners: Sequence[Listener], ending: asyncio.Event) -> None:
    """Serve on all sockets until `ending` is set; the first is the last to end."""
    limits = [limits_for(listener.door, len(listeners)) for listener in listeners]
    servers = [
        _Server(_config(app, listener, each))
        for listener, each in zip(listeners, limits, strict=True)
    ]
    loop = asyncio.get_running_loop()
    running = [
        loop.create_task(server.serve([Turnstile(listener.socket, each.most, each.most_from_one)]))
        for server, listener, each in zip(servers, listeners, limits, strict=True)
    ]
    renewing = loop.create_task(renew_certificates(servers, listeners))
    ended = loop.create_task(ending.wait())
    await asyncio.wait([ended, *running], return_when=asyncio.FIRST_COMPLETED)
    renewing.cancel()
    ended.cancel()
    await asyncio.gather(*(server.finish() for server in servers))
    for server in servers[1:]:
        server.should_exit = True
    await asyncio.gather(*running[1:])
    servers[0].should_exit = True
    await running[0]


async def renew_certificates(
    servers: Sequence[uvicorn.Server], listeners: Sequence[Listener]
) -> None:
    """Make new certificates long before they run out, and show them without a restart."""
    if all(listener.certificate is None for listener in listeners):
        return
    from lowside.web.access import authority as ours  # noqa: PLC0415 - most starts need none

    while True:
        await asyncio.sleep(RENEWAL_LOOKED_AT_EVERY_S)
        for server, listener in zip(servers, listeners, strict=True):
            if listener.certificate is None or listener.key is None:
                continue
            try:
                data = listener.certificate.parents[1]
                authority = ours.open_authority(data, tuple(listener.door.names), ours.utc_now())
                if authority.renew_leaf(ours.utc_now()) and server.config.ssl is not None:
                    server.config.ssl.load_cert_chain(listener.certificate, listener.key)
            except (ours.AuthorityError, SecretError, OSError) as error:
                print(f"The certificate was not renewed: {error}", file=sys.stderr, flush=True)


def _config(app: ASGIApp, listener: Listener, limits: Limits) -> uvicorn.Config:
    local = listener.door is LOCAL_DOOR
    return uvicorn.Config(
        Doorway(app, listener.door),
        log_level="warning",
        access_log=False,
        lifespan="on" if local else "off",
        # What a proxy says is believed at the proxy's door alone, and there by `Doorway`.
        proxy_headers=False,
        server_header=False,
        http=protocol_with(limits),
        # No page has a web socket. Where a library for them is there, uvicorn would load it.
        ws="none",
        timeout_graceful_shutdown=HANGS_UP_WITHIN_S,
        ssl_certfile=listener.certificate,
        ssl_keyfile=listener.key,
    )


class _Server(uvicorn.Server):
    """One of several servers in a process: signals are for all of them, so none takes them."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield

    async def finish(self) -> None:
        """Take no new request, and answer those under way. The application hears of one that is not
        answered in time as canceled."""
        if not self.started:
            return
        for server in self.servers:
            server.close()
        for connection in list(self.server_state.connections):
            connection.shutdown()
        under_way = set(self.server_state.tasks)
        if under_way:
            _, late = await asyncio.wait(under_way, timeout=GRACE_S)
            for task in late:
                task.cancel()


def _is_v6(name: str) -> bool:
    try:
        return isinstance(ip_address(name), IPv6Address)
    except ValueError:
        return False
