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
WIDE = """() => document.documentElement.scrollWidth <= innerWidth ? [] :
    [...document.querySelectorAll('body *')]
      .filter(e => e.getBoundingClientRect().right > innerWidth + 1)
      .map(e => e.tagName + '.' + e.className).slice(0, 5)"""


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
    // An alert goes before everything, and a phone at work has its offline copy: measured without.
    document.querySelectorAll(".alert, .ahead").forEach(one => { one.hidden = true; });
    const link = document.getElementById("link");
    link.className = "link link-quiet";
    link.textContent = "All sent";
    const bar = document.querySelector("footer.thumb").getBoundingClientRect().top;
    const boxes = "main form.entry :is(input:not([type=hidden]), select, textarea), button.slip";
    const first = [...document.querySelectorAll(boxes)].find(e => e.getClientRects().length);
    const told = [];
    const line = document.querySelector("main .do li, main .next h2");
    if (line !== null && line.getBoundingClientRect().bottom > bar) told.push("the instruction");
    const answer = document.querySelector("footer.thumb button[name=decision]");
    if (answer !== null || first === undefined) return told;
    const box = first.getBoundingClientRect();
    const end = first.matches("button") ? box.top + 48 : box.bottom;
    // Beside the shots the advice is the answer; the scale's reading before one is optional.
    if (end > bar && first.name !== "scale_before") told.push(`${first.name} ends at ${end}`);
    return told;
}"""
LARGE_TEXT = """() => {
    document.documentElement.style.fontSize = "200%";
    const bar = document.querySelector("footer.thumb");
    const stays = getComputedStyle(bar).position === "sticky";
    const told = [];
    if (stays && bar.offsetHeight > innerHeight / 3) told.push(`bar ${bar.offsetHeight} high`);
    const wide = document.documentElement.scrollWidth;
    if (wide > innerWidth) told.push(`${wide} px wide`);
    document.documentElement.style.fontSize = "";
    return told;
}"""

VALVE_IN_SIGHT = """() => {
    const bar = document.querySelector("footer.thumb").getBoundingClientRect().top;
    const wanted = [".shot-word", ".shot .clock-time", ".shot-limit", ".shot-stop b"];
    const cut = [...document.querySelectorAll(".thumb-valve button")]
        .filter(one => one.scrollWidth > one.clientWidth).map(one => one.innerText);
    return cut.concat(wanted.filter(one => {
        const { bottom, right } = document.querySelector(one).getBoundingClientRect();
        return bottom > bar || right > innerWidth;
    }));
}"""
ACT_IN_SIGHT = """() => {
    document.querySelectorAll(".alert, .ahead").forEach(one => { one.hidden = true; });
    const link = document.getElementById("link");
    link.className = "link link-quiet";
    link.textContent = "All sent";
    const bar = document.querySelector("footer.thumb").getBoundingClientRect().top;
    return document.querySelector("main .do li").getBoundingClientRect().bottom <= bar;
}"""
"""The practice unit's instruments take a part of the screen: the act is in sight, not the box."""


def test_every_page_fits_a_gloved_thumb_with_answer_and_act_in_sight_and_large_text_uncovered(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    server.stop()
    put_demo_sessions(server.data)
    page = open_phone(start_server(server.data, server.port).url)
    pages = pages_of(page)
    base = pages[-7]
    procedure = load_procedures()[PROCEDURE]
    off = (*procedure.off_steps, *procedure.walk_steps)
    pages += [f"{base}/step/{step.id}" for step in off]
    below: list[tuple[str, int, list[str]]] = []
    covered: list[tuple[str, int, list[str]]] = []
    small: list[tuple[str, Any]] = []
    targets = 0
    for path in pages:
        page.goto(path)
        about = path.rsplit("/s/", 1)[-1][26:]
        for width, height in ((320, 568), (360, 740)):
            page.set_viewport_size({"width": width, "height": height})
            covered.append((about, width, page.evaluate(LARGE_TEXT)))
            if "/step/" in path:
                below.append((about, width, page.evaluate(FIRST_INPUT)))
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
        found = page.evaluate(TARGETS)
        targets += len(found)
        small += [(about, one) for one in found if min(one["height"], one["width"]) < THUMB_PX]
        covered.append((about, 0, page.evaluate(WIDE)))
    page.goto(base)
    cut = "[...document.querySelectorAll('.whole')].filter(e => e.getClientRects().length > 1)"
    assert page.locator(".whole", has_text="°F").count() > 0
    assert page.evaluate(f"{cut}.map(e => e.textContent)") == []
    page.locator('button[form="shot-form"]').click()
    page.locator(".shot-word").wait_for()
    assert page.evaluate(LARGE_TEXT) == []
    close = page.get_by_role("button", name="Valve closed")
    expect(close).to_be_in_viewport(ratio=1.0)
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    expect(close).to_be_in_viewport(ratio=1.0)
    for width, height in ((360, 740), (320, 568)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(VALVE_IN_SIGHT) == [], width
    page.goto("/practice")
    page.get_by_role("button", name="Start the lesson").click()
    page.wait_for_url("**/practice/s/**")
    lesson = page.url
    for step in ("unit", "purge_low", "baseline"):
        page.goto(f"{lesson}/step/{step}")
        assert page.evaluate(ACT_IN_SIGHT), step
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true })")
        found = page.evaluate(TARGETS)
        small += [(step, one) for one in found if min(one["height"], one["width"]) < THUMB_PX]
    assert [each for each in below if each[2]] == []
    assert [each for each in covered if each[2]] == []
    assert small == []
    assert len(below) > 80
    assert targets > 300
