"""`lowside serve --lan` as a phone meets it: real sockets, real TLS, real processes."""

import asyncio
import http.client
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlencode

import pytest
import uvicorn
from cryptography import x509
from ports import free_ports

from lowside.web import listening
from lowside.web.access.authority import (
    LEAF_LIVES,
    LEAF_RENEWED_BEFORE,
    open_authority,
    utc_now,
)
from lowside.web.access.door import Door, DoorKind
from lowside.web.access.last_address import note_address
from lowside.web.listening import (
    Lan,
    Listener,
    ListenError,
    Proxy,
    open_lan,
    open_proxy,
    renew_certificates,
    url,
)

NAME = "shop.lowside.test"
READY_WITHIN_S = 90.0
"""Patience, not a promise."""


@dataclass
class Served:
    """A running server and the three doors it has."""

    process: subprocess.Popen[bytes]
    data: Path
    log: Path
    local: int
    secure: int
    plain: int

    def ask(
        self,
        method: str,
        path: str,
        *,
        cookie: str = "",
        typed: dict[str, str] | None = None,
        door: str = "secure",
        host: str = "",
    ) -> tuple[int, dict[str, str], str]:
        connection: http.client.HTTPConnection
        if door == "secure":
            connection = http.client.HTTPSConnection(NAME, self.secure, context=self.trusting())
            plain = socket.create_connection(("127.0.0.1", self.secure), 60)
            connection.sock = self.trusting().wrap_socket(plain, server_hostname=NAME)
        else:
            port = self.plain if door == "plain" else self.local
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        headers = {"Content-Type": "application/x-www-form-urlencoded"}
        if cookie:
            headers["Cookie"] = cookie
        if host:
            headers["Host"] = host
        with closing(connection):
            connection.request(method, path, urlencode(typed) if typed else None, headers)
            answer = connection.getresponse()
            text = answer.read().decode("utf-8", "replace")
            found = {name.lower(): value for name, value in answer.getheaders()}
            return answer.status, found, text

    def trusting(self) -> ssl.SSLContext:
        pem = (self.data / "authority" / "authority.crt").read_text()
        return ssl.create_default_context(cadata=pem)

    def people(self, *arguments: str) -> str:
        command = [sys.executable, "-m", "lowside", "people", "--data", str(self.data), *arguments]
        done = subprocess.run(command, check=False, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return done.stdout


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("served")
    local, secure, plain = free_ports(3)
    log = folder / "log"
    command = [sys.executable, "-m", "lowside", "serve", "--no-qr", "--data", str(folder / "data")]
    command += ["--lan", "--name", NAME, "--name", "127.0.0.1", "--port", str(local)]
    command += ["--lan-port", str(secure), "--trust-port", str(plain)]
    with log.open("wb") as out:
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT)
    made = Served(process, folder / "data", log, local, secure, plain)
    try:
        _wait(made)
        yield made
        process.send_signal(signal.SIGINT)
        assert process.wait(60) == 0, "it ends in order when asked"
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
    assert "Traceback" not in log.read_text()


def _wait(served: Served) -> None:
    patience = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < patience:
        assert served.process.poll() is None, served.log.read_text()
        try:
            if served.ask("GET", "/health", door="local")[0] == 200:
                return
        except OSError:
            time.sleep(0.1)
    raise AssertionError(served.log.read_text())


def test_the_first_lines_say_what_a_phone_needs(served: Served) -> None:
    said = served.log.read_text()
    assert f"https://{NAME}:{served.secure}/" in said
    assert f"http://{NAME}:{served.plain}/trust" in said
    shown = served.ask("GET", "/trust", door="plain")[2]
    printed = re.search(r"SHA-256\): ([0-9A-F ]+)", said)
    assert printed is not None
    assert printed.group(1).strip() in shown


def test_a_phone_is_paired_used_and_lost(served: Served) -> None:
    assert served.ask("GET", "/")[0] == 401
    assert served.ask("POST", "/api/sync", typed={"a": "b"})[0] == 401
    said = served.people("add", "Ina Varga", "--role", "field")
    code = said.partition("Varga: ")[2].split()[0]
    assert f"https://{NAME}:{served.secure}/pair" in said
    status, headers, _ = served.ask("POST", "/pair", typed={"code": code, "label": "Red phone"})
    assert status == 303
    assert "Secure" in headers["set-cookie"]
    cookie = headers["set-cookie"].partition(";")[0]
    status, headers, page = served.ask("GET", "/", cookie=cookie)
    assert status == 200
    assert "Start a session" in page
    assert headers["strict-transport-security"].startswith("max-age=")
    assert "server" not in headers
    assert served.ask("GET", "/office", cookie=cookie)[0] == 403
    listed = served.people("list")
    assert "Red phone" in listed
    served.people("revoke", listed.split("\n")[1].split()[0])
    assert served.ask("GET", "/", cookie=cookie)[0] == 401


def test_this_machine_is_asked_nothing_and_another_name_gets_nothing(served: Served) -> None:
    assert served.ask("GET", "/office", door="local")[0] == 200
    assert served.ask("GET", "/office", door="local", host="evil.example")[0] == 421
    assert served.ask("GET", "/office", host="localhost")[0] == 421


def test_plain_http_has_the_page_about_trust_and_nothing_else(served: Served) -> None:
    assert "offline will not work" in served.ask("GET", "/trust", door="plain", host=NAME)[2]
    status, headers, _ = served.ask("GET", "/", door="plain")
    assert (status, headers["location"]) == (303, "/trust")


def test_a_client_that_does_not_trust_the_authority_does_not_talk(served: Served) -> None:
    with (
        closing(socket.create_connection(("127.0.0.1", served.secure), 60)) as plain,
        pytest.raises(ssl.SSLCertVerificationError),
    ):
        ssl.create_default_context().wrap_socket(plain, server_hostname=NAME)


# The parts, without a process


def shown_certificate(port: int, authority_pem: str) -> x509.Certificate:
    context = ssl.create_default_context(cadata=authority_pem)
    context.check_hostname = False
    with (
        closing(socket.create_connection(("127.0.0.1", port), 60)) as plain,
        context.wrap_socket(plain, server_hostname=NAME) as secure,
    ):
        der = secure.getpeercert(binary_form=True)
    assert der is not None
    return x509.load_der_x509_certificate(der)


def test_a_running_server_shows_its_renewed_certificate_without_a_restart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = utc_now() - (LEAF_LIVES - LEAF_RENEWED_BEFORE) - timedelta(days=1)
    authority = open_authority(tmp_path, (NAME,), begun)
    authority.renew_leaf(begun)
    pem = (tmp_path / "authority" / "authority.crt").read_text()
    monkeypatch.setattr(listening, "RENEWAL_LOOKED_AT_EVERY_S", 0.0)

    async def run() -> tuple[x509.Certificate, x509.Certificate]:
        config = uvicorn.Config(
            lambda: None, ssl_certfile=authority.leaf_path, ssl_keyfile=authority.leaf_key_path
        )
        config.load()

        async def greet(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            writer.close()

        server = await asyncio.start_server(greet, "127.0.0.1", 0, ssl=config.ssl)
        asking = server.sockets[0]
        listener = Listener(
            socket.socket(),
            Door(DoorKind.TLS, frozenset({NAME})),
            authority.leaf_path,
            authority.leaf_key_path,
        )
        async with server:
            port = asking.getsockname()[1]
            before = await asyncio.to_thread(shown_certificate, port, pem)
            renewing = asyncio.create_task(renew_certificates([uvicorn.Server(config)], [listener]))
            while authority.leaf_path.read_bytes().find(b"BEGIN") < 0 or (
                x509.load_pem_x509_certificate(authority.leaf_path.read_bytes()) == before
            ):
                await asyncio.sleep(0.01)
            await asyncio.sleep(0.05)
            after = await asyncio.to_thread(shown_certificate, port, pem)
            renewing.cancel()
            listener.socket.close()
        return before, after

    before, after = asyncio.run(asyncio.wait_for(run(), 120))
    assert before.serial_number != after.serial_number
    assert after.not_valid_after_utc - before.not_valid_after_utc > timedelta(days=60)


def test_a_taken_port_is_said_and_nothing_stays_open(tmp_path: Path) -> None:
    with socket.create_server(("0.0.0.0", 0)) as taken:
        port = taken.getsockname()[1]
        (other,) = free_ports(1)
        with pytest.raises(ListenError, match="--trust-port"):
            open_lan(tmp_path, Lan((NAME,), other, port))
        with pytest.raises(ListenError, match="--lan-port"):
            open_lan(tmp_path, Lan((NAME,), port, other))
    with socket.create_server(("0.0.0.0", other)):
        pass


def test_other_names_than_phones_know_are_refused(tmp_path: Path) -> None:
    _, listeners = open_lan(tmp_path, Lan((NAME,), 0, 0))
    for listener in listeners:
        listener.socket.close()
    with pytest.raises(ListenError, match="--new-authority"):
        open_lan(tmp_path, Lan(("other.test",), 0, 0))


def test_behind_a_proxy_phones_use_the_real_name(tmp_path: Path) -> None:
    reach, (listener,) = open_proxy(Proxy("Lowside.Example.", port=0))
    listener.socket.close()
    assert reach.address == "https://lowside.example/"
    assert reach.authority is None
    assert listener.door.names == {"lowside.example"}
    for bad in (Proxy("a b"), Proxy("lowside.example", peers=("proxy",))):
        with pytest.raises(ListenError):
            open_proxy(bad)


def test_a_changed_address_is_noticed(tmp_path: Path) -> None:
    assert note_address(tmp_path, "https://a.test/") == ""
    assert note_address(tmp_path, "https://a.test/") == ""
    assert note_address(tmp_path, "https://b.test/") == "https://a.test/"
    assert note_address(tmp_path, "https://b.test/") == ""


@pytest.mark.parametrize(
    ("scheme", "host", "port", "shown"),
    [
        ("https", "192.168.1.20", 8443, "https://192.168.1.20:8443/"),
        ("https", "a.test", 443, "https://a.test/"),
        ("http", "a.test", 443, "http://a.test:443/"),
        ("https", "fd00::1", 8443, "https://[fd00::1]:8443/"),
    ],
)
def test_addresses_are_written_as_browsers_take_them(
    scheme: str, host: str, port: int, shown: str
) -> None:
    assert url(scheme, host, port) == shown
