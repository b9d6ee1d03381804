"""A shot is no larger than what the cylinder holds by its weight: the scale never falls by more, so
a hand would wait for it until the clock, on vapor of a blend that must leave as liquid.

Common practice, no source.
"""

from typing import Any

import pytest
from expert import Bench
from overcharged import SHORT, charging, read_twice, shot
from walked import did, page_at

from lowside.core.advice.advice import ADD, READ
from lowside.core.advice.words import CHANGE_CYLINDER
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.pages.addresses import STEP
from lowside.core.session.block import DO_NOT_ADD, STOP
from lowside.core.session.cylinder import left_beside_hoses

FLAT = SHORT | {"liquid_line": "103 °F", "drier": "same"}


def fed(handbook: Handbook, gross: float, step: str = "0.25 oz") -> Bench:
    """An ounce went in; the unit is far short still. The hose on it weighs half a pound."""
    scale = f"{gross + 0.5} lb"
    bench = charging(handbook, f"{gross} lb", scale)
    did(bench, "tare", scale_mode="gross", scale_reading=scale, scale_resolution=step)
    shot(bench, 15, f"{gross + 0.5 - 0.0625} lb")
    read_twice(bench, FLAT)
    return bench


def left_oz(bench: Bench) -> float:
    left = left_beside_hoses(bench.state())
    assert left is not None
    return left / OUNCE_KG


def page(bench: Bench) -> dict[str, Any]:
    return page_at(bench, STEP, "shots").context


@pytest.mark.parametrize("step", ["0.1 oz", "0.25 oz", "0.5 oz", "1 oz"])
@pytest.mark.parametrize("gross", [7.25, 7.22, 7.35])
def test_the_shot_is_in_the_cylinder(handbook: Handbook, gross: float, step: str) -> None:
    bench = fed(handbook, gross, step)
    advice = bench.advice()
    assert advice.action == ADD
    assert advice.amount_kg is not None
    assert 0.35 <= advice.amount_kg / OUNCE_KG <= left_oz(bench)


def test_the_control_a_full_cylinder_takes_nothing_off(handbook: Handbook) -> None:
    amount = fed(handbook, 27.0).advice().amount_kg
    assert amount is not None
    assert amount / OUNCE_KG > 3.0


def test_one_with_less_than_the_smallest_shot_is_changed(handbook: Handbook) -> None:
    bench = fed(handbook, 7.145)
    assert 0.0 < left_oz(bench) < 0.35
    advice = bench.advice()
    assert (advice.action, advice.reasons[0]) == (DO_NOT_ADD, CHANGE_CYLINDER)
    shown = page(bench)
    told = [one for one in shown["hose_alerts"] if one["text"] == CHANGE_CYLINDER]
    assert [one["href"].endswith("/form/cylinder") for one in told] == [True]
    assert shown["advice"]["reason"] != CHANGE_CYLINDER
    assert shown["thumb"]["close_out"] is None, "the charge is not right yet"


def test_with_the_valve_open_it_is_closed(handbook: Handbook) -> None:
    bench = fed(handbook, 7.145)
    bench.book.write("shot.opened", {})
    assert bench.advice().action == STOP


def test_one_number_says_what_is_left(handbook: Handbook) -> None:
    bench = fed(handbook, 7.25)
    shown = page(bench)
    facts = {one["name"]: one["value"] for one in shown["facts"]}
    texts = [one["text"] for one in shown["findings_now"]]
    assert any(one.startswith(facts["Left in the cylinder"] + " left") for one in texts)


def test_the_control_a_unit_that_is_finished_needs_no_other_cylinder(handbook: Handbook) -> None:
    bench = charging(handbook, "7.145 lb", "7.645 lb")
    shot(bench, 15, "7.5825 lb")
    read_twice(bench, SHORT | {"liquid_line": "96 °F", "suction_line": "55 °F"})
    advice = bench.advice()
    assert advice.action not in (ADD, READ)
    assert CHANGE_CYLINDER not in advice.reasons
