"""A real server and real browsers the size of a phone.

`server` is a fresh Lowside on an empty data folder; `phone` and `phone_dark` are Chromium's pages
on it. Use `start_server` to stop and start on the same data, `open_phone` for any other kind of
page, and `browser` for a test that runs in every engine.
"""

import hashlib
import os
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import engines
import nursery
import pytest
from chromium_program import NONE, chromium_program
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Playwright,
    expect,
    sync_playwright,
)
from pocket_phone import PocketPhone, without_errors
from ports import free_port
from waiting import WAITS_S

from lowside.moving import move
from lowside.store.postgres.migrating import prepare

expect.set_options(timeout=WAITS_S * 1000)

CHROMIUM_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE = (360, 740)
DATABASE = "LOWSIDE_TEST_DATABASE"
"""With the address of a database for its owner `postgres` in this variable, every server that these
tests start keeps its store there."""
READY_WITHIN_S = 60.0
"""Patience, not a promise: a server that is not up by then is taken to be stuck."""
STOPS_WITHIN_S = 20.0


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if {"chromium", "playwright"} & set(getattr(item, "fixturenames", ())):
                item.user_properties.append(("engine", "chromium"))


@dataclass
class Server:
    """A running `lowside serve`: where it answers, where it stores, and its own process."""

    url: str
    port: int
    data: Path
    process: nursery.Served | subprocess.Popen[bytes]
    log: Path
    owner: str = ""
    """Address of the database with its store, for its owner; without one it is in `data`."""

    def stop(self) -> None:
        """Ask it to end; end it when it does not."""
        self.process.terminate()
        try:
            self.process.wait(STOPS_WITHIN_S)
        except subprocess.TimeoutExpired:
            self.kill()

    def kill(self) -> None:
        """End it at once, as a power cut would."""
        self.process.kill()
        self.process.wait()

    def records(self) -> Path:
        """The folder with its logs; they are copied there first when its store is a database."""
        if self.owner == "":
            return self.data
        copy = self.data.with_name("copied")
        assert move(shop_for(self.data, self.owner), copy).problems == ()
        return copy

    def said(self) -> str:
        return self.log.read_text("utf-8", errors="replace")


class Spares:
    """Servers on empty folders that start while a test runs, so that the next one need not wait."""

    def __init__(self, folders: pytest.TempPathFactory) -> None:
        self._folders = folders
        self._waiting: dict[bool, Server] = {}

    def take(self, offline: bool) -> Server:
        taken = self._waiting.pop(offline, None) or self._launch(offline)
        wait_until_ready(taken)
        self._waiting[offline] = self._launch(offline)
        return taken

    def end(self) -> None:
        for server in self._waiting.values():
            server.kill()

    def _launch(self, offline: bool) -> Server:
        folder = self._folders.mktemp("server")
        return launch(folder / "data", free_port(), folder / "said.log", offline)


StartServer = Callable[..., Server]
OpenPhone = Callable[..., Page]
NewPhone = Callable[[str], PocketPhone]


@pytest.fixture(scope="session")
def spares(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Spares]:
    spares = Spares(tmp_path_factory)
    yield spares
    spares.end()


@pytest.fixture
def start_server(spares: Spares, tmp_path: Path) -> Iterator[StartServer]:
    """Start a server. To come back after a stop, give the same `data` folder and `port`.

    Unless `offline` is set, phones take no offline copy and every tap reaches the server. With the
    address of a database for its `owner`, the store is a shop there.
    """
    started: list[Server] = []

    def start(
        data: Path | None = None,
        port: int | None = None,
        offline: bool = False,
        owner: str = "",
    ) -> Server:
        if data is None and owner == "":
            server = spares.take(offline)
        else:
            log = tmp_path / f"server-{len(started)}.log"
            data = tmp_path / "data" if data is None else data
            server = launch(data, free_port() if port is None else port, log, offline, owner)
            wait_until_ready(server)
        started.append(server)
        return server

    yield start
    for server in started:
        if server.process.poll() is None:
            server.kill()


@pytest.fixture
def server(start_server: StartServer) -> Server:
    return start_server()


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    """For browsers a test starts itself."""
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for a module: Playwright's loop must not outlive the tests that use it."""
    path = chromium_program()
    if path is None:
        pytest.fail(NONE)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path, headless=True, args=list(CHROMIUM_FLAGS)
        )
        yield browser
        browser.close()


@pytest.fixture
def open_phone(chromium: Browser) -> Iterator[OpenPhone]:
    """Open a page as on a phone: 360 × 740, touch. Fails the test when a script of ours did."""
    contexts: list[BrowserContext] = []
    broken: list[str] = []

    def listen(message: ConsoleMessage) -> None:
        if "Content Security Policy" in message.text:
            broken.append(message.text)

    def open_page(base_url: str = "", color_scheme: str = "light", javascript: bool = True) -> Page:
        context = chromium.new_context(
            base_url=base_url or None,
            viewport={"width": PHONE[0], "height": PHONE[1]},
            device_scale_factor=2,
            is_mobile=True,
            has_touch=True,
            color_scheme="dark" if color_scheme == "dark" else "light",
            java_script_enabled=javascript,
            locale="en-US",
            timezone_id="America/Chicago",
        )
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: broken.append(str(error)))
        page.on("console", listen)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert broken == []


@pytest.fixture(params=engines.asked_for())
def browser(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[engines.Browser]:
    """One browser of each engine the run asks for. A script of ours that fails fails the test."""
    missing = ""
    with ExitStack() as running:
        try:
            browser = running.enter_context(engines.opened(request.param, tmp_path / "profile"))
        except engines.NoEngineError as error:
            missing = f"{error} To test without it: make test ENGINES=chromium"
        if missing:
            pytest.fail(missing, pytrace=False)
        request.node.user_properties.append(("engine", f"{browser.engine} {browser.version}"))
        yield browser
        broken = browser.said
    assert broken == []


@pytest.fixture
def phone(open_phone: OpenPhone, server: Server) -> Page:
    """A phone in daylight, on the fresh server; `page.goto("/")` is home."""
    return open_phone(server.url)


@pytest.fixture
def new_phone(playwright: Playwright, tmp_path: Path) -> Iterator[NewPhone]:
    """Phones that can be killed, each with a profile of its own; no script of ours may fail on any
    of them."""
    phones: list[PocketPhone] = []

    def make(url: str) -> PocketPhone:
        phone = PocketPhone(playwright, url, tmp_path / f"phone-{len(phones)}")
        phones.append(phone)
        phone.start()
        return phone

    yield make
    for phone in phones:
        phone.off()
    assert [without_errors(phone.said) for phone in phones] == [[] for _ in phones]


@pytest.fixture
def phone_dark(open_phone: OpenPhone, server: Server) -> Page:
    """The same at night."""
    return open_phone(server.url, color_scheme="dark")


def launch(data: Path, port: int, log: Path, offline: bool, owner: str = "") -> Server:
    options = ["--no-qr", "--offline" if offline else "--no-offline"]
    owner = owner or os.environ.get(DATABASE, "")
    if owner != "":
        options += ["--store", shop_for(data, owner)]
    log.write_bytes(b"")
    process = nursery.serve([*options, "--port", str(port), "--data", str(data)], log)
    return Server(f"http://localhost:{port}", port, data, process, log, owner)


def shop_for(data: Path, owner: str) -> str:
    """A shop in a database in place of a data folder: its address for a role of its own."""
    name = "t" + hashlib.sha256(str(data).encode()).hexdigest()[:12]
    prepare(owner, name, name)
    return owner.replace("//postgres@", f"//{name}@")


def wait_until_ready(server: Server) -> None:
    give_up = time.monotonic() + READY_WITHIN_S
    while server.process.poll() is None and time.monotonic() < give_up:
        try:
            with urllib.request.urlopen(server.url + "/health", timeout=5):
                return
        except urllib.error.HTTPError as error:
            server.kill()
            pytest.fail(f"/health answered {error.code}:\n{server.said()}")
        except OSError:
            time.sleep(0.05)
    if server.process.poll() is None:
        server.kill()
    pytest.fail(f"the server did not come up:\n{server.said()}")
