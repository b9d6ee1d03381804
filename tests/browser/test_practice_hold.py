"""The low-side valve of a practice unit: open as long as the thumb, or a key, holds it."""

import re
from collections.abc import Callable

from playwright.sync_api import Page, expect

HOLD = "Hold to open the low-side manifold valve"


def _at_the_shots(page: Page) -> str:
    """Start the first lesson and open its charging step; the session's sid."""
    page.goto("/practice")
    page.get_by_role("button", name="Start the lesson").click()
    page.wait_for_url("**/practice/s/*")
    sid = page.url.rsplit("/", 1)[1]
    page.goto(f"/practice/s/{sid}/step/shots")
    return sid


def test_the_valve_is_open_while_held_and_shut_when_let_go(phone: Page) -> None:
    _at_the_shots(phone)
    button = phone.get_by_role("button", name=HOLD)
    clock = phone.locator(".practice-clock")
    expect(clock).to_contain_text("closed")
    box = button.bounding_box()
    assert box is not None
    assert box["height"] >= 48
    button.hover()
    phone.mouse.down()
    expect(clock).to_contain_text("OPEN")
    expect(clock).to_contain_text("×1 ")
    phone.mouse.up()
    expect(clock).to_contain_text("closed")
    expect(clock).to_contain_text("×10")

    button.focus()
    phone.keyboard.down(" ")
    expect(clock).to_contain_text("OPEN")
    phone.keyboard.up(" ")
    expect(clock).to_contain_text("closed")


def test_the_recovery_machine_runs_while_its_button_is_held(phone: Page) -> None:
    _at_the_shots(phone)
    button = phone.get_by_role("button", name="Hold to recover")
    box = button.bounding_box()
    assert box is not None
    assert box["height"] >= 48
    button.hover()
    phone.mouse.down()
    expect(phone.get_by_text("Recovering. Let go to stop")).to_be_visible()
    expect(phone.locator("#instruments")).to_contain_text("Recovery machine RUNS")
    expect(phone.locator(".practice-clock")).to_contain_text("closed")
    phone.mouse.up()
    expect(phone.locator("#instruments")).not_to_contain_text("RUNS")
    expect(button).to_be_visible()
    expect(phone.get_by_role("button", name=HOLD)).to_be_visible()


def test_instruments_live_on_the_page_and_fit_it(phone: Page) -> None:
    _at_the_shots(phone)
    face = phone.locator(".practice-clock b").first
    before = face.inner_text()
    expect(face).not_to_have_text(before)
    expect(phone.locator(".dial")).to_have_count(9)
    width = phone.evaluate("document.documentElement.scrollWidth")
    assert width <= 360


def test_without_javascript_two_buttons_turn_it(
    open_phone: Callable[..., Page], server: object
) -> None:
    page = open_phone(getattr(server, "url", ""), javascript=False)
    _at_the_shots(page)
    page.get_by_role("button", name="Open the low-side manifold valve").click()
    expect(page).to_have_url(re.compile(r"/step/shots$"))
    expect(page.locator(".practice-clock")).to_contain_text("OPEN")
    page.get_by_role("button", name="Close it").click()
    expect(page.locator(".practice-clock")).to_contain_text("closed")
