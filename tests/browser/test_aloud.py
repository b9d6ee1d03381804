"""Read aloud and big digits are off until one tap, stay on, and say what the next act is."""

from typing import TYPE_CHECKING

import hands
import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer

VOICE = """
    globalThis.said = [];
    const speech = {
        getVoices: () => [{ lang: "en-US", localService: LOCAL }],
        speak: words => globalThis.said.push(words.text),
        cancel: () => undefined,
    };
    Object.defineProperty(globalThis, "speechSynthesis", { value: speech });
    globalThis.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
"""
SAID = "globalThis.said"


@pytest.fixture
def page(start_server: "StartServer", open_phone: "OpenPhone") -> Page:
    """The charging page with a shot advised."""
    server = start_server()
    server.stop()
    roof = hands.scenario_named("roof-unit-r410a")
    before_shot = [move.form for move in roof.moves].index("shot_open")
    events = hands.up_to_now(roof, before_shot, 5)
    hands.hold_only(server.data, events)
    page = open_phone(start_server(server.data, server.port).url)
    page.goto(f"/s/{events[0].sid}")
    return page


def test_the_next_act_is_read_aloud_after_one_tap_and_on_each_page_after_it(page: Page) -> None:
    page.add_init_script(VOICE.replace("LOCAL", "true"))
    page.reload()
    assert page.evaluate(SAID) == []
    page.get_by_role("button", name="Read aloud").click()
    (told,) = page.evaluate(SAID)
    assert told.startswith("Add a shot. ")
    assert "Close the low-side manifold valve when the scale shows" in told
    page.reload()
    expect(page.get_by_role("button", name="Read aloud")).to_have_attribute("aria-pressed", "true")
    assert len(page.evaluate(SAID)) == 1
    page.get_by_role("button", name="Read aloud").click()
    page.reload()
    assert page.evaluate(SAID) == []


def test_a_voice_that_needs_the_network_is_not_used(page: Page) -> None:
    page.add_init_script(VOICE.replace("LOCAL", "false"))
    page.reload()
    page.get_by_role("button", name="Read aloud").click()
    assert page.evaluate(SAID) == []


def test_big_digits_show_verdict_amount_and_stop_weight_and_hide_no_danger(page: Page) -> None:
    figures = page.locator(".figures")
    expect(figures).to_be_visible()
    expect(page.locator(".big-only")).to_be_hidden()
    page.get_by_role("button", name="Big digits").click()
    expect(figures).to_be_hidden()
    big = page.locator(".big-only")
    expect(big).to_be_in_viewport(ratio=1.0)
    expect(big).to_contain_text("oz")
    expect(page.get_by_role("heading", name="Add a shot")).to_be_in_viewport()
    expect(page.locator(".cautions")).to_be_visible()
    page.reload()
    expect(figures).to_be_hidden()
    page.get_by_role("button", name="Big digits").click()
    expect(figures).to_be_visible()
