"""A phone of its own: a Chromium with a profile on disk that can be killed and started again."""

import os
import re
import signal
import subprocess
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from chromium_program import NONE, chromium_program
from playwright.sync_api import Browser, ConsoleMessage, Page, Playwright, Worker, expect
from ports import free_port
from waiting import until

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--disk-cache-size=1048576",
    "--window-size=360,740",
)
STARTS_WITHIN_S = 60.0

SEND = """async ([path, fields]) => {
    const body = new URLSearchParams(fields);
    const signal = AbortSignal.timeout(60_000);
    const answer = await fetch(path, { method: "POST", body, signal });
    return [answer.status, answer.redirected ? new URL(answer.url).pathname : ""];
}"""

KEEP_SENDING = """async ([sid, first]) => {
    for (let n = first; n < first + 10000; n += 1) {
        const eid = String(n).padStart(26, "0");
        const body = new URLSearchParams({ eid, step: "", back: "", text: `note ${n}` });
        const answer = await fetch(`/s/${sid}/form/note`, { method: "POST", body });
        if (answer.redirected && answer.ok) console.log(`kept ${n}`);
    }
}"""


@dataclass
class PocketPhone:
    """One phone. `page` is its only tab until `another_tab` opens more."""

    playwright: Playwright
    url: str
    profile: Path
    flags: tuple[str, ...] = ()
    """What its Chromium is told beside `FLAGS`."""
    said: list[str] = field(default_factory=list)
    _process: "subprocess.Popen[bytes] | None" = None
    _browser: Browser | None = None
    _page: Page | None = None

    @property
    def page(self) -> Page:
        assert self._page is not None, "the phone is off"
        return self._page

    @property
    def version(self) -> str:
        """The version of its Chromium."""
        assert self._browser is not None, "the phone is off"
        return self._browser.version

    def start(self) -> None:
        """Switch it on, with what its profile remembers."""
        program = chromium_program()
        if program is None:
            pytest.fail(NONE)
        self.profile.mkdir(parents=True, exist_ok=True)
        port = free_port()  # not one it would write to its profile: that may be on a full disk
        for lock in self.profile.glob("Singleton*"):
            lock.unlink()
        self._process = subprocess.Popen(
            [
                program,
                *FLAGS,
                *self.flags,
                f"--remote-debugging-port={port}",
                f"--user-data-dir={self.profile}",
                "about:blank",
            ],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        _wait_until_up(port, self._process)
        self._browser = self.playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        context = self._browser.contexts[0]
        self._page = context.pages[0] if context.pages else context.new_page()
        self._listen(self._page)

    def kill(self) -> None:
        """End every process of it at once, as an empty battery would."""
        assert self._process is not None
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()
        if self._browser is not None:
            self._browser.close()
        self._process = self._browser = self._page = None

    def off(self) -> None:
        """Be off, whatever it was before."""
        if self._process is not None:
            self.kill()

    @contextmanager
    def slowed_to(self, share: float) -> Iterator[None]:
        """Let all its processes run only this share of the time, in slices of a millisecond."""
        assert self._process is not None
        group = self._process.pid
        over = threading.Event()

        def hold_back() -> None:
            while not over.is_set():
                os.killpg(group, signal.SIGSTOP)
                time.sleep(0.001 * (1.0 - share) / share)
                os.killpg(group, signal.SIGCONT)
                time.sleep(0.001)

        slowing = threading.Thread(target=hold_back)
        slowing.start()
        try:
            yield
        finally:
            over.set()
            slowing.join()

    def another_tab(self) -> Page:
        page = self.page.context.new_page()
        self._listen(page)
        return page

    def worker(self) -> Worker:
        """Its running service worker."""
        running: list[Worker] = []

        def is_running() -> bool:
            workers = self.page.context.service_workers
            running[:] = [worker for worker in workers if worker.url.endswith("/sw.js")]
            return running != []

        self.until(is_running, "the service worker runs")
        return running[0]

    # What a technician does

    def open(self, path: str = "/") -> None:
        self.page.goto(self.url + path)

    def open_ready(self) -> None:
        """The one visit with a connection: home, until the phone can do without."""
        self.open()
        self.expect_link("Ready for offline")

    def expect_link(self, words: str, page: Page | None = None, timeout: float = 60_000) -> None:
        """Wait until the page says so about the server."""
        link = (page or self.page).locator("#link")
        expect(link).to_contain_text(words, timeout=timeout)

    def until_sent(self) -> None:
        """Wait until nothing it has recorded waits to be sent, and the page says so.

        The page alone will not do: it is told a moment after an entry was recorded.
        """
        self.until(lambda: self.stored("unsent") == [], "nothing waits to be sent")
        self.expect_link("Ready for offline")

    def until(self, condition: Callable[[], bool], what: str) -> None:
        """Ask again and again until it is so, and hear meanwhile what the pages say."""
        until(condition, what, self.page.wait_for_timeout)

    def begin(self) -> str:
        """Start a session from home; its sid."""
        self.open()
        self.page.get_by_role("button", name="Start a session").click()
        expect(self.page.get_by_role("heading", name="Job and site")).to_be_visible()
        expect(self.page).to_have_url(re.compile(r"/s/[^/]+$"))
        return self.page.url.rsplit("/", 1)[1]

    def send(self, path: str, page: Page | None = None, **typed: str) -> tuple[int, str]:
        """Post a form from the page's own script; status and where it led."""
        fields = {"step": "", "back": ""} | typed
        status, led = (page or self.page).evaluate(SEND, [path, fields])
        return status, led

    def note(self, sid: str, number: int, page: Page | None = None) -> None:
        """Record a note, and see it recorded."""
        typed = {"eid": eid_of(number), "text": f"note {number}"}
        status, led = self.send(f"/s/{sid}/form/note", page, **typed)
        assert (status, led) == (200, f"/s/{sid}")

    def notes(self, sid: str) -> list[int]:
        """The notes its timeline shows on all its pages, oldest first."""
        newest_first: list[int] = []
        path: str | None = f"/s/{sid}/timeline"
        while path is not None:
            self.open(path)
            words = self.page.locator("main").inner_text().replace("\n", " ").split()
            newest_first += [int(n) for before, n in pairwise(words) if before == "note"]
            older = self.page.get_by_role("link", name="Older entries")
            path = older.get_attribute("href") if older.count() > 0 else None
        return newest_first[::-1]

    def stored(self, table: str) -> list[Any]:
        """A table of its store, read past our own code."""
        return list(
            self.page.evaluate(
                """table => new Promise((resolve, reject) => {
                    const opening = indexedDB.open("lowside");
                    opening.onerror = () => reject(opening.error);
                    opening.onsuccess = () => {
                        const db = opening.result;
                        const asked = db.transaction(table).objectStore(table).getAll();
                        asked.onsuccess = () => { db.close(); resolve(asked.result); };
                        asked.onerror = () => reject(asked.error);
                    };
                })""",
                table,
            )
        )

    def stop_worker(self) -> None:
        """Stop the service worker, as a phone does when nothing needs it for a while."""
        session = self.page.context.new_cdp_session(self.page)
        session.send("ServiceWorker.enable")
        session.send("ServiceWorker.stopAllWorkers")
        session.detach()

    def _listen(self, page: Page) -> None:
        def hear(message: ConsoleMessage) -> None:
            self.said.append(message.text)

        page.on("console", hear)
        page.on("pageerror", lambda error: self.said.append(f"error: {error}"))

    def kept(self) -> list[int]:
        """The notes the page was told are recorded, by `KEEP_SENDING`."""
        return [int(text.removeprefix("kept ")) for text in self.said if text.startswith("kept ")]


def eid_of(number: int) -> str:
    return str(number).rjust(26, "0")


def without_errors(said: list[str]) -> list[str]:
    """What the page's console said that is an error of ours."""
    ours = ("error:", "Content Security Policy", "TypeError", "ReferenceError")
    return [text for text in said if any(word in text for word in ours)]


def notes_of(events: list[Mapping[str, Any]]) -> list[int]:
    """The numbered notes among events."""
    texts = [e["data"].get("text", "") for e in events if e["kind"] == "note.added"]
    return [int(text.removeprefix("note ")) for text in texts if text.startswith("note ")]


def _wait_until_up(port: int, process: "subprocess.Popen[bytes]") -> None:
    give_up = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < give_up and process.poll() is None:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/json/version", timeout=5):
                return
        except OSError:
            time.sleep(0.02)
    raise AssertionError("Chromium did not start")
