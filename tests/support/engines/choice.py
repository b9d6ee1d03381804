"""Which engines a run asks for, and one of them by its name."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import sync_playwright

from engines.browser import Browser
from engines.chromium import Chromium
from engines.firefox import Firefox
from engines.webkit import WebKit

EVERY = ("chromium", "firefox", "webkit")


def asked_for() -> tuple[str, ...]:
    """The engines in `ENGINES`, names with commas between; all of them when it is not set."""
    asked = [name.strip() for name in os.environ.get("ENGINES", "").split(",") if name.strip()]
    unknown = [name for name in asked if name not in EVERY]
    if unknown:
        raise ValueError(f"ENGINES: there is no {unknown[0]}; there are {', '.join(EVERY)}.")
    return tuple(name for name in EVERY if name in asked) or EVERY


@contextmanager
def opened(name: str, profile: Path) -> Iterator[Browser]:
    """A started browser; whatever it is doing at the end, it is stopped.

    Raises `NoEngineError` where the engine is missing or does not start.
    """
    if name == "chromium":
        with sync_playwright() as playwright, _on(Chromium(playwright, profile)) as browser:
            yield browser
    else:
        with _on(Firefox(profile) if name == "firefox" else WebKit(profile)) as browser:
            yield browser


@contextmanager
def _on(browser: Browser) -> Iterator[Browser]:
    try:
        browser.start()
        yield browser
    finally:
        browser.kill()
