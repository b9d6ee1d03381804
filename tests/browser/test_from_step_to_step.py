"""After a save the eyes are at the top, the focus is on the new heading, and Back is one step."""

from typing import TYPE_CHECKING

from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from .conftest import Server

FOCUSED = "document.activeElement.tagName + ' ' + document.activeElement.innerText"


def begin(page: Page) -> None:
    page.goto("/")
    page.get_by_role("button", name="Start a session").click()
    expect(page.get_by_role("heading", name="Job and site")).to_be_visible()


def save_job(page: Page) -> None:
    page.get_by_label("Site", exact=True).fill("Larkfield")
    page.get_by_label("Unit", exact=True).fill("AC-2")
    page.get_by_label("Technician").fill("I. Varga")
    page.get_by_label("Elevation of the site").fill("0")
    page.locator('button[form="step-form"]').click()


def test_the_focus_is_on_the_new_heading_and_the_banner_in_sight(phone: Page) -> None:
    begin(phone)
    phone.locator('[name="elevation"]').scroll_into_view_if_needed()
    save_job(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    phone.wait_for_function(FOCUSED + " === 'H2 The unit’s nameplate'")
    expect(phone.locator("#link")).to_be_in_viewport(ratio=1.0)
    heading = phone.locator(".walk-now").bounding_box()
    footer = phone.locator("footer.thumb").bounding_box()
    assert heading is not None
    assert footer is not None
    assert heading["y"] + heading["height"] <= footer["y"]


def test_a_refused_form_shows_the_field_and_a_reload_keeps_what_was_typed(phone: Page) -> None:
    begin(phone)
    phone.get_by_label("Technician").fill("I. Varga")
    phone.locator('[name="elevation"]').fill("5,280")
    phone.locator('button[form="step-form"]').click()
    expect(phone.locator("#elevation-problem")).to_be_visible()
    expect(phone.locator("[aria-invalid]").first).to_be_in_viewport()
    phone.reload()
    expect(phone.get_by_label("Technician")).to_have_value("I. Varga")
    expect(phone.locator('[name="elevation"]')).to_have_value("5,280")
    expect(phone.get_by_text("Not saved yet. This is what you typed.")).to_be_visible()


def test_back_shows_each_page_once(phone: Page, server: "Server") -> None:
    begin(phone)
    save_job(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    phone.locator('[name="refrigerant"]').select_option("R-410A")
    for name, value in (("metering", "txv"), ("coil", "tube_fin"), ("receiver", "no")):
        phone.locator(f'[name="{name}"][value="{value}"]').check()
    phone.locator('button[form="step-form"]').click()
    expect(phone.locator(".walk-now")).to_have_text("Unit type and mode")
    phone.go_back()
    expect(phone.get_by_role("button", name="Start a session")).to_be_visible()
    assert phone.url.rstrip("/") == server.url


def test_the_keyboards_key_leads_through_the_boxes_and_a_key_types_the_unit(phone: Page) -> None:
    begin(phone)
    phone.get_by_label("Site", exact=True).fill("Larkfield")
    phone.get_by_label("Site", exact=True).press("Enter")
    phone.wait_for_function("document.activeElement.name === 'unit_label'")
    expect(phone.get_by_role("heading", name="Job and site")).to_be_visible()
    save_job(phone)
    expect(phone.get_by_role("heading", name="The unit’s nameplate")).to_be_visible()
    box = phone.locator('[name="nameplate_charge"]')
    box.fill("7")
    phone.locator('.field:has([name="nameplate_charge"]) [data-key=" lb "]').click()
    phone.keyboard.type("8")
    expect(box).to_have_value("7 lb 8")
    # A key of the last visit, as `field` in _parts.html has it: one box, and the eyes stay there.
    same = phone.locator('.field:has([name="nameplate_charge"]) [data-key=" lb "]')
    same.evaluate(
        "key => { delete key.dataset.key; key.dataset.same = '6'; key.dataset.stay = ''; }"
    )
    phone.locator("[data-stay]").click()
    expect(box).to_have_value("6")
    expect(box).to_be_focused()
