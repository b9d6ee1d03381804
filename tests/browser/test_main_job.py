"""A whole session on a phone-sized screen, from home to record, and what is left of it after."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import hands
import pytest
from engines.chromium import Tab
from playwright.sync_api import Page, expect

from lowside.core.numbers.units import show
from lowside.demo import Scenario

if TYPE_CHECKING:
    from .conftest import OpenPhone, Server, StartServer

SHOTS = os.environ.get("LOWSIDE_SCREENSHOTS")
"""Folder for a picture of every screen, to be looked at; none are taken without it."""


ROOF = ("roof-unit-r410a", "TXV", "light")
GARDEN = ("garden-unit-r22", "fixed orifice", "dark")


@pytest.mark.parametrize(
    ("name", "metering", "color_scheme", "store"),
    [
        (*ROOF, "files"),
        (*GARDEN, "files"),
        (*ROOF, "postgres"),
    ],
)
def test_a_session_from_home_to_record_leaves_the_same_figures_everywhere(
    name: str,
    metering: str,
    color_scheme: str,
    store: str,
    open_phone: "OpenPhone",
    start_server: "StartServer",
    request: pytest.FixtureRequest,
) -> None:
    """Every tap reaches the server, which stores it in files or in a database."""
    owner = ""
    if store == "postgres":
        owner = request.getfixturevalue("cluster").address("lowside")
    server = start_server(owner=owner)
    scenario = hands.scenario_named(name)
    page = open_phone(server.url, color_scheme)
    tab = Tab(page)
    page.goto("/")
    picture(page, name, "home")
    hands.begin(tab)
    for number, move in enumerate(scenario.moves, start=1):
        if hands.is_saved(tab, move):
            continue
        hands.reach(tab, move)
        picture(page, name, f"{number:02d}-{move.step or move.form}")
        hands.send(tab, move)
    expect(page.get_by_role("heading", name="Session record")).to_be_visible()
    expect(page.get_by_text("Closed ")).to_be_visible()
    expect(page.get_by_text(metering)).to_be_visible()
    picture(page, name, "record")
    on_phone = hands.figures(tab)
    assert len(on_phone) == 2

    last = replayed(server)[-1]
    assert last["closed"] is True
    assert on_phone["Superheat"] == fahrenheit(last["superheat_k"])
    assert on_phone["Subcooling"] == fahrenheit(last["subcooling_k"])
    assert last["verdict"] == "on_target"
    if store == "postgres":
        assert not (server.data / "sessions").exists()

    office = open_phone(server.url, color_scheme)
    office.set_viewport_size({"width": 1280, "height": 900})
    office.goto("/office?show=all")
    picture(office, name, "office-list")
    office.get_by_role("link", name=scenario_typed(scenario, "job")["unit_label"]).click()
    expect(office.locator("#chart canvas")).to_be_visible()
    assert hands.figures(Tab(office)) == on_phone
    picture(office, name, "office-session")
    office.goto("/office/cylinders")
    expect(
        office.get_by_role("link", name=scenario_typed(scenario, "cylinder")["cylinder_label"])
    ).to_be_visible()
    picture(office, name, "office-cylinders")


def fahrenheit(kelvin: float) -> str:
    return show("temperature_difference", kelvin, "°F")


def replayed(server: "Server") -> list[dict[str, object]]:
    """What `lowside replay` says of the one session in the store."""
    (path,) = (server.records() / "sessions").rglob("*.jsonl")
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
