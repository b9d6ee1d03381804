"""Two phones answer one question differently, each before it saw the other's answer. Which one
comes later is chance, so nothing is added until somebody who knows both answers once more."""

import pytest
from expert import Bench, with_spaced_units
from overcharged import SHORT, charging
from strategies import Book
from walked import did
from website import Reader

from lowside.core.handbook.forms import FORM_OF_KIND
from lowside.core.handbook.handbook import Handbook
from lowside.core.office.flags import flags_of
from lowside.core.pages.addresses import AMEND, FORM, STEP, Address
from lowside.core.pages.page import Page
from lowside.core.pages.recording import Record, record_form
from lowside.core.pages.screen import SHOWN, Screen
from lowside.core.pages.timeline import entry_lines
from lowside.core.pages.view import view
from lowside.core.session import gate
from lowside.core.session.apart import REPLACES
from lowside.core.session.last_visit import visit_of
from lowside.core.session.state import STANDS, Entry
from lowside.practice.technician import CHECKED
from lowside.rendering import render

UNIT = {
    "refrigerant": "R-410A",
    "metering": "txv",
    "coil": "tube_fin",
    "receiver": "no",
    "capacity": "3 ton",
    "nameplate_charge": "6 lb",
}
MACHINE = {"mode": "cooling", "compressor": "full", "kind": "split"}
HEATING = MACHINE | {"mode": "heating", "port": "large_line"}
TARGET = {"method": "subcooling", "maker_subcooling": "10 °F"}
LEAVE = {"decision": "leave", "reason": "compressor rattles"}
CASES = [
    ("preconditions", CHECKED, CHECKED | {"same_refrigerant": "no"}),
    ("preconditions", CHECKED, CHECKED | {"leak": "leaking"}),
    ("preconditions", CHECKED, CHECKED | {"airflow": "no"}),
    ("preconditions", CHECKED, CHECKED | {"qualified": "no"}),
    ("machine", MACHINE, HEATING),
    ("unit", UNIT, UNIT | {"receiver": "yes"}),
    ("target", TARGET, TARGET | {"maker_subcooling": "8 °F"}),
]
"""A form, what one phone says in it and what the other."""


def second(bench: Bench, dev: str = "phone-b") -> Bench:
    """Another phone that knows all of it now, and nothing more until they are in touch."""
    book = bench.book
    events = list(book.events)
    return Bench(bench.handbook, Book(book.sid, dev, dev, book.at, 5_000_000, book.seen, events))


def in_touch(*phones: Bench) -> None:
    events = {event.eid: event for phone in phones for event in phone.book.events}
    for phone in phones:
        passed = max(each.book.at for each in phones) - phone.book.at
        phone.book.wait(passed / 1000.0)
        phone.book.events = list(events.values())
        phone.book.seen = max(event.hlc for event in events.values())


def two_apart(handbook: Handbook, form: str, mine: dict[str, str], theirs: dict[str, str]) -> Bench:
    """B answers, and A a little later."""
    a = charging(handbook)
    b = second(a)
    did(b, form, **theirs)
    a.book.wait(30)
    did(a, form, **mine)
    in_touch(a, b)
    return a


def shown_by(bench: Bench, form: str) -> str:
    """What the page of a form says that it was made from."""
    screen = Screen(bench.state(), bench.handbook, bench.now(), "0" * 26, (), None)
    page = view(screen, Address(FORM, bench.book.sid, form))
    assert isinstance(page, Page)
    filled = Reader(render(page.template, page.context)).forms
    return next(one for one in filled if one.action.endswith("/" + form)).values[SHOWN]


def newest(bench: Bench, kind: str) -> Entry:
    return [e for e in bench.state().entries if e.kind == kind and e.status == STANDS][-1]


def corrects(bench: Bench, form: str, eid: str, **typed: str) -> None:
    """As the timeline's form does."""
    bench.book.wait(10)
    sent = {**with_spaced_units(form, typed), "eid": f"x{len(bench.book.events)}"}
    where = Address(AMEND, bench.book.sid, eid)
    outcome = record_form(bench.state(), where, sent, bench.handbook, bench.now())
    assert isinstance(outcome, Record), outcome
    bench.book.write(outcome.kind, outcome.data, 0)


def codes(bench: Bench) -> list[str]:
    return [block.code for block in gate.blocks(bench.state())]


def conflict(bench: Bench) -> bool:
    found = flags_of(bench.state(), None, bench.handbook)
    return "conflict" in [flag.code for flag in found]


def may_be_added_to(bench: Bench) -> bool:
    did(bench, "reading", **SHORT)
    did(bench, "decide", decision="add")
    return bench.advice().action == "add"


@pytest.mark.parametrize(("form", "mine", "theirs"), CASES)
def test_nothing_is_added_while_two_phones_differ(
    handbook: Handbook, form: str, mine: dict[str, str], theirs: dict[str, str]
) -> None:
    a = two_apart(handbook, form, mine, theirs)
    assert "apart" in codes(a)
    assert conflict(a)
    assert a.advice().action == "do_not_add"
    assert not a.form("shot_open", {})
    did(a, "reading", **SHORT)
    assert not a.form("decide", {"decision": "add"})
    assert "Two phones answered differently" in a.refused


@pytest.mark.parametrize(("form", "mine", "theirs"), CASES)
def test_what_comes_while_the_page_is_open_was_not_known(
    handbook: Handbook, form: str, mine: dict[str, str], theirs: dict[str, str]
) -> None:
    a = charging(handbook)
    b = second(a)
    open_page = shown_by(a, form)
    did(b, form, **theirs)
    in_touch(a, b)
    a.book.wait(30)
    a.page = {SHOWN: open_page}
    did(a, form, **mine)
    assert "apart" in codes(a)
    a.page = {SHOWN: shown_by(a, form)}
    did(a, form, **mine)
    assert "apart" not in codes(a)


@pytest.mark.parametrize("dev", ["phone-a", "phone-b", "phone-c"])
@pytest.mark.parametrize(("form", "mine", "theirs"), CASES)
def test_answered_once_more_by_one_who_knows_both_it_counts(
    handbook: Handbook, form: str, mine: dict[str, str], theirs: dict[str, str], dev: str
) -> None:
    a = two_apart(handbook, form, mine, theirs)
    one = a if dev == a.book.dev else second(a, dev)
    did(one, form, **mine)
    in_touch(a, one)
    assert "apart" not in codes(a)
    assert not conflict(a)
    a.book.wait(1000)
    assert may_be_added_to(a)
    did(one, form, **theirs)
    in_touch(a, one)
    assert "apart" not in codes(a)


def test_two_phones_that_say_the_same_do_not_differ(handbook: Handbook) -> None:
    a = two_apart(handbook, "preconditions", dict(CHECKED), dict(CHECKED))
    assert "apart" not in codes(a)
    assert not conflict(a)
    assert a.advice().action == "add"


def test_an_answer_changed_by_one_who_saw_it_is_no_difference(handbook: Handbook) -> None:
    a = charging(handbook)
    b = second(a)
    did(b, "preconditions", **CHECKED | {"airflow": "no"})
    in_touch(a, b)
    did(a, "preconditions", **CHECKED)
    in_touch(a, b)
    assert "apart" not in codes(a)
    assert not conflict(a)


def test_answering_again_without_having_seen_the_other_ends_nothing(handbook: Handbook) -> None:
    a = charging(handbook)
    b = second(a)
    did(b, "preconditions", **CHECKED | {"same_refrigerant": "no"})
    a.book.wait(30)
    did(a, "preconditions", **CHECKED | {"airflow": "no"})
    did(a, "preconditions", **CHECKED)
    in_touch(a, b)
    assert "apart" in codes(a)


def test_the_first_ever_answers_of_two_phones_may_differ_too(handbook: Handbook) -> None:
    a = Bench(handbook)
    a.book.write("session.started", {"procedure": "hand-valved-three-port"})
    b = second(a)
    did(b, "machine", **HEATING)
    a.book.wait(30)
    did(a, "machine", **MACHINE)
    in_touch(a, b)
    assert "apart" in codes(a)
    assert "apart" in gate.BEFORE_HOSES


def test_a_third_phone_that_knew_only_one_ends_nothing(handbook: Handbook) -> None:
    a = charging(handbook)
    b = second(a)
    c = second(a, "phone-c")
    did(b, "preconditions", **CHECKED | {"leak": "leaking"})
    a.book.wait(30)
    did(a, "preconditions", **CHECKED | {"airflow": "no"})
    in_touch(a, c)
    did(c, "preconditions", **CHECKED)
    in_touch(a, b, c)
    assert "apart" in codes(a)


def test_one_answer_voided_or_corrected_to_the_other_there_is_one_answer(
    handbook: Handbook,
) -> None:
    wrong = CHECKED | {"airflow": "no"}
    a = two_apart(handbook, "preconditions", dict(CHECKED), wrong)
    theirs = next(e for e in a.state().entries if e.data.get("airflow") == "no")
    a.book.write("event.voided", {"target": theirs.eid})
    assert "apart" not in codes(a)
    a = two_apart(handbook, "preconditions", dict(CHECKED), wrong)
    corrects(a, "preconditions", theirs.eid, **CHECKED)
    assert "apart" not in codes(a)
    a = two_apart(handbook, "preconditions", dict(CHECKED), wrong)
    corrects(a, "preconditions", newest(a, "checks.answered").eid, **CHECKED)
    assert "apart" not in codes(a)


def test_two_decisions_are_decided_once_more(handbook: Handbook) -> None:
    a = two_apart(handbook, "decide", {"decision": "add"}, LEAVE)
    assert a.advice().action == "do_not_add"
    assert a.advice().reasons[0].startswith("Two phones decided differently.")
    assert conflict(a)
    assert not a.form("shot_open", {})
    did(a, "decide", decision="add")
    assert a.advice().action == "add"
    assert not conflict(a)


@pytest.mark.parametrize("seen", [False, True])
@pytest.mark.parametrize(
    ("form", "mine", "theirs"),
    [
        ("unit", UNIT | {"capacity": "3.5 ton"}, UNIT | {"receiver": "yes"}),
        ("target", TARGET | {"maker_tolerance": "2 °F"}, TARGET | {"maker_subcooling": "8 °F"}),
        ("machine", MACHINE | {"kind": "package"}, HEATING),
        ("preconditions", CHECKED | {"checks_reason": "x"}, CHECKED | {"same_refrigerant": "no"}),
    ],
)
def test_two_corrections_of_one_entry_are_two_answers(
    handbook: Handbook, form: str, mine: dict[str, str], theirs: dict[str, str], seen: bool
) -> None:
    a = charging(handbook)
    b = second(a)
    kind = next(kind for kind, one in FORM_OF_KIND.items() if one.name == form)
    eid = newest(a, kind).eid
    corrects(b, form, eid, **theirs)
    if seen:
        in_touch(a, b)
    a.book.wait(30)
    corrects(a, form, eid, **mine)
    in_touch(a, b)
    assert ("apart" in codes(a)) == (not seen)
    assert conflict(a) == (not seen)
    did(a, form, **mine)
    assert "apart" not in codes(a)


@pytest.mark.parametrize("first", ["correction", "answer"])
def test_a_correction_and_a_new_answer_are_two_answers(handbook: Handbook, first: str) -> None:
    a = charging(handbook)
    b = second(a)
    if first == "answer":
        a, b = b, a
    eid = newest(a, "unit.set").eid
    corrects(b, "unit", eid, **UNIT | {"receiver": "yes"})
    a.book.wait(30 if first == "correction" else -8)
    did(a, "unit", **UNIT)
    in_touch(a, b)
    assert "apart" in codes(a)


def test_correcting_an_older_answer_changes_nothing(handbook: Handbook) -> None:
    a = charging(handbook)
    did(a, "preconditions", **CHECKED | {"airflow": "no"})
    did(a, "preconditions", **CHECKED)
    b = second(a)
    older = [e for e in a.state().entries if e.kind == "checks.answered"][1]
    corrects(b, "preconditions", older.eid, **CHECKED | {"outdoor_coil": "no"})
    in_touch(a, b)
    assert "apart" not in codes(a)
    assert not conflict(a)


def test_a_phone_of_before_knew_only_its_own(handbook: Handbook) -> None:
    """Its entries do not say what they replace. One phone's session goes on as before."""
    a = charging(handbook)
    assert not [event for event in a.book.events if REPLACES in event.data]
    a.book.write("checks.answered", CHECKED | {"airflow": "no"})
    a.book.write("checks.answered", CHECKED)
    assert "apart" not in codes(a)
    b = second(a)
    b.book.write("checks.answered", CHECKED | {"leak": "leaking"})
    in_touch(a, b)
    assert "apart" in codes(a)
    did(a, "preconditions", **CHECKED)
    assert "apart" not in codes(a)


def test_a_phone_of_the_server_and_one_by_itself(handbook: Handbook) -> None:
    """The program that begins a job on the server goes on with it on the phone."""
    a = charging(handbook)
    own = second(a)
    did(own, "preconditions", **CHECKED | {"airflow": "no"})
    did(own, "preconditions", **CHECKED)
    assert "apart" not in codes(own)
    assert not conflict(own)


def test_what_it_replaces_is_nothing_anybody_typed(handbook: Handbook) -> None:
    a = charging(handbook)
    b = second(a)
    did(b, "unit", **UNIT)
    entry = newest(b, "unit.set")
    assert entry.data[REPLACES] != ""
    assert entry.data[REPLACES] not in " ".join(entry_lines(entry, {}))
    visit = visit_of(b.state())
    assert visit is not None
    assert REPLACES not in visit.unit
    corrects(b, "unit", entry.eid, **UNIT | {"capacity": "3.5 ton"})
    assert REPLACES not in newest(b, "unit.set").data


def test_the_page_says_which_and_leads_there(handbook: Handbook) -> None:
    a = two_apart(handbook, "preconditions", dict(CHECKED), CHECKED | {"airflow": "no"})
    page = view(
        Screen(a.state(), handbook, a.now(), "01K" + "0" * 23, [], None, []),
        Address(STEP, a.book.sid, "shots"),
    )
    assert isinstance(page, Page)
    html = render(page.template, page.context)
    assert "Two phones answered differently: checks before charging." in html
    assert f"/s/{a.book.sid}/form/preconditions" in html
