"""The cheap check that separates a fault from missing charge is asked before the second addition.

It ends nothing by itself: what ends the adding is the third reading, when it shows the same. Signs
that missing charge may cause by itself block nothing: the check is said with the addition. Where
they are a restriction's, the addition waits for what the filter drier shows; any answer lets it go
on but “colder after it”. Where nothing speaks, the cheap checks are still said.
"""

from dataclasses import replace

import pytest
from advice_cases import at, opening, orifice_unit, read, shoot, valve_unit

from lowside.core.advice import words
from lowside.core.advice.advice import ADD, READ, Advice, _add, advise
from lowside.core.advice.outlook import outlook_of
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import System
from lowside.core.session import gate
from lowside.core.session.block import DO_NOT_ADD

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
    state = read(opening(UNIT), handbook, 60, shown[0], 0.5, *shown[2:])
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
    state = read(shoot(state, 100, 0.1), handbook, 900, *shown, drier="not reached")
    for seconds in (900, 960):
        asked = advise(state, at(seconds))
        assert asked.action == ADD
        assert named in asked.reasons[0]
        assert "below the target" in asked.reasons[1]
        assert words.LOOKS_ALIKE not in asked.reasons
        state = read(state, handbook, 960, *shown, drier="same")


def test_a_restriction_s_sign_waits_for_one_answer(handbook: Handbook) -> None:
    state = shoot(read(opening(UNIT), handbook, 60, 15.0, 1.5), 100, 0.1)
    for seconds in (900, 960, 1020):
        state = read(state, handbook, seconds, *DRIER)
        asked = advise(state, at(seconds))
        assert asked.action == READ
        assert asked.reasons[0] == words.DRIER_FIRST
        assert "across the filter drier" in asked.reasons[1]
    for answer in ("same", "not reached"):
        answered = advise(read(state, handbook, 1080, *DRIER, drier=answer), at(1080))
        assert answered.action == ADD
        assert "across the filter drier" in answered.reasons[0]
    # A weak compressor's sign is no question about the drier.
    weak = shoot(read(opening(UNIT), handbook, 60, 15.0, *WEAK[1:]), 100, 0.1)
    assert advise(read(weak, handbook, 900, *WEAK), at(900)).action == ADD


def test_a_sound_unit_is_told_the_cheap_checks_once(handbook: Handbook) -> None:
    state = read(opening(UNIT), handbook, 60, 7.0, 0.5)
    assert words.LOOKS_ALIKE not in advise(state, at(60)).reasons
    state = shoot(state, 100, 0.1)
    told = advise(read(state, handbook, 900, *SOUND), at(900))
    assert told.action == ADD
    assert told.reasons[:2] == (words.FEEL_FIRST + words.CLAMPS_FIRST, words.LOOKS_ALIKE)
    assert "below the target" in told.reasons[2]
    # It changes nothing of the addition, and what was felt is not asked again.
    fed = read(state, handbook, 900, *SOUND)
    outlook = outlook_of(fed, fed.readings[-1])
    assert outlook is not None
    plain = _add(fed, outlook, None, told.reasons[2:3])
    assert told == replace(plain, reasons=(*told.reasons[:2], *plain.reasons))
    felt = advise(read(state, handbook, 900, *SOUND, drier="same"), at(900))
    assert felt == replace(told, reasons=(words.CLAMPS_FIRST, *told.reasons[1:]))
    later = shoot(read(state, handbook, 900, *SOUND), 1000, 0.05)
    later = read(later, handbook, 1900, 7.0, 3.0)
    assert advise(later, at(1900)).action == ADD
    assert words.LOOKS_ALIKE not in advise(later, at(1900)).reasons


def test_the_small_shot_within_tolerance_is_an_addition_like_others(handbook: Handbook) -> None:
    state = shoot(read(opening(UNIT), handbook, 60, 7.0, 3.9), 100, 0.05)
    trim = advise(read(state, handbook, 1000, 7.0, 6.4), at(1000))
    assert trim.action == ADD
    assert trim.reasons[:2] == (words.FEEL_FIRST + words.CLAMPS_FIRST, words.LOOKS_ALIKE)
    assert trim.reasons[2] == words.TRIM
    felt = advise(read(state, handbook, 1000, 7.0, 6.4, drier="same"), at(1000))
    assert felt == replace(trim, reasons=(words.CLAMPS_FIRST, *trim.reasons[1:]))
    # A third addition is not asked again.
    later = shoot(read(state, handbook, 1000, 7.0, 5.0), 1100, 0.03)
    later = read(later, handbook, 2000, 7.0, 6.4)
    third = advise(later, at(2000))
    assert (third.action, third.reasons[0]) == (ADD, words.TRIM)


@pytest.mark.parametrize("unit", [UNIT, orifice_unit()])
@pytest.mark.parametrize("subcooling_k", [2.0, 8.0, 12.0])
@pytest.mark.parametrize("superheat_k", [4.0, 7.0, 14.0])
def test_colder_after_the_drier_ends_the_adding_at_any_reading(
    unit: System, superheat_k: float, subcooling_k: float, handbook: Handbook
) -> None:
    """Short, right or past the target, and before the unit has settled."""
    felt = {"drier": "colder"}
    first = read(opening(unit), handbook, 60, superheat_k, subcooling_k, **felt)
    fed = shoot(read(opening(unit), handbook, 60, 14.0, 1.0), 100, 0.05)
    soon = read(fed, handbook, 150, superheat_k, subcooling_k, **felt)
    settled = read(fed, handbook, 1000, superheat_k, subcooling_k, **felt)
    for state, seconds in ((first, 60), (soon, 150), (settled, 1000)):
        ended = advise(state, at(seconds))
        assert ended.action == DO_NOT_ADD
        assert ended.reasons[0].startswith("The line is colder after the filter drier")
        assert any(block.code == "reading_refused" for block in gate.blocks(state))


@pytest.mark.parametrize(
    "shown", [SOUND, DRIER, WEAK, (7.0, 8.0, 19.0, 12.0), (11.0, 4.2, 19.0, 12.0), (4.0, 12.0)]
)
@pytest.mark.parametrize("unit", [UNIT, orifice_unit()])
def test_no_answer_makes_an_addition_likelier_or_larger(
    unit: System, shown: tuple[float, ...], handbook: Handbook
) -> None:
    """Than by the same readings alone: an answer only ends the question about the drier."""

    def all_of(answer: str) -> list[Advice]:
        state = read(opening(unit), handbook, 60, 15.0, 0.5, drier=answer)
        found = [advise(state, at(60))]
        for seconds in (1000, 1060, 2000, 2060):
            if seconds in (1000, 2000):
                state = shoot(state, seconds - 900, 0.05)
            state = read(state, handbook, seconds, *shown, drier=answer)
            found.append(advise(state, at(seconds)))
        return found

    alone = all_of("")
    for answer in ("same", "not reached"):
        for mine, theirs in zip(all_of(answer), alone, strict=True):
            if words.DRIER_FIRST not in theirs.reasons:
                assert replace(mine, reasons=()) == replace(theirs, reasons=())
    assert all(advice.action != ADD for advice in all_of("colder"))


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
    state = read(opening(UNIT), handbook, 60, shown[0], 0.5, *shown[2:])
    state = read(shoot(state, 100, 0.1), handbook, 900, *shown)
    found = advise(state, at(900))
    assert found.action in (ADD, READ)
    assert (words.LOOKS_ALIKE not in found.reasons) == asked


def test_it_is_asked_before_the_second_addition_only(handbook: Handbook) -> None:
    state = read(opening(UNIT), handbook, 60, 15.0, 0.0)
    state = read(shoot(state, 100, 0.1), handbook, 900, 14.0, 0.5)
    assert words.LOOKS_ALIKE in advise(state, at(900)).reasons
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
