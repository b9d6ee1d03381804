"""A gloved thumb finds every button, and no page is wider than the phone."""

from typing import TYPE_CHECKING, Any

from playwright.sync_api import Page, expect

from lowside.demo import put_demo_sessions
from lowside.procedures import load_procedures

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer

PROCEDURE = "hand-valved-three-port"
THUMB_PX = 48
TARGETS = """() => [...document.querySelectorAll(
    'footer.thumb a, footer.thumb button, .tools a, .tools button, .leaf a, .choice, .slip,'
    + ' main select, main input:not([type=hidden]):not([type=radio]), summary, .finish button'
  )].map(e => [e, e.getBoundingClientRect()])
    .filter(([, box]) => box.width > 0 && box.height > 0)
    .map(([e, box]) => ({
      what: e.tagName + ' ' + (e.innerText || e.name || '').trim().slice(0, 40),
      width: box.width, height: box.height, right: box.right, left: box.left,
    }))"""
WIDTH = """() => ({
    page: document.documentElement.scrollWidth,
    out: [...document.querySelectorAll('body *')]
      .filter(e => e.getBoundingClientRect().right > innerWidth + 1
        && e.getClientRects().length > 0)
      .map(e => e.tagName + '.' + e.className).slice(0, 5),
  })"""


def pages_of(page: Page) -> list[str]:
    """Every page of the demo's open session and of one that is closed."""
    page.goto("/")
    base = page.locator(".slip").first.get_attribute("href")
    closed = page.locator(".slips-closed .slip").first.get_attribute("href")
    assert base is not None
    assert closed is not None
    steps = [f"{base}/step/{step.id}" for step in load_procedures()[PROCEDURE].steps]
    forms = [f"{base}/form/{name}" for name in ("reading", "note", "units", "shot_close")]
    page.goto(base + "/timeline")
    page.locator(".correct summary").first.click()
    amend = page.locator('a[href*="/amend/"]').first.get_attribute("href")
    rest = [base, base + "/timeline", base + "/ticket", str(amend), closed, "/", "/nowhere"]
    return steps + forms + rest


def test_every_target_is_as_wide_as_a_thumb_and_no_page_scrolls_sideways(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    server.stop()
    put_demo_sessions(server.data)
    page = open_phone(start_server(server.data, server.port).url)
    small: list[tuple[str, Any]] = []
    wide: list[tuple[str, Any]] = []
    targets = 0
    pages = pages_of(page)
    assert len(pages) > 30
    for path in pages:
        page.goto(path)
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
        for target in page.evaluate(TARGETS):
            targets += 1
            if target["height"] < THUMB_PX or target["width"] < THUMB_PX:
                small.append((path.rsplit("/s/", 1)[-1][26:], target))
        width = page.evaluate(WIDTH)
        if width["page"] > 360:
            wide.append((path, width))
    assert wide == []
    assert small == []
    assert targets > 300


def test_the_next_action_is_at_the_thumb_without_scrolling(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    page = open_phone(server.url)
    page.goto("/")
    page.get_by_role("button", name="Start a session").click()
    expect(page.get_by_role("heading", name="Job and site")).to_be_visible()
    expect(page.locator("footer.thumb .primary")).to_be_in_viewport(ratio=1.0)
    page.locator('[name="elevation"]').scroll_into_view_if_needed()
    expect(page.locator("footer.thumb .primary")).to_be_in_viewport(ratio=1.0)


FIRST_INPUT = """() => {
    const bar = document.querySelector("footer.thumb").getBoundingClientRect().top;
    const boxes = "#step-form :is(input:not([type=hidden]), select, textarea)";
    const first = [...document.querySelectorAll(boxes)].find(e => e.getClientRects().length);
    const answer = document.querySelector("footer.thumb button[name=decision]");
    if (answer !== null) {
        return answer.getBoundingClientRect().bottom <= innerHeight ? "in sight" : "below";
    }
    // An alert goes before everything.
    if (first === undefined || document.querySelector(".alert") !== null) return "";
    const end = first.getBoundingClientRect().bottom;
    return end <= bar ? "in sight" : `${first.name} ends at ${end}, the bar begins at ${bar}`;
}"""


def test_the_first_input_of_every_form_is_in_sight_without_scrolling(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    server.stop()
    put_demo_sessions(server.data)
    page = open_phone(start_server(server.data, server.port).url)
    told = {}
    for path in pages_of(page):
        if "/step/" in path:
            page.goto(path)
            told[path.rpartition("/")[2]] = page.evaluate(FIRST_INPUT)
    asked = {step: seen for step, seen in told.items() if seen}
    assert {step: seen for step, seen in asked.items() if seen != "in sight"} == {}
    assert len(asked) >= 12
