"""What was typed is not lost: not by a reload, a closed tab, a refusal or a server that is gone."""

import re
import subprocess
from typing import TYPE_CHECKING

from playwright.sync_api import Locator, Page, expect
from waiting import until

from lowside.demo import put_demo_sessions

if TYPE_CHECKING:
    from .conftest import OpenPhone, Server, StartServer

RESTORED = "Not saved yet. This is what you typed."
UNSENT = "It may not be saved. What you typed is still here."

AN_HOUR_LATER = """() => {
    for (const name of Object.keys(localStorage)) {
        const draft = JSON.parse(localStorage.getItem(name));
        if (name.startsWith("draft")) draft[""][1] -= 3600 * 1000;
        localStorage.setItem(name, JSON.stringify(draft));
    }
}"""


def start(page: Page) -> str:
    """A new session at its first step; its address."""
    page.goto("/")
    page.get_by_role("button", name="Start a session").click()
    expect(page.get_by_role("heading", name="Job and site")).to_be_visible()
    expect(page).to_have_url(re.compile(r"/s/[^/]+$"))
    return page.url


def save(page: Page) -> None:
    page.locator('button[form="step-form"]').click()


def type_job(page: Page) -> None:
    page.get_by_label("Site", exact=True).fill("Larkfield School")
    page.get_by_label("Unit", exact=True).fill("AC-2")
    page.get_by_label("Technician").fill("I. Varga")
    page.get_by_label("Elevation of the site").fill("0")


def test_a_reload_keeps_what_was_typed_and_says_it_is_not_saved(phone: Page) -> None:
    start(phone)
    type_job(phone)
    phone.reload()
    expect(phone.get_by_label("Site", exact=True)).to_have_value("Larkfield School")
    expect(phone.get_by_text(RESTORED)).to_be_visible()


def test_a_closed_tab_keeps_what_was_typed(phone: Page) -> None:
    url = start(phone)
    type_job(phone)
    context = phone.context
    phone.close()
    again = context.new_page()
    again.goto(url)
    expect(again.get_by_label("Technician")).to_have_value("I. Varga")
    expect(again.get_by_text(RESTORED)).to_be_visible()


def test_a_choice_and_a_folded_field_are_kept_too(phone: Page) -> None:
    start(phone)
    type_job(phone)
    save(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    phone.locator('[name="refrigerant"]').select_option("R-454B")
    phone.locator('[name="metering"][value="eev"]').check()
    phone.locator("details.more summary").first.click()
    phone.locator('[name="line_length"]').fill("12,5")
    phone.reload()
    expect(phone.locator('[name="refrigerant"]')).to_have_value("R-454B")
    expect(phone.locator('[name="metering"][value="eev"]')).to_be_checked()
    expect(phone.locator('[name="line_length"]')).to_have_value("12,5")
    expect(phone.locator('[name="line_length"]')).to_be_visible()


def test_a_draft_is_gone_once_it_is_saved(phone: Page) -> None:
    url = start(phone)
    type_job(phone)
    save(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    until(lambda: drafts(phone) == [], "the draft is gone", phone.wait_for_timeout)
    phone.goto(url + "/step/job")
    expect(phone.get_by_label("Site", exact=True)).to_have_value("Larkfield School")
    expect(phone.get_by_text(RESTORED)).to_have_count(0)


def drafts(page: Page) -> list[str]:
    kept = page.evaluate("Object.keys(localStorage).filter(name => name.startsWith('draft'))")
    return list(kept)


def test_a_refused_form_keeps_everything_and_shows_what_is_wrong(phone: Page) -> None:
    start(phone)
    phone.get_by_label("Site", exact=True).fill("Larkfield School")
    phone.get_by_label("Technician").fill("I. Varga")
    phone.get_by_label("Elevation of the site").fill("5,280")
    save(phone)
    problem = phone.locator("#elevation-problem")
    expect(problem).to_contain_text("can be read two ways")
    expect(phone.locator("#unit_label-problem")).to_be_in_viewport()
    expect(phone.get_by_label("Site", exact=True)).to_have_value("Larkfield School")
    expect(phone.get_by_label("Elevation of the site")).to_have_value("5,280")
    phone.get_by_label("Unit", exact=True).fill("AC-2")
    phone.get_by_label("Elevation of the site").fill("5280")
    save(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()


def test_a_server_that_is_gone_is_said_and_nothing_is_lost(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server: Server = start_server()
    page = open_phone(server.url)
    start(page)
    type_job(page)
    server.kill()
    save(page)
    expect(page.get_by_text(UNSENT)).to_be_visible()
    expect(page.get_by_label("Site", exact=True)).to_have_value("Larkfield School")
    start_server(server.data, server.port)
    save(page)
    expect(page.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    listed = subprocess.run(
        ["cat", *map(str, (server.data / "sessions").rglob("*.jsonl"))],
        capture_output=True,
        text=True,
        check=True,
    )
    assert listed.stdout.count("job.set") == 1


def test_two_taps_on_save_record_one_entry(phone: Page, server: "Server") -> None:
    start(phone)
    type_job(phone)
    phone.locator('button[form="step-form"]').dblclick()
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    phone.wait_for_load_state("networkidle")
    (path,) = (server.data / "sessions").rglob("*.jsonl")
    assert path.read_text("utf-8").count("job.set") == 1


TAP_AGAIN = """() => document.addEventListener("htmx:after:swap", () => {
    document.querySelector('button[form="step-form"]').click();
}, { once: true })"""


def test_a_tap_on_a_filled_form_that_just_came_up_does_nothing(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server: Server = start_server()
    server.stop()
    put_demo_sessions(server.data)
    page = open_phone(start_server(server.data, server.port).url)
    url = start(page)
    page.get_by_label("Site", exact=True).fill("Larkfield Primary School")
    page.get_by_label("Unit", exact=True).fill("AC-2 roof east")
    page.get_by_label("Technician").fill("I. Varga")
    page.get_by_label("Elevation of the site").fill("0")
    page.evaluate(TAP_AGAIN)
    save(page)
    expect(page.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    expect(page.locator('[name="nameplate_charge"]')).not_to_have_value("")
    page.wait_for_load_state("networkidle")
    (path,) = (server.data / "sessions").rglob(url.rsplit("/", 1)[1] + ".jsonl")
    assert "unit.set" not in path.read_text("utf-8")


def test_the_time_of_an_open_shot_runs(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    page = open_session(start_server, open_phone)
    page.locator('button[form="shot-form"]').click()
    clock = page.locator(".clock-open .clock-time")
    first = seconds(clock)
    until(lambda: seconds(clock) > first, "it runs", page.wait_for_timeout)
    shown = seconds(clock)
    page.reload()
    assert seconds(clock) >= shown, "what the server knows is not younger than what was shown"


def seconds(clock: Locator) -> int:
    minutes, rest = clock.inner_text().split(":")
    return int(minutes) * 60 + int(rest)


def open_session(start_server: "StartServer", open_phone: "OpenPhone") -> Page:
    """The demo's open session at its charging page, decided to add."""
    server = start_server()
    server.stop()
    put_demo_sessions(server.data)
    server = start_server(server.data, server.port)
    page = open_phone(server.url)
    page.goto("/")
    page.locator(".slip").first.click()
    page.wait_for_url("**/s/**")
    return page


def test_a_draft_keeps_its_unit_when_the_session_has_another(phone: Page) -> None:
    url = start(phone)
    type_job(phone)
    save(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    phone.goto(url + "/step/target")
    phone.locator('[name="method"][value="subcooling"]').check()
    phone.locator('[name="maker_subcooling"]').fill("10")
    phone.goto(url + "/form/units")
    phone.locator('[name="temperature"][value="°C"]').check()
    save(phone)
    expect(phone.locator('[name="temperature"]')).to_have_count(0)
    phone.goto(url + "/step/target")
    box = phone.locator('[data-field="maker_subcooling"]')
    expect(box.locator('[name="maker_subcooling"]')).to_have_value("10")
    expect(box.locator('[name="maker_subcooling_unit"]')).to_have_value("°F")
    expect(box.locator(".unit")).to_have_text("°F")
    expect(phone.locator('[data-field="papers_indoor_highest"] .unit')).to_have_text("°C")


def test_a_reading_typed_before_a_shot_is_told_and_not_filled_in(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    page = open_session(start_server, open_phone)
    charging = page.url
    reading = page.locator("a.tool", has_text="Reading").get_attribute("href")
    assert reading is not None
    page.goto(reading)
    page.locator('[name="suction_pressure"]').fill("118")
    page.goto(reading)
    expect(page.locator('[name="suction_pressure"]')).to_have_value("118")
    page.goto(charging)
    page.locator('button[form="shot-form"]').click()
    expect(page.locator(".clock-open .clock-time")).to_be_visible()
    page.goto(reading)
    expect(page.locator('[name="suction_pressure"]')).to_have_value("")
    expect(page.locator(".page-note")).to_contain_text("Suction pressure 118 psig")


def test_a_reading_typed_long_ago_is_told_and_not_filled_in(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    page = open_session(start_server, open_phone)
    reading = page.locator("a.tool", has_text="Reading").get_attribute("href")
    assert reading is not None
    page.goto(reading)
    page.locator('[name="liquid_line"]').fill("103.7")
    page.evaluate(AN_HOUR_LATER)
    page.reload()
    expect(page.locator('[name="liquid_line"]')).to_have_value("")
    expect(page.locator(".page-note")).to_contain_text("Liquid line temperature 103.7 °F")
