"""A practice lesson as far as its first reading: there the apprentice is asked for a guess."""

import time
from collections.abc import Mapping

from playwright.sync_api import Page

from lowside.web.clock import new_ulid

FORMS: Mapping[str, Mapping[str, str]] = {
    "job": {
        "site": "Practice yard",
        "unit_label": "P-1",
        "technician": "Apprentice",
        "elevation": "0",
        "elevation_unit": "ft",
    },
    "unit": {"refrigerant": "R-410A", "metering": "txv", "coil": "tube_fin", "receiver": "no"},
    "target": {
        "method": "subcooling",
        "maker_subcooling": "10",
        "maker_subcooling_unit": "°F",
    },
    "reading": {"suction_pressure": "118", "suction_pressure_unit": "psig"},
}


def read_in_lesson(page: Page) -> str:
    """Begin the first lesson and send what a reading needs; the address of the lesson's pages."""
    page.goto("/practice")
    page.get_by_role("button", name="Start the lesson").click()
    page.wait_for_url("**/practice/s/**")
    base = page.url
    for name, typed in FORMS.items():
        sent = dict(typed) | {"eid": new_ulid(int(time.time() * 1000))}
        answer = page.request.post(f"{base}/form/{name}", form=sent)
        assert answer.ok, (name, answer.status)
    return base
