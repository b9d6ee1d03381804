"""Blindfolded: a valve can be closed at its limit by what is heard and felt alone."""

import re
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import hands
import pytest
from engines.chromium import Tab
from playwright.sync_api import Page, expect
from waiting import until

from lowside.core.session.taps import READ_S
from lowside.demo import _as_if_today, play
from lowside.library import load_handbook

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer

SHOTS = 4
LISTEN = """(() => {
    window.heard = [];
    window.felt = [];
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (...when) {
        window.heard.push(this.frequency.value);
        return start.apply(this, when);
    };
    Object.defineProperty(Navigator.prototype, "vibrate", {
        configurable: true,
        value: (pattern) => { window.felt.push(pattern.length); return true; },
    });
})()"""
LOOK_AWAY = "() => { window.heard = []; window.felt = []; }"
ALARM_HZ = 1400
TICK_HZ = 880


def at_shot(number: int, start_server: "StartServer") -> str:
    """A server with the demo job just before its n-th shot; the session's address."""
    server = start_server()
    server.stop()
    scenario = hands.scenario_named("roof-unit-r410a")
    opened = [i for i, move in enumerate(scenario.moves) if move.form == "shot_open"]
    before = _as_if_today(replace(scenario, moves=scenario.moves[: opened[number - 1]]))
    events = play(before, load_handbook())
    hands.hold_only(server.data, events)
    again = start_server(server.data, server.port)
    return f"{again.url}/s/{events[0].sid}"


def open_valve(page: Page, address: str) -> None:
    """From here on the page's time goes on only when it is told to, however slow the machine."""
    page.add_init_script(LISTEN)
    page.clock.install()
    page.goto(address)
    page.clock.pause_at(page.evaluate("Date.now()") / 1000.0 + 60.0)
    page.locator('button[form="shot-form"]').click()
    until(
        lambda: page.locator(".shot-word").all_inner_texts() == ["Valve is open"],
        "the valve is open",
        lambda _: page.clock.run_for(20),
    )
    page.clock.run_for(250)
    wait_for_sound(page)
    page.evaluate(LOOK_AWAY)


def wait_for_sound(page: Page) -> None:
    """It begins a moment after the tap that allows it."""
    silent = page.locator(".shot-silent")
    until(silent.is_hidden, "a tap gives it its sound", lambda _: page.clock.run_for(20))


@pytest.mark.parametrize("number", range(1, SHOTS + 1))
def test_every_valve_is_closed_at_its_limit_by_sound_and_vibration(
    number: int, start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    address = at_shot(number, start_server)
    page = open_phone(address.rsplit("/s/", 1)[0])
    open_valve(page, address)
    limit = re.findall(r"\d+:\d\d", page.locator(".shot-limit").inner_text())[0]
    seconds = int(limit.split(":")[0]) * 60 + int(limit.split(":")[1])
    for _ in range(seconds + 1):
        page.clock.run_for(250)
        if ALARM_HZ in page.evaluate("window.heard"):
            break
        page.clock.run_for(750)
    heard = page.evaluate("window.heard")
    felt = page.evaluate("window.felt")
    face = page.locator(".clock-time").inner_text()
    assert heard.count(ALARM_HZ) > 0, (limit, face, heard)
    assert face == limit, "the alarm comes at the limit, not sooner and not later"
    assert heard.count(TICK_HZ) == min(5, seconds), "a tick in each of the last five seconds"
    assert len(felt) == heard.count(TICK_HZ) + 1, "every signal is felt too"
    expect(page.locator(".shot-word")).to_have_text("Close the valve now")
    expect(page.locator(".shot-late")).to_be_visible()
    # The browser's clock ran ahead of the server's, which takes a tap this soon for a second one.
    time.sleep(READ_S + 0.1)
    page.get_by_role("button", name="Valve closed").click()
    expect(page.locator("#weigh-form")).to_be_visible()


def test_the_alarm_goes_on_until_the_valve_is_closed_and_says_when_it_has_no_sound(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    address = at_shot(1, start_server)
    page = open_phone(address.rsplit("/s/", 1)[0])
    open_valve(page, address)
    page.clock.run_for(120_000)
    before = len(page.evaluate("window.felt"))
    page.clock.run_for(5_000)
    assert len(page.evaluate("window.felt")) >= before + 4
    page.reload()
    page.clock.run_for(250)
    expect(page.get_by_text("No sound yet. Tap the screen once.")).to_be_visible()
    page.locator(".clock-time").click()
    wait_for_sound(page)


def test_all_that_matters_at_an_open_valve_is_in_sight(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    address = at_shot(1, start_server)
    page = open_phone(address.rsplit("/s/", 1)[0])
    open_valve(page, address)
    for width, height in ((360, 740), (320, 568)):
        page.set_viewport_size({"width": width, "height": height})
        for what in (".shot-word", ".clock-time", ".shot-limit", ".shot-stop b"):
            expect(page.locator(what)).to_be_in_viewport(ratio=1.0)
        for name in ("Valve closed", "The unit has stopped"):
            expect(page.get_by_role("button", name=name)).to_be_in_viewport(ratio=1.0)
        tall = page.evaluate("document.querySelector('.clock-time').getClientRects()[0].height")
        assert tall >= 90, "read from a metre"
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("document.documentElement.scrollHeight") <= 740


def test_a_second_tap_does_nothing_on_a_page_that_just_came_up(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    address = at_shot(1, start_server)
    page = open_phone(address.rsplit("/s/", 1)[0])
    page.goto(address)
    tab = Tab(page)
    page.locator('button[form="shot-form"]').dblclick()
    expect(page.locator(".shot-word")).to_be_visible()
    page.wait_for_load_state("networkidle")
    expect(page.locator(".shot-word")).to_be_visible()
    assert tab.count("#weigh-form") == 0


GETS_THROUGH = """form => {
    let through = false;
    const see = event => {
        through = true;
        event.preventDefault();
        event.stopPropagation();
    };
    document.addEventListener("submit", see, true);
    form.dispatchEvent(new SubmitEvent("submit", { bubbles: true, cancelable: true }));
    document.removeEventListener("submit", see, true);
    return through;
}"""


def test_the_page_itself_holds_a_tap_back_for_a_second_but_never_a_stopped_unit(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    address = at_shot(1, start_server)
    page = open_phone(address.rsplit("/s/", 1)[0])
    open_valve(page, address)
    close = page.locator('form[action$="/form/shot_close"]')
    stopped = page.locator('form[action$="/form/system_stopped"]')
    assert not close.evaluate(GETS_THROUGH)
    assert stopped.evaluate(GETS_THROUGH)
    page.clock.run_for(1000)
    assert close.evaluate(GETS_THROUGH)
