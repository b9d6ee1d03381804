"""A page of another site sends a form to the phone's own address: the worker does not take it.

How a worker sees where a form comes from: the referrer of a navigation, which a page of ours always
sends to its own site (`Referrer-Policy: same-origin`; Fetch standard, "determine request's
referrer"). Each engine is asked, as the standard alone is no proof.
"""

from typing import TYPE_CHECKING, Any

import engines
import hands
import pytest
from engines import Browser
from pocket_phone import eid_of
from waiting import until

if TYPE_CHECKING:
    from conftest import StartServer

KINDS = """() => new Promise((resolve, reject) => {
    const opening = indexedDB.open("lowside");
    opening.onerror = () => reject(opening.error);
    opening.onsuccess = () => {
        const asked = opening.result.transaction("events").objectStore("events").getAll();
        asked.onsuccess = () => {
            opening.result.close();
            resolve(asked.result.map(event => event.kind));
        };
        asked.onerror = () => reject(asked.error);
    };
})"""
REFUSED = "This form was not sent from Lowside’s own page."
WITHOUT_SCRIPT = """() => {
    const form = document.querySelector('form[action="/start"]');
    HTMLFormElement.prototype.submit.call(form);
}"""
"""As a page posts whose script did not come: no submit event, so a navigation."""


def ready(browser: Browser, url: str) -> None:
    browser.open(url)
    until(
        lambda: "Ready for offline" in browser.read("#link"),
        "the worker is in charge",
    )


def kinds(browser: Browser) -> list[Any]:
    return list(browser.evaluate(KINDS))


def test_our_own_form_is_kept_also_without_its_script(
    start_server: "StartServer", browser: Browser
) -> None:
    server = start_server(offline=True)
    ready(browser, server.url)
    server.kill()
    browser.evaluate(WITHOUT_SCRIPT)
    browser.wait('form[action$="/form/job"]')
    assert kinds(browser) == ["session.started"]
    # The form that follows was made by the worker.
    browser.type('[name="technician"]', "I. Varga")
    browser.evaluate("() => HTMLFormElement.prototype.submit.call(document.forms[0])")
    browser.wait(".field-wrong")
    assert browser.value('[name="technician"]') == "I. Varga"


@pytest.mark.parametrize("policy", ["unsafe-url", "no-referrer"])
def test_a_form_of_another_site_is_not_kept(
    start_server: "StartServer", browser: Browser, policy: str
) -> None:
    server = start_server(offline=True)
    ready(browser, server.url)
    page = f"""<!doctype html><meta name="referrer" content="{policy}">
    <form method="post" action="{server.url}/start">
    <input name="sid" value="{eid_of(1)}"><input name="eid" value="{eid_of(2)}">
    <input name="procedure" value="self-closing-three-port"><button>Win</button></form>"""
    with engines.served({"/index.html": page.encode()}) as site:
        browser.open(site.replace("localhost", "127.0.0.1"))
        browser.tap("button")
        until(lambda: REFUSED in browser.read("body"), "the server refuses it")
    browser.open(server.url)
    assert kinds(browser) == []
    assert not list((server.data / "sessions").rglob("*.jsonl"))
    # The phone goes on as before.
    hands.begin(browser)
    until(lambda: kinds(browser) == ["session.started"], "its own is kept")
