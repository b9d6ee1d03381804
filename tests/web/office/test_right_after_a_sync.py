"""What a phone handed over is on the office's pages at once. In files its rows are made later."""

import json
from collections.abc import Sequence
from pathlib import Path

import pytest
from office_cases import visit
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event
from lowside.store import event_to_json, late_rows


def hand_over(site: Site, events: Sequence[Event]) -> None:
    asked = {"v": 1, "dev": "phone", "cursor": "", "events": [event_to_json(e) for e in events]}
    headers = {"Content-Type": "application/json"}
    body = json.dumps(asked).encode()
    answer = site.send("POST", "/api/sync", content=body, headers=headers).json()
    assert {verdict["outcome"] for verdict in answer["verdicts"]} == {"stored"}


def test_every_office_page_has_what_a_phone_handed_over_just_now(
    place: Path | str, handbook: Handbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_rows, "LATER_S", 1000.0)
    pages = (
        "/office?show=all",
        "/office/sessions.csv?show=all",
        "/office/units",
        "/office/unit?site=Mill+Lane&unit=CH-1",
        "/office/cylinders",
        "/office/cylinder?label=C-1",
        "/office/month?month=2026-03",
    )
    with open_site(place, handbook) as site:
        for number, page in enumerate(pages):
            name, unit = f"Tech no. {number}", f"CH-{number}"
            book = visit(number + 1, "2026-03-04", 1.0, technician=name, unit=unit)
            hand_over(site, book.events)
            text = site.send("GET", page.replace("CH-1", unit)).text
            assert (unit if page.startswith("/office/unit") else name) in text, page
            assert book.sid in text or page.startswith(("/office/units", "/office/cyl")), page
