"""A whole session on a phone-sized screen, from home to record, and what is left of it after."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

from lowside.core.numbers.units import show
from lowside.demo import Move, Scenario, scenarios

if TYPE_CHECKING:
    from .conftest import OpenPhone, Server, StartServer

SHOTS = os.environ.get("LOWSIDE_SCREENSHOTS")
"""Folder for a picture of every screen, to be looked at; none are taken without it."""


def scenario_named(name: str) -> Scenario:
    return next(scenario for scenario in scenarios() if scenario.name == name)


@pytest.mark.parametrize(
    ("name", "metering", "color_scheme"),
    [("roof-unit-r410a", "TXV", "light"), ("garden-unit-r22", "fixed orifice", "dark")],
)
def test_a_session_from_home_to_record_leaves_the_same_figures_everywhere(
    name: str,
    metering: str,
    color_scheme: str,
    open_phone: "OpenPhone",
    start_server: "StartServer",
) -> None:
    server = start_server()
    scenario = scenario_named(name)
    page = open_phone(server.url, color_scheme)
    page.goto("/")
    picture(page, name, "home")
    page.get_by_role("button", name="Start a session").click()
    page.wait_for_url("**/s/**")
    for number, move in enumerate(scenario.moves, start=1):
        make(page, move, name, number)
    expect(page.get_by_role("heading", name="Session record")).to_be_visible()
    expect(page.get_by_text("Closed ")).to_be_visible()
    expect(page.get_by_text(metering)).to_be_visible()
    picture(page, name, "record")
    on_phone = figures(page)
    assert len(on_phone) == 2

    last = replayed(server)[-1]
    assert last["closed"] is True
    assert on_phone["Superheat"] == fahrenheit(last["superheat_k"])
    assert on_phone["Subcooling"] == fahrenheit(last["subcooling_k"])
    assert last["verdict"] == "on_target"

    office = open_phone(server.url, color_scheme)
    office.set_viewport_size({"width": 1280, "height": 900})
    office.goto("/office")
    picture(office, name, "office-list")
    office.get_by_role("link", name=scenario_typed(scenario, "job")["unit_label"]).click()
    expect(office.locator("#chart canvas")).to_be_visible()
    assert figures(office) == on_phone
    picture(office, name, "office-session")
    office.goto("/office/cylinders")
    expect(
        office.get_by_role("heading", name=scenario_typed(scenario, "cylinder")["cylinder_label"])
    ).to_be_visible()
    picture(office, name, "office-cylinders")


def make(page: Page, move: Move, name: str, number: int) -> None:
    """Fill in and send one form as a technician would reach it."""
    if move.form == "reading" and move.step == "":
        page.get_by_role("link", name="Take a reading").click()
        expect(page.get_by_role("heading", name="Reading")).to_be_visible()
    picture(page, name, f"{number:02d}-{move.step or move.form}")
    form = page.locator(f'form[action$="/form/{move.form}"]').first
    expect(form).to_be_attached()
    for more in form.locator("details").all():
        more.evaluate("element => { element.open = true }")
    for field, text in move.typed.items():
        if field.endswith("_unit"):
            assert form.locator(f'[name="{field}"]').input_value() == text
            continue
        fill(page, field, text)
    eid = form.locator('[name="eid"]').input_value()
    send = page.locator('button[form="step-form"], button[form="shot-form"]')
    if move.form == "done":
        form.get_by_role("button").click()
    else:
        send.first.click()
    expect(page.locator(f'[name="eid"][value="{eid}"]')).to_have_count(0)
    expect(page.locator(".problem")).to_have_count(0)


def fill(page: Page, name: str, text: str) -> None:
    locator = page.locator(f'[name="{name}"]')
    tag = locator.first.evaluate("element => element.tagName + ' ' + element.type")
    if tag.startswith("SELECT"):
        locator.first.select_option(text)
    elif tag.endswith("radio"):
        page.locator(f'[name="{name}"][value="{text}"]').check()
    else:
        locator.first.fill(text)


def figures(page: Page) -> dict[str, str]:
    """Name and value of each big figure."""
    return {
        figure.locator("h2").inner_text(): figure.locator(".figure-value b").inner_text()
        for figure in page.locator(".figure").all()
    }


def fahrenheit(kelvin: float) -> str:
    return show("temperature_difference", kelvin, "°F")


def replayed(server: "Server") -> list[dict[str, object]]:
    """What `lowside replay` says of the one session in the store."""
    (path,) = (server.data / "sessions").rglob("*.jsonl")
    command = [sys.executable, "-m", "lowside", "replay", str(path), "--json"]
    output = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return [json.loads(line) for line in output.splitlines()]


def scenario_typed(scenario: Scenario, form: str) -> dict[str, str]:
    return dict(next(move.typed for move in scenario.moves if move.form == form))


def picture(page: Page, scenario: str, name: str) -> None:
    if SHOTS is not None:
        folder = Path(SHOTS)
        folder.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(folder / f"{scenario}-{name}.png"), full_page=True)
