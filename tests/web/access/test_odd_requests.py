"""Requests no page of ours sends: a plain refusal, never a server error, always sealed."""

import http.client
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from ports import free_port
from waiting import until
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.web.app import SECURITY_HEADERS


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


@pytest.mark.parametrize("origin", ["http://[", "http://[::1", "://", "http://localhost:99999999"])
def test_an_origin_that_is_none_is_foreign(site: Site, origin: str) -> None:
    answer = site.send("POST", "/start", headers={"Origin": origin}, data={"sid": "x"})
    assert answer.status_code == 403


def multipart(charset: str, value: bytes) -> tuple[bytes, dict[str, str]]:
    body = b'--b\r\nContent-Disposition: form-data; name="sid"\r\n\r\n' + value + b"\r\n--b--\r\n"
    return body, {"Content-Type": f"multipart/form-data; boundary=b; charset={charset}"}


@pytest.mark.parametrize(
    ("charset", "value"),
    [
        ("nonsense", b"x"),
        ("unicode_escape", b"\\ud800"),
        ("utf-7", b"+2AA-"),
        ("rot13", b"x"),
        ("hex", b"zz"),
        ("utf-16", b"x"),
        ("idna", b"\xff"),
        ("utf-8", b"\xff\xfe"),
    ],
)
@pytest.mark.parametrize(
    "path", ["/start", "/s/x/form/note", "/practice/start", "/office/people/add"]
)
def test_an_odd_charset_is_no_server_error(
    site: Site, path: str, charset: str, value: bytes
) -> None:
    body, headers = multipart(charset, value)
    answer = site.send("POST", path, content=body, headers=headers)
    assert 400 <= answer.status_code < 500, answer.status_code


@pytest.mark.parametrize("name", ["text", "eid", "back", "step"])
def test_a_lone_surrogate_in_a_form_is_no_server_error(site: Site, name: str) -> None:
    sid = site.start()
    shown = site.get(f"/s/{sid}/form/note").form("/form/note")
    values = shown.values | {"text": "x", name: "\\ud800"}
    body = b""
    for field, text in values.items():
        head = f'--b\r\nContent-Disposition: form-data; name="{field}"\r\n\r\n'
        body += head.encode() + text.encode() + b"\r\n"
    headers = {"Content-Type": "multipart/form-data; boundary=b; charset=unicode_escape"}
    answer = site.send("POST", shown.action, content=body + b"--b--\r\n", headers=headers)
    assert 400 <= answer.status_code < 500, answer.status_code


def test_a_lone_surrogate_in_an_address_is_no_server_error(site: Site) -> None:
    for path in ("/s/%ED%A0%80", "/office?q=%ED%A0%80", "/office/session/%00", "/pair?code=%00"):
        assert site.send("GET", path).status_code < 500


def test_a_failure_of_ours_is_sealed_like_every_answer(
    site: Site, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("a mistake")

    monkeypatch.setattr(site.store, "sessions", fail)
    answer = site.send("GET", "/")
    assert answer.status_code == 500
    assert "a mistake" not in answer.text
    for name, value in SECURITY_HEADERS.items():
        assert answer.headers[name] == value
    assert "a mistake" in capsys.readouterr().err


@pytest.mark.parametrize(
    "path", ["/", "/sw.js", "/manifest.webmanifest", "/static/js/page.js", "/office", "/nowhere"]
)
def test_no_other_site_may_read_our_files(site: Site, path: str) -> None:
    assert site.send("GET", path).headers["Cross-Origin-Resource-Policy"] == "same-origin"


def test_an_upload_that_breaks_off_is_one_line_in_the_log(tmp_path: Path) -> None:
    log = tmp_path / "log"
    port = free_port()
    command = [sys.executable, "-m", "lowside", "serve", "--no-qr", "--port", str(port)]
    with log.open("wb") as out:
        process = subprocess.Popen([*command, "--data", str(tmp_path / "data")], stderr=out)

    def is_up() -> bool:
        with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
            try:
                connection.request("GET", "/health")
                return connection.getresponse().status == 200
            except OSError:
                return False

    try:
        until(is_up, "the server answers")
        for _ in range(3):
            with socket.create_connection(("127.0.0.1", port), 20) as upload:
                upload.sendall(
                    b"POST /start HTTP/1.1\r\nHost: localhost\r\nContent-Length: 900\r\n\r\nsid="
                )
        until(is_up, "the server answers still")
    finally:
        process.terminate()
        process.wait(60)
    said = log.read_text()
    assert "Traceback" not in said
    assert len(said.splitlines()) <= 3, said
