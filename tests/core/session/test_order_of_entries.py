"""Which of several entries, shots, steps or visits a rule means: the first, the last, or those that
still hold."""

from dataclasses import replace

import pytest
from advice_cases import at, shoot
from outlook_cases import fields, ready
from strategies import PROCEDURE, READING, Book, ready_to_charge, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.at_hoses import moved_before
from lowside.core.session.entry import Accepted, Refused, accept, accept_amendment
from lowside.core.session.final_wait import early, reason_of
from lowside.core.session.flammability import flammable_blocks, questions_for
from lowside.core.session.fold import fold
from lowside.core.session.hose_charge import hoses_bring
from lowside.core.session.last_visit import begun_on, visit_of
from lowside.core.session.other_cylinder import was_weighed, weigh_again
from lowside.core.session.state import STANDS, VOIDED, Entry, Job, Recovered, shot_to_weigh
from lowside.core.session.taps import tapped_again
from lowside.core.session.unit_history import UnitUse, unit_histories
from lowside.core.session.walk import step_now


def entry(eid: str, kind: str, seconds: float = 0.0, dev: str = "d", **data: str) -> Entry:
    return Entry(eid, kind, at(seconds), dev, data, {}, STANDS, amended=False, problems={})


@pytest.mark.parametrize(
    ("changes", "weighed"),
    [
        ({}, True),
        ({"status": VOIDED}, False),
        ({"problems": {"gross": "no number"}}, False),
        ({"kind": "weight.end"}, False),
    ],
)
def test_only_a_start_weight_that_stands_and_could_be_read_is_one(
    changes: dict[str, object], weighed: bool
) -> None:
    one = replace(entry("a", "weight.start"), **changes)  # type: ignore[arg-type]
    assert was_weighed(ready(start_weight=None, entries=(one, entry("b", "note.added")))) == weighed
    assert not was_weighed(ready(entries=(one,)))


def test_steps_done_by_weighing_the_cylinder_before_are_open_again() -> None:
    done = {"s1": "a", "s2": "b", "s3": "c"}
    entries = [entry("a", "weight.start"), entry("b", "scale.set"), entry("c", "unit.set")]
    assert weigh_again(entries, done, None, "") == ""
    assert done == {"s3": "c"}


def test_the_newest_shot_is_asked_for_its_weight() -> None:
    state = shoot(shoot(ready(), 100, 0.1), 200, 0.1)
    first, second = state.shots
    asked = replace(second, weight_asked=True)
    assert shot_to_weigh(replace(state, shots=(first, asked))) == asked
    assert shot_to_weigh(replace(state, shots=(replace(first, weight_asked=True), second))) is None


def test_a_second_shot_while_one_is_open_ends_that_one() -> None:
    book = ready_to_charge(Book())
    book.write("shot.opened", {})
    book.write("shot.closed", {"scale_after": "27.4", "scale_after_unit": "lb"})
    opened = book.write("shot.opened", {}, 100)
    assert not fold(book.events).flags
    third = book.write("shot.opened", {}, 60)
    state = fold(book.events)
    assert len(state.flags) == 1
    assert [shot.eid for shot in state.shots[1:]] == [opened.eid, third.eid]
    assert state.shots[1].open_s == pytest.approx(60.0)
    assert state.shots[1].amount_kg is None
    assert not state.shots[1].weight_asked


def test_a_shot_that_is_over_is_not_ended_again() -> None:
    book = ready_to_charge(Book())
    book.write("shot.opened", {})
    book.write("shot.closed", {})
    book.write("shot.closed", {})
    state = fold(book.events)
    assert state.flags == ("A shot was ended, but none was started.",)
    assert len(state.shots) == 1


def test_only_an_empty_session_is_put_aside(handbook: Handbook) -> None:
    begun = Book()
    begun.write("session.started", {"procedure": PROCEDURE})
    taken = accept(fold(begun.events, handbook), "discard", {}, handbook)
    assert isinstance(taken, Accepted)
    begun.write(taken.kind, taken.data)
    assert fold(begun.events).discarded
    signed = ready_to_charge(Book())
    signed.write("session.closed", {"signed_by": "T", "caps_checked": "yes"})
    closed = fold(signed.events)
    assert closed.closed is not None
    assert not closed.discarded
    worked = fold(ready_to_charge(Book()).events, handbook)
    assert not worked.discarded
    refused = accept(worked, "discard", {}, handbook)
    assert isinstance(refused, Refused)
    assert "It has entries" in refused.message


def test_a_correction_keeps_what_the_entry_is_about(handbook: Handbook) -> None:
    """The step it did, the shot it weighed, and what was planned."""
    book = ready_to_charge(Book())
    opened = book.write("shot.opened", {"planned": "100", "planned_unit": "g"})
    book.write("shot.closed", {})
    weighed = {"shot": opened.eid, "step": "x", "scale_after": "27.4", "scale_after_unit": "lb"}
    one = book.write("shot.weighed", weighed)
    state = fold(book.events, handbook)
    typed = {"scale_after": "27.3", "scale_after_unit": "lb"}
    found = accept_amendment(state, one.eid, typed, handbook)
    assert isinstance(found, Accepted)
    assert found.data["shot"] == opened.eid
    assert found.data["step"] == "x"
    assert found.data["scale_after"] == "27.3"
    again = accept_amendment(state, opened.eid, {"planned": "999", "planned_unit": "g"}, handbook)
    assert isinstance(again, Accepted)
    assert again.data["planned"] == "100"


def test_a_session_was_begun_on_the_device_of_its_first_entry() -> None:
    entries = (entry("a", "x", dev="phone-a.1"), entry("b", "y", dev="phone-b"))
    assert begun_on(ready(entries=entries)) == "phone-a"
    assert begun_on(ready()) == ""


def test_a_unit_s_history_has_its_names_as_written_last() -> None:
    def use(sid: str, seconds: float, site: str, label: str) -> UnitUse:
        return UnitUse(sid, site, label, "R-22", "T", at(seconds), None, 0.1, 0, None)

    (found,) = unit_histories([use("b", 20, "SITE", "UNIT"), use("a", 10, "site", "unit")])
    assert (found.site, found.unit_label) == ("SITE", "UNIT")
    assert [line.use.sid for line in found.lines] == ["a", "b"]
    assert len(unit_histories([use("a", 10, "s", "u"), use("b", 20, "s", "v")])) == 2


def test_a_valve_at_the_hoses_was_moved_by_the_steps_before(handbook: Handbook) -> None:
    procedure = handbook.procedures[PROCEDURE]
    turning = [step.id for step in procedure.steps if step.actions]
    first, second, third = turning[:3]
    plain = next(step.id for step in procedure.steps if not step.actions)
    done = {first: "a", second: "b", third: "c", plain: "p"}
    entries = (entry("p", "x", 5), entry("a", "x", 30), entry("b", "x", 10), entry("c", "x", 50))
    state = ready(entries=entries, done=done)
    assert moved_before(state, procedure, first) is None
    assert moved_before(state, procedure, second) == at(30)
    assert moved_before(state, procedure, third) == at(30)
    end = procedure.steps[-1].id
    assert moved_before(state, procedure, end) == at(50)
    assert moved_before(replace(state, done={second: "b"}), procedure, end) == at(10)


def test_hoses_that_are_recovered_are_closed_out_after_the_final_reading(
    handbook: Handbook,
) -> None:
    procedure = handbook.procedures[PROCEDURE]
    closing = [step for step in procedure.steps if step.stage == "Close out"]
    before = {step.id: "x" for step in procedure.steps[: procedure.steps.index(closing[0])]}
    final = next(step for step in procedure.steps if step.form == "final_reading")
    off = [step for step in procedure.off_steps if step.withdrawal in ("", "dip_tube")]

    def now(*done: str, recovers: bool = True) -> str:
        walk = {"hoses.recover": fields()} if recovers else {}
        found = step_now(procedure, ready(done=before | dict.fromkeys(done, "x"), walk=walk))
        return "" if found is None else found.id

    assert now(recovers=False) == closing[0].id
    assert now() == final.id
    assert now(final.id) == off[0].id
    assert now(final.id, off[0].id) == off[1].id
    all_off = [step.id for step in off]
    last_turn = max(i for i, step in enumerate(procedure.steps) if step.actions)
    after = procedure.steps[last_turn + 1 :]
    rest = [step.id for step in after if step.id != final.id]
    assert now(final.id, *all_off) == rest[0]
    assert now(final.id, *all_off, *rest) == ""


def test_a_reading_before_the_unit_was_started_again_is_not_early_for_that(
    handbook: Handbook,
) -> None:
    state = ready(changed_at=at(1000))
    assert early(state, at(999.5), None, handbook) == ""
    assert "started again" in early(state, at(1000.5), None, handbook)
    why = entry("r", "reading.final", early_reason=" the roof was closing ")
    assert reason_of(ready(entries=(why,)), "r") == "the roof was closing"
    assert reason_of(ready(entries=(replace(why, status=VOIDED),)), "r") == ""
    assert reason_of(ready(entries=(why,)), "s") == ""


def test_a_reading_soon_after_the_hoses_were_emptied_is_early(handbook: Handbook) -> None:
    """By the last step at the hoses before the final reading; 15 minutes, as at first."""
    procedure = handbook.procedures[PROCEDURE]
    final = next(i for i, step in enumerate(procedure.steps) if step.form == "final_reading")
    turned = [step.id for step in procedure.steps[:final] if step.actions][-1]
    state = shoot(ready(), 100, 0.1)
    state = replace(
        state, procedure=PROCEDURE, done={turned: "a"}, entries=(entry("a", "step.done", 1000),)
    )
    for seconds, told in ((1000.5, True), (1899.0, True), (1900.0, False), (999.0, False)):
        found = early(state, at(seconds), None, handbook)
        assert ("after the hoses were emptied" in found) == told
    assert early(replace(state, shots=()), at(1100), None, handbook) == ""
    assert early(replace(state, procedure="x"), at(1100), None, handbook) == ""


def test_what_the_hoses_bring_is_known_with_procedure_and_reading(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    before = fold(book.events, handbook)
    known = hoses_bring(before, handbook)
    assert (known is None) == (not before.readings)
    book.write("reading.taken", with_units("reading", READING))
    state = fold(book.events, handbook)
    brings = hoses_bring(state, handbook)
    assert brings is not None
    assert brings.total_kg == pytest.approx(state.readings[-1].hoses_kg)
    assert brings.total_kg > 0.01
    assert hoses_bring(replace(state, procedure="x"), handbook) is None
    assert hoses_bring(replace(state, readings=()), handbook) is None


def test_each_question_of_a_refrigerant_that_burns_bars_by_itself(handbook: Handbook) -> None:
    burns, calm = handbook.refrigerants["R-32"], handbook.refrigerants["R-410A"]
    words = {
        "flammable_detector": "No detector watches",
        "flammable_air": "not ventilated",
        "flammable_ground": "not grounded",
        "flammable_gear": "not rated",
        "flammable_covers": "parts are open",
    }
    assert set(questions_for(burns)) == set(words)
    assert questions_for(calm) == {}
    assert questions_for(None) == {}
    for name, told in words.items():
        (found,) = flammable_blocks(burns, dict.fromkeys(words, "yes") | {name: "no"})
        assert found.code == name
        assert told in found.sentence
        assert (found.instead == "stop") == (name == "flammable_air")
        assert flammable_blocks(calm, {name: "no"}) == []


def test_a_tap_is_told_from_the_last_entry_by_hand_of_this_run() -> None:
    own = entry("a", "step.done", 100.0)
    state = ready(entries=(own,))
    assert tapped_again(state, "done", at(100.5))
    assert not tapped_again(state, "done", at(101.0))
    assert not tapped_again(state, "done", at(99.5))
    assert not tapped_again(state, "reading", at(100.5))
    for other in (
        entry("b", "practice.tick", 100.4),
        entry("b", "session.started", 100.4),
        replace(entry("b", "note.added", 100.4), status=VOIDED),
    ):
        later = ready(entries=(own, other))
        assert tapped_again(later, "done", at(100.9))
        assert not tapped_again(later, "done", at(101.1))
        assert not tapped_again(ready(entries=(other,)), "done", at(100.5))


def test_an_emptied_unit_goes_on_with_weigh_in(handbook: Handbook) -> None:
    procedure = handbook.procedures[PROCEDURE]
    weigh = [step.id for step in procedure.walk_steps if step.id.startswith("wi_")]
    record = next(step.id for step in procedure.steps if step.form == "record")

    def now(whole: bool, **done: str) -> str:
        taken = (Recovered(at(0), 1.0, whole), Recovered(at(1), 1.0, False))
        found = step_now(procedure, ready(recovered=taken, done=done))
        return "" if found is None else found.id

    assert now(True) == weigh[0]
    assert now(False) == procedure.steps[0].id
    assert now(False, **{weigh[0]: "x"}) == weigh[1]
    assert now(True, **{weigh[-1]: "x"}) == record
    assert now(True, **{weigh[-1]: "x", record: "y"}) == ""


def test_a_visit_needs_its_job_its_start_and_its_unit() -> None:
    told = (entry("u", "unit.set", step="s", metering="txv"), entry("v", "unit.set", 1.0, coil="x"))
    state = ready(job=Job("Site", "Unit", "T", 0.0), started=at(0), entries=told)
    found = visit_of(state)
    assert found is not None
    assert (found.site, found.unit_label, found.unit) == ("Site", "Unit", {"coil": "x"})
    first = visit_of(replace(state, entries=told[:1]))
    assert first is not None
    assert first.unit == {"metering": "txv"}
    for lacking in ({"job": None}, {"started": None}, {"practice": True}, {"entries": ()}):
        assert visit_of(replace(state, **lacking)) is None  # type: ignore[arg-type]


def test_a_step_is_done_by_its_own_form(handbook: Handbook) -> None:
    procedure = handbook.procedures[PROCEDURE]
    job = next(step.id for step in procedure.steps if step.form == "job")
    state = fold(ready_to_charge(Book()).events, handbook)
    note = {"text": "x"}
    assert isinstance(accept(state, "note", note, handbook), Accepted)
    for step in (job, "no_such_step"):
        assert isinstance(accept(state, "note", note | {"step": step}, handbook), Refused)
    unknown = replace(state, procedure="x")
    assert isinstance(accept(unknown, "note", note | {"step": job}, handbook), Accepted)


def test_hoses_that_are_recovered_hold_nothing_for_the_unit(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.write("reading.taken", with_units("reading", READING))
    before = fold(book.events, handbook)
    held = before.readings[-1].hoses_kg
    assert held > 0.01
    book.form("hoses_recover")
    after = fold(book.events, handbook)
    assert after.readings[-1].hoses_kg == 0.0
    assert after.hoses_recovered_kg == pytest.approx(held)
