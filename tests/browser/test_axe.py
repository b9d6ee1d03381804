"""axe-core finds nothing on any page, by day and by night."""

import shutil
import time
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from lesson_read import read_in_lesson
from playwright.sync_api import Page, expect

from lowside.core.session.taps import READ_S
from lowside.demo import play, put_demo_sessions, scenarios
from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.procedures import load_procedures
from lowside.store.store import Store

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer

AXE = Path(__file__).parents[1] / "js" / "node_modules" / "axe-core" / "axe.min.js"
FIND = """async asked => {
    document.querySelectorAll("details").forEach(one => { one.open = true; });
    const { violations } = await axe.run(document, { resultTypes: ["violations"], ...asked });
    return violations.map(one =>
        `${one.id}: ${one.nodes.slice(0, 2).map(node => node.html.slice(0, 160)).join(" | ")}`);
}"""
AGAIN = "roof-unit-r410a"
COLORS = {"runOnly": ["color-contrast"]}
"""By night only the colors of the same page are others."""


def found_here(page: Page, told: str) -> list[str]:
    """What axe finds on the page as it is, by day and by night."""
    page.evaluate(AXE.read_text("utf-8"))
    found = [f"{told}: {one}" for one in page.evaluate(FIND, {})]
    page.emulate_media(color_scheme="dark")
    found += [f"{told}, dark: {one}" for one in page.evaluate(FIND, COLORS)]
    page.emulate_media(color_scheme="light")
    return found


def found_on(page: Page, path: str) -> list[str]:
    page.goto(path)
    return found_here(page, path.rsplit("/s/", 1)[-1][26:] or path)


def put_again(data: Path) -> None:
    """One of the demo's units is visited again with a cylinder that weighed for it before and
    serves no other job; nothing was weighed or read yet."""
    before = next(one for one in scenarios() if one.name == AGAIN)
    whole = tuple(
        replace(one, typed={**one.typed, "cylinder_label": "C-15"})
        if one.form == "cylinder"
        else one
        for one in before.moves
    )
    again = whole[: [one.step for one in whole].index("start_weight")]
    now = datetime.now(before.start.tzinfo).replace(microsecond=0)
    with closing(Store.open(data, outline)) as store:
        for moves, hours in ((whole, 24), (again, 1)):
            start = now - timedelta(hours=hours)
            store.append(play(replace(before, start=start, moves=moves), load_handbook()))


@pytest.fixture
def page(start_server: "StartServer", open_phone: "OpenPhone") -> Page:
    """A phone on a server with the demo sessions."""
    if not AXE.exists():
        pytest.fail("axe-core is missing: run `npm ci` in tests/js, or `make test`.")
    server = start_server()
    server.stop()
    shutil.rmtree(server.data)
    put_demo_sessions(server.data)
    put_again(server.data)
    return open_phone(start_server(server.data, server.port).url)


def test_axe_finds_nothing_on_any_field_page(page: Page) -> None:
    page.goto("/")
    slips = page.locator(".slip")
    again = str(slips.filter(has_text="AC-2 roof east").first.get_attribute("href"))
    base = str(slips.filter(has_not_text="AC-2 roof east").first.get_attribute("href"))
    closed = str(page.locator(".slips-closed .slip").first.get_attribute("href"))
    procedure = load_procedures()["hand-valved-three-port"]
    ways = (procedure.steps, procedure.off_steps, procedure.walk_steps)
    steps = [one.id for way in ways for one in way]
    paths = ["/", base, closed, "/nowhere", base + "/timeline", base + "/ticket"]
    paths += [f"{base}/step/{step}" for step in steps]
    paths += [f"{base}/form/{name}" for name in ("reading", "note", "units")]
    paths += [f"{base}/hoses/purge_low", "/device"]
    found = [one for path in paths for one in found_on(page, path)]
    for step in ("start_weight", "baseline"):
        found += found_on(page, f"{again}/step/{step}")
        assert page.locator("[data-stay]:visible").count() > 0, "what it showed last time"
    page.goto(base)
    page.locator('button[form="shot-form"]').click()
    page.locator(".shot-word").wait_for()
    found += found_here(page, "the open valve")
    time.sleep(READ_S + 0.1)  # sooner, a tap counts for a second one and does nothing
    page.get_by_role("button", name="Valve closed").click()
    page.locator("#weigh-form").wait_for()
    found += found_here(page, "the weight after a shot")
    found += found_on(page, base + "/form/photo")
    time.sleep(READ_S + 0.1)
    page.get_by_role("button", name="The unit has stopped").click()
    page.locator(".alert-stop").first.wait_for()
    found += found_here(page, "a unit that has stopped")
    assert found == []


def test_axe_finds_nothing_in_practice(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    page = open_phone(start_server().url)
    page.goto("/practice")
    page.get_by_role("button", name="Start the lesson").click()
    page.locator("button.slip").first.wait_for()
    base = page.url
    sid = base.rsplit("/", 1)[1]
    steps = ("job", "unit", "preconditions", "cylinder", "purge_low", "tare", "decide", "shots")
    paths = ["/practice", base, f"/practice/{sid}/debrief", f"/practice/{sid}/instruments"]
    paths += [f"{base}/step/{step}" for step in (*steps, "final_reading", "record")]
    paths += ["/practice/calls/K01", "/practice/calls/K01?guess=stop", "/practice/hoses/h05"]
    paths += ["/practice/hoses/h05?guess=nothing", "/practice/hoses/h17"]
    # The office with nothing in it, too.
    paths += ["/office", "/office/units", "/office/month", "/office/set-aside"]
    found = [one for path in paths for one in found_on(page, path)]
    found += found_on(page, read_in_lesson(page) + "/step/decide")
    expect(page.locator("#guess-form"), "the guess before the diagnosis").to_be_visible()
    assert found == []


def test_axe_finds_nothing_on_a_refused_form_nor_in_the_office(page: Page) -> None:
    page.goto("/office?show=all")
    # The first key on an office page offers to skip the links above it.
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= 0
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    session = str(page.locator('main a[href*="/office/session/"]').first.get_attribute("href"))
    paths = ["/office?show=all", session, session + "/record", "/office/rules", "/office/month"]
    paths += ["/office/cylinders", "/office/cylinder/new", "/office/procedures", "/office/people"]
    for start, link in (
        ("/office/units", 'main a[href*="/office/unit?"]'),
        ("/office/cylinders", 'main a[href*="/office/cylinder?"]'),
    ):
        page.goto(start)
        paths += [start, str(page.locator(link).first.get_attribute("href"))]
    found = [one for path in dict.fromkeys(paths) for one in found_on(page, path)]
    page.goto("/office/procedures")
    page.locator("#title").fill("Ours")
    page.get_by_role("button", name="Make the copy").click()
    page.wait_for_url("**/office/procedures/*")
    found += found_here(page, "a procedure of the shop")
    page.locator('main a[href*="/step/"]').first.click()
    page.wait_for_url("**/step/*")
    found += found_here(page, "a step of it")
    page.goto("/")
    page.get_by_role("button", name="Start a session").click()
    page.locator('button[form="step-form"]').wait_for()
    page.locator('#step-form [name="elevation"]').fill("5,280")
    page.locator('button[form="step-form"]').click()
    wrong = page.locator('#step-form [name="elevation"][aria-invalid="true"]')
    wrong.wait_for()
    told = str(wrong.get_attribute("aria-describedby")).split()
    assert told == ["elevation-problem", "elevation-hint"]
    found += found_here(page, "a refused form")
    assert found == []
