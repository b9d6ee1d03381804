"""A phone on the shop's network: the built-in authority's certificate, a code, then no server.

Chromium is told to accept the certificate by its key, as a phone is told by its settings to trust
the authority; that a client without this is turned away is checked in `test_access_served.py`.
"""

import base64
import hashlib
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import Playwright, expect
from pocket_phone import PocketPhone, without_errors
from ports import free_ports
from waiting import WAITS_S

NAME = "shop.lowside.test"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[tuple["subprocess.Popen[bytes]", Path, int]]:
    """`lowside serve --lan`, its data, and the port phones use."""
    local, secure, plain = free_ports(3)
    data = tmp_path / "data"
    command = [sys.executable, "-m", "lowside", "serve", "--no-qr", "--data", str(data)]
    command += ["--lan", "--name", NAME, "--name", "127.0.0.1", "--port", str(local)]
    command += ["--lan-port", str(secure), "--trust-port", str(plain)]
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=subprocess.STDOUT)
    give_up = time.monotonic() + WAITS_S
    try:
        while process.poll() is None and time.monotonic() < give_up:
            try:
                urllib.request.urlopen(f"http://localhost:{local}/health", timeout=5).close()
                break
            except OSError:
                time.sleep(0.05)
        yield process, data, secure
    finally:
        if process.poll() is None:
            process.kill()
        process.wait()


def accepted(data: Path) -> str:
    """The SHA-256 of the authority's public key, as Chromium takes it."""
    authority = x509.load_pem_x509_certificate((data / "authority" / "authority.crt").read_bytes())
    key = authority.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(hashlib.sha256(key).digest()).decode()


def code_for(data: Path, *who: str) -> str:
    command = [sys.executable, "-m", "lowside", "people", "--data", str(data), "add", *who]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return said.partition(f"{who[0]}: ")[2].split()[0]


def test_a_paired_phone_goes_on_without_the_server(
    shop: tuple["subprocess.Popen[bytes]", Path, int], playwright: Playwright, tmp_path: Path
) -> None:
    process, data, port = shop
    flags = (
        f"--host-resolver-rules=MAP {NAME} 127.0.0.1",
        f"--ignore-certificate-errors-spki-list={accepted(data)}",
    )
    phone = PocketPhone(playwright, f"https://{NAME}:{port}", tmp_path / "phone", flags)
    phone.start()
    try:
        phone.open()
        assert phone.page.locator("#link").count() == 0, "nothing is served before it is paired"
        phone.open("/pair")
        phone.page.fill("[name=code]", code_for(data, "Ina Varga", "--role", "field"))
        phone.page.get_by_role("button", name="Pair this device").click()
        expect(phone.page.get_by_role("button", name="Start a session")).to_be_visible()
        phone.expect_link("Ready for offline")
        process.send_signal(signal.SIGINT)
        assert process.wait(60) == 0
        sid = phone.begin()
        phone.note(sid, 1)
        phone.stop_worker()
        assert phone.notes(sid) == [1]
        phone.expect_link("2 entries waiting to be sent")
        assert without_errors(phone.said) == []
    finally:
        phone.off()
