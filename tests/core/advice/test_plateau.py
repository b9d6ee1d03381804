"""Readings of a condenser without liquid: what they say of the unit, and of the instruments."""

from dataclasses import replace
from itertools import pairwise

from advice_cases import opening, read, shoot, valve_unit

from lowside.core.advice import response
from lowside.core.advice.outlook import Outlook, outlook_of, wait_after
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.final_wait import LEAST_WAIT_S
from lowside.core.session.state import State


def session(handbook: Handbook, blind: tuple[float, ...], later: tuple[float, ...]) -> State:
    """Subcooling [K] of each reading, 0.1 kg fed before each but the first."""
    unit = valve_unit(nameplate_charge_kg=3.4)
    state = replace(opening(unit), unit_texts={"coil": "tube_fin", "receiver": "no"})
    moment = 60
    for i, shown in enumerate((*blind, *later)):
        if i > 0:
            state = shoot(state, moment + 40, 0.10)
            moment += 1000
        state = read(state, handbook, moment, 7.0, shown)
    return state


def outlook(state: State) -> Outlook:
    found = outlook_of(state, state.readings[-1])
    assert found is not None
    return found


def test_where_it_goes_flat_does_not_say_how_steep_it_is(handbook: Handbook) -> None:
    low = outlook(session(handbook, (0.2,) * 10, (1.0, 1.5)))
    high = outlook(session(handbook, (0.6,) * 10, (1.0, 1.5)))
    assert high.slope_k_per_kg < 2.0 * low.slope_k_per_kg


def test_subcooling_below_zero_is_the_instruments(handbook: Handbook) -> None:
    state = session(handbook, (-0.9, -0.9, -0.9), (1.5, 3.0))
    found = outlook(state)
    seen = response._without_offset(found.subject, found.observations)
    off = found.observations[-1].gap_k - seen[-1].gap_k
    assert 0.3 < off < 0.6
    raw = outlook(session(handbook, (0.0, 0.0, 0.0), (1.5, 3.0)))
    assert response._without_offset(raw.subject, raw.observations) == raw.observations


def test_the_first_reading_with_liquid_is_told_from_those_without(handbook: Handbook) -> None:
    found = outlook(session(handbook, (-0.6,) * 5, (0.6,)))
    assert response.on_plateau(found.subject, found.observations) == 5
    assert not found.blind
    back = outlook(session(handbook, (-0.6,) * 5, (0.6, -0.5)))
    assert response.on_plateau(back.subject, back.observations) == 7
    assert back.blind


def test_amounts_are_tried_as_closely_as_each_slope_asks_for(handbook: Handbook) -> None:
    found = outlook(session(handbook, (0.0, 0.0), (2.5,)))
    tolerance_k = found.tolerance_k
    for slope in found.subject.slopes.kelvin:
        amounts = sorted(g.missing for g in found.guesses if g.slope_k == slope)
        gaps = [(b - a) * slope for a, b in pairwise(amounts) if b * slope < 4.0]
        assert max(gaps) < 0.5 * tolerance_k


def test_a_blind_shot_is_read_as_soon_as_an_answer_may_show(handbook: Handbook) -> None:
    blind = session(handbook, (0.0, 0.0), ())
    assert wait_after(blind, outlook(blind), 0.10) == LEAST_WAIT_S
    seen = session(handbook, (0.0, 0.0), (2.0,))
    assert wait_after(seen, outlook(seen), 0.10) > LEAST_WAIT_S
