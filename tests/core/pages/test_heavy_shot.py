"""A shot far from its advice is said once it is weighed, on both sides of the limit, and flagged to
the office. What was planned is kept with the shot's start."""

from dataclasses import replace

import pytest
from strategies import Book, ready_to_charge, ulid, with_units

from lowside.core.advice.advice import ADD, advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.office.flags import flags_of
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.charging import said_of_shot
from lowside.core.pages.recording import AlreadyRecorded, Record, record_form
from lowside.core.session.entry import Accepted, accept_amendment
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.shots import PLANNED
from lowside.core.session.state import Shot, State

PLANNED_KG = 3.0 * OUNCE_KG
PLANNED_S = 20.0
STEP_KG = 0.002
AT = Moment("run", 0, 0)


def shot(kg: float, open_s: float, step_kg: float = STEP_KG, planned: bool = True) -> Shot:
    """One of 3 oz in 20 s as planned."""
    plan = (PLANNED_KG, PLANNED_S) if planned else (None, None)
    return Shot("s", AT, AT, open_s, False, kg, 0.0, False, *plan, step_kg)


def said(*shots: Shot) -> str:
    return said_of_shot(replace(fold(()), shots=shots))


def test_a_shot_of_three_times_the_advice_is_said() -> None:
    assert said(shot(3.0 * PLANNED_KG, 60.0)).startswith(
        "The last shot was 9.0 oz in 1:00. Planned: 3.0 oz. Is the low-side"
    )


def test_a_shot_as_advised_is_not() -> None:
    assert said(shot(PLANNED_KG, 20.0)) == ""
    assert said(shot(1.9 * PLANNED_KG, 40.0)) == ""
    assert said() == ""


def test_the_right_amount_far_too_quick_is_said() -> None:
    assert "Planned: 3.0 oz in 0:20. Is" in said(shot(PLANNED_KG, 5.0))


def test_what_the_scale_cannot_tell_is_not_said() -> None:
    assert said(shot(3.0 * PLANNED_KG, 60.0, 2.0 * PLANNED_KG)) == ""
    assert said(shot(3.0 * PLANNED_KG, 60.0, planned=False)) == ""


def started(book: Book, handbook: Handbook, **typed: str) -> Record:
    now = Moment(book.run, book.mono + 5000, book.at + 5000, 0)
    sent = {"eid": ulid(700), "step": "", **typed}
    address = Address(FORM, book.sid, "shot_open")
    outcome = record_form(fold(book.events, handbook), address, sent, handbook, now)
    assert isinstance(outcome, Record)
    return outcome


def fed(book: Book, handbook: Handbook, ounces: float) -> State:
    """A shot of so much, from the form to the scale."""
    book.write("shot.opened", started(book, handbook).data)
    opened = book.events[-1].eid
    book.form("shot_close", 60)
    after = with_units("shot_weigh", {"scale_after": f"{27.5 - ounces / 16.0} lb"})
    book.write("shot.weighed", {"shot": opened, **after})
    return fold(book.events, handbook)


def test_the_start_of_a_shot_keeps_what_was_advised(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    plan = advise(fold(book.events, handbook), Moment(book.run, book.mono, book.at, 0))
    assert plan.action == ADD
    assert plan.amount_kg is not None
    state = fed(book, handbook, 1.0)
    assert state.shots[0].planned_kg == pytest.approx(plan.amount_kg, abs=0.05 * OUNCE_KG)
    assert state.shots[0].planned_s is not None


def test_nobody_types_it_and_a_correction_leaves_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    forged = started(book, handbook, planned="90", planned_unit="oz")
    assert {name: forged.data[name] for name in PLANNED} == dict(started(book, handbook).data)
    state = fed(book, handbook, 1.0)
    typed = {"scale_before": "27.5", "scale_before_unit": "lb", "planned": "90"}
    corrected = accept_amendment(state, state.shots[0].eid, typed, handbook)
    assert isinstance(corrected, Accepted)
    assert corrected.data["planned"] == forged.data["planned"]


def test_the_same_tap_twice_is_one_shot(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    data = started(book, handbook).data
    event = book.write("shot.opened", data)
    now = Moment(book.run, book.mono + 5000, book.at + 5000, 0)
    again = record_form(
        fold(book.events, handbook),
        Address(FORM, book.sid, "shot_open"),
        {"eid": event.eid, "step": ""},
        handbook,
        now,
    )
    assert isinstance(again, AlreadyRecorded)


def test_the_office_sees_the_heaviest_of_them_after_any_reading(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    assert "heavy" not in codes(fed(book, handbook, 1.0), handbook)
    book = ready_to_charge(Book())
    state = fed(book, handbook, 12.0)
    (flag,) = [one for one in flags_of(state, None, handbook) if one.code == "heavy"]
    assert flag.detail.startswith("12.0 oz, planned ")


def test_closed_without_a_reading_after_the_last_shot_is_flagged(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    state = fed(book, handbook, 1.0)
    assert "unread" not in codes(state, handbook)
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    assert "unread" in codes(fold(book.events, handbook), handbook)


def codes(state: State, handbook: Handbook) -> list[str]:
    return [flag.code for flag in flags_of(state, None, handbook)]
