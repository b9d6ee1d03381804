"""What a test may ask of a browser, whichever engine it is."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

PHONE = (360, 740)
CALL = """async text => {
    try {
        return JSON.stringify({ gave: await (FUNCTION)(...JSON.parse(text)) });
    } catch (error) {
        return JSON.stringify({ threw: `${error}` });
    }
}"""
"""Takes and gives JSON as text, because each protocol has a form of its own for other values. What
the function throws is caught here, so what the protocol still calls an error comes from the way
there.
"""


class NoEngineError(Exception):
    """The engine cannot be started here; the message says what would help."""


class Browser(Protocol):
    """One tab of one browser, with a profile of its own.

    A selector is CSS. Whatever needs an element waits for it; what is met first on the page counts.
    """

    engine: str
    """chromium, firefox or webkit."""
    version: str
    remembers: bool
    """Whether its profile outlives `kill`, as a phone's does."""
    said: list[str]
    """Errors of scripts and of the content security policy, where the engine reports them."""

    def start(self) -> None:
        """Switch it on, with what its profile remembers."""

    def kill(self) -> None:
        """End every process of it at once, as an empty battery would."""

    def open(self, url: str) -> None:
        """Go there, and wait for the page's load event."""

    def reload(self) -> None: ...

    def address(self) -> str:
        """What it is at now."""

    def evaluate(self, function: str, *given: object) -> Any:
        """Call a JavaScript function, async or not, in the page. JSON goes in and comes back."""

    def tap(self, selector: str) -> None:
        """Press the middle of an element, as a pointer does."""

    def type(self, selector: str, text: str) -> None:
        """Put this text in place of what a field holds."""

    def choose(self, selector: str, value: str) -> None:
        """Take an option of a select by its value."""

    def count(self, selector: str) -> int:
        """How many match now."""

    def wait(self, selector: str) -> None:
        """Until something matches."""

    def read(self, selector: str) -> str:
        """An element's visible text."""

    def value(self, selector: str) -> str:
        """What a field holds."""

    def picture(self, path: Path) -> None:
        """A PNG of what is in view."""


def called(call: Callable[[str, str], str], function: str, given: tuple[object, ...]) -> Any:
    """What a function gives, over a `call` that carries only text."""
    answer = json.loads(call(CALL.replace("FUNCTION", function), json.dumps(given)))
    assert "threw" not in answer, answer["threw"]
    return answer.get("gave")
