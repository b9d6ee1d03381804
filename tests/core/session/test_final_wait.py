"""A final reading before the unit has settled asks why, and the answer is on the record and for the
office."""

import pytest
from strategies import PROCEDURE, READING, Book, ready_to_charge, ulid, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.flags import flags_of
from lowside.core.pages.addresses import FORM, STEP, TICKET, Address
from lowside.core.pages.page import Page
from lowside.core.pages.recording import Record, Refusal, record_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold


def closing_out(handbook: Handbook, emptied_s: float | None) -> Book:
    """A shot, then the last step at the hoses so long after it."""
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.form("shot_close")
    if emptied_s is not None:
        steps = handbook.procedures[PROCEDURE].steps
        final = next(i for i, step in enumerate(steps) if step.form == "final_reading")
        emptied = [step.id for step in steps[:final] if step.actions][-1]
        book.write("step.done", {"step": emptied}, emptied_s)
    return book


def final(book: Book, handbook: Handbook, after_s: float, why: str = "") -> Record | Refusal:
    book.wait(after_s)
    typed = with_units("final_reading", READING)
    sent = {**typed, "eid": ulid(700), "step": "final_reading", "early_reason": why}
    now = Moment(book.run, book.mono, book.at, 0)
    address = Address(FORM, book.sid, "final_reading")
    outcome = record_form(fold(book.events, handbook), address, sent, handbook, now)
    assert isinstance(outcome, Record | Refusal)
    return outcome


def page(book: Book, handbook: Handbook, refused: Refusal | None, address: Address) -> Page:
    now = Moment(book.run, book.mono, book.at, 0)
    attempt = None if refused is None else refused.attempt
    shown = view(Screen(fold(book.events, handbook), handbook, now, ulid(9), (), attempt), address)
    assert isinstance(shown, Page)
    return shown


@pytest.mark.parametrize(
    ("emptied_s", "after_s", "told"),
    [
        (None, 239, "4 min after the last shot"),
        (None, 240, ""),
        (300, 840, "14 min after the hoses were emptied"),
        (300, 900, ""),
    ],
)
def test_an_early_final_reading_is_refused_without_a_reason(
    handbook: Handbook, emptied_s: float | None, after_s: float, told: str
) -> None:
    outcome = final(closing_out(handbook, emptied_s), handbook, after_s)
    assert isinstance(outcome, Refusal) is (told != "")
    if isinstance(outcome, Refusal):
        assert told in outcome.attempt.problems["early_reason"]
        assert outcome.attempt.typed["suction_pressure"] == "124"


def test_after_a_restart_it_waits_too(handbook: Handbook) -> None:
    book = closing_out(handbook, 60)
    book.form("system_stopped", 900)
    book.form("system_started")
    assert isinstance(final(book, handbook, 600), Refusal)
    assert isinstance(final(book, handbook, 300), Record)


def test_the_reason_is_asked_beside_what_was_typed_and_only_then(handbook: Handbook) -> None:
    book = closing_out(handbook, 60)
    step = Address(STEP, book.sid, "final_reading")
    refused = final(book, handbook, 60)
    assert isinstance(refused, Refusal)
    for attempt, asked in ((None, False), (refused, True)):
        form = page(book, handbook, attempt, step).context["form"]
        names = [one["name"] for one in form["fields"] + form["more"]]
        assert ("early_reason" in names) is asked


def test_the_reason_is_on_the_record_and_for_the_office(handbook: Handbook) -> None:
    book = closing_out(handbook, 60)
    outcome = final(book, handbook, 60, "The building closes")
    assert isinstance(outcome, Record)
    book.write(outcome.kind, outcome.data, 0)
    state = fold(book.events, handbook)
    flags = {flag.code: flag.detail for flag in flags_of(state, None, handbook)}
    assert flags["early"] == "2 min after the last shot: The building closes"
    record = page(book, handbook, None, Address(TICKET, book.sid))
    assert "The building closes" in str(record.context)
    again = page(book.wait(1200), handbook, None, Address(STEP, book.sid, "final_reading"))
    assert again.context["form"]["action"].endswith("/form/final_reading"), "another reading"
