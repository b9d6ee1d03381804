"""Whether a machine may be added to at all: each answer, and each answer that was not given."""

from itertools import product

import pytest
from strategies import CIRCUIT, MACHINE, READING, Book, ready_to_charge, set_up

from lowside.core.advice.advice import ADD, advise
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.pages.form import full_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.ticket import ticket_context
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.federal import leak_rule
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS
from lowside.core.session.fold import fold
from lowside.core.session.gate import blocks
from lowside.practice.technician import CHECKED_ALWAYS


def codes(book: Book, handbook: Handbook) -> list[str]:
    return [block.code for block in blocks(fold(book.events, handbook))]


def shot(book: Book, handbook: Handbook) -> Accepted | Refused:
    return accept(fold(book.events, handbook), "shot_open", {"eid": "x"}, handbook)


def without(book: Book, kind: str) -> Book:
    """The book as it would be from before that kind of event was asked for."""
    book.events[:] = [event for event in book.events if event.kind != kind]
    return book


MODES = [code for code, _ in FORMS["machine"].fields[0].choices]
STAGES = [code for code, _ in FORMS["machine"].fields[1].choices]
KINDS = [code for code, _ in FORMS["machine"].fields[2].choices]
HELD = ["", "yes", "papers_low", "no"]
PORTS = ["", "suction_port", "large_line"]


def may_be_judged(mode: str, stage: str, kind: str, held: str) -> bool:
    """The rule written once more, in the order an expert asks."""
    if mode == "heating" or stage == "bypass":
        return False
    if stage == "full" and kind in ("split", "package"):
        return True
    if held == "yes":
        return True
    return held == "papers_low" and stage == "part" and kind in ("split", "package")


def settle_again(book: Book) -> None:
    """The unit runs as it was said last, then it is read: a reading from before does not count."""
    book.form("reading", after_s=900, **READING)


def test_every_machine_is_either_judged_or_turned_away(handbook: Handbook) -> None:
    for mode, stage, kind, held, port in product(MODES, STAGES, KINDS, HELD, PORTS):
        book = ready_to_charge(Book())
        answers = {"mode": mode, "compressor": stage, "kind": kind, "held": held, "port": port}
        book.write("machine.set", {name: text for name, text in answers.items() if text != ""})
        settle_again(book)
        judged = may_be_judged(mode, stage, kind, held)
        assert (codes(book, handbook) == []) == judged, answers
        assert isinstance(shot(book, handbook), Accepted) == judged, answers
        if mode == "heating" and port == "large_line":
            assert codes(book, handbook)[0] == "heating_large_line"


@pytest.mark.parametrize("name", ["mode", "compressor", "kind"])
def test_an_open_question_about_the_machine_is_not_a_yes(handbook: Handbook, name: str) -> None:
    book = ready_to_charge(Book())
    book.write("machine.set", {key: text for key, text in MACHINE.items() if key != name})
    assert codes(book, handbook) == ["machine_unanswered"]
    assert isinstance(shot(book, handbook), Refused)


@pytest.mark.parametrize("name", list(CIRCUIT))
def test_an_open_question_about_the_circuit_is_not_a_yes(handbook: Handbook, name: str) -> None:
    book = ready_to_charge(Book())
    facts = {"refrigerant": "R-410A", "metering": "txv"} | CIRCUIT
    book.write("unit.set", {key: text for key, text in facts.items() if key != name})
    assert codes(book, handbook) == ["circuit_unanswered"]


@pytest.mark.parametrize("name", list(CHECKED_ALWAYS))
def test_an_open_check_is_not_a_yes(handbook: Handbook, name: str) -> None:
    book = ready_to_charge(Book())
    book.write(
        "checks.answered", {key: text for key, text in CHECKED_ALWAYS.items() if key != name}
    )
    assert codes(book, handbook) == ["checks_unanswered"]


def test_a_session_from_before_the_questions_can_be_shown_and_closed_but_not_added_to(
    handbook: Handbook,
) -> None:
    book = without(ready_to_charge(Book()), "machine.set")
    state = fold(book.events, handbook)
    assert state.machine is None
    assert advise(state, state.entries[-1].moment).action != ADD
    assert isinstance(shot(book, handbook), Refused)
    signed = accept(state, "end_weight", {"gross": "26", "gross_unit": "lb"}, handbook)
    assert isinstance(signed, Accepted)


def test_the_large_line_of_a_heat_pump_in_heating_is_caught_before_a_nut_is_touched(
    handbook: Handbook,
) -> None:
    """READ: in heating high pressure is at the larger service valve (SSZ14 p. 28)."""
    book = set_up(Book())
    book.form("machine", **(MACHINE | {"mode": "heating", "port": "large_line"}))
    typed = {"eid": "x", "step": "connect"}
    outcome = accept(fold(book.events, handbook), "done", typed, handbook)
    assert isinstance(outcome, Refused)
    assert "large line is the high side" in outcome.message
    book.form("machine", **(MACHINE | {"mode": "heating", "port": "suction_port"}))
    assert isinstance(accept(fold(book.events, handbook), "done", typed, handbook), Accepted)


@pytest.mark.parametrize(
    ("answers", "field"),
    [
        ({"mode": "heating"}, "port"),
        ({"compressor": "part"}, "held"),
        ({"compressor": "inverter"}, "held"),
        ({"kind": "ductless"}, "held"),
        ({"kind": "multi_split"}, "held"),
    ],
)
def test_the_form_asks_what_this_machine_needs(
    handbook: Handbook, answers: dict[str, str], field: str
) -> None:
    book = set_up(Book())
    outcome = accept(fold(book.events, handbook), "machine", MACHINE | answers, handbook)
    assert isinstance(outcome, Refused)
    assert list(outcome.problems) == [field]


def test_a_charge_mode_is_asked_for_again_after_an_hour(handbook: Handbook) -> None:
    """READ: the mode ends by itself after at most 60 min (NS22HM p. 19)."""
    book = set_up(Book())
    book.form("machine", **(MACHINE | {"compressor": "inverter", "held": "yes"}))
    book.form("reading", after_s=1800, **READING)
    book.form("decide", decision="add")
    assert codes(book, handbook) == []
    book.form("reading", after_s=1801, **READING)
    assert codes(book, handbook) == ["mode_over"]
    book.form("machine", **(MACHINE | {"compressor": "inverter", "held": "yes"}))
    assert codes(book, handbook) == ["steady"]
    settle_again(book)
    assert codes(book, handbook) == []


def test_after_a_stop_nothing_is_added_before_a_settled_reading(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("system_stopped")
    book.form("system_started", after_s=60)
    assert codes(book, handbook) == ["steady"]
    book.form("reading", after_s=890, **READING)
    assert codes(book, handbook) == ["steady"]
    book.form("reading", after_s=20, **READING)
    assert codes(book, handbook) == []


def test_a_reason_opens_the_search_and_no_other_check(handbook: Handbook) -> None:
    for name in ("airflow", "outdoor_coil", "steady"):
        book = ready_to_charge(Book())
        book.form("preconditions", **(CHECKED_ALWAYS | {name: "no", "checks_reason": "no time"}))
        assert codes(book, handbook) == [name]
    book = ready_to_charge(Book())
    book.form("preconditions", **(CHECKED_ALWAYS | {"leak": "not_searched"}))
    assert codes(book, handbook) == ["not_searched"]
    book.form(
        "preconditions", **(CHECKED_ALWAYS | {"leak": "not_searched", "checks_reason": "roof iced"})
    )
    assert codes(book, handbook) == []


@pytest.mark.parametrize(
    ("refrigerant", "pounds", "exempt", "cited"),
    [
        ("R-22", 49.9, False, ""),
        ("R-22", 50.0, True, "82.157"),
        ("R-410A", 14.9, False, ""),
        ("R-410A", 15.0, False, "84.106"),
        ("R-410A", 15.0, True, ""),
        ("R-404A", 14.9, False, ""),
        ("R-404A", 15.0, True, "84.106"),
        ("R-290", 100.0, False, ""),
        ("R-744", 100.0, False, ""),
    ],
)
def test_federal_limits_are_cited_from_their_size_on(
    handbook: Handbook, refrigerant: str, pounds: float, exempt: bool, cited: str
) -> None:
    """READ: 40 CFR 82.157(a) 50 lb or more of class I or II; 84.106(a) 15 lb or more with an HFC,
    not the residential and light commercial air conditioning subsector."""
    rule = leak_rule(handbook.refrigerants[refrigerant], pounds * POUND_KG, exempt)
    assert (rule == "") == (cited == "")
    assert cited in rule


def test_without_a_full_charge_no_limit_is_taken_as_kept(handbook: Handbook) -> None:
    assert "nameplate charge" in leak_rule(handbook.refrigerants["R-410A"], None, True)


def test_every_refrigerant_says_where_it_is_used_and_whether_its_rest_is_still_itself(
    handbook: Handbook,
) -> None:
    uses = {name: each.use for name, each in handbook.refrigerants.items()}
    assert {name for name, use in uses.items() if use == "weigh_in"} == {
        "R-290",
        "R-600a",
        "R-744",
        "R-1234yf",
    }
    for each in handbook.refrigerants.values():
        assert not each.shifts_when_it_leaks or each.glide_k > 2.0
        assert {"use"} <= {source.fact for source in each.sources}


def with_reading(book: Book, **more: str) -> Book:
    """A reading that asks for charge, with `more`; the decision of before stays."""
    book.wait(60)
    book.form("reading", **(READING | more))
    return book


def decided(book: Book, handbook: Handbook, reason: str = "") -> Accepted | Refused:
    typed = {"decision": "add", "reason": reason, "eid": "x"}
    return accept(fold(book.events, handbook), "decide", typed, handbook)


def test_a_current_above_the_plate_is_added_to_only_with_a_reason(handbook: Handbook) -> None:
    """READ: rated load amps do not say whether operating amps are right."""
    book = ready_to_charge(Book())
    assert codes(book, handbook) == []
    book.form(
        "unit", refrigerant="R-410A", metering="txv", capacity="3 ton", **CIRCUIT, rated_amps="15 A"
    )
    with_reading(book, compressor_amps="17 A")
    assert codes(book, handbook) == ["reading_reason"]
    assert isinstance(shot(book, handbook), Refused)
    assert isinstance(decided(book, handbook), Refused)
    assert isinstance(decided(book, handbook, "low line voltage, measured"), Accepted)
    book.form("decide", decision="add", reason="low line voltage, measured")
    assert codes(book, handbook) == []
    assert isinstance(shot(book, handbook), Accepted)
    ticket = ticket_context(fold(book.events, handbook), handbook)
    told = [each for part in ticket["parts"] for each in part["facts"]]
    against = [each["value"] for each in told if each["name"] == "Against the readings"]
    assert len(against) == 1
    assert "above its rated" in against[0]


def test_a_reason_counts_for_what_it_was_written_against(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("decide", decision="add", reason="the owner is in a hurry")
    with_reading(book, return_wet_bulb="66 °F", supply_dry_bulb="56 °F")
    assert codes(book, handbook) == ["reading_reason"]
    assert isinstance(decided(book, handbook), Refused)
    book.form("decide", decision="add", reason="fins measured, 400 cfm a ton")
    assert codes(book, handbook) == []


def test_no_reason_opens_a_refusal(handbook: Handbook) -> None:
    book = with_reading(ready_to_charge(Book()), return_wet_bulb="66 °F", supply_dry_bulb="50 °F")
    assert codes(book, handbook) == ["reading_refused"]
    assert isinstance(decided(book, handbook, "I know this unit"), Refused)
    assert isinstance(shot(book, handbook), Refused)


FLAMMABLE = tuple(FLAMMABLE_QUESTIONS)


def test_what_burns_is_asked_five_questions_more_and_nothing_else_is(handbook: Handbook) -> None:
    for refrigerant, asked in (("R-410A", False), ("R-454B", True), ("R-32", True)):
        book = ready_to_charge(Book())
        book.form("unit", refrigerant=refrigerant, metering="txv", capacity="3 ton", **CIRCUIT)
        state = fold(book.events, handbook)
        known = {name: text for name, text in CHECKED_ALWAYS.items() if name not in FLAMMABLE}
        outcome = accept(state, "preconditions", known | {"eid": "x"}, handbook)
        if asked:
            assert isinstance(outcome, Refused)
            assert tuple(outcome.problems) == FLAMMABLE
        else:
            assert isinstance(outcome, Accepted)
        assert ("checks_unanswered" in codes(book, handbook)) == asked
        screen = Screen(state, handbook, state.entries[-1].moment, "0" * 26, (), None)
        shown = full_form(screen, "preconditions", 2, "", "")["fields"]
        names = [field["name"] for field in shown if field["name"] in FLAMMABLE]
        assert names == (list(FLAMMABLE) if asked else [])
