"""Where a rule of the session turns: just before it and just after it."""

from dataclasses import replace

import pytest
from cylinder_cases import contents
from strategies import READING, Book, ready_to_charge, set_up, with_units

from lowside.core.handbook.fields import read_fields
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.plausibility import out_of_table
from lowside.core.numbers.units import PSI_PA
from lowside.core.session.cylinder import STEPS_ALLOWED, reconcile_session
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.hose_charge import conditions_of
from lowside.core.session.overriding import decided_on
from lowside.core.session.recovering import month_of
from lowside.core.session.scale_entry import check_setting, check_sign
from lowside.core.session.state import ScaleSetting, State, Taken, Weight
from lowside.core.session.taps import READ_S, tapped_again


def read_at(handbook: Handbook, suction_psig: str, liquid_psig: str) -> State:
    book = ready_to_charge(Book())
    reading = READING | {
        "suction_pressure": f"{suction_psig} psig",
        "liquid_pressure": f"{liquid_psig} psig",
    }
    book.write("reading.taken", with_units("reading", reading))
    return fold(book.events, handbook)


def test_the_hoses_are_worked_out_at_the_pressures_of_the_newest_reading(
    handbook: Handbook,
) -> None:
    usual = conditions_of(fold(set_up(Book()).events, handbook), handbook)
    found = conditions_of(read_at(handbook, "131", "390"), handbook)
    assert usual is not None
    assert found is not None
    assert found.suction_pa == pytest.approx(131 * PSI_PA + 101325.0, rel=1e-9)
    assert found.liquid_pa == pytest.approx(390 * PSI_PA + 101325.0, rel=1e-9)
    assert (usual.suction_pa, usual.liquid_pa) != (found.suction_pa, found.liquid_pa)


def test_pressures_the_wrong_way_round_are_not_worked_with(handbook: Handbook) -> None:
    usual = conditions_of(fold(set_up(Book()).events, handbook), handbook)
    for suction, liquid in (("390", "131"), ("200", "200")):
        assert conditions_of(read_at(handbook, suction, liquid), handbook) == usual


def test_a_vacuum_stays_one_and_the_air_s_pressure_is_one_too(handbook: Handbook) -> None:
    """At 0 psig a hose holds nothing over the air's pressure, so nothing may be loosened."""
    for psig in ("-3", "0"):
        found = conditions_of(read_at(handbook, psig, "200"), handbook)
        assert found is not None
        assert found.suction_pa == pytest.approx(float(psig) * PSI_PA + 101325.0, rel=1e-9)


def test_hoses_hold_less_for_the_unit_once_they_are_cleared(handbook: Handbook) -> None:
    """What is still to come falls to nothing by the last step, and the unit has it then."""
    book = ready_to_charge(Book())
    book.write("reading.taken", with_units("reading", READING))
    before = fold(book.events, handbook)
    procedure = handbook.procedures[before.procedure]
    assert before.hoses_brought_kg == pytest.approx(0.0, abs=1e-9)
    for step in procedure.steps:
        book.write("step.done", {"step": step.id})
    book.write("reading.taken", with_units("reading", READING))
    after = fold(book.events, handbook)
    to_come = before.readings[-1].hoses_kg
    assert to_come is not None
    assert to_come > 0.01
    assert after.readings[0].hoses_kg == pytest.approx(to_come)
    assert after.readings[-1].hoses_kg == pytest.approx(0.0, abs=1e-9)
    assert after.hoses_brought_kg == pytest.approx(to_come)


def test_a_final_reading_is_one_and_another_is_not(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.write("reading.taken", with_units("reading", READING))
    book.write("reading.final", with_units("reading", READING))
    assert [taken.final for taken in fold(book.events, handbook).readings] == [False, False, True]


def test_an_entry_that_was_corrected_is_marked_and_the_correction_is_not(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    reading = book.write("reading.taken", with_units("reading", READING))
    values = with_units("reading", READING | {"suction_pressure": "119 psig"})
    book.write("event.amended", {"target": reading.eid, "reason": "read again", **values})
    marked = [entry.eid for entry in fold(book.events, handbook).entries if entry.amended]
    assert marked == [reading.eid]


@pytest.mark.parametrize(("passed_s", "again"), [(0.0, True), (0.999, True), (READ_S, False)])
def test_a_tap_within_a_second_is_the_same_tap(
    handbook: Handbook, passed_s: float, again: bool
) -> None:
    state = fold(ready_to_charge(Book()).events, handbook)
    last = state.entries[-1].moment
    now = replace(last, mono=last.mono + int(passed_s * 1000))
    assert tapped_again(state, "shot_open", now) == again
    assert not tapped_again(state, "shot_open", replace(now, run="another"))


def test_another_phone_s_entry_a_moment_ago_is_no_tap_of_this_one(handbook: Handbook) -> None:
    state = fold(ready_to_charge(Book()).events, handbook)
    last = state.entries[-1].moment
    mine = Moment("mine", 1000, last.at, last.tz)
    assert not tapped_again(state, "shot_open", mine)


def test_the_decision_belongs_to_the_reading_before_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    readings = [event.eid for event in book.events if event.kind == "reading.taken"]
    book.write("note.added", {"text": "not a reading"})
    book.write("reading.taken", with_units("reading", READING))
    decided = decided_on(fold(book.events, handbook))
    assert isinstance(decided, Taken)
    assert decided.eid == readings[-1]


@pytest.mark.parametrize(
    ("at", "tz", "month"),
    [
        (0, 0, 1970 * 12),
        (-1, 0, 1969 * 12 + 11),
        (1_767_225_599_999, 0, 2025 * 12 + 11),
        (1_767_225_600_000, 0, 2026 * 12),
        (1_767_225_599_999, 1, 2026 * 12),
        (1_767_225_600_000, -1, 2025 * 12 + 11),
        (4_102_444_799_999, 0, 2099 * 12 + 11),
        (4_102_444_800_000, 0, 2100 * 12),
    ],
)
def test_a_month_ends_at_local_midnight(at: int, tz: int, month: int) -> None:
    """1767225600 is 2026-01-01T00:00Z, 4102444800 is 2100-01-01T00:00Z (POSIX time)."""
    assert month_of(Moment("r", 0, at, tz)) == month


@pytest.mark.parametrize(
    ("before", "after", "refused"),
    [
        ("3 oz", "5 oz", False),
        ("3 oz", "-1 oz", True),
        ("-3 oz", "1 oz", True),
        ("-3 oz", "-5 oz", False),
        ("0.5 oz", "-0.5 oz", False),
        ("3 oz", "-0.5 oz", False),
        ("0.5 oz", "-3 oz", False),
        ("-0.5 oz", "3 oz", False),
        ("0 oz", "-4 oz", False),
    ],
)
def test_a_zeroed_scale_never_crosses_zero_within_a_shot(
    handbook: Handbook, before: str, after: str, refused: bool
) -> None:
    """By one step of 0.5 oz it may: a scale that shows 0.5 may be at zero."""
    book = ready_to_charge(Book())
    book.form("tare", scale_mode="zeroed", scale_reading="0 oz", scale_resolution="0.5 oz")
    book.form("shot_open", scale_before=before)
    problems: dict[str, str] = {}
    fields = read_fields(FORMS["shot_close"], with_units("shot_close", {"scale_after": after}))
    check_sign(fold(book.events, handbook), fields, "scale_after", problems)
    assert [("other side of zero" in text) for text in problems.values()] == [True] * refused


def test_a_pressure_outside_the_table_is_told_with_the_table_s_ends_as_gauges_show_them(
    handbook: Handbook,
) -> None:
    state = read_at(handbook, "118", "340")
    assert state.system is not None
    table = handbook.tables["R-410A"]
    found = out_of_table(state.system, "suction_pressure", 9e6, table)
    shown = {fact.name: fact.value for fact in found.facts}
    assert shown["lowest"] == pytest.approx(table.lowest_pa - 101325.0)
    assert shown["highest"] == pytest.approx(table.highest_pa - 101325.0)
    assert shown["pressure"] == pytest.approx(9e6 - 101325.0)


def test_a_shot_asks_for_its_weight_when_an_entry_ended_it_without_one() -> None:
    book = Book()
    book.form("tare", scale_mode="gross", scale_reading="10 kg", scale_resolution="5 g")
    book.form("shot_open")
    assert not fold(book.events).shots[0].weight_asked
    book.form("shot_open")  # the first was not ended
    book.write("shot.closed")
    book.form("shot_open")
    book.write("shot.closed", {"scale_after": "9.9", "scale_after_unit": "kg"})
    assert [shot.weight_asked for shot in fold(book.events).shots] == [False, True, False]


@pytest.mark.parametrize(
    ("mode", "reading", "refused"),
    [("gross", "-1 lb", True), ("gross", "0 lb", False), ("gross", "1 lb", False),
     ("zeroed", "-1 lb", False)],
)  # fmt: skip
def test_only_a_scale_that_shows_everything_cannot_show_less_than_nothing(
    mode: str, reading: str, refused: bool
) -> None:
    typed = {"scale_mode": mode, "scale_reading": reading, "scale_resolution": "0.5 oz"}
    problems: dict[str, str] = {}
    check_setting(fold(()), read_fields(FORMS["tare"], with_units("tare", typed)), problems)
    assert ("scale_reading" in problems) == refused


def test_a_cold_cylinder_is_told_with_both_pressures_as_gauges_show_them(
    handbook: Handbook,
) -> None:
    state = read_at(handbook, "118", "340")
    assert state.cylinder is not None
    assert state.system is not None
    cold = replace(state, cylinder=replace(state.cylinder, pressure_pa=100.0 * PSI_PA))
    found = [one for one in contents(cold, handbook) if one.code == "cylinder_cold"]
    assert len(found) == 1
    by, *pressures = found[0].facts
    assert by.text == "its pressure"
    shown = {fact.name: fact.value / PSI_PA for fact in pressures}
    assert shown == pytest.approx({"cylinder": 100.0, "suction": 118.0})
    warm = replace(state, cylinder=replace(state.cylinder, pressure_pa=119.0 * PSI_PA))
    assert "cylinder_cold" not in [one.code for one in contents(warm, handbook)]
    for lacking in (replace(cold, cylinder=None), replace(cold, system=None)):
        assert "cylinder_cold" not in [one.code for one in contents(lacking, handbook)]


def test_weights_may_differ_by_steps_of_the_scale_and_what_hoses_hold() -> None:
    """A coarser scale allows more, in proportion to its step."""

    def allowed(step_kg: float) -> float:
        start = Weight("s", Moment("r", 0, 0), 15.0)
        end = Weight("e", Moment("r", 0, 0), 10.0)
        scale = ScaleSetting("gross", 15.0, step_kg)
        state = replace(fold(()), start_weight=start, end_weight=end, scale=scale)
        return reconcile_session(state).disagreements[0].allowed_kg

    assert allowed(0.03) - allowed(0.02) == pytest.approx(allowed(0.02) - allowed(0.01))
    assert allowed(0.02) - allowed(0.01) == pytest.approx(STEPS_ALLOWED * 0.01)
