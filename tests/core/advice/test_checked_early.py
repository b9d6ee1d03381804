"""The cheap check that separates a fault from missing charge is asked before the second addition.

It ends nothing by itself: what ends the adding is the third reading, when it shows the same.
"""

import pytest
from advice_cases import at, opening, read, shoot, valve_unit

from lowside.core.advice import words
from lowside.core.advice.advice import ADD, DO_NOT_ADD, READ, advise
from lowside.core.handbook.handbook import Handbook

UNIT = valve_unit(maker_subcooling_k=8.0)
SOUND = (7.0, 2.0, 19.0, 12.0)
"""Superheat, subcooling, saturation below return air, condensing above outdoor air [K]."""


@pytest.mark.parametrize(
    ("shown", "named"),
    [
        ((7.0, 2.0, 19.0, 17.5), "air in the unit"),
        ((7.0, 2.0, 13.5, 12.0), "Check the compressor"),
        ((7.0, 2.0, 14.5, 7.79), "Check the compressor"),
        ((11.0, 4.2, 19.0, 12.0), "filter drier"),
    ],
)
def test_a_doubt_at_the_second_reading_asks_for_the_check_and_the_next_one_decides(
    shown: tuple[float, float, float, float], named: str, handbook: Handbook
) -> None:
    state = read(opening(UNIT), handbook, 60, shown[0], 0.5)
    state = shoot(state, 100, 0.1)
    asked = advise(read(state, handbook, 900, *shown), at(900))
    assert asked.action == READ
    assert named in asked.reasons[0]
    assert asked.reasons[1] == words.CHEAP_CHECK
    stays = read(read(state, handbook, 900, *shown), handbook, 960, *shown)
    ended = advise(stays, at(960))
    assert ended.action == DO_NOT_ADD
    assert named in ended.reasons[0]
    sound = (SOUND[0], shown[1], *SOUND[2:])
    gone = read(read(state, handbook, 900, *shown), handbook, 960, *sound)
    assert advise(gone, at(960)).action == ADD


def test_a_sound_unit_is_asked_nothing(handbook: Handbook) -> None:
    state = read(opening(UNIT), handbook, 60, 7.0, 0.5)
    state = read(shoot(state, 100, 0.1), handbook, 900, *SOUND)
    assert advise(state, at(900)).action == ADD


def test_before_the_first_addition_only_the_reading_itself_speaks(handbook: Handbook) -> None:
    state = read(opening(UNIT), handbook, 60, 7.0, 2.0, 19.0, 17.5)
    state = read(state, handbook, 120, 7.0, 2.0, 19.0, 17.5)
    assert advise(state, at(120)).action == ADD
