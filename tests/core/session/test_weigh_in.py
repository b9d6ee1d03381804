"""Weigh-in: nothing goes in before the tests passed and the total is known, and never more."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import MACHINE, Book, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session import gate, weighing
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS
from lowside.core.session.fold import fold
from lowside.core.session.walk import step_now

UNIT = {
    "refrigerant": "R-410A",
    "metering": "txv",
    "coil": "tube_fin",
    "receiver": "no",
    "nameplate_charge": "6 lb",
    "line_length": "40 ft",
    "line_included": "15 ft",
    "line_adder": "0.6 oz/ft",
}
READY = dict.fromkeys(("locked", "emptied", "hoses_off", "qualified", "protected"), "yes")
BURNS = dict.fromkeys(FLAMMABLE_QUESTIONS, "yes")
TEST = {
    "test_pressure": "150 psig",
    "test_end": "150 psig",
    "test_held": "15 min",
    "leak": "none_found",
}
VACUUM = {"vacuum_reached": "300 microns", "vacuum_end": "480 microns", "vacuum_time": "20 min"}
ADDERS = {"coil_adder": "0 lb", "drier_adder": "6 oz"}
CYLINDER = {
    "cylinder_label": "C-1",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}
TOTAL_OZ = 96.0 + 15.0 + 6.0


def begun(**unit: str) -> Book:
    book = Book()
    book.write("session.started", {"procedure": "hand-valved-three-port"})
    book.form("job", site="Mill Lane", unit_label="AC-1", technician="I. Varga", elevation="0 ft")
    told = {name: text for name, text in (UNIT | unit).items() if text}
    book.form("unit", **told)
    book.form("machine", **MACHINE)
    burning = told["refrigerant"] == "R-290"
    book.form("weigh_ready", **(READY | (BURNS if burning else {})))
    return book


def ready(book: Book, refrigerant: str = "R-410A") -> Book:
    book.form("pressure_test", **TEST)
    book.form("vacuum_held", **VACUUM)
    book.form("weigh_total", **ADDERS)
    book.form("cylinder", **(CYLINDER | {"cylinder_refrigerant": refrigerant}))
    book.form("start_weight", gross="27 lb")
    return book


def asked(book: Book, handbook: Handbook, form: str, typed: dict[str, str]) -> Accepted | Refused:
    return accept(fold(book.events, handbook), form, with_units(form, typed), handbook)


def refusal(book: Book, handbook: Handbook, form: str, typed: dict[str, str]) -> str:
    outcome = asked(book, handbook, form, typed)
    assert isinstance(outcome, Refused)
    return outcome.message + " ".join(outcome.problems.values())


def test_the_whole_charge_is_nameplate_line_coil_and_drier(handbook: Handbook) -> None:
    whole = weighing.whole_charge(fold(ready(begun()).events, handbook))
    assert whole.total_kg == pytest.approx(TOTAL_OZ * OUNCE_KG)
    assert [name for name, _ in whole.parts] == ["Nameplate", "Line set", "Indoor coil", "Drier"]


@pytest.mark.parametrize(
    "gone",
    [
        ("nameplate_charge",),
        ("line_adder",),
        ("line_length",),
        ("line_length", "line_included", "line_adder"),
    ],
)
def test_no_total_is_made_from_guesses(handbook: Handbook, gone: tuple[str, ...]) -> None:
    book = ready(begun(**dict.fromkeys(gone, "")))
    whole = weighing.whole_charge(fold(book.events, handbook))
    assert whole.total_kg is None
    assert whole.missing != ""
    assert whole.missing in refusal(book, handbook, "charge_off", {"charged_off": "1 lb"})


def test_whether_a_short_line_set_takes_charge_off_is_asked(handbook: Handbook) -> None:
    for answer, ounces in (("", None), ("no", 102.0), ("yes", 99.0)):
        book = ready(begun(line_length="10 ft", short_line=answer))
        total = weighing.whole_charge(fold(book.events, handbook)).total_kg
        assert total == (None if ounces is None else pytest.approx(ounces * OUNCE_KG))


def test_nothing_goes_in_before_every_test_passed(handbook: Handbook) -> None:
    for form, changed, words in (
        ("pressure_test", TEST | {"leak": "leaking"}, "leaks"),
        ("pressure_test", TEST | {"test_end": "140 psig"}, "fell"),
        ("pressure_test", TEST | {"test_held": "10 min"}, "long enough"),
        ("pressure_test", TEST | {"test_pressure": "100 psig", "test_end": "100 psig"}, "less"),
        ("vacuum_held", VACUUM | {"vacuum_end": "501 microns"}, "rose above 500 microns"),
        ("vacuum_held", VACUUM | {"vacuum_time": "19 min"}, "long enough"),
    ):
        book = ready(begun())
        assert isinstance(asked(book, handbook, "charge_off", {"charged_off": "6 lb"}), Accepted)
        book.form(form, **changed)
        if form == "pressure_test":
            assert words in refusal(book, handbook, "vacuum_held", VACUUM)
        assert words in refusal(book, handbook, "charge_off", {"charged_off": "6 lb"})


def test_a_vacuum_from_before_the_pressure_test_is_none(handbook: Handbook) -> None:
    book = ready(begun())
    book.form("pressure_test", **TEST)
    assert "not on record" in refusal(book, handbook, "charge_off", {"charged_off": "6 lb"})


def test_the_papers_own_figures_go_first(handbook: Handbook) -> None:
    book = begun()
    high = TEST | {"test_pressure": "450 psig", "test_end": "448 psig"}
    assert "More than the test pressure" in refusal(book, handbook, "pressure_test", high)
    papers = high | {"test_asked": "450 psig", "test_asked_held": "60 min"}
    book.form("pressure_test", **papers)
    assert "long enough" in refusal(book, handbook, "vacuum_held", VACUUM)
    book.form("pressure_test", **(papers | {"test_held": "60 min"}))
    loose = {"vacuum_end": "690 microns", "vacuum_time": "15 min"}
    book.form("vacuum_held", **(VACUUM | loose))
    assert not weighing.vacuum_verdict(fold(book.events, handbook)).passed
    told = {"vacuum_limit": "700 microns", "vacuum_limit_time": "15 min"}
    book.form("vacuum_held", **(VACUUM | loose | told))
    assert weighing.vacuum_verdict(fold(book.events, handbook)).passed


def test_the_test_pressure_stays_below_the_nameplates_limit(handbook: Handbook) -> None:
    book = begun(high_side_limit="400 psig")
    papers = TEST | {"test_pressure": "450 psig", "test_end": "450 psig", "test_asked": "450 psig"}
    assert "nameplate" in refusal(book, handbook, "pressure_test", papers)


@given(off=st.integers(min_value=0, max_value=2500), rest=st.integers(min_value=0, max_value=2500))
def test_never_more_than_the_whole_charge(off: int, rest: int, handbook: Handbook) -> None:
    book = ready(begun())
    first = asked(book, handbook, "charge_off", {"charged_off": f"{off / 10} oz"})
    assert isinstance(first, Accepted) == (off / 10 <= TOTAL_OZ + 1.0)
    if isinstance(first, Accepted):
        book.form("charge_off", charged_off=f"{off / 10} oz")
        book.form("charge_run", runs_well="yes")
        second = asked(book, handbook, "charge_rest", {"charged_rest": f"{rest / 10} oz"})
        assert not isinstance(second, Accepted) or (off + rest) / 10 <= TOTAL_OZ + 1.001


def test_the_rest_only_into_a_unit_that_runs_properly(handbook: Handbook) -> None:
    book = ready(begun())
    book.form("charge_off", charged_off="100 oz")
    rest = {"charged_rest": "17 oz"}
    assert "runs properly" in refusal(book, handbook, "charge_rest", rest)
    book.form("charge_run", runs_well="no")
    assert "runs properly" in refusal(book, handbook, "charge_rest", rest)
    assert isinstance(asked(book, handbook, "charge_rest", {"charged_rest": "0 oz"}), Accepted)
    book.form("charge_run", runs_well="yes")
    assert isinstance(asked(book, handbook, "charge_rest", rest), Accepted)


def test_propane_goes_in_with_the_unit_off_only_and_co2_is_refused(handbook: Handbook) -> None:
    book = ready(begun(refrigerant="R-290"), "R-290")
    book.form("charge_off", charged_off="100 oz")
    book.form("charge_run", runs_well="yes")
    rest = {"charged_rest": "10 oz"}
    assert "with the unit off only" in refusal(book, handbook, "charge_rest", rest)
    gas = ready(begun(refrigerant="R-744"), "R-744")
    assert "dry ice" in refusal(gas, handbook, "charge_off", {"charged_off": "1 lb"})


def test_the_wrong_cylinder_is_refused(handbook: Handbook) -> None:
    book = ready(begun(), "R-22")
    assert "Never mix" in refusal(book, handbook, "charge_off", {"charged_off": "1 lb"})


def test_weights_that_disagree_need_an_explanation(handbook: Handbook) -> None:
    for end, explained in (("19 lb 11 oz", False), ("19 lb", True)):
        book = ready(begun())
        book.form("charge_off", charged_off="117 oz")
        pounds, _, ounces = end.partition(" lb")
        data = {"gross": pounds, "gross_unit": "lb+oz", "gross_oz": ounces.strip(" oz")}
        book.write("weight.end", data)
        outcome = asked(book, handbook, "charge_result", {})
        assert isinstance(outcome, Refused) == explained
        if explained:
            told = {"explanation": "unknown"}
            assert isinstance(asked(book, handbook, "charge_result", told), Accepted)


def test_a_unit_weighed_in_is_not_topped_up(handbook: Handbook) -> None:
    book = ready(begun())
    book.form("charge_off", charged_off="117 oz")
    codes = [block.code for block in gate.blocks(fold(book.events, handbook))]
    assert "weighed_in" in codes


def test_a_walk_that_was_begun_is_gone_on_with_and_ends_at_the_record(handbook: Handbook) -> None:
    procedure = handbook.procedures["hand-valved-three-port"]
    book = begun()
    state = fold(book.events, handbook)
    step = step_now(procedure, state)
    assert step is not None
    assert step.stage == "Prepare"
    book.write("step.done", {"step": "wi_ready"})
    step = step_now(procedure, fold(book.events, handbook))
    assert step is not None
    assert step.id == "wi_pressure"
    book.write("step.done", {"step": "wi_result"})
    step = step_now(procedure, fold(book.events, handbook))
    assert step is not None
    assert step.form == "record"


def test_a_second_recovery_undoes_the_tests(handbook: Handbook) -> None:
    book = ready(begun())
    book.form(
        "recovery_after", rc_after="43 lb", rc_left="0 psig", rc_what="whole", rc_next="weigh_in"
    )
    assert "before weigh-in" in refusal(book, handbook, "charge_off", {"charged_off": "1 lb"})
