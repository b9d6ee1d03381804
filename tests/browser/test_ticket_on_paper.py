"""The record fits one sheet, says once what was added, and has a place to sign."""

import re
import shutil
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from lowside.demo import put_demo_sessions

if TYPE_CHECKING:
    from .conftest import OpenPhone, StartServer


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_record_is_one_sheet_with_one_amount_and_a_place_to_sign(
    paper: str, start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    server.stop()
    shutil.rmtree(server.data)
    put_demo_sessions(server.data)
    page = open_phone(start_server(server.data, server.port).url)
    page.goto("/")
    slips = page.locator(".slips-closed .slip")
    expect(slips).to_have_count(3)
    tickets = [str(slip.get_attribute("href")) for slip in slips.all()]
    for ticket in tickets:
        page.goto(ticket)
        expect(page.get_by_role("button", name="Print")).to_be_visible()
        assert page.locator(".added").count() <= 1
        sheets = re.findall(rb"/Type\s*/Page[^s]", page.pdf(format=paper))
        assert len(sheets) == 1, ticket
        page.emulate_media(media="print")
        expect(page.locator(".sign")).to_be_visible()
        expect(page.locator("footer.thumb")).to_be_hidden()
        page.emulate_media(media="null")


SHARES = """
    globalThis.given = [];
    Object.defineProperty(navigator, "share", {
        value: async data => globalThis.given.push(data.text),
    });
"""
COPIES = """
    globalThis.given = [];
    delete Navigator.prototype.share;
    Object.defineProperty(navigator, "clipboard", {
        value: { writeText: async text => globalThis.given.push(text) },
    });
"""


def test_a_record_is_shared_as_text_or_copied_where_nothing_shares(
    start_server: "StartServer", open_phone: "OpenPhone"
) -> None:
    server = start_server()
    server.stop()
    shutil.rmtree(server.data)
    put_demo_sessions(server.data)
    url = start_server(server.data, server.port).url
    for way, says in ((SHARES, "Share"), (COPIES, "Copied")):
        page = open_phone(url)
        page.add_init_script(way)
        page.goto("/")
        page.goto(str(page.locator(".slips-closed .slip").first.get_attribute("href")))
        page.get_by_role("button", name="Share").click()
        expect(page.locator("[data-share]")).to_have_text(says)
        (text,) = page.evaluate("globalThis.given")
        lines = text.split("\n")
        assert "Session record" in lines
        assert any(line.startswith("Site: ") for line in lines)
        assert sum("Target" in line for line in lines) <= 1
        assert "Timeline" not in text
