"""An answer that is none of ours, in every engine that is asked for; see test_odd_answers.py."""

from typing import TYPE_CHECKING

import hands
from engines import Browser
from rough_link import RoughLink
from test_odd_answers import SAID
from test_typing_is_kept import RESTORED

if TYPE_CHECKING:
    from .conftest import StartServer


def test_every_engine_keeps_the_page_and_the_draft(
    start_server: "StartServer", browser: Browser
) -> None:
    server = start_server()
    link = RoughLink(server.port)
    link.open()
    try:
        browser.open(link.url)
        sid = hands.begin(browser)
        browser.type('[name="site"]', "Larkfield School")
        link.broken = {f"/s/{sid}/form/job"}
        browser.tap('button[form="step-form"]')
        browser.wait(".page-note")
        assert browser.read(".page-note") == f"The server answered “500”.{SAID}"
        assert browser.value('[name="site"]') == "Larkfield School"
        browser.reload()
        browser.wait(".page-note")
        assert browser.read(".page-note").startswith(RESTORED)
        assert browser.value('[name="site"]') == "Larkfield School"
    finally:
        link.close()
