"""Nothing that axe-core finds stands on any page, by day and by night."""

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page

from lowside.demo import put_demo_sessions
from lowside.procedures import load_procedures

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer

AXE = Path(__file__).parents[1] / "js" / "node_modules" / "axe-core" / "axe.min.js"
FIND = """async () => {
    document.querySelectorAll("details").forEach(one => { one.open = true; });
    const { violations } = await axe.run(document, { resultTypes: ["violations"] });
    return violations.map(one =>
        `${one.id}: ${one.nodes.slice(0, 2).map(node => node.html.slice(0, 160)).join(" | ")}`);
}"""


def found_on(page: Page, path: str) -> list[str]:
    page.goto(path)
    page.evaluate(AXE.read_text("utf-8"))
    return [f"{path.rsplit('/s/', 1)[-1][26:] or path}: {one}" for one in page.evaluate(FIND)]


@pytest.mark.parametrize("color_scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_field_page(
    color_scheme: str, start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    if not AXE.exists():
        pytest.fail("axe-core is missing: run `npm ci` in tests/js, or `make test`.")
    server = start_server()
    server.stop()
    shutil.rmtree(server.data)
    put_demo_sessions(server.data)
    page = open_phone(start_server(server.data, server.port).url, color_scheme)
    page.goto("/")
    base = str(page.locator(".slip").first.get_attribute("href"))
    closed = str(page.locator(".slips-closed .slip").first.get_attribute("href"))
    procedure = load_procedures()["hand-valved-three-port"]
    ways = (procedure.steps, procedure.off_steps, procedure.walk_steps)
    steps = [one.id for way in ways for one in way]
    paths = ["/", base, closed, "/nowhere", base + "/timeline", base + "/ticket"]
    paths += [f"{base}/step/{step}" for step in steps]
    paths += [f"{base}/form/{name}" for name in ("reading", "note", "units")]
    paths += [f"{base}/hoses/purge_low", "/practice"]
    found = [one for path in paths for one in found_on(page, path)]
    page.goto(base)
    page.locator('button[form="shot-form"]').click()
    page.locator(".shot-word").wait_for()
    found += found_on(page, base)
    assert found == []


@pytest.mark.parametrize("color_scheme", ["light", "dark"])
def test_axe_finds_nothing_in_practice(
    color_scheme: str, start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    page = open_phone(start_server().url, color_scheme)
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
    assert [one for path in paths for one in found_on(page, path)] == []


def test_axe_finds_nothing_on_a_refused_form_nor_in_the_office(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    server.stop()
    shutil.rmtree(server.data)
    put_demo_sessions(server.data)
    page = open_phone(start_server(server.data, server.port).url)
    found = [one for path in ("/office", "/office/cylinders") for one in found_on(page, path)]
    page.goto("/")
    page.get_by_role("button", name="Start a session").click()
    page.locator('button[form="step-form"]').wait_for()
    page.locator('#step-form [name="elevation"]').fill("5,280")
    page.locator('button[form="step-form"]').click()
    wrong = page.locator('#step-form [name="elevation"][aria-invalid="true"]')
    wrong.wait_for()
    told = str(wrong.get_attribute("aria-describedby")).split()
    assert told == ["elevation-problem", "elevation-hint"]
    page.evaluate(AXE.read_text("utf-8"))
    assert found + page.evaluate(FIND) == []
