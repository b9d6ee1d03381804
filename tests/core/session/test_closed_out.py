"""Once the close-out has closed the cylinder, emptied a hose or taken one off, nothing is added:
the next shot would bring air, or nothing (common practice, no source)."""

import pytest
from hose_cases import shipped
from strategies import Book, ready_to_charge

from lowside.core.advice.against import advice_now
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import CHARGE_PAGE
from lowside.core.session import gate
from lowside.core.session.entry import Refused, accept
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.procedures import load_procedures


def closing(name: str) -> list[str]:
    """The steps after the shots that turn a valve, and those of the close-out with the unit off
    but the first: it closes the low side and leaves the cylinder open."""
    procedure = shipped(name)
    steps = [step.id for step in procedure.steps]
    shots = next(step.id for step in procedure.steps if step.page == CHARGE_PAGE)
    after = procedure.steps[steps.index(shots) + 1 :]
    return [step.id for step in after if step.actions] + [
        step.id for step in procedure.off_steps[1:]
    ]


CASES = [(name, step) for name in load_procedures() for step in closing(name)]


def book_with(name: str, *done: str) -> Book:
    book = ready_to_charge(Book())
    book.events[0].data["procedure"] = name  # type: ignore[index]
    for step in done:
        book.write("step.done", {"step": step})
    return book


@pytest.mark.parametrize(("name", "step"), CASES)
def test_after_each_step_of_either_close_out_no_shot_is_started(
    handbook: Handbook, name: str, step: str
) -> None:
    """Each by itself: not everybody ticks all of them."""
    state = fold(book_with(name, step).events, handbook)
    codes = {one.code for one in gate.blocks(state)}
    assert codes & {"hoses_off", "closed_out"}
    refused = accept(state, "shot_open", {}, handbook)
    assert isinstance(refused, Refused)


@pytest.mark.parametrize("step", closing("hand-valved-three-port"))
def test_no_page_says_add_then(handbook: Handbook, step: str) -> None:
    book = book_with("hand-valved-three-port", step)
    now = Moment(book.run, book.mono, book.at, 0)
    advice = advice_now(fold(book.events, handbook), now)
    assert advice.action == "do_not_add"
    assert advice.reasons[0].startswith(("The hoses are off.", "The close-out has begun"))
    assert "void each step of the close-out" in advice.reasons[0]


@pytest.mark.parametrize("step", ["shots", "off_stop"])
def test_the_control_the_cylinder_is_open(handbook: Handbook, step: str) -> None:
    state = fold(book_with("hand-valved-three-port", step).events, handbook)
    assert gate.blocks(state) == ()


def test_voided_steps_open_it_again(handbook: Handbook) -> None:
    book = book_with("hand-valved-three-port", "close_cylinder", "clear_hoses")
    for event in book.events[-2:]:
        assert gate.blocks(fold(book.events, handbook))
        book.write("event.voided", {"target": event.eid})
    assert gate.blocks(fold(book.events, handbook)) == ()


def test_hoses_that_came_off_with_the_unit_off_bring_nothing(handbook: Handbook) -> None:
    """What they held is back in a cylinder: docs/advice.md counts it no more."""
    book = book_with("hand-valved-three-port", "off_stop")
    held = fold(book.events, handbook).readings[-1].hoses_kg
    assert held > 0.02
    for step in ("off_drain", "off_cylinder", "off_recover", "off_hoses"):
        book.write("step.done", {"step": step})
    state = fold(book.events, handbook)
    assert state.readings[-1].hoses_kg == 0.0
    assert state.hoses_brought_kg == 0.0


def test_what_was_cleared_before_stays_counted(handbook: Handbook) -> None:
    book = book_with("hand-valved-three-port", "close_cylinder", "clear_hoses")
    brought = fold(book.events, handbook).hoses_brought_kg
    assert brought > 0.01
    book.write("step.done", {"step": "off_hoses"})
    state = fold(book.events, handbook)
    assert state.hoses_brought_kg == brought
    assert state.readings[-1].hoses_kg == pytest.approx(brought)
