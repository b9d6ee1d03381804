"""A phone without JavaScript carries a session from home to the charging page and its shots."""

from typing import TYPE_CHECKING

from playwright.sync_api import Page, expect

from lowside.demo import Move, scenarios

if TYPE_CHECKING:
    from .conftest import OpenPhone, Server

ROOF = next(scenario for scenario in scenarios() if scenario.name == "roof-unit-r410a")
MOVES = ROOF.moves[: [move.form for move in ROOF.moves].index("shot_close") + 1]


def test_a_session_goes_from_home_to_a_shot(open_phone: "OpenPhone", server: "Server") -> None:
    page = open_phone(server.url, javascript=False)
    page.goto("/")
    page.get_by_role("button", name="Start a session").click()
    for move in MOVES:
        make(page, move)
    expect(page.get_by_text("Shots so far")).to_be_visible()
    expect(page.get_by_role("cell", name="4.0 oz").first).to_be_visible()
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


def make(page: Page, move: Move) -> None:
    """Fill in one form and send it, as its page offers it."""
    if move.form == "reading" and move.step == "":
        page.get_by_role("link", name="Take a reading").click()
    form = page.locator(f'form[action$="/form/{move.form}"]').first
    for more in form.locator("details.more:not([open]) summary").all():
        more.click()
    for name, text in move.typed.items():
        if name.endswith("_unit"):
            continue
        field = form.locator(f'[name="{name}"]')
        if field.first.get_attribute("type") == "radio":
            form.locator(f'[name="{name}"][value="{text}"]').check()
        elif name in ("refrigerant", "cylinder_refrigerant"):
            field.select_option(text)
        else:
            field.fill(text)
    if move.form == "done":
        form.get_by_role("button").click()
    else:
        page.locator('button[form="step-form"], button[form="shot-form"]').first.click()
    expect(page.locator(".problem")).to_have_count(0)
