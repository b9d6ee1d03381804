"""Chromium over Playwright: a page that some test has, or a phone with a profile of its own."""

from pathlib import Path
from typing import Any

import waiting
from chromium_program import NONE, chromium_program
from playwright.sync_api import Error, Locator, Page, Playwright, expect
from pocket_phone import PocketPhone, without_errors

from engines.browser import PHONE, NoEngineError, called


class Tab:
    """A Playwright page in the words of `Browser`. It needs no JavaScript but for `evaluate`."""

    engine = "chromium"

    def __init__(self, page: Page) -> None:
        self.page = page

    def open(self, url: str) -> None:
        self.page.goto(url)

    def reload(self) -> None:
        self.page.reload()

    def address(self) -> str:
        return self.page.url

    def evaluate(self, function: str, *given: object) -> Any:
        return called(self.page.evaluate, function, given)

    def tap(self, selector: str) -> None:
        try:
            self._first(selector).click(timeout=waiting.WAITS_S * 1000)
        except Error as error:
            raise AssertionError(error.message) from None

    def type(self, selector: str, text: str) -> None:
        self._first(selector).fill(text)

    def choose(self, selector: str, value: str) -> None:
        self._first(selector).select_option(value)

    def count(self, selector: str) -> int:
        return self.page.locator(selector).count()

    def wait(self, selector: str) -> None:
        expect(self._first(selector)).to_be_attached(timeout=waiting.WAITS_S * 1000)

    def read(self, selector: str) -> str:
        return self._first(selector).inner_text()

    def value(self, selector: str) -> str:
        return self._first(selector).input_value()

    def picture(self, path: Path) -> None:
        self.page.screenshot(path=str(path))

    def _first(self, selector: str) -> Locator:
        return self.page.locator(selector).first


class Chromium(Tab):
    """A `PocketPhone` as one of the engines."""

    remembers = True

    def __init__(self, playwright: Playwright, profile: Path) -> None:
        self.phone = PocketPhone(playwright, "", profile)
        self.version = ""

    @property
    def said(self) -> list[str]:
        return without_errors(self.phone.said)

    def start(self) -> None:
        if chromium_program() is None:
            raise NoEngineError(NONE)
        self.phone.start()
        self.page = self.phone.page
        width, height = PHONE
        self.page.set_viewport_size({"width": width, "height": height})
        self.version = self.phone.version

    def kill(self) -> None:
        self.phone.off()
