"""The valve into the suction is called what the hose set's own steps call it: one charging hose has
no manifold, so no page may order its valve to be closed."""

from typing import Any

import pytest
from expert import Bench
from strategies import READING
from walked import before_reading, did, page_at

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP


def adding(handbook: Handbook, procedure: str) -> Bench:
    target = {"method": "subcooling", "maker_subcooling": "10 °F"}
    bench = before_reading(handbook, {"metering": "txv"}, target, procedure=procedure)
    did(bench, "reading", **READING)
    did(bench, "decide", decision="add")
    return bench


def said(bench: Bench) -> str:
    """All words of the charging page but its picture."""
    context: dict[str, Any] = dict(page_at(bench, STEP, "shots").context)
    return str({name: part for name, part in context.items() if name != "picture"})


@pytest.mark.parametrize(
    ("procedure", "valve", "other"),
    [
        ("one-charging-hose", "charging valve", "manifold valve"),
        ("low-side-only-two-hose", "manifold valve", "low-side manifold valve"),
        ("hand-valved-three-port", "low-side manifold valve", "charging valve"),
    ],
)
def test_every_order_names_the_valve_of_the_hose_set(
    handbook: Handbook, procedure: str, valve: str, other: str
) -> None:
    bench = adding(handbook, procedure)
    pages = [said(bench)]
    did(bench, "shot_open")
    pages.append(said(bench))
    bench.book.wait(50)
    did(bench, "system_stopped")
    pages.append(said(bench))
    did(bench, "shot_close")
    did(bench, "shot_weigh", scale_after="26.5 lb")
    did(bench, "system_started")
    pages.append(said(bench))
    bench.book.wait(1200)
    did(bench, "reading", **READING | {"suction_pressure": "12 psig", "suction_line": "60 °F"})
    pages.append(said(bench))
    assert [page for page in pages if other in page] == []
    named = [page for page in pages if "lose the " + valve in page or "eep the " + valve in page]
    assert len(named) >= 3
    assert "Is the " + valve + " closed?" in pages[3]
