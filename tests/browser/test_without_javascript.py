"""A phone without JavaScript carries a session from home to the charging page and its shots."""

from typing import TYPE_CHECKING

import hands
from engines.chromium import Tab
from playwright.sync_api import expect

if TYPE_CHECKING:
    from .conftest import OpenPhone, Server

ROOF = hands.scenario_named("roof-unit-r410a")
MOVES = ROOF.moves[: [move.form for move in ROOF.moves].index("shot_weigh") + 1]


def test_a_session_goes_from_home_to_a_shot(open_phone: "OpenPhone", server: "Server") -> None:
    page = open_phone(server.url, javascript=False)
    page.goto("/")
    tab = Tab(page)
    hands.begin(tab)
    for move in MOVES:
        hands.make(tab, move)
    expect(page.get_by_text("Shots so far")).to_be_visible()
    expect(page.get_by_role("cell", name="1.0 oz").first).to_be_visible()
    (path,) = (server.data / "sessions").rglob("*.jsonl")
    assert len(path.read_text("utf-8").splitlines()) == len(MOVES) + 1


def test_a_refused_form_comes_back_filled_in(open_phone: "OpenPhone", server: "Server") -> None:
    page = open_phone(server.url, javascript=False)
    page.goto("/")
    page.get_by_role("button", name="Start a session").click()
    page.locator('[name="site"]').fill("Mill Lane")
    page.locator('[name="elevation"]').fill("high")
    page.locator('button[form="step-form"]').click()
    expect(page.locator("#elevation-problem")).to_contain_text("“high” is not a number")
    expect(page.locator('[name="site"]')).to_have_value("Mill Lane")
