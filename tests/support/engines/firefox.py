"""Firefox over WebDriver BiDi: it speaks that itself, so no other program is between."""

import base64
import json
import os
import shutil
import subprocess
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from ports import free_port
from waiting import WAITS_S
from websockets.sync.client import ClientConnection, connect

from engines.browser import PHONE, NoEngineError
from engines.remote import PageGoneError, Remote, end_group

SETTINGS = {
    "app.normandy.enabled": False,
    "app.update.disabledForTesting": True,
    "browser.newtab.preload": False,
    "browser.newtabpage.enabled": False,
    "browser.region.network.url": "",
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.homepage": "about:blank",
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "dom.ipc.processPrelaunch.enabled": False,
    "intl.accept_languages": "en-US",
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "services.settings.server": "data:,#remote-settings-dummy/v1",
    "startup.homepage_welcome_url": "about:blank",
    "toolkit.startup.max_resumed_crashes": -1,
}
GONE = ("no such frame", "no such realm", "unknown error", "no such window")
OURS = ("Error:", "Content-Security-Policy", "Content Security Policy")


class Firefox(Remote):
    """`firefox-esr` or `firefox`, headless, or the one in LOWSIDE_FIREFOX."""

    engine = "firefox"
    remembers = True

    def __init__(self, profile: Path) -> None:
        self.profile = profile
        self.version = ""
        self.said: list[str] = []
        self._process: subprocess.Popen[bytes] | None = None
        self._wire: ClientConnection | None = None
        self._open = ExitStack()
        self._asked = 0
        self._tab = ""

    def start(self) -> None:
        program = (
            os.environ.get("LOWSIDE_FIREFOX")
            or shutil.which("firefox-esr")
            or shutil.which("firefox")
        )
        if program is None:
            raise NoEngineError("No Firefox: apt-get install firefox-esr, or set LOWSIDE_FIREFOX.")
        self.profile.mkdir(parents=True, exist_ok=True)
        lines = [f'user_pref("{name}", {json.dumps(to)});\n' for name, to in SETTINGS.items()]
        (self.profile / "user.js").write_text("".join(lines), "utf-8")
        port = free_port()
        command = [program, "--headless", "--no-remote", "--profile", str(self.profile)]
        with (self.profile / "said.log").open("ab") as log:
            self._process = subprocess.Popen(
                [*command, "--remote-debugging-port", str(port), "about:blank"],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._wire = self._open.enter_context(self._connected(port))
        answer = self._order("session.new", capabilities={})
        self.version = str(answer["capabilities"]["browserVersion"])
        self._tab = self._order("browsingContext.getTree")["contexts"][0]["context"]
        self._order("session.subscribe", events=["log.entryAdded"])
        width, height = PHONE
        size = {"width": width, "height": height}
        self._order("browsingContext.setViewport", context=self._tab, viewport=size)

    def kill(self) -> None:
        if self._process is not None:
            end_group(self._process)
        self._open.close()
        self._process = self._wire = None

    def open(self, url: str) -> None:
        self._order("browsingContext.navigate", context=self._tab, url=url, wait="complete")

    def reload(self) -> None:
        self._order("browsingContext.reload", context=self._tab, wait="complete")

    def call(self, function: str, text: str) -> str:
        answer = self._order(
            "script.callFunction",
            functionDeclaration=function,
            awaitPromise=True,
            target={"context": self._tab},
            arguments=[{"type": "string", "value": text}],
        )
        if answer["type"] == "exception":
            raise PageGoneError(answer["exceptionDetails"]["text"])
        return str(answer["result"]["value"])

    def act(self, actions: list[dict[str, Any]]) -> None:
        self._order("input.performActions", context=self._tab, actions=actions)

    def picture(self, path: Path) -> None:
        data = self._order("browsingContext.captureScreenshot", context=self._tab)["data"]
        path.write_bytes(base64.b64decode(data))

    def _connected(self, port: int) -> ClientConnection:
        give_up = time.monotonic() + WAITS_S
        while self._process is not None and self._process.poll() is None:
            try:
                # Without pings: they draw from `random` while hypothesis draws a test's cases.
                return connect(
                    f"ws://127.0.0.1:{port}/session", max_size=None, proxy=None, ping_interval=None
                )
            except OSError:
                assert time.monotonic() < give_up, "Firefox does not listen"
                time.sleep(0.05)
        said = (self.profile / "said.log").read_text("utf-8", errors="replace")
        raise NoEngineError(f"Firefox ended at once: {said}")

    def _order(self, method: str, **params: Any) -> dict[str, Any]:
        assert self._wire is not None, "Firefox is off"
        self._asked += 1
        self._wire.send(json.dumps({"id": self._asked, "method": method, "params": params}))
        while True:
            message = json.loads(self._wire.recv(WAITS_S))
            if message["type"] == "event":
                self._hear(message)
            elif message["id"] == self._asked:
                break
        if message["type"] == "success":
            return dict(message["result"])
        if message["error"] in GONE:
            raise PageGoneError(message["message"])
        raise AssertionError(f"{method}: {message['error']}: {message['message']}")

    def _hear(self, message: dict[str, Any]) -> None:
        entry = message["params"]
        text = str(entry.get("text") or "")
        if entry.get("level") == "error" and any(word in text for word in OURS):
            self.said.append(text)
