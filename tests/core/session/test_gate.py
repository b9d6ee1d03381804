"""Nothing may go into the unit while there is a reason against it."""

import re
from pathlib import Path

import pytest
from strategies import READING, Book, ready_to_charge, set_up

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.fold import fold
from lowside.core.session.gate import blocks
from lowside.practice.technician import CHECKED


def codes(book: Book, handbook: Handbook) -> list[str]:
    return [block.code for block in blocks(fold(book.events, handbook))]


def tries_a_shot(book: Book, handbook: Handbook) -> Accepted | Refused:
    return accept(fold(book.events, handbook), "shot_open", {"eid": "x"}, handbook)


def test_a_shot_may_start_when_nothing_speaks_against_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    assert codes(book, handbook) == []
    assert isinstance(tries_a_shot(book, handbook), Accepted)


def stop(book: Book) -> None:
    book.form("system_stopped")


def wrong_cylinder(book: Book) -> None:
    book.form(
        "cylinder",
        cylinder_label="C-2",
        cylinder_refrigerant="R-22",
        cylinder_tare="7 lb",
        withdrawal="invert",
    )


def no_weight(book: Book) -> None:
    weight = next(event for event in book.events if event.kind == "weight.start")
    book.write("event.voided", {"target": weight.eid})


def no_reading(book: Book) -> None:
    reading = next(event for event in book.events if event.kind == "reading.taken")
    book.write("event.voided", {"target": reading.eid})


def not_decided(book: Book) -> None:
    decision = next(event for event in book.events if event.kind == "decision.made")
    book.write("event.voided", {"target": decision.eid})


def left_alone(book: Book) -> None:
    book.form("decide", decision="leave")


def closed(book: Book) -> None:
    book.form("record", signed_by="I. Varga", caps_checked="yes")


def over_pressure(book: Book) -> None:
    book.form("unit", refrigerant="R-410A", metering="txv", high_side_limit="550 psig")
    book.form("reading", **(READING | {"liquid_pressure": "560 psig", "liquid_line": "120 °F"}))


@pytest.mark.parametrize(
    ("trouble", "code"),
    [
        (stop, "stopped"),
        (wrong_cylinder, "wrong_refrigerant"),
        (no_weight, "not_weighed"),
        (no_reading, "no_baseline"),
        (not_decided, "undecided"),
        (left_alone, "leave"),
        (closed, "closed"),
        (over_pressure, "reading_stop"),
    ],
)
def test_a_reason_against_charging_stops_the_shot_and_says_what_ends_it(
    handbook: Handbook, trouble: object, code: str
) -> None:
    book = ready_to_charge(Book())
    assert callable(trouble)
    trouble(book)
    assert code in codes(book, handbook)
    outcome = tries_a_shot(book, handbook)
    assert isinstance(outcome, Refused)
    assert outcome.message.endswith((".", "…"))
    if code != "closed":
        first = blocks(fold(book.events, handbook))[0]
        assert outcome.message == f"{first.sentence} {first.cure}"


@pytest.mark.parametrize(
    ("check", "answer", "code"),
    [
        ("qualified", "no", "not_qualified"),
        ("leak", "leaking", "leaking"),
        ("same_refrigerant", "no", "mixed_refrigerant"),
        ("protected", "no", "unprotected"),
    ],
)
def test_a_check_that_failed_stops_the_shot(
    handbook: Handbook, check: str, answer: str, code: str
) -> None:
    book = ready_to_charge(Book())
    book.form("preconditions", **(CHECKED | {check: answer}))
    assert codes(book, handbook) == [code]
    assert isinstance(tries_a_shot(book, handbook), Refused)
    book.form("preconditions", **CHECKED)
    read_again = check in ("leak", "same_refrigerant")
    assert codes(book, handbook) == (["steady"] if read_again else [])


def test_the_unit_standing_still_comes_before_every_other_reason(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    for trouble in (left_alone, wrong_cylinder, stop):
        trouble(book)
    assert codes(book, handbook)[0] == "stopped"
    book.form("system_started")
    assert "stopped" not in codes(book, handbook)


def test_the_decision_to_add_waits_for_the_same_reasons(handbook: Handbook) -> None:
    book = set_up(Book())
    book.form("reading", **READING)
    stop(book)
    outcome = accept(fold(book.events, handbook), "decide", {"decision": "add"}, handbook)
    assert isinstance(outcome, Refused)
    assert outcome.message.startswith("Not now: The unit is stopped.")
    allowed = accept(fold(book.events, handbook), "decide", {"decision": "leave"}, handbook)
    assert isinstance(allowed, Accepted)


def test_adding_against_the_readings_needs_a_reason(handbook: Handbook) -> None:
    book = set_up(Book())
    # Subcooling on target: 369 psig is some 111 °F of bubble temperature, 10 °F above the line.
    book.form("reading", **(READING | {"liquid_pressure": "369 psig", "liquid_line": "101 °F"}))
    state = fold(book.events, handbook)
    outcome = accept(state, "decide", {"decision": "add"}, handbook)
    assert isinstance(outcome, Refused)
    assert "Say why you add" in outcome.problems["reason"]
    reasoned = {"decision": "add", "reason": "long line set, maker says so"}
    assert isinstance(accept(state, "decide", reasoned, handbook), Accepted)


def test_cylinder_and_unit_must_name_the_same_refrigerant(handbook: Handbook) -> None:
    book = set_up(Book())
    before = [block.code for block in blocks(fold(book.events, handbook))]
    wrong_cylinder(book)
    after = [block.code for block in blocks(fold(book.events, handbook))]
    assert "wrong_refrigerant" not in before
    assert "wrong_refrigerant" in after


def test_a_running_unit_is_not_charged_by_weight(handbook: Handbook) -> None:
    book = set_up(Book())
    book.form("decide", decision="add")
    assert codes(book, handbook) == ["no_baseline"]
    book.form("target", method="weigh_in")
    assert codes(book, handbook) == ["by_weight"]


def test_a_stop_never_traps_liquid_between_two_closed_valves(handbook: Handbook) -> None:
    # The relief of the yellow hose is the open cylinder valve: common practice, no source.
    for trouble in (stop, over_pressure):
        book = ready_to_charge(Book())
        trouble(book)
        block = blocks(fold(book.events, handbook))[0]
        told = block.sentence + " " + block.cure
        assert told.count("Close the low-side manifold valve") == 1
        first_act = told[told.index("Close the low-side manifold valve") :]
        assert "eave the cylinder valve open" in first_act
        assert "Find the cause" not in told.replace(first_act, "")
        assert "hut the cylinder" not in told


def test_no_sentence_of_the_program_asks_to_close_the_cylinder_on_a_stop(root: Path) -> None:
    wrong = re.compile(
        r"(shut|close) the cylinder\b(?! valve)|keep the cylinder (shut|closed)", re.I
    )
    for path in sorted((root / "src" / "lowside").rglob("*.py")):
        text = re.sub(r'"\s*\n\s*f?"', "", path.read_text(encoding="utf-8"))
        assert wrong.findall(text) == [], path
