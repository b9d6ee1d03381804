"""A stranger's open connections keep nobody else from working, and end by themselves."""

import asyncio
import errno
import http.client
import select
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import urlencode

import pytest
from ports import free_ports
from store_cases import ulid
from waiting import until

from lowside.web import connections, listening
from lowside.web.access.door import Door, DoorKind
from lowside.web.connections import Limits, Turnstile, loop_for_doors
from lowside.web.listening import Listener, serve_all

FILES = 256
"""File descriptors of the server under attack."""
STRANGER = 400
"""Connections of the stranger: more than the server has descriptors."""


@dataclass
class Attacked:
    process: "subprocess.Popen[bytes]"
    log: Path
    local: int
    secure: int
    plain: int


@pytest.fixture
def attacked(tmp_path: Path) -> Iterator[Attacked]:
    local, secure, plain = free_ports(3)
    log = tmp_path / "log"
    command = f"ulimit -n {FILES}; exec {sys.executable} -m lowside serve --no-qr --lan"
    command += f" --data {tmp_path / 'data'} --name 127.0.0.1 --port {local}"
    command += f" --lan-port {secure} --trust-port {plain}"
    with log.open("wb") as out:
        process = subprocess.Popen(["sh", "-c", command], stdout=out, stderr=subprocess.STDOUT)
    made = Attacked(process, log, local, secure, plain)

    def is_up() -> bool:
        assert process.poll() is None, log.read_text()
        with suppress(OSError):
            return ask(local, "GET", "/health") == 200
        return False

    try:
        until(is_up, "the server answers")
        yield made
    finally:
        process.send_signal(signal.SIGINT)
        try:
            process.wait(60)
        finally:
            process.kill()
            process.wait()


def ask(port: int, method: str, path: str, typed: dict[str, str] | None = None) -> int:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as connection:
        headers = {"Content-Type": "application/x-www-form-urlencoded"}
        connection.request(method, path, urlencode(typed) if typed else None, headers)
        answer = connection.getresponse()
        answer.read()
        return answer.status


def start(number: int) -> dict[str, str]:
    return {"sid": ulid(number), "eid": ulid(number), "procedure": "hand-valved-three-port"}


@pytest.mark.parametrize("port", ["plain", "secure"])
def test_idle_connections_of_a_stranger_stop_neither_saving_nor_this_machine(
    attacked: Attacked, port: str
) -> None:
    held: list[socket.socket] = []
    try:
        for _ in range(STRANGER):
            with suppress(OSError):
                held.append(socket.create_connection(("127.0.0.1", getattr(attacked, port)), 20))
        assert len(held) > FILES
        time.sleep(0.5)
        statuses = [ask(attacked.local, "POST", "/start", start(n)) for n in range(1, 40)]
        assert statuses == [303] * 39
    finally:
        for one in held:
            one.close()
    assert ask(attacked.local, "POST", "/start", start(99)) == 303
    assert "Traceback" not in attacked.log.read_text()


LONG = Limits(most=6, most_from_one=3)
"""What a machine that stops for a while keeps too: for all who are to be answered."""
SHORT = replace(LONG, head_s=0.3)
"""For those who are to be closed."""


async def _app(scope: dict[str, object], receive: object, send: object) -> None:
    assert callable(receive)
    assert callable(send)
    if scope["type"] != "http":
        return
    more = scope["path"] != "/early"
    while more:
        message = await receive()
        if message["type"] != "http.request":
            return
        more = message.get("more_body", False)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"well"})


@pytest.fixture
def limits() -> Limits:
    """What the door allows."""
    return replace(LONG)


@pytest.fixture
def door(limits: Limits, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A door with patience; its port."""
    with opened_door(DoorKind.PLAIN, limits, monkeypatch) as port:
        yield port


def wait_for_heads(limits: Limits, seconds: float) -> None:
    """The door waits so long for whoever begins to say something from now on."""
    object.__setattr__(limits, "head_s", seconds)


@contextmanager
def opened_door(kind: DoorKind, limits: Limits, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    monkeypatch.setattr(listening, "limits_for", lambda _door, _doors: limits)
    listener = socket.create_server(("127.0.0.1", 0))
    port: int = listener.getsockname()[1]
    stop: list[Callable[[], object]] = []

    async def serve() -> None:
        ending = asyncio.Event()
        loop = asyncio.get_running_loop()
        stop.append(lambda: loop.call_soon_threadsafe(ending.set))
        await serve_all(_app, [Listener(listener, Door(kind, frozenset()))], ending)

    def run() -> None:
        with asyncio.Runner(loop_factory=loop_for_doors) as runner:
            runner.run(serve())

    with ThreadPoolExecutor(1) as pool:
        ended = pool.submit(run)
        until(lambda: stop != [], "the door is open")
        try:
            yield port
        finally:
            stop[0]()
        ended.result(60)


def is_closed(connection: socket.socket) -> bool:
    """Wait for the other end to close; what it sends first does not matter."""
    connection.settimeout(20)
    try:
        while connection.recv(4096):
            pass
    except TimeoutError:
        return False
    except OSError as error:
        return error.errno == errno.ECONNRESET
    return True


@pytest.mark.parametrize(
    ("said", "limits"),
    [
        (b"", SHORT),
        (b"GET / HTTP/1.1\r\nHost: x\r\n", SHORT),
        (
            b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\nhalf of it",
            replace(LONG, body_s=0.3),
        ),
    ],
    ids=["nothing", "half a head", "half a body"],
)
def test_a_connection_that_does_not_get_on_is_closed(door: int, said: bytes) -> None:
    with socket.create_connection(("127.0.0.1", door), 20) as connection:
        with suppress(OSError):  # a slow machine says its half of a head too late
            connection.sendall(said)
        assert is_closed(connection)


@pytest.mark.parametrize("kind", list(DoorKind))
def test_no_door_waits_for_whoever_says_nothing(
    kind: DoorKind, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without its certificate the door of https is as the others; with it, see the attack above."""
    with (
        opened_door(kind, SHORT, monkeypatch) as port,
        socket.create_connection(("127.0.0.1", port), 20) as connection,
    ):
        assert is_closed(connection)


@pytest.mark.parametrize("kind", list(DoorKind))
def test_no_door_takes_more_than_it_may(kind: DoorKind, monkeypatch: pytest.MonkeyPatch) -> None:
    """And no more from one address than its share. Nobody is closed for the sake of another."""
    with opened_door(kind, LONG, monkeypatch) as port, ExitStack() as held:

        def call(number: int) -> socket.socket:
            source = (f"127.0.0.{number}", 0)
            called = socket.create_connection(("127.0.0.1", port), 20, source_address=source)
            return held.enter_context(called)

        taken = [call(2) for _ in range(LONG.most_from_one)]
        assert is_closed(call(2))
        taken += [call(3) for _ in range(LONG.most_from_one)]
        assert is_closed(call(4))
        for one in taken:
            one.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            assert one.recv(4096).startswith(b"HTTP/1.1 ")  # the proxy's own door may say no


def test_a_connection_that_trickles_is_closed(door: int, limits: Limits) -> None:
    wait_for_heads(limits, 0.3)
    with socket.create_connection(("127.0.0.1", door), 20) as connection:
        closed = False
        with suppress(OSError):
            connection.sendall(b"GET / HTTP/1.1\r\n")
            for n in range(400):
                connection.sendall(b"X-%d: y\r\n" % n)
                time.sleep(0.05)
        closed = is_closed(connection)
        assert closed


def test_empty_lines_after_an_answer_hold_no_connection(door: int, limits: Limits) -> None:
    with socket.create_connection(("127.0.0.1", door), 20) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        assert connection.recv(4096).startswith(b"HTTP/1.1 200")
        wait_for_heads(limits, 0.3)
        with suppress(OSError):
            for _ in range(100):
                connection.sendall(b"\r\n")
                time.sleep(0.02)
        assert is_closed(connection)


def test_a_head_without_end_is_refused_before_it_fills_the_memory(door: int) -> None:
    with socket.create_connection(("127.0.0.1", door), 20) as connection:
        sent = 0
        with suppress(OSError):
            connection.sendall(b"GET / HTTP/1.1\r\nX: ")
            for _ in range(400):
                sent += connection.send(b"y" * 65_536)
        assert is_closed(connection)
        assert sent < 400 * 65_536


@pytest.mark.parametrize(
    "after",
    [b"/early HTTP/1.1\r\nContent-Length: 9\r\n", b"/ HTTP/1.1\r\n"],
    ids=["answered before its end", "answered at its end"],
)
def test_no_head_after_another_request_is_without_end(door: int, after: bytes) -> None:
    with socket.create_connection(("127.0.0.1", door), 20) as connection:
        connection.sendall(b"POST " + after + b"Host: x\r\n\r\n")
        assert connection.recv(4096).startswith(b"HTTP/1.1 200")
        if b"early" in after:
            connection.sendall(b"x" * 9)
            time.sleep(0.1)  # so that it is not read together with what follows
        sent = 0
        with suppress(OSError):
            connection.sendall(b"GET / HTTP/1.1\r\nX: ")
            for _ in range(400):
                sent += connection.send(b"y" * 65_536)
        assert is_closed(connection)
        assert sent < 400 * 65_536


def test_a_long_body_after_a_short_head_is_taken(door: int) -> None:
    with closing(http.client.HTTPConnection("127.0.0.1", door, timeout=20)) as connection:
        for _ in range(2):
            connection.request("POST", "/", b"y" * 300_000)
            assert connection.getresponse().read() == b"well"


def test_one_address_gets_its_share_and_no_more(
    door: int, limits: Limits, monkeypatch: pytest.MonkeyPatch
) -> None:
    waited_for = 0
    enter = connections.ImpatientProtocol._enter

    def counted(protocol: connections.ImpatientProtocol, phase: str) -> None:
        nonlocal waited_for
        enter(protocol, phase)
        waited_for += 1

    wait_for_heads(limits, 0.3)
    with monkeypatch.context() as patch:
        patch.setattr(connections.ImpatientProtocol, "_enter", counted)
        mine = [socket.create_connection(("127.0.0.1", door), 20) for _ in range(5)]
        until(lambda: waited_for >= limits.most_from_one, "the share is taken")
        wait_for_heads(limits, LONG.head_s)
    with closing(http.client.HTTPConnection("127.0.0.1", door, timeout=20)) as other:
        other.source_address = ("127.0.0.2", 0)
        other.request("GET", "/")
        assert other.getresponse().read() == b"well"
    assert all(is_closed(connection) for connection in mine)
    for connection in mine:
        connection.close()
    with closing(http.client.HTTPConnection("127.0.0.1", door, timeout=20)) as again:
        again.request("GET", "/")
        assert again.getresponse().read() == b"well"


def test_a_turnstile_counts_only_what_is_open() -> None:
    with Turnstile(socket.create_server(("127.0.0.1", 0)), most=2, most_from_one=2) as turnstile:
        address = turnstile.getsockname()
        for _ in range(5):
            with socket.create_connection(address, 20):
                taken, _ = turnstile.accept()
                taken.close()
                taken.close()
        assert turnstile.open == 0


def test_a_server_with_few_descriptors_gives_each_door_fewer() -> None:
    door = Door(DoorKind.PLAIN, frozenset())
    assert connections.limits_for(door, 3, files=256).most * 3 < 256
    assert connections.limits_for(door, 3, files=100_000).most == connections.MOST


def test_an_answer_in_two_pieces_does_not_wait_for_the_first_to_be_confirmed() -> None:
    with (
        closing(Turnstile(socket.create_server(("127.0.0.1", 0)), 1, 1)) as listener,
        socket.create_connection(listener.getsockname()),
    ):
        until(lambda: bool(select.select([listener], [], [], 0)[0]), "somebody calls")
        with closing(listener.accept()[0]) as taken:
            assert taken.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0
