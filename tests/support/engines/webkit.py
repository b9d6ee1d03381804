"""WebKitGTK's own small browser over WebDriver, on a display of its own.

It has no headless mode, so an Xvfb is started with it and stopped with it. It keeps its data in
memory only while it is driven, its window is never narrower than its tool bar (about 450 px), and
it does not report what pages log.
"""

import base64
import json
import os
import shutil
import subprocess
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

from ports import free_port
from waiting import WAITS_S

from engines.browser import PHONE, NoEngineError
from engines.remote import PageGoneError, Remote, end_group

PACKAGES = "apt-get install webkit2gtk-driver xvfb"
NO_SANDBOX = "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS"
GONE = ("no such window", "no such frame", "javascript error", "unknown error")


class WebKit(Remote):
    """`WebKitWebDriver` and the MiniBrowser that comes with the same library."""

    engine = "webkit"
    remembers = False
    pointer = "mouse"

    def __init__(self, profile: Path) -> None:
        self.profile = profile
        self.version = ""
        self.said: list[str] = []
        self._driver: subprocess.Popen[bytes] | None = None
        self._display: subprocess.Popen[bytes] | None = None
        self._at = ""

    def start(self) -> None:
        driver, screen, browser = (
            shutil.which("WebKitWebDriver"),
            shutil.which("Xvfb"),
            mini_browser(),
        )
        if driver is None or screen is None or browser is None:
            raise NoEngineError(f"No WebKit: {PACKAGES}.")
        self.profile.mkdir(parents=True, exist_ok=True)
        port = free_port()
        self._at = f"http://127.0.0.1:{port}"
        self._driver = subprocess.Popen(
            [driver, f"--port={port}"],
            env=self._surroundings(self._show(screen)),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self._wait_until_up()
        options = {"binary": browser, "args": ["--automation"]}
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        session = self._order("POST", "/session", capabilities=wanted)
        self.version = str(session["capabilities"]["browserVersion"])
        self._at += "/session/" + session["sessionId"]
        width, height = PHONE
        self._order("POST", "/window/rect", width=width, height=height)

    def kill(self) -> None:
        if self._driver is not None:
            end_group(self._driver)
        if self._display is not None:
            self._display.terminate()
            self._display.wait()
        self._driver = self._display = None

    def open(self, url: str) -> None:
        self._order("POST", "/url", url=url)

    def reload(self) -> None:
        self._order("POST", "/refresh")

    def call(self, function: str, text: str) -> str:
        script = f"return ({function})(arguments[0])"
        answer = self._order("POST", "/execute/sync", script=script, args=[text])
        if not isinstance(answer, str):
            raise PageGoneError("no answer")
        return answer

    def act(self, actions: list[dict[str, Any]]) -> None:
        self._order("POST", "/actions", actions=actions)

    def picture(self, path: Path) -> None:
        path.write_bytes(base64.b64decode(self._order("GET", "/screenshot")))

    def _surroundings(self, display: str) -> dict[str, str]:
        own = {
            "DISPLAY": display,
            "GDK_BACKEND": "x11",
            "HOME": str(self.profile),
            "XDG_DATA_HOME": str(self.profile / "data"),
            "XDG_CACHE_HOME": str(self.profile / "cache"),
            "LANG": "C.UTF-8",
        }
        if os.geteuid() == 0:
            own[NO_SANDBOX] = "1"
        return os.environ | own

    def _show(self, screen: str) -> str:
        """Start a display that picks its own free number; its name."""
        read, write = os.pipe()
        try:
            self._display = subprocess.Popen(
                [
                    screen,
                    "-displayfd",
                    str(write),
                    "-screen",
                    "0",
                    "1024x900x24",
                    "-nolisten",
                    "tcp",
                ],
                pass_fds=[write],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        finally:
            os.close(write)
        with os.fdopen(read) as said:
            number = said.readline().strip()
        if not number:
            raise NoEngineError("Xvfb could not open a display.")
        return f":{number}"

    def _wait_until_up(self) -> None:
        give_up = time.monotonic() + WAITS_S
        while self._driver is not None and self._driver.poll() is None:
            try:
                with urllib.request.urlopen(self._at + "/status", timeout=5):
                    return
            except OSError:
                assert time.monotonic() < give_up, "WebKitWebDriver does not listen"
                time.sleep(0.02)
        raise NoEngineError("WebKitWebDriver ended at once.")

    def _order(self, method: str, path: str, **params: Any) -> Any:
        assert self._driver is not None, "WebKit is off"
        data = json.dumps(params).encode() if method == "POST" else None
        headers = {"Content-Type": "application/json"}
        asked = urllib.request.Request(self._at + path, data, headers, method=method)
        try:
            with urllib.request.urlopen(asked, timeout=WAITS_S) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            problem = json.load(error)["value"]
        if problem["error"] in GONE:
            raise PageGoneError(problem["message"])
        raise AssertionError(f"{path}: {problem['error']}: {problem['message']}")


def mini_browser() -> str | None:
    """The MiniBrowser of the newest WebKitGTK here; no path leads to it."""
    found = sorted(Path("/usr/lib").glob("*/webkit2gtk-4.*/MiniBrowser"))
    found += sorted(Path("/usr/libexec").glob("webkit2gtk-4.*/MiniBrowser"))
    return str(found[-1]) if found else None
