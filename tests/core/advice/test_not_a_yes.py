"""“Read again”, “enough” and “wait” are no yes: a shot starts on the advice to add, or on a reason
written at the decision after the newest reading. A page that waits for a reason says no “add”."""

import pytest
from strategies import READING, Book, ready_to_charge, ulid, with_units

from lowside.core.advice.advice import ADD, READ, advise
from lowside.core.advice.against import advice_now, may_start, why_no_shot
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import CURRENT_STEP, FORM, Address
from lowside.core.pages.page import Page
from lowside.core.pages.recording import Record, Refusal, record_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.block import DO_NOT_ADD, WAIT
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import State

NEAR = {"suction_pressure": "130 psig", "liquid_line": "98 °F", "suction_line": "58 °F"}
"""Subcooling about 2 °F under its target of 10 °F: within the tolerance."""
SPLIT = {"return_wet_bulb": "64 °F", "supply_dry_bulb": "53 °F"}
"""A temperature drop just above the table's."""


def now_of(book: Book) -> Moment:
    return Moment(book.run, book.mono, book.at, 0)


def start(book: Book, handbook: Handbook) -> Record | Refusal:
    """“Start the shot”, ten seconds on."""
    book.wait(10)
    sent = {"eid": ulid(700), "step": ""}
    address = Address(FORM, book.sid, "shot_open")
    outcome = record_form(fold(book.events, handbook), address, sent, handbook, now_of(book))
    assert isinstance(outcome, Record | Refusal)
    return outcome


def shot(book: Book, handbook: Handbook, left: float = 27.45) -> None:
    outcome = start(book, handbook)
    assert isinstance(outcome, Record)
    book.write(outcome.kind, outcome.data, 0)
    opened = book.events[-1].eid
    book.form("shot_close", 15)
    after = with_units("shot_weigh", {"scale_after": f"{left} lb"})
    book.write("shot.weighed", {"shot": opened, **after})


def near(handbook: Handbook, reason: str = "") -> tuple[Book, State]:
    book = ready_to_charge(Book())
    shot(book, handbook)
    book.form("reading", 900, **(READING | NEAR))
    if reason != "":
        book.form("decide", decision="add", reason=reason)
    state = fold(book.events, handbook)
    assert advise(state, now_of(book)).action == READ
    return book, state


def test_read_again_inside_the_tolerance_starts_no_shot(handbook: Handbook) -> None:
    book, state = near(handbook)
    assert not may_start(state, advise(state, now_of(book)))
    refused = start(book, handbook)
    assert isinstance(refused, Refusal)
    assert "To add anyway, write why at the decision." in refused.attempt.message


def test_a_reason_at_that_reading_does(handbook: Handbook) -> None:
    book, _ = near(handbook, "The customer measured it short last week")
    assert isinstance(start(book, handbook), Record)


def test_one_reason_is_for_one_shot(handbook: Handbook) -> None:
    book, _ = near(handbook, "The customer measured it short last week")
    shot(book, handbook, 27.4)
    for wait_s, action in ((20, WAIT), (1200, READ)):
        book.wait(wait_s)
        state = fold(book.events, handbook)
        advice = advise(state, now_of(book))
        assert advice.action == action
        assert not may_start(state, advice)
        assert "write why" not in why_no_shot(state, advice)
        assert isinstance(start(book, handbook), Refusal)


@pytest.mark.parametrize("answered", [False, True])
def test_a_page_that_waits_for_a_reason_does_not_say_add(
    handbook: Handbook, answered: bool
) -> None:
    book = ready_to_charge(Book())
    book.form("reading", 600, **(READING | SPLIT))
    if answered:
        book.form("decide", decision="add", reason="Filter and coils are clean")
    book.write("step.done", {"step": "decide"})
    state = fold(book.events, handbook)
    advice = advice_now(state, now_of(book))
    assert advice.action == (ADD if answered else DO_NOT_ADD)
    assert (advice.amount_kg is None) is not answered
    for step in handbook.procedures[state.procedure].steps:
        if step.id == "shots":
            break
        book.write("step.done", {"step": step.id}, 0)
    state = fold(book.events, handbook)
    shown = view(
        Screen(state, handbook, now_of(book), ulid(9), (), None), Address(CURRENT_STEP, book.sid)
    )
    assert isinstance(shown, Page)
    assert shown.context["page"] == "charge"
    assert (shown.context["advice"]["word"] == "Add a shot") is answered
    assert (shown.context["shot"] is not None) is answered
    assert (shown.context["against_href"] != "") is not answered
