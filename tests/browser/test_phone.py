"""The phone that the other browser tests hold really is one, and notices what breaks on it."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

BLANK = """data:text/html,<meta name="viewport" content="width=device-width"><h1>Blank</h1>"""
SEEN = """() => ({
    width: innerWidth,
    height: innerHeight,
    touch: navigator.maxTouchPoints > 0,
    dark: matchMedia("(prefers-color-scheme: dark)").matches,
})"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_has_its_size_touch_and_color_scheme(
    open_phone: Callable[..., Page], scheme: str
) -> None:
    page = open_phone(color_scheme=scheme)
    page.goto(BLANK)
    assert page.evaluate(SEEN) == {
        "width": 360,
        "height": 740,
        "touch": True,
        "dark": scheme == "dark",
    }


def test_a_phone_can_do_without_javascript(open_phone: Callable[..., Page]) -> None:
    page = open_phone(javascript=False)
    page.goto("data:text/html,<p>still</p><script>document.body.textContent = 'ran'</script>")
    assert page.inner_text("body") == "still"
