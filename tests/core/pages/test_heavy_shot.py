"""A shot far from its advice is said once it is weighed, on both sides of the limit."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, read, shoot, valve_unit

from lowside.core.advice.advice import ADD, advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.pages.heavy_shot import said_of_shot
from lowside.core.session.state import State

STEP_KG = 0.002


@pytest.fixture
def before(handbook: Handbook) -> State:
    state = read(opening(valve_unit(), STEP_KG), handbook, 60, 7.0, 1.5)
    return replace(state, units=replace(state.units, mass="lb+oz"))


def planned(state: State) -> tuple[float, float]:
    plan = advise(state, at(60))
    assert plan.action == ADD
    assert plan.amount_kg is not None
    assert plan.rate_kg_s is not None
    return plan.amount_kg, plan.rate_kg_s


def test_a_shot_of_three_times_the_advice_is_said(before: State) -> None:
    amount, rate = planned(before)
    slow = 3.0 * amount / rate
    said = said_of_shot(shoot(before, 60 + slow, 3.0 * amount, slow))
    assert said.startswith(f"The last shot was {3.0 * amount / OUNCE_KG:.1f} oz in ")
    assert f"Planned: {amount / OUNCE_KG:.1f} oz. Is the low-side" in said


def test_a_shot_as_advised_is_not(before: State) -> None:
    amount, rate = planned(before)
    assert said_of_shot(shoot(before, 60 + amount / rate, amount, amount / rate)) == ""
    assert said_of_shot(shoot(before, 100, 1.9 * amount, 1.9 * amount / rate)) == ""
    assert said_of_shot(before) == ""


def test_the_right_amount_far_too_quick_is_said(before: State) -> None:
    amount, rate = planned(before)
    open_s = amount / rate / 4.0
    assert "Listen to the compressor" in said_of_shot(shoot(before, 100, amount, open_s))


def test_what_the_scale_cannot_tell_is_not_said(before: State) -> None:
    amount, rate = planned(before)
    assert before.scale is not None
    coarse = replace(before, scale=replace(before.scale, resolution_kg=2.0 * amount))
    assert said_of_shot(shoot(coarse, 100, 3.0 * amount, 3.0 * amount / rate)) == ""


def test_a_new_reading_ends_it(before: State, handbook: Handbook) -> None:
    amount, _ = planned(before)
    heavy = shoot(before, 100, 5.0 * amount)
    assert said_of_shot(heavy) != ""
    assert said_of_shot(read(heavy, handbook, 900, 9.0, 1.5)) == ""
