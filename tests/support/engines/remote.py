"""A browser that is told what to do over a wire: what Firefox and WebKit have in common.

Both take the pointer and the keys in the same words, those of the W3C's WebDriver.
"""

import os
import signal
import subprocess
import time
from abc import ABC, abstractmethod
from contextlib import suppress
from typing import Any

from waiting import WAITS_S, until

from engines.browser import called

AIM = """selector => {
    const element = document.querySelector(selector);
    if (element === null) return "nothing matches";
    element.scrollIntoView({ block: "center", behavior: "instant" });
    const box = element.getBoundingClientRect();
    if (box.width === 0 || box.height === 0) return "it is not visible";
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    const hit = document.elementFromPoint(x, y);
    if (hit === null || !element.contains(hit)) {
        return "it is covered by " + (hit?.outerHTML.slice(0, 80) ?? "nothing");
    }
    globalThis.tapped = "nothing";
    const note = event => {
        globalThis.tapped = element.contains(event.target) ? "it" : "another";
    };
    addEventListener("pointerdown", note, { capture: true, once: true });
    return [Math.floor(x), Math.floor(y)];
}"""
"""Where to tap. The page may still move under the finger, so it also notes what is then hit."""
SELECT_ALL = """selector => {
    const field = document.querySelector(selector);
    field.focus();
    field.select();
}"""
CHOOSE = """(selector, value) => {
    const select = document.querySelector(selector);
    select.value = value;
    if (select.value !== value) throw new Error("no such option: " + value);
    for (const name of ["input", "change"]) {
        select.dispatchEvent(new Event(name, { bubbles: true }));
    }
}"""
DELETE = "\ue017"


class PageGoneError(Exception):
    """The page went away while it was asked something: it is on its way to the next one."""


class Remote(ABC):
    """One tab that can be asked to call a function and to play actions."""

    pointer = "touch"
    """What taps with it."""

    @abstractmethod
    def call(self, function: str, text: str) -> str:
        """Call an async function of one text in the page; its text. Raises `PageGoneError`."""

    @abstractmethod
    def act(self, actions: list[dict[str, Any]]) -> None:
        """Play WebDriver input sources."""

    def address(self) -> str:
        return str(self._ask("() => location.href"))

    def evaluate(self, function: str, *given: object) -> Any:
        return called(self.call, function, given)

    def tap(self, selector: str) -> None:
        where: Any = None

        def tapped() -> bool:
            nonlocal where
            where = self._ask(AIM, selector)
            if isinstance(where, str):
                return False
            self.act([_press(self.pointer, *where)])
            # A page that came of the tap knows nothing of it.
            return self._ask("() => globalThis.tapped ?? 'it'") == "it"

        try:
            until(tapped, f"{selector} is tapped")
        except AssertionError as error:
            raise AssertionError(f"{error}; {where}") from None

    def type(self, selector: str, text: str) -> None:
        self.tap(selector)
        self.evaluate(SELECT_ALL, selector)
        keys: list[dict[str, str]] = []
        for key in text or DELETE:
            keys += [{"type": "keyDown", "value": key}, {"type": "keyUp", "value": key}]
        self.act([{"type": "key", "id": "keys", "actions": keys}])
        until(lambda: self.value(selector) == text, f"{selector} holds {text!r}")

    def choose(self, selector: str, value: str) -> None:
        self.wait(selector)
        self.evaluate(CHOOSE, selector, value)

    def count(self, selector: str) -> int:
        return int(self._ask("selector => document.querySelectorAll(selector).length", selector))

    def wait(self, selector: str) -> None:
        until(lambda: self.count(selector) > 0, f"{selector} is on the page")

    def read(self, selector: str) -> str:
        return self._first(selector, "innerText")

    def value(self, selector: str) -> str:
        return self._first(selector, "value")

    def _first(self, selector: str, what: str) -> str:
        found: Any = None

        def is_there() -> bool:
            nonlocal found
            found = self._ask(f"selector => document.querySelector(selector)?.{what}", selector)
            return found is not None

        until(is_there, f"{selector} has {what}")
        return str(found)

    def _ask(self, function: str, *given: object) -> Any:
        """Evaluate what may be asked of any page, also of the one that comes next."""
        give_up = time.monotonic() + WAITS_S
        while True:
            try:
                return self.evaluate(function, *given)
            except PageGoneError:
                assert time.monotonic() < give_up, "the page went and no other came"
                time.sleep(0.02)


def _press(pointer: str, x: int, y: int) -> dict[str, Any]:
    return {
        "type": "pointer",
        "id": "finger",
        "parameters": {"pointerType": pointer},
        "actions": [
            {"type": "pointerMove", "x": x, "y": y, "duration": 0},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ],
    }


def end_group(process: "subprocess.Popen[bytes]") -> None:
    """End a process that leads a group, and all it started."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
