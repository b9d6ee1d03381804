"""A server that is told to stop answers what it has, and says so of what takes too long."""

import asyncio
import http.client
import json
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, BinaryIO
from urllib.parse import urlencode

import psycopg
import pytest
from store_cases import SID, event, ulid
from waiting import WAITS_S, until
from website import open_site

from lowside.core.handbook.handbook import Handbook
from lowside.store import event_to_json
from lowside.web import listening
from lowside.web.access.door import LOCAL_DOOR, Door, DoorKind
from lowside.web.app import ENDED
from lowside.web.connections import loop_for_doors
from lowside.web.listening import Listener, serve_all

PROGRAM = """
import sys
from threading import current_thread, main_thread
from lowside.cli import main
from lowside.store import durable
from lowside.web import listening
listening.GRACE_S, listening.ENDS_WITHIN_S = {grace_s}, 300.0
confirm = durable.Grown.confirm
def slow(file):
    if current_thread() is not main_thread():
        print("held", flush=True)
        sys.stdin.readline()
    confirm(file)
durable.Grown.confirm = slow
main(sys.argv[1:])
"""
"""A server whose disk confirms a save when it is told to."""
PATIENT_S = WAITS_S
HASTY_S = 0.2
SYNC = "application/json"
FORM = "application/x-www-form-urlencoded"


class Server:
    """A running one, and the disk of its store."""

    def __init__(
        self,
        process: "subprocess.Popen[bytes]",
        role: str,
        locker: "psycopg.Connection[Any] | None",
    ) -> None:
        self.process = process
        self._role = role
        self._locker = locker
        first = self._heard()
        assert first.startswith("Lowside is at http://localhost:"), first
        self.port = int(first.rstrip("/").rpartition(":")[2])

    def _heard(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().decode().strip()

    def hold(self) -> None:
        """From now on no save ends."""
        if self._locker is not None:
            self._locker.execute("LOCK TABLE events IN SHARE MODE")

    def wait_until_held(self) -> None:
        if self._locker is None:
            assert self._heard() == "held"
            return
        locker = self._locker
        waiting = "SELECT 1 FROM pg_stat_activity WHERE usename = %s AND wait_event_type = 'Lock'"
        until(lambda: locker.execute(waiting, (self._role,)).fetchone() is not None, "a save waits")

    def go_on(self) -> None:
        if self._locker is not None:
            self._locker.rollback()
            return
        assert self.process.stdin is not None
        self.process.stdin.close()  # for all that come, too

    def send(self, path: str, kind: str, body: str) -> tuple[int, str]:
        with closing(http.client.HTTPConnection("localhost", self.port, timeout=WAITS_S)) as asking:
            asking.request("POST", path, body, {"Content-Type": kind})
            answer = asking.getresponse()
            return answer.status, answer.read().decode()

    @contextmanager
    def sent_form(self, path: str, typed: str) -> Iterator[BinaryIO]:
        """Send a form; the server has it when the block begins. Gives what is answered."""
        head = [f"POST {path} HTTP/1.1", f"Host: localhost:{self.port}", f"Content-Type: {FORM}"]
        head += [f"Content-Length: {len(typed)}", "Expect: 100-continue", "", ""]
        with socket.create_connection(("localhost", self.port), WAITS_S) as asking:
            asking.sendall("\r\n".join(head).encode())
            with asking.makefile("rb") as answer:
                assert answer.readline().startswith(b"HTTP/1.1 100 ")
                assert answer.readline() == b"\r\n"
                asking.sendall(typed.encode())
                yield answer

    def is_told_to_stop(self) -> None:
        """It hangs up on whoever asks nothing, and takes nobody in."""
        with socket.create_connection(("localhost", self.port), WAITS_S) as idle:
            self.process.send_signal(signal.SIGTERM)
            assert idle.recv(1) == b""
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("localhost", self.port), WAITS_S)

    def log(self) -> list[tuple[str, int]]:
        """Kind of address and status of each request; there is nothing else."""
        assert self.process.wait(WAITS_S) == 0
        assert self.process.stderr is not None
        lines = [json.loads(line) for line in self.process.stderr]
        return [(line["kind"], line["status"]) for line in lines]


@contextmanager
def started(
    place: Path | str, data: Path, grace_s: float, request: pytest.FixtureRequest
) -> Iterator[Server]:
    at = ["--data", str(data)]
    role = ""
    locker = None
    if isinstance(place, str):
        at += ["--store", place]
        role = place.removeprefix("postgresql://").partition("@")[0]
        locker = psycopg.connect(request.getfixturevalue("cluster").address("lowside"))
    code = PROGRAM.format(grace_s=grace_s)
    command = [sys.executable, "-c", code, "serve", "--port", "0", "--no-qr", "--log-requests", *at]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe) as process:
        try:
            yield Server(process, role, locker)
        finally:
            process.kill()
            if locker is not None:
                locker.close()


def sync() -> str:
    sent = [event_to_json(event(1))]
    return json.dumps({"v": 1, "dev": "phone", "cursor": "", "events": sent})


def outcomes(answer: str) -> list[str]:
    return [verdict["outcome"] for verdict in json.loads(answer)["verdicts"]]


def test_a_request_under_way_is_answered_and_no_other_is_taken(
    place: Path | str, tmp_path: Path, handbook: Handbook, request: pytest.FixtureRequest
) -> None:
    data = tmp_path / "data"
    with started(place, data, PATIENT_S, request) as server, ThreadPoolExecutor(1) as pool:
        server.hold()
        asked = pool.submit(server.send, "/api/sync", SYNC, sync())
        server.wait_until_held()
        server.is_told_to_stop()
        assert not asked.done()
        server.go_on()
        status, answer = asked.result(WAITS_S)
        assert (status, outcomes(answer)) == (200, ["stored"])
        assert server.log() == [("sync", 200)]
    with open_site(place, handbook) as site:
        assert site.events(SID) == [event(1)]


def test_what_takes_too_long_is_said_to_and_can_be_sent_again(
    place: Path | str, tmp_path: Path, handbook: Handbook, request: pytest.FixtureRequest
) -> None:
    data = tmp_path / "data"
    other = {"sid": ulid(7), "eid": ulid(8), "procedure": "hand-valved-three-port"}
    with started(place, data, HASTY_S, request) as server, ThreadPoolExecutor(1) as pool:
        server.hold()
        asked = pool.submit(server.send, "/api/sync", SYNC, sync())
        server.wait_until_held()
        with server.sent_form("/start", urlencode(other)) as typed:
            server.is_told_to_stop()
            status, answer = asked.result(WAITS_S)
            assert (status, json.loads(answer)) == (503, {"error": ENDED})
            page = typed.read().decode()
            assert page.startswith("HTTP/1.1 503 ")
            assert ENDED in page
        server.go_on()
        assert sorted(server.log()) == [("other", 503), ("sync", 503)]
    headers = {"Content-Type": SYNC}
    with open_site(place, handbook) as site:
        again = site.send("POST", "/api/sync", sync().encode(), headers)
        assert again.status_code == 200
        assert outcomes(again.text)[0] in ("already", "stored")
        assert site.events(SID) == [event(1)]
        assert site.post("/start", other).status == 303
        assert len(site.events(other["sid"])) == 1


def test_whoever_waits_ten_seconds_need_not_end_it_by_force() -> None:
    doors = 2 * listening.HANGS_UP_WITHIN_S
    assert listening.GRACE_S + doors < listening.ENDS_WITHIN_S < 10.0


def test_every_door_stops_at_once_and_the_store_is_closed_last(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(listening, "GRACE_S", WAITS_S)
    told: list[str] = []
    sockets = [socket.create_server(("127.0.0.1", 0)) for _ in range(2)]
    ports = [one.getsockname()[1] for one in sockets]
    doors = [LOCAL_DOOR, Door(DoorKind.TLS, frozenset())]

    async def serve() -> None:
        arrived, goes_on, ending = asyncio.Event(), asyncio.Event(), asyncio.Event()

        async def app(scope: dict[str, object], receive: object, send: object) -> None:
            assert callable(receive)
            assert callable(send)
            if scope["type"] == "lifespan":
                while (await receive())["type"] != "lifespan.shutdown":
                    await send({"type": "lifespan.startup.complete"})
                told.append("closed")
                await send({"type": "lifespan.shutdown.complete"})
                return
            arrived.set()
            await goes_on.wait()
            told.append("answered")
            await send({"type": "http.response.start", "status": 204, "headers": []})
            await send({"type": "http.response.body"})

        listeners = [Listener(one, door) for one, door in zip(sockets, doors, strict=True)]
        serving = asyncio.ensure_future(serve_all(app, listeners, ending))
        idle, hung_up_on = await asyncio.open_connection("127.0.0.1", ports[0])
        answers, asking = await asyncio.open_connection("127.0.0.1", ports[1])
        asking.write(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        await arrived.wait()
        ending.set()
        assert await idle.read() == b""  # the local door does not wait for the other
        with pytest.raises(ConnectionRefusedError):
            await asyncio.open_connection("127.0.0.1", ports[0])
        assert told == []
        goes_on.set()
        assert (await answers.read()).startswith(b"HTTP/1.1 204 ")
        await serving
        hung_up_on.close()
        asking.close()

    with asyncio.Runner(loop_factory=loop_for_doors) as runner:
        runner.run(asyncio.wait_for(serve(), WAITS_S))
    assert told == ["answered", "closed"]
