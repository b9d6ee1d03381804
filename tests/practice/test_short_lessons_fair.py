"""A short lesson can be answered from what it shows, and its score is an expert’s.

Our choice of points. That another act is right too is said by the advice’s own sentences.
"""

import pytest

from lowside.core.advice.advice import ADD, DO_NOT_ADD, FINISH, RECOVER, STOP, WAIT, WEIGH_IN
from lowside.core.pages.charging import RECOVER_WORD, WORDS
from lowside.practice import calls, hose_drills
from lowside.practice.score import Point


def pointed(call_id: str, guess: str) -> Point:
    call = calls.call_by_id(call_id)
    assert call is not None
    return calls.point(call, calls.played(call_id).advice, guess)


# Calls


@pytest.mark.parametrize("call", calls.calls(), ids=lambda one: one.id)
def test_what_is_right_too_is_named_by_the_advice(call: calls.Call) -> None:
    said = " ".join(calls.played(call.id).advice.reasons)
    for action, words in call.also.items():
        assert action in WORDS
        assert action != ADD
        assert words in said, (call.id, action, said)


@pytest.mark.parametrize(
    ("call_id", "guess"),
    [
        ("S15", STOP),
        ("N47", STOP),
        ("N44", STOP),
        ("K05", WEIGH_IN),
        ("N18", WEIGH_IN),
        ("V05", DO_NOT_ADD),
        ("C01", DO_NOT_ADD),
        ("B03", RECOVER),
        ("L08", DO_NOT_ADD),
        ("V16", WAIT),
    ],
)
def test_the_act_that_the_reason_names_has_the_whole_score(call_id: str, guess: str) -> None:
    assert pointed(call_id, guess).got == 2


@pytest.mark.parametrize("call", calls.calls(), ids=lambda one: one.id)
def test_adding_against_the_advice_costs_more_than_keeping_charge_out(call: calls.Call) -> None:
    advice = calls.played(call.id).advice
    assert pointed(call.id, advice.action).got == 2
    if advice.action == ADD:
        assert pointed(call.id, DO_NOT_ADD).got == 0
        return
    adding = pointed(call.id, ADD)
    assert adding.got == 0
    assert adding.reason.startswith("Nothing may go in now. ")
    if advice.action not in (DO_NOT_ADD, WAIT):
        assert pointed(call.id, DO_NOT_ADD).got >= 1


def test_waiting_is_no_answer_where_charge_must_never_go_in() -> None:
    assert calls.played("K05").advice.action == STOP
    assert pointed("K05", WAIT).got == 0
    assert pointed("X06", WAIT).got == 0
    assert pointed("K05", FINISH).got == 0


def test_the_right_word_is_the_field_pages() -> None:
    advice = calls.played("B03").advice
    assert advice.recover_hoses
    assert calls.word_of(advice) == RECOVER_WORD
    assert calls.word_of(calls.played("B01").advice) == WORDS[FINISH]


def test_a_call_that_turns_on_time_or_weight_shows_it() -> None:
    shown = {}
    for call_id in ("V16", "L12", "Z09", "A01"):
        call = calls.call_by_id(call_id)
        assert call is not None
        shown[call_id] = call
    assert calls.acts_of(shown["V16"])[-1] == "After 61 min: A reading was taken."
    acts = calls.acts_of(shown["L12"])
    assert acts[-2:] == ["After 1 min: The unit runs again.", "After 17 min: A reading was taken."]
    assert calls.acts_of(shown["A01"]) == []
    facts = dict(calls.facts_of(shown["Z09"]))
    answers = [value for name, title in calls.SHOWN.items() for _, value in facts.get(title, [])]
    assert answers.count("27 lb") == 2, "tare and gross are the same: empty"


# Turns at the hoses


def test_no_two_drills_look_the_same_and_have_other_answers() -> None:
    seen: dict[str, tuple[str, list[str]]] = {}
    for drill in hose_drills.DRILLS:
        shows = repr((drill.told, hose_drills.question(drill), hose_drills.pictures(drill, False)))
        codes = hose_drills.codes(drill)
        other, as_there = seen.setdefault(shows, (drill.id, codes))
        assert codes == as_there, (drill.id, other)


def test_what_makes_the_difference_is_told() -> None:
    # What the picture cannot show: the cold cylinder, the vacuum, that a shot is meant.
    for drill in hose_drills.DRILLS:
        told = drill.told.removeprefix(hose_drills.RUNS)
        assert ("colder" in told) == (drill.weather == "cold cylinder"), drill.id
        assert ("below 0 psig" in told) == (drill.weather == "vacuum"), drill.id
        assert ("shot" in told) == drill.in_shot, drill.id


@pytest.mark.parametrize("drill", hose_drills.DRILLS, ids=lambda one: one.id)
def test_no_wrong_answer_is_true_as_well(drill: hose_drills.HoseDrill) -> None:
    right = hose_drills.codes(drill)
    wrong = {code for code, _ in hose_drills.choices(drill)} - set(right)
    if {"vapour_out", "liquid_out"} & set(right):
        assert "left_blowing" not in wrong
    if "left_blowing" in right:
        assert not wrong & {"vapour_out", "liquid_out"}
    if "liquid_held_open" in right:
        assert "cylinder_held_open" not in wrong
