"""What the hoses took from the cylinder is not shown as left in it, nor as missing at the end."""

import pytest
from strategies import Book, ready_to_charge

from lowside.core.advice.advice import advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import label
from lowside.core.pages.amounts import amount_facts
from lowside.core.pages.facts import facts_for
from lowside.core.pages.screen import Screen
from lowside.core.session.cylinder import left_beside_hoses, left_in_cylinder
from lowside.core.session.events import moment_of
from lowside.core.session.fold import fold


def screen_of(book: Book, handbook: Handbook) -> Screen:
    state = fold(book.events, handbook)
    return Screen(state, handbook, moment_of(book.events[-1]), "F", (), None)


def named(facts: list[dict[str, str]], name: str) -> str:
    return next(each["value"] for each in facts if each["name"] == name)


def test_left_in_the_cylinder_is_without_what_the_hoses_took(handbook: Handbook) -> None:
    screen = screen_of(ready_to_charge(Book()), handbook)
    state = screen.state
    left = left_in_cylinder(state)
    beside = left_beside_hoses(state)
    assert left is not None
    assert beside is not None
    assert 0.015 < state.hoses_from_cylinder_kg < 0.06
    assert left - beside == pytest.approx(state.hoses_from_cylinder_kg)
    shown = named(
        amount_facts(state, advise(state, state.entries[-1].moment)), "Left in the cylinder"
    )
    assert shown == label("mass", beside, state.units)


def test_unit_off_the_end_weight_is_a_range(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    running = named(facts_for(screen_of(book, handbook), "end_weight"), "Expected end weight")
    book.form("done", step="off_stop")
    screen = screen_of(book, handbook)
    off = named(facts_for(screen, "end_weight"), "Expected end weight")
    assert " to " not in running
    assert off.startswith(running + " to ")
    assert screen.state.start_weight is not None
    assert off.endswith(label("mass", screen.state.start_weight.kg, screen.state.units))
