"""A whole job on a phone that saw the server once, through two reloads and an empty battery."""

import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Playwright, expect
from pocket_phone import PocketPhone, without_errors
from test_main_job import figures, make, replayed, scenario_named

if TYPE_CHECKING:
    from conftest import StartServer


@pytest.fixture
def phone(playwright: Playwright, tmp_path: Path) -> Iterator[PocketPhone]:
    phone = PocketPhone(playwright, "", tmp_path / "phone")
    yield phone
    phone.off()
    assert without_errors(phone.said) == []


def test_a_whole_job_without_the_server_reaches_the_office_with_the_same_figures(
    start_server: "StartServer", phone: PocketPhone
) -> None:
    server = start_server(offline=True)
    phone.url = server.url
    phone.start()
    phone.open_ready()
    server.stop()

    sid = phone.begin()
    moves = scenario_named("roof-unit-r410a").moves
    third = len(moves) // 3
    for number, move in enumerate(moves, start=1):
        make(phone.page, move, "offline", number)
        if number in (third, 2 * third):
            before = phone.page.locator("h1").inner_text()
            phone.page.reload()
            expect(phone.page.locator("h1")).to_have_text(before)
        if number == len(moves) // 2:
            before = phone.page.locator("h1").inner_text()
            phone.kill()
            phone.start()
            phone.open(f"/s/{sid}")
            expect(phone.page.locator("h1")).to_have_text(before)
    expect(phone.page.get_by_role("heading", name="Session record")).to_be_visible()
    on_phone = figures(phone.page)
    assert len(on_phone) == 2
    record = phone.page.locator("main").inner_text()

    start_server(server.data, server.port, offline=True)
    phone.open(f"/s/{sid}/ticket")
    phone.expect_link("Ready for offline")
    assert phone.page.locator("main").inner_text() == record
    last = replayed(server)[-1]
    assert last["closed"] is True
    phone.open(f"/office/session/{sid}")
    assert figures(phone.page) == on_phone
    # The same page, once from the phone and once from the server.
    assert page_text(server.url, sid) == text_of(phone, f"/s/{sid}/ticket")


def page_text(url: str, sid: str) -> str:
    """The record as the server renders it, asked past the phone's worker."""
    with urllib.request.urlopen(f"{url}/s/{sid}/ticket", timeout=30) as answer:
        return bytes(answer.read()).decode()


def text_of(phone: PocketPhone, path: str) -> str:
    return str(phone.page.evaluate("async path => (await fetch(path)).text()", path))
