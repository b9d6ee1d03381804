"""Too much is inside already: what the hoses hold is recovered too and not cleared into the unit.

What they hold is charge like any other (docs/advice.md); that too much is recovered and never
vented is 40 CFR 82.154 (recalled).
"""

from typing import Any

import pytest
from advice_cases import at, holding, opening, orifice_unit, read, valve_unit
from expert import Bench
from overcharged import (
    OVER,
    RIGHT,
    SHORT,
    charging,
    measured,
    overcharged,
    read_twice,
    shot,
    step_done,
)
from walked import did, page_at

from lowside.core.advice.advice import RECOVER, advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import BY_SUPERHEAT, System
from lowside.core.pages.addresses import STEP
from lowside.core.session.block import DO_NOT_ADD

HOSES_KG = 0.057
TOO = "Do not clear it into the unit: recover it too."


def charge_page(bench: Bench) -> dict[str, Any]:
    return page_at(bench, STEP, "shots").context


def said_at(bench: Bench, step: str) -> list[str]:
    return [one["word"] for one in page_at(bench, STEP, step).context["step_alerts"]]


def test_the_button_on_top_offers_to_recover_the_hoses(handbook: Handbook) -> None:
    page = charge_page(overcharged(handbook))
    assert page["advice"]["word"] == "Overcharged: recover"
    assert page["thumb"]["close_out"]["action"].endswith("/form/hoses_recover")
    assert any(one.endswith(TOO) for one in page["advice"]["more"])
    assert "The hoses come first." in page["advice"]["how"]


def test_the_steps_that_would_clear_them_into_it_say_so(handbook: Handbook) -> None:
    bench = overcharged(handbook)
    assert "Hoses." in said_at(bench, "close_cylinder")
    for step in ("shots", "close_cylinder", "clear_hoses"):
        step_done(bench.book, step)
    bench.book.wait(1000)
    did(bench, "final_reading", **OVER)
    assert "Hoses." in said_at(bench, "clear_high")


def test_once_they_are_recovered_nothing_more_is_said_of_them(handbook: Handbook) -> None:
    bench = overcharged(handbook)
    did(bench, "hoses_recover")
    advice = bench.advice()
    assert (advice.action, advice.recover_hoses) == (RECOVER, False)
    assert charge_page(bench)["thumb"]["close_out"]["action"].endswith("/form/done")


def test_nor_are_they_cleared_into_a_unit_that_was_found_overcharged(handbook: Handbook) -> None:
    """Nobody added anything, and the decision was not to."""
    bench = measured(handbook, OVER)
    bench.book.wait(240)
    did(bench, "reading", **OVER)
    did(bench, "decide", decision="leave")
    assert bench.advice().action == RECOVER
    assert charge_page(bench)["thumb"]["close_out"]["action"].endswith("/form/hoses_recover")
    assert "Hoses." in said_at(bench, "close_cylinder")


@pytest.mark.parametrize("high", ["414 psig", "425 psig"])
def test_nor_where_condensing_rose_so_far_that_something_else_is_wrong_too(
    handbook: Handbook, high: str
) -> None:
    """It condenses at 119 or 121 °F then (CoolProp, R-410A), at 112 before."""
    seen = {"suction_pressure": "130 psig", "suction_line": "57 °F", "outdoor_dry_bulb": "95 °F"}
    bench = measured(
        handbook, SHORT | seen | {"liquid_pressure": "377 psig", "liquid_line": "109 °F"}
    )
    did(bench, "decide", decision="add")
    shot(bench, 15, "27.4375 lb")
    read_twice(bench, SHORT | seen | {"liquid_pressure": high, "liquid_line": "99 °F"})
    advice = bench.advice()
    assert advice.action == DO_NOT_ADD
    assert advice.reasons[0].startswith("Condensing rose by ")
    assert advice.reasons[-1].endswith(TOO)
    assert advice.recover_hoses
    assert "Hoses." in said_at(bench, "close_cylinder")
    assert not any("goes in at close-out" in one for one in advice.reasons)


def test_the_control_a_unit_left_as_it_is_is_not_added_to(handbook: Handbook) -> None:
    bench = measured(handbook, RIGHT)
    did(bench, "decide", decision="leave", reason="It is right.")
    assert bench.advice().action == DO_NOT_ADD


def test_the_control_a_unit_on_target_gets_what_fits(handbook: Handbook) -> None:
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    read_twice(bench, RIGHT)
    assert bench.advice().action != RECOVER
    assert not any(one.endswith(TOO) for one in bench.advice().reasons)


@pytest.mark.parametrize(("held", "recover"), [(HOSES_KG, True), (0.009, False), (0.0, False)])
def test_what_is_too_little_to_say_is_left(handbook: Handbook, held: float, recover: bool) -> None:
    state = read(opening(orifice_unit()), handbook, 60, 4.0, 8.0)
    state = holding(read(state, handbook, 120, 4.0, 8.0), held)
    found = advise(state, at(120))
    assert (found.action, found.recover_hoses) == (RECOVER, recover)


BY_SUPERHEAT_ONLY = valve_unit(method=BY_SUPERHEAT, maker_subcooling_k=None, maker_superheat_k=7.0)
BOTH_HIGH = (18.8, 16.7, 21.9, 21.7)
"""Superheat, subcooling, and how far low and high side are from the air [K]."""


@pytest.mark.parametrize(
    ("unit", "seen", "code"),
    [
        (BY_SUPERHEAT_ONLY, (5.1, 17.3, 11.8, 9.8), "overcharge"),
        (BY_SUPERHEAT_ONLY, (0.7, 11.9, 8.5, 22.6), "floodback"),
        (orifice_unit(), BOTH_HIGH, "restriction_overcharge"),
    ],
)
def test_so_where_only_the_signs_show_too_much(
    handbook: Handbook, unit: System, seen: tuple[float, float, float, float], code: str
) -> None:
    state = read(read(opening(unit), handbook, 60, *seen), handbook, 400, *seen)
    assessment = state.readings[-1].assessment
    assert assessment is not None
    assert assessment.reason_finding.code == code
    found = advise(holding(state, HOSES_KG), at(400))
    assert (found.action, found.recover_hoses) == (DO_NOT_ADD, True)
    assert found.reasons[1].endswith(TOO)
    assert not any("It goes in at close-out" in one for one in found.reasons)
    assert advise(state, at(400)).reasons[1:] == ()


def test_the_control_a_number_that_cannot_be_true_shows_nothing(handbook: Handbook) -> None:
    """Liquid colder than the air that cools it: a clamp is wrong, whatever subcooling says."""
    seen = (2.5, 15.1, 21.7, 9.4)
    state = read(read(opening(valve_unit()), handbook, 60, *seen), handbook, 400, *seen)
    found = advise(holding(state, HOSES_KG), at(400))
    assert (found.action, found.recover_hoses) == (DO_NOT_ADD, False)
