"""The cheap check that separates a fault from missing charge is asked before the second addition.

It ends nothing by itself: what ends the adding is the third reading, when it shows the same. Signs
that missing charge may cause by itself hold nothing up either: the check is said with the addition.
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
        ((7.0, 2.0, 13.5, 12.0), "check the compressor"),
        ((7.0, 2.0, 14.5, 7.79), "check the compressor’s current"),
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


DRIER = (12.0, 1.5, 19.0, 12.0)
"""A valve holds 9.5 K at most, and 1 K of subcooling is liquid: perhaps a restriction."""
WEAK = (13.0, 0.5, 17.5, 9.0)
"""Warm coil and low lift, behind more superheat than says anything of a compressor by itself."""


@pytest.mark.parametrize(
    ("shown", "named"), [(DRIER, "across the filter drier"), (WEAK, "the compressor’s current")]
)
def test_signs_that_charge_may_explain_are_asked_about_and_bar_nothing(
    shown: tuple[float, float, float, float], named: str, handbook: Handbook
) -> None:
    first = (shown[0] + 3.0, *shown[1:])
    state = read(opening(UNIT), handbook, 60, *first)
    assert not any(named in reason for reason in advise(state, at(60)).reasons)
    state = read(shoot(state, 100, 0.1), handbook, 900, *shown)
    for seconds in (900, 960):
        asked = advise(state, at(seconds))
        assert asked.action == ADD
        assert named in asked.reasons[0]
        assert "below the target" in asked.reasons[1]
        state = read(state, handbook, 960, *shown)


@pytest.mark.parametrize(
    ("shown", "asked"),
    [
        ((9.6, 1.1, 19.0, 12.0), True),
        ((9.4, 1.1, 19.0, 12.0), False),
        ((9.6, 0.9, 19.0, 12.0), False),
        ((7.0, 0.5, 15.4, 9.4), True),
        ((7.0, 0.5, 15.6, 9.4), False),
        ((7.0, 0.5, 15.4, 9.6), False),
    ],
)
def test_what_is_asked_on_both_sides_of_its_limits(
    shown: tuple[float, float, float, float], asked: bool, handbook: Handbook
) -> None:
    """9.5 K behind 1 K of subcooling; 15.5 K below return air with 9.5 K above outdoor air."""
    state = read(opening(UNIT), handbook, 60, shown[0], 0.5)
    state = read(shoot(state, 100, 0.1), handbook, 900, *shown)
    found = advise(state, at(900))
    assert found.action == ADD
    assert ("below the target" not in found.reasons[0]) == asked


def test_it_is_asked_before_the_second_addition_only(handbook: Handbook) -> None:
    state = read(opening(UNIT), handbook, 60, 15.0, 0.0)
    state = read(shoot(state, 100, 0.1), handbook, 900, 14.0, 0.5)
    assert "below the target" in advise(state, at(900)).reasons[0]
    later = advise(read(shoot(state, 1000, 0.1), handbook, 1800, 12.0, 1.5), at(1800))
    assert later.action == ADD
    assert "below the target" in later.reasons[0]


@pytest.mark.parametrize(
    ("shown", "check"),
    [
        ((7.0, -3.0, 19.0, 12.0), "hold the other thermometer beside it"),
        ((7.0, 2.0, 19.0, 17.5), "in the shade where the coil draws it in"),
        ((7.0, 2.0, 13.5, 12.0), "condensing is close to outdoor air"),
        ((11.0, 4.2, 19.0, 12.0), "across the filter drier"),
    ],
)
def test_each_doubt_names_the_check_that_separates_it(
    shown: tuple[float, float, float, float], check: str, handbook: Handbook
) -> None:
    state = read(opening(UNIT), handbook, 60, shown[0], 0.5)
    asked = advise(read(shoot(state, 100, 0.1), handbook, 900, *shown), at(900))
    assert asked.action == READ
    assert check in asked.reasons[0]


@pytest.mark.parametrize(
    ("superheat_k", "subcooling_k", "named"),
    [(10.4, 4.2, False), (10.6, 4.2, True), (9.6, 6.5, True), (9.4, 6.5, False)],
)
def test_a_valve_near_its_limit_starves_only_once_the_unit_is_no_longer_short(
    superheat_k: float, subcooling_k: float, named: bool, handbook: Handbook
) -> None:
    """8 ± 1.7 K of subcooling: 10.5 K while it is short of that, 9.5 K from then on."""
    shown = (superheat_k, subcooling_k, 19.0, 12.0)
    state = read(opening(UNIT), handbook, 60, superheat_k, 0.5)
    for shot in (100, 1000, 2000):
        state = read(shoot(state, shot, 0.1), handbook, shot + 800, *shown)
    state = read(state, handbook, 2860, *shown)
    assert (advise(state, at(2860)).action == DO_NOT_ADD) == named
