"""Every hazard and fault has a lesson; what a short lesson calls right is what the core says.

That the faults of each row of the expert’s table have one: `test_expert_situations.py`.
"""

from typing import get_args

import pytest
from expert import situations
from not_shown import NOT_SHOWN, shown_codes

from lowside.core.advice.advice import AdvisedAction
from lowside.core.hoses.hazard_words import HazardCode
from lowside.core.session.block import BlockCode
from lowside.practice import calls, design, hose_drills
from lowside.practice.lessons import LESSONS

WORDS_OF_THE_TABLE = {"finish": "enough", "read": "measure"}


def test_every_reason_not_to_add_has_a_lesson_or_a_line_that_says_why_none_shows_it() -> None:
    shown = shown_codes()
    assert [code for code in get_args(BlockCode) if code not in shown | set(NOT_SHOWN)] == []
    assert [code for code in NOT_SHOWN if code not in get_args(BlockCode)] == []
    assert [line for line in NOT_SHOWN.values() if not line.endswith(".")] == []


def test_a_call_is_answered_as_the_experts_table_answers_it() -> None:
    rows = {row["id"]: row for row in situations()}
    for call in calls.calls():
        said = calls.played(call.id).advice.action
        assert WORDS_OF_THE_TABLE.get(said, said) in rows[call.id]["answer"].split("|"), call.id


def test_every_answer_is_right_in_some_call_and_a_title_gives_none_away() -> None:
    actions = {calls.played(call.id).advice.action for call in calls.calls()}
    assert set(get_args(AdvisedAction)) - actions == {"read"}, "no call ends without a reading"
    titles = {calls.title_of(call) for call in calls.calls()}
    assert len(titles) < len(calls.calls()) / 3, "many calls share each title"


def test_every_hazard_at_the_hoses_has_a_turn_that_brings_it() -> None:
    shown = {code for drill in hose_drills.DRILLS for code in hose_drills.codes(drill)}
    assert [code for code in get_args(HazardCode) if code not in shown] == []
    assert hose_drills.NOTHING in shown, "not every turn is wrong"
    assert set(hose_drills.LABELS) == set(get_args(HazardCode))


@pytest.mark.parametrize("drill", hose_drills.DRILLS, ids=lambda one: one.id)
def test_a_turn_may_be_guessed_right_and_wrong(drill: hose_drills.HoseDrill) -> None:
    offered = [code for code, _ in hose_drills.choices(drill)]
    right = hose_drills.codes(drill)
    assert len(offered) == len(set(offered))
    assert set(right) <= set(offered)
    assert len(set(offered) - set(right)) >= hose_drills.WRONG_OFFERED


def test_every_fault_of_the_simulated_units_has_a_lesson() -> None:
    assert {lesson.fault for lesson in LESSONS} >= set(design.FAULTS)


def test_no_lesson_has_the_blue_gauge_low_on_the_high_side() -> None:
    """Heating, the blue hose on the large line: it shows what the liquid line shows, nearly."""
    state = calls.played("C02").state
    pressures = [one.reading for one in state.readings]
    for one in pressures:
        assert one.suction_pressure_pa is not None
        assert one.liquid_pressure_pa is not None
        assert one.suction_pressure_pa > 0.9 * one.liquid_pressure_pa
    assert len(pressures) == 1
