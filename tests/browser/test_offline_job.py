"""A whole job on a phone that saw the server once, in every engine that is asked for."""

import urllib.request
from typing import TYPE_CHECKING

import hands
import pytest
from engines import Browser
from test_main_job import replayed
from waiting import until

from lowside.procedures import load_procedures

if TYPE_CHECKING:
    from conftest import Server, StartServer

PAGE = "async path => (await fetch(path)).text()"


def test_a_whole_job_without_the_server_reaches_the_office_with_the_same_figures(
    start_server: "StartServer", browser: Browser, request: pytest.FixtureRequest
) -> None:
    server = start_server(offline=True)
    browser.open(server.url)
    expect_link(browser, "Ready for offline")
    server.kill()

    sid = hands.begin(browser)
    moves = hands.scenario_named("roof-unit-r410a").moves
    third = len(moves) // 3
    for number, move in enumerate(moves, start=1):
        hands.make(browser, move)
        before = browser.read("h1")
        if number in (third, 2 * third):
            browser.reload()
            assert browser.read("h1") == before
        if number == len(moves) // 2 and browser.remembers:
            browser.kill()
            browser.start()
            browser.open(f"{server.url}/s/{sid}")
            assert browser.read("h1") == before
    assert browser.read("h1") == "Session record"
    on_phone = hands.figures(browser)
    assert len(on_phone) == 2
    record = browser.read("main")

    stores = [{"data": server.data}]
    if browser.engine == "chromium":
        # Then to another store, in a database: the phone gives it all it holds.
        owner = request.getfixturevalue("cluster").address("lowside")
        stores.append({"data": server.data.with_name("beside"), "owner": owner})
    for kept in stores:
        server = start_server(port=server.port, offline=True, **kept)
        browser.open(f"{server.url}/s/{sid}/ticket")
        expect_link(browser, "Ready for offline")
        assert browser.read("main") == record
        # What another server had acknowledged is offered again after the page is there.
        until(lambda kept=server: is_closed(kept), "the server has the whole session")
        # The same page, once from the phone and once from the server.
        assert browser.evaluate(PAGE, f"/s/{sid}/ticket") == asked(f"{server.url}/s/{sid}/ticket")
        browser.open(f"{server.url}/office/session/{sid}")
        assert hands.figures(browser) == on_phone
        server.kill()


def is_closed(server: "Server") -> bool:
    """Whether the store has the session to its end."""
    if next((server.records() / "sessions").rglob("*.jsonl"), None) is None:
        return False
    return replayed(server)[-1]["closed"] is True


MISSING = """async paths => {
    const wanted = new Map();
    const inside = /(?:^import[^"'(]*|url\\()["']([^"']+)["']/gm;
    for (const path of paths) {
        const answer = await fetch(path);
        if (!answer.ok) return [`${path} was answered with ${answer.status}`];
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        for (const element of page.querySelectorAll("link[href], [src], use[href], image[href]")) {
            const address = element.getAttribute("src") ?? element.getAttribute("href");
            wanted.set(new URL(address, location.href).href, path);
        }
    }
    const missing = [];
    for (const [address, path] of wanted) {
        try {
            // Not what the browser itself happens to have kept: that may be gone tomorrow.
            const answer = await fetch(address, { cache: "no-store" });
            if (!answer.ok) throw new Error(String(answer.status));
            if (!/[.](js|css)$/.test(address)) continue;
            for (const [, other] of (await answer.text()).matchAll(inside)) {
                wanted.set(new URL(other, address).href, address);
            }
        } catch (error) {
            missing.push(`${address} of ${path}: ${error}`);
        }
    }
    if (wanted.size < 7) missing.push(`only ${[...wanted.keys()]} were asked for`);
    return missing;
}"""


def test_no_page_asks_for_anything_outside_the_offline_copy(
    start_server: "StartServer", browser: Browser
) -> None:
    server = start_server(offline=True)
    browser.open(server.url)
    expect_link(browser, "Ready for offline")
    server.kill()
    sid = hands.begin(browser)
    moves = hands.scenario_named("roof-unit-r410a").moves
    for move in moves[: [one.step for one in moves].index("purge_low")]:
        hands.make(browser, move)
    steps = load_procedures()["hand-valved-three-port"].steps
    pages = [f"/s/{sid}/step/{step.id}" for step in steps]
    pages += [f"/s/{sid}/{rest}" for rest in ("timeline", "ticket", "hoses/purge_low")]
    pages += [f"/s/{sid}/form/{name}" for name in ("reading", "note", "units")]
    assert browser.evaluate(MISSING, ["/", f"/s/{sid}", *pages]) == []


def expect_link(browser: Browser, words: str) -> None:
    """Wait until the page says so about the server."""
    until(lambda: words in browser.read("#link"), f"the page says: {words}")


def asked(url: str) -> str:
    """A page as the server renders it, asked past the phone's worker."""
    with urllib.request.urlopen(url, timeout=30) as answer:
        return bytes(answer.read()).decode()
