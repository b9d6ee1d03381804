"""An answer that is none of ours costs nothing that was typed; what was recorded is no draft.

Each source is common practice, no source: a proxy that is full, away or in the way answers with a
page of its own.
"""

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, Route, expect
from test_typing_is_kept import RESTORED, save, start, type_job
from waiting import until

from lowside.rendering import render
from lowside.web.access.guard import BUSY
from lowside.web.time_limit import TOO_LONG

if TYPE_CHECKING:
    from .conftest import OpenPhone, Server, StartServer

PROXY = "<html><head><title>502 Bad Gateway</title></head><body><h1>Bad gateway</h1></body></html>"
OWN = render("access/refused.html", {"title": "Not now", "text": BUSY})
SAID = " It may not be saved. What you typed is still here. Tap again: it is saved once."
WORDS = "Forty minutes of typing"


def drafts(page: Page) -> list[str]:
    """The names of what is kept, without the session."""
    kept = page.evaluate("Object.keys(localStorage).filter(name => name.startsWith('draft'))")
    return [name.rsplit("/", 1)[1] for name in kept]


def written(server: "Server", kind: str) -> int:
    (path,) = (server.data / "sessions").rglob("*.jsonl")
    return path.read_text("utf-8").count(f'"{kind}"')


def answer(page: Page, status: int, body: str, kind: str) -> None:
    """Let the next forms be answered so by somebody between, who passes nothing on."""

    def instead(route: Route) -> None:
        route.fulfill(status=status, body=body, content_type=kind)

    page.route("**/form/*", instead)


@pytest.mark.parametrize(
    ("status", "body", "kind", "named"),
    [
        (502, PROXY, "text/html", "502 Bad Gateway"),
        (413, "", "text/html", "413"),
        (429, "slow down", "text/plain", "429"),
        (503, OWN, "text/html", "Not now · Lowside"),
        (503, TOO_LONG, "text/plain", "503"),
        (200, PROXY, "text/html", "502 Bad Gateway"),
    ],
    ids=["proxy", "empty", "text", "own", "own text", "portal"],
)
def test_a_form_answered_without_a_page_stays_as_it_is_also_after_a_reload(
    phone: Page, server: "Server", status: int, body: str, kind: str, named: str
) -> None:
    url = start(phone)
    type_job(phone)
    answer(phone, status, body, kind)
    save(phone)
    expect(phone.get_by_text(f"The server answered “{named}”.{SAID}")).to_be_visible()
    expect(phone.get_by_label("Site", exact=True)).to_have_value("Larkfield School")
    assert phone.url == url
    assert drafts(phone) == ["job"]
    phone.reload()
    expect(phone.get_by_text(RESTORED)).to_be_visible()
    expect(phone.get_by_label("Technician")).to_have_value("I. Varga")
    assert drafts(phone) == ["job"]
    phone.unroute("**/form/*")
    save(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    until(lambda: drafts(phone) == [], "the draft is gone", phone.wait_for_timeout)
    assert written(server, "job.set") == 1


def test_a_form_too_large_for_the_server_is_still_there(phone: Page) -> None:
    phone.goto(start(phone) + "/form/note")
    phone.locator("textarea").fill("x" * 2_000_000)
    save(phone)
    expect(phone.get_by_text(f"The server answered “Too large · Lowside”.{SAID}")).to_be_visible()
    expect(phone.locator("textarea")).to_have_value("x" * 2_000_000)


def test_a_session_that_is_not_here_costs_no_draft(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    page = open_phone(server.url)
    url = start(page)
    page.goto(url + "/form/note")
    page.locator("textarea").fill(WORDS)
    server.stop()
    sessions = server.data / "sessions"
    sessions.rename(server.data / "aside")
    server = start_server(server.data.with_name("other"), server.port)
    save(page)
    expect(page.locator(".page-missing")).to_be_visible()
    assert drafts(page) == ["note"]


def test_what_was_kept_before_its_answer_was_lost_is_kept_once(
    phone: Page, server: "Server"
) -> None:
    url = start(phone) + "/form/note"
    phone.goto(url)
    phone.locator("textarea").fill(WORDS)

    def lose(route: Route) -> None:
        route.fetch(max_redirects=0)
        route.abort()

    phone.route("**/form/note", lose)
    save(phone)
    expect(phone.get_by_text("No answer from the server." + SAID)).to_be_visible()
    assert written(server, "note.added") == 1
    context = phone.context
    phone.close()
    again = context.new_page()
    again.goto(url)
    expect(again.get_by_text(RESTORED)).to_be_visible()
    expect(again.locator("textarea")).to_have_value(WORDS)
    save(again)
    expect(again.get_by_role("heading", name="Job and site")).to_be_visible()
    assert drafts(again) == []
    assert written(server, "note.added") == 1
    # The next one is another.
    again.goto(url)
    again.locator("textarea").fill(WORDS)
    save(again)
    expect(again.get_by_role("heading", name="Job and site")).to_be_visible()
    assert written(server, "note.added") == 2


def test_a_page_that_was_asked_for_is_not_said_to_be_saved(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    page = open_phone(server.url)
    start(page)
    server.kill()
    ask = """() => htmx.ajax("GET", location.pathname,
        { target: "#page", select: "#page", swap: "outerHTML" })"""
    page.evaluate(ask)
    expect(page.locator(".page-note")).to_have_text("No answer from the server.")


def fill_unit(page: Page) -> None:
    page.locator('[name="refrigerant"]').select_option("R-410A")
    for name, value in (
        ("metering", "txv"),
        ("coil", "tube_fin"),
        ("receiver", "no"),
        ("mode", "cooling"),
        ("compressor", "full"),
        ("kind", "split"),
        ("method", "subcooling"),
    ):
        page.locator(f'[name="{name}"][value="{value}"]').check()
    page.locator('[name="nameplate_charge"]').fill("10 lb")


def test_the_part_of_a_page_that_was_recorded_is_no_draft(phone: Page, server: "Server") -> None:
    url = start(phone)
    type_job(phone)
    save(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    fill_unit(phone)
    phone.locator('[name="maker_subcooling"]').fill("ten")
    save(phone)
    expect(phone.locator("#maker_subcooling-problem")).to_be_visible()
    assert written(server, "unit.set") == 1
    assert drafts(phone) == ["target"]
    # What was refused is kept under its own name.
    phone.goto(url)
    expect(phone.locator('[name="maker_subcooling"]')).to_have_value("ten")
    phone.locator('[name="maker_subcooling"]').fill("10")
    save(phone)
    until(lambda: drafts(phone) == [], "no draft is left", phone.wait_for_timeout)
    phone.goto(url + "/step/unit")
    expect(phone.locator('[name="refrigerant"]')).to_have_value("R-410A")
    expect(phone.get_by_text(RESTORED)).to_have_count(0)


@pytest.mark.parametrize("beside", [True, False])
def test_a_refused_form_is_still_a_draft_wherever_the_reason_stands(
    phone: Page, beside: bool
) -> None:
    start(phone)
    type_job(phone)
    phone.get_by_label("Elevation of the site").fill("5,280")

    def move_the_reason(route: Route) -> None:
        answered = route.fetch()
        body = answered.text()
        if not beside:
            body = body.replace('class="problem"', 'class="reason"')
        route.fulfill(response=answered, body=body)

    phone.route("**/form/job", move_the_reason)
    save(phone)
    expect(phone.locator("#elevation-problem")).to_be_visible()
    assert drafts(phone) == ["job"]
