"""A wait counts down to what may be done next, and the page then becomes just that."""

from dataclasses import replace
from typing import TYPE_CHECKING

import hands
from playwright.sync_api import expect
from waiting import WAITS_S, until

from lowside.core.advice.advice import advise
from lowside.core.session.fold import fold
from lowside.demo import play
from lowside.library import load_handbook

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer

LEFT_S = (15.0, 60.0, 240.0)
"""What is left of the wait when its page is asked for. A slow machine sees the page twice before it
is over only when more is left; a quick one need not wait so long for the end."""


def test_a_wait_ends_with_the_reading_it_was_for_and_a_reload_says_the_same(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    handbook = load_handbook()
    scenario = hands.scenario_named("roof-unit-r410a")
    weighed = [i for i, move in enumerate(scenario.moves) if move.form == "shot_weigh"][1]
    # After the second shot the wait is for a reading, not for another shot.
    waiting = replace(scenario, moves=scenario.moves[: weighed + 1])
    state = fold(play(waiting, handbook), handbook)
    advice = advise(state, state.entries[-1].moment)
    assert advice.action == "wait"
    assert advice.wait_s is not None
    for left_s in LEFT_S:
        server.stop()
        events = hands.up_to_now(scenario, weighed + 1, advice.wait_s - left_s)
        hands.hold_only(server.data, events)
        server = start_server(server.data, server.port)
        page = open_phone(server.url)
        page.goto(f"/s/{events[0].sid}")
        shown = page.locator(".clock-time").inner_text()
        page.reload()
        again = page.locator(".clock-time").inner_text()
        if page.get_by_role("heading", name="Wait", exact=True).is_visible():
            break
    assert "0:00" < again <= shown, "the count goes on, and does not begin anew"
    over = page.get_by_role("heading", name="Take a reading")
    expect(over).to_be_visible(timeout=(left_s + WAITS_S) * 1000)
    expect(page.locator('#reading-form [name="suction_pressure"]')).to_be_visible()
    page.reload()
    expect(page.get_by_role("heading", name="Take a reading")).to_be_visible()


def test_what_is_being_typed_is_not_swapped_away_when_a_wait_ends(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    server.stop()
    scenario = hands.scenario_named("roof-unit-r410a")
    weighed = max(i for i, move in enumerate(scenario.moves) if move.form == "shot_weigh")
    events = hands.up_to_now(scenario, weighed + 1)
    hands.hold_only(server.data, events)
    page = open_phone(start_server(server.data, server.port).url)
    page.clock.install()
    page.goto(f"/s/{events[0].sid}/step/final_reading")
    field = page.locator('[name="suction_pressure"]')
    field.fill("127")
    page.clock.run_for(3_600_000)
    expect(page.locator(".clock-over")).to_be_visible()
    expect(field).to_have_value("127")


def test_advice_is_asked_for_anew_when_the_phone_is_taken_out_again(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    """The page was put away with “Add a shot” on it. Longer than 15 minutes later nothing is added
    on that reading."""
    server = start_server()
    handbook = load_handbook()
    server.stop()
    scenario = hands.scenario_named("roof-unit-r410a")
    decided = next(i for i, move in enumerate(scenario.moves) if move.form == "decide")
    events = hands.up_to_now(scenario, decided + 1)
    state = fold(events, handbook)
    assert advise(state, state.entries[-1].moment).action == "add"
    hands.hold_only(server.data, events)
    page = open_phone(start_server(server.data, server.port).url)
    page.goto(f"/s/{events[0].sid}/step/shots")
    page.evaluate("globalThis.shown = document.querySelector('[data-ages]')")
    seen = """(state) => {
        Object.defineProperty(document, "visibilityState", { value: state, configurable: true });
        document.dispatchEvent(new Event("visibilitychange"));
        return globalThis.shown.isConnected;
    }"""
    assert page.evaluate(seen, "hidden")
    assert page.evaluate(seen, "visible")
    page.wait_for_timeout(500)
    assert page.evaluate("globalThis.shown.isConnected"), "a glance elsewhere changes nothing"
    page.evaluate(seen, "hidden")
    page.evaluate("const now = Date.now; Date.now = () => now() + 61_000")
    page.evaluate(seen, "visible")
    until(lambda: not page.evaluate("globalThis.shown.isConnected"), "the advice is asked for anew")
    expect(page.locator("[data-ages]")).to_be_visible()
