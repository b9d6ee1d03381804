"""What the hand finds at the filter drier is answered with a reading, and kept until felt again.

A drop across it is a restriction (READ: the service table, refrigeration-engineer.com, entry 355).
How long an answer holds: common practice, no source.
"""

import pytest
from strategies import READING, Book, ready_to_charge, set_up, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import CALLS_FOR_CHARGE, POINTS_ELSEWHERE
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.recording import Record, Refusal, record_form
from lowside.core.pages.ticket import ticket_context
from lowside.core.pages.timeline import entry_lines
from lowside.core.session import gate
from lowside.core.session.corrections import amend_data
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import State


def known(*answers: str) -> list[str]:
    """What holds at each reading of these answers."""
    book = set_up(Book())
    for answer in answers:
        book.form("reading", **READING, **({} if answer == "" else {"drier": answer}))
    return [taken.reading.drier for taken in fold(book.events).readings]


def typed_by_hand() -> dict[str, str]:
    return with_units("reading", READING)


def send(book: Book, handbook: Handbook, name: str, **typed: str) -> Record | Refusal:
    book.wait(10)
    outcome = record_form(
        fold(book.events, handbook),
        Address(FORM, book.sid, name),
        {**typed, "eid": f"x{len(book.events)}", "step": "", "shot": ""},
        handbook,
        Moment(book.run, book.mono, book.at, 0),
    )
    assert isinstance(outcome, Record | Refusal)
    return outcome


@pytest.mark.parametrize(
    ("answers", "holds"),
    [
        (("", ""), ["", ""]),
        (("same", ""), ["same", "same"]),
        (("not reached", "same"), ["not reached", "same"]),
        (("same", "not reached"), ["same", "same"]),
        (("", "colder", "", "not reached", "same", ""), ["", *["colder"] * 3, "same", "same"]),
        (("same", "colder"), ["same", "colder"]),
        (("colder", "perhaps", " same "), ["colder", "colder", "same"]),
    ],
)
def test_an_answer_holds_until_it_is_felt_again(answers: tuple[str, ...], holds: list[str]) -> None:
    assert known(*answers) == holds


def test_a_reading_without_an_answer_is_judged_as_it_always_was(handbook: Handbook) -> None:
    state = fold(ready_to_charge(Book()).events, handbook)
    book = ready_to_charge(Book())
    book.form("reading", **READING, drier="same")
    same = fold(book.events, handbook).readings
    assert state.readings[0].assessment == same[0].assessment == same[1].assessment


def bars(state: State) -> bool:
    return [block.code for block in gate.blocks(state)] == ["reading_refused"]


def test_a_restriction_bars_every_shot_and_no_reason_opens_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    assert isinstance(send(book, handbook, "shot_open"), Record)
    felt = book.form("reading", **READING, drier="colder")
    state = fold(book.events, handbook)
    assert bars(state)
    judged = state.readings[-1].assessment
    assert judged is not None
    assert (judged.verdict, judged.reason_finding.code) == (POINTS_ELSEWHERE, "drier")
    for name, typed in (
        ("shot_open", {}),
        ("decide", {"decision": "add", "reason": "I know this unit"}),
    ):
        refused = send(book, handbook, name, **typed)
        assert isinstance(refused, Refusal)
        assert "colder after the filter drier" in refused.attempt.message
    # It holds at the next reading, and falls with its entry or a correction of it.
    book.form("reading", **READING)
    assert bars(fold(book.events, handbook))
    corrected = amend_data(felt.eid, {**felt.data, "drier": "same"})
    amended = Book(events=[*book.events], seen=book.seen, at=book.at)
    amended.write("event.amended", corrected)
    assert not gate.blocks(fold(amended.events, handbook))
    book.write("event.voided", {"target": felt.eid})
    last = fold(book.events, handbook)
    assert not gate.blocks(last)
    assert last.readings[-1].assessment is not None
    assert last.readings[-1].assessment.verdict == CALLS_FOR_CHARGE


def test_the_final_reading_has_it_too_and_can_answer_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("reading", **READING, drier="colder")
    book.form("final_reading", **READING)
    assert fold(book.events, handbook).readings[-1].reading.drier == "colder"
    early = {"early_reason": "The site closes"}
    saved = send(book, handbook, "final_reading", **typed_by_hand(), **early, drier="same")
    assert isinstance(saved, Record)
    book.write(saved.kind, saved.data)
    assert fold(book.events, handbook).readings[-1].reading.drier == "same"


def test_only_its_answers_are_taken(handbook: Handbook) -> None:
    book = set_up(Book())
    refused = send(book, handbook, "reading", **typed_by_hand(), drier="perhaps")
    assert isinstance(refused, Refusal)
    assert refused.attempt.problems == {"drier": "Choose one of the answers."}
    kept = send(book, handbook, "reading", **typed_by_hand(), drier="not reached")
    assert isinstance(kept, Record)
    assert kept.data["drier"] == "not reached"


def test_it_is_on_timeline_and_record(handbook: Handbook) -> None:
    book = set_up(Book())
    book.form("reading", **READING, drier="not reached")
    state = fold(book.events, handbook)
    assert "Filter drier, both sides: Not reached" in entry_lines(state.entries[-1], {})
    parts = {part["title"]: part["facts"] for part in ticket_context(state, handbook)["parts"]}
    told = [(one["name"], one["value"]) for one in parts["First reading"]]
    assert ("Filter drier, both sides", "Not reached") in told
