"""One tap on the checklist does not say that the unit has run for 15 minutes while the page still
counts them: by the countdown, or the technician says it by itself."""

import pytest
from strategies import READING, Book, set_up, ulid

from lowside.core.advice.advice import READ, advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.recording import Record, record_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.step import step_context
from lowside.core.session.block import WAIT
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.gate import blocks


def now_of(book: Book) -> Moment:
    return Moment(book.run, book.mono, book.at, 0)


def tap(book: Book, handbook: Handbook, after_s: float, **typed: str) -> str:
    """“All as it should be”, so long after the mode was answered; the answer that is kept."""
    book.wait(after_s)
    sent = {"all_good": "yes", "eid": ulid(700), "step": "", **typed}
    address = Address(FORM, book.sid, "preconditions")
    state = fold(book.events, handbook)
    outcome = record_form(state, address, sent, handbook, now_of(book))
    assert isinstance(outcome, Record)
    book.write(outcome.kind, outcome.data, 0)
    return outcome.data["steady"]


def at_the_checks() -> Book:
    book = set_up(Book())
    machine = next(event for event in book.events if event.kind == "machine.set")
    book.wait((machine.at - book.at) / 1000.0)
    return book


def read_at(book: Book, handbook: Handbook, after_s: float) -> list[str]:
    book.form("reading", after_s, **READING)
    book.form("decide", decision="add")
    return [block.code for block in blocks(fold(book.events, handbook))]


@pytest.mark.parametrize(
    ("after_s", "answer"), [(120, "counted"), (899, "counted"), (900, "yes"), (4000, "yes")]
)
def test_the_tap_says_yes_only_when_the_countdown_is_over(
    handbook: Handbook, after_s: float, answer: str
) -> None:
    assert tap(at_the_checks(), handbook, after_s) == answer


def test_the_technician_can_say_that_it_ran_before(handbook: Handbook) -> None:
    book = at_the_checks()
    assert tap(book, handbook, 120, steady="yes") == "yes"
    assert read_at(book, handbook, 60) == []


def test_a_reading_within_the_countdown_permits_nothing_and_a_later_one_does(
    handbook: Handbook,
) -> None:
    book = at_the_checks()
    tap(book, handbook, 120)
    assert read_at(book, handbook, 779) == ["steady"]
    state = fold(book.events, handbook)
    assert advise(state, state.readings[-1].moment).action == WAIT
    assert advise(state, state.entries[-1].moment).action == READ, (
        "the countdown ended while the decision was made"
    )
    assert read_at(book, handbook, 1) == []


def test_a_restart_counts_from_there_and_instructions_go_first(handbook: Handbook) -> None:
    book = at_the_checks()
    book.form("target", 0, method="subcooling", maker_subcooling="10 °F", papers_wait="20 min")
    tap(book, handbook, 1000)
    assert read_at(book, handbook, 199) == ["steady"]
    assert read_at(book, handbook, 1) == []


def test_the_page_says_who_decides_and_counts_beside_the_reading(handbook: Handbook) -> None:
    book = at_the_checks()
    state = fold([one for one in book.events if one.kind != "checks.answered"], handbook)
    procedure = handbook.procedures[state.procedure]
    steps = {step.form: step for step in procedure.steps}
    screen = Screen(state, handbook, now_of(book.wait(120)), ulid(9), (), None)
    said = step_context(screen, procedure, steps["preconditions"])["form"]["checks"]
    assert "Cooling steadily for 15 minutes: by the countdown" in said
    tap(book, handbook, 0)
    screen = Screen(fold(book.events, handbook), handbook, now_of(book), ulid(9), (), None)
    wait = step_context(screen, procedure, steps["reading"])["wait"]
    assert wait["text"] == "13:00"
