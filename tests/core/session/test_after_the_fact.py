"""Corrections after the fact, a wrong order, and two phones: nothing is added on what no longer
holds, or was never known."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from strategies import PROCEDURE, READING, Book, ready_to_charge, set_up, ulid, with_units

from lowside.core.advice.advice import READ
from lowside.core.advice.against import advice_now
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import FORM, STEP, Address
from lowside.core.pages.page import Page
from lowside.core.pages.recording import Record, Refusal, record_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Event, Moment
from lowside.core.session.fold import fold
from lowside.practice.technician import CHECKED_ALWAYS

ON_TARGET = {"suction_pressure": "130 psig", "liquid_line": "97 °F", "suction_line": "57 °F"}


def now_of(book: Book) -> Moment:
    return Moment(book.run, book.mono, book.at, 0)


def post(book: Book, handbook: Handbook, name: str, step: str = "", **typed: str) -> str:
    """Send a form ten seconds on: "" when it was kept, else what the page says."""
    book.wait(10)
    sent = {**with_units(name, typed), "eid": ulid(700 + len(book.events)), "step": step}
    state = fold(book.events, handbook)
    outcome = record_form(state, Address(FORM, book.sid, name), sent, handbook, now_of(book))
    if isinstance(outcome, Record):
        book.write(outcome.kind, outcome.data, 0)
        return ""
    assert isinstance(outcome, Refusal)
    return " ".join([outcome.attempt.message, *outcome.attempt.problems.values()])


def of_kind(book: Book, kind: str) -> Event:
    return next(event for event in book.events if event.kind == kind)


def amended(book: Book, kind: str, data: dict[str, str]) -> None:
    target = of_kind(book, kind)
    book.write("event.amended", {"target": target.eid, **target.data, **data})


def void_reading(book: Book) -> None:
    book.write("event.voided", {"target": of_kind(book, "reading.taken").eid})


def reading_was_on_target(book: Book) -> None:
    amended(book, "reading.taken", with_units("reading", ON_TARGET))


def other_refrigerant(book: Book) -> None:
    amended(book, "unit.set", {"refrigerant": "R-22"})


def inverter_after_all(book: Book) -> None:
    book.form("machine", mode="cooling", compressor="inverter", kind="split", held="no")


def leak_seen_by_another_phone(book: Book) -> None:
    other = Book(dev="phone-b", run="run-b", at=book.at, seen=book.seen)
    checks = CHECKED_ALWAYS | {"leak": "leaking"}
    book.events.append(other.form("preconditions", 30, **checks))
    book.wait(60)


def reading_of_a_phone_ahead(book: Book) -> None:
    """Its clock is two hours ahead, and the reading is 50 minutes old."""
    event = of_kind(book, "reading.taken")
    place = book.events.index(event)
    later = event.at + 7_200_000
    book.events[place] = replace(event, at=later, dev="phone-b", run="run-b", mono=5)
    book.wait(3000)


def void_last(book: Book, kind: str, after_s: float) -> None:
    target = next(event for event in reversed(book.events) if event.kind == kind)
    book.write("event.voided", {"target": target.eid}, after_s)


def shot_undone_with_the_valve_open(book: Book) -> None:
    book.form("shot_open")
    void_last(book, "shot.opened", 30)


def shot_undone_after_it_went_in(book: Book) -> None:
    book.form("shot_open", scale_before="27.5 lb")
    book.form("shot_close", 15)
    book.write("shot.unweighed", {"shot": of_kind(book, "shot.opened").eid})
    for kind in ("shot.unweighed", "shot.closed", "shot.opened"):
        void_last(book, kind, 10)


def later_reading_undone(book: Book) -> None:
    """It spoke against more, and the older one still calls for charge."""
    book.form("reading", 60, **(READING | ON_TARGET))
    void_last(book, "reading.taken", 5)


def stop_undone_after_a_while(book: Book) -> None:
    book.form("system_stopped")
    void_last(book, "system.stopped", 120)


def hoses_taken_off(book: Book) -> None:
    book.write("step.done", {"step": "disconnect"})


@pytest.mark.parametrize(
    "happened",
    [
        void_reading,
        reading_was_on_target,
        other_refrigerant,
        inverter_after_all,
        leak_seen_by_another_phone,
        reading_of_a_phone_ahead,
        shot_undone_with_the_valve_open,
        shot_undone_after_it_went_in,
        later_reading_undone,
        stop_undone_after_a_while,
        hoses_taken_off,
    ],
)
def test_after_it_no_shot_is_started(handbook: Handbook, happened: Callable[[Book], None]) -> None:
    book = ready_to_charge(Book())
    happened(book)
    assert post(book, handbook, "shot_open") != ""


def test_without_any_of_them_one_is(handbook: Handbook) -> None:
    assert post(ready_to_charge(Book()), handbook, "shot_open") == ""


def undone_at_once(book: Book) -> None:
    book.form("shot_open")
    void_last(book, "shot.opened", 8)


def undone_and_read_again(book: Book) -> None:
    shot_undone_with_the_valve_open(book)
    book.form("reading", 300, **READING)
    book.form("decide", decision="add")


def an_older_reading_undone(book: Book) -> None:
    book.form("reading", 300, **READING)
    book.form("decide", decision="add")
    void_reading(book)


def hoses_off_by_mistake(book: Book) -> None:
    hoses_taken_off(book)
    void_last(book, "step.done", 5)


@pytest.mark.parametrize(
    "happened",
    [
        undone_at_once,
        undone_and_read_again,
        an_older_reading_undone,
        hoses_off_by_mistake,
    ],
)
def test_after_that_one_may_be_started(
    handbook: Handbook, happened: Callable[[Book], None]
) -> None:
    book = ready_to_charge(Book())
    happened(book)
    assert post(book, handbook, "shot_open") == ""


def test_with_the_hoses_off_no_page_says_add(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    hoses_taken_off(book)
    advice = advice_now(fold(book.events, handbook), now_of(book))
    assert advice.action == "do_not_add"
    assert advice.reasons[0].startswith("The hoses are off.")


@pytest.mark.parametrize(("ahead_s", "known"), [(100, True), (130, False)])
def test_a_clock_a_little_ahead_is_believed(handbook: Handbook, ahead_s: int, known: bool) -> None:
    book = ready_to_charge(Book())
    event = of_kind(book, "reading.taken")
    place = book.events.index(event)
    book.events[place] = replace(event, at=book.at + ahead_s * 1000, run="run-b", mono=5)
    advice = advice_now(fold(book.events, handbook), now_of(book))
    assert (advice.action != READ) is known


def test_no_reading_is_taken_while_liquid_goes_in(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    assert post(book, handbook, "shot_open") == ""
    assert "Close the valve and end that shot first" in post(book, handbook, "reading", **READING)
    assert post(book, handbook, "shot_close") == ""
    assert post(book, handbook, "reading", **READING) == ""


def without(kind: str, **changed: str) -> Book:
    """Up to the scale, without this answer or with a part of it changed."""
    book = set_up(Book())
    place = book.events.index(of_kind(book, kind))
    book.events[place] = replace(book.events[place], data=book.events[place].data | changed)
    if not changed:
        del book.events[place]
    return book


@pytest.mark.parametrize(
    ("book", "told"),
    [
        (without("machine.set"), "cooling or heating"),
        (without("checks.answered"), "Not answered yet"),
        (without("checks.answered", protected="no"), "No gloves"),
        (without("checks.answered", qualified="no"), "license"),
        (without("machine.set", mode="heating", port="large_line"), "Do not touch the nut"),
        (without("machine.set", mode="heating"), "which port"),
    ],
)
def test_no_nut_is_touched_before_what_decides_is_answered(
    handbook: Handbook, book: Book, told: str
) -> None:
    """By the step's own address, past the steps before it."""
    assert PROCEDURE in handbook.procedures
    assert told in post(book, handbook, "done", step="connect")
    screen = Screen(fold(book.events, handbook), handbook, now_of(book), ulid(9), (), None)
    page = view(screen, Address(STEP, book.sid, "connect"))
    assert isinstance(page, Page)
    shown = page.context["step_alerts"] + page.context["alerts_now"]
    assert any(told in alert["text"] for alert in shown)


def test_with_all_of_it_answered_the_hoses_go_on(handbook: Handbook) -> None:
    assert post(set_up(Book()), handbook, "done", step="connect") == ""


def test_from_home_no_procedure_leads_to_a_hose_unasked(handbook: Handbook) -> None:
    """Each step at the hoses by its own address, in a session in which nothing was answered."""
    tried = 0
    for name, procedure in handbook.procedures.items():
        book = Book()
        book.write("session.started", {"procedure": name})
        for step in procedure.steps:
            if step.stage == "Connect" and step.form == "":
                tried = tried + 1
                assert "Not answered yet" in post(book, handbook, "done", step=step.id), step.id
    assert tried >= 30
