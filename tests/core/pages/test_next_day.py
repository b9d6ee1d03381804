"""The next day in the same session: nothing of yesterday is entered by one tap or still counts."""

from typing import Any

import pytest
from strategies import CHECKED_ALWAYS, READING, Book, ready_to_charge, ulid, with_units

from lowside.core.advice.advice import ADD, READ, advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.form import full_form
from lowside.core.pages.recording import READ_AGAIN, Record, Refusal, record_form
from lowside.core.pages.screen import Screen
from lowside.core.session.block import WAIT
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.last_end import ALIKE
from lowside.core.session.steady import BREAK_S, after_a_break

NIGHT_S = 20.0 * 3600.0


def now_of(book: Book) -> Moment:
    return Moment(book.run, book.mono, book.at, 0)


def boxes(book: Book, form: str, handbook: Handbook) -> dict[str, Any]:
    state = fold(book.events, handbook)
    screen = Screen(state, handbook, now_of(book), ulid(9), (), None)
    shown = full_form(screen, form, 0, "", "")
    return {field["name"]: field for field in shown["fields"] + shown["more"]}


def keys(book: Book, handbook: Handbook) -> list[str]:
    found: list[str] = boxes(book, "reading", handbook)["suction_pressure"]["keys"]
    return found


def again(book: Book, handbook: Handbook, **changed: str) -> Record | Refusal:
    typed = with_units("reading", READING | changed) | {"eid": "e1", "step": ""}
    address = Address(FORM, book.sid, "reading")
    outcome = record_form(fold(book.events, handbook), address, typed, handbook, now_of(book))
    assert isinstance(outcome, Record | Refusal)
    return outcome


@pytest.mark.parametrize(("hours", "asked"), [(3.9, False), (4.1, True), (20.0, True)])
def test_a_reading_like_the_old_one_in_every_box_is_asked_back(
    handbook: Handbook, hours: float, asked: bool
) -> None:
    book = ready_to_charge(Book()).wait(hours * 3600.0)
    same = again(book, handbook)
    assert isinstance(same, Refusal) is asked
    if isinstance(same, Refusal):
        assert same.attempt.problems == {ALIKE: READ_AGAIN}
    assert isinstance(again(book, handbook, alike="yes"), Record)
    assert isinstance(again(book, handbook, suction_pressure="125 psig"), Record)


def test_the_steady_running_is_asked_again(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    assert not after_a_break(fold(book.events), now_of(book))
    book.wait(NIGHT_S)
    assert after_a_break(fold(book.events), now_of(book))
    book.form("reading", **READING)
    state = fold(book.events, handbook)
    told = advise(state, now_of(book))
    assert told.action == WAIT
    assert "answered hours ago" in told.reasons[0]
    book.form("preconditions", **CHECKED_ALWAYS)
    state = fold(book.events, handbook)
    assert not after_a_break(state, now_of(book))
    assert advise(state, now_of(book)).action in (ADD, READ)


def test_a_break_is_one_pause_and_not_a_long_day(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    for _ in range(3):
        book.wait(BREAK_S - 60.0)
        book.form("reading", **READING)
    assert not after_a_break(fold(book.events), now_of(book))
    assert after_a_break(fold(book.events), now_of(book.wait(BREAK_S + 1.0)))
    assert not after_a_break(fold([]), now_of(book))


def test_no_key_offers_what_stood_there_yesterday(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    assert keys(book, handbook) == ["124"]
    book.wait(NIGHT_S)
    assert keys(book, handbook) == []


def test_yesterday_s_answer_is_not_filled_in(handbook: Handbook) -> None:
    book = ready_to_charge(Book())

    def on(name: str) -> list[str]:
        found = boxes(book, "preconditions", handbook)[name]
        return [choice["value"] for choice in found["choices"] if choice["on"]]

    assert on("steady") == ["yes"]
    book.wait(NIGHT_S)
    assert on("steady") == []
    assert on("airflow") == ["yes"]
