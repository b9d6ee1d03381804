"""Clear the hoses into the unit, or recover what they hold: what is planned with, and when."""

from dataclasses import replace

import pytest
from advice_cases import at, holding, opening, read, shoot, valve_unit
from hypothesis import given, settings
from hypothesis import strategies as st

from lowside.core.advice import odds
from lowside.core.advice.advice import ADD, FINISH, READ, advise
from lowside.core.advice.outlook import hoses_blind, outlook_of, over_after, without_hoses
from lowside.core.advice.plan import FITS, LEAST_SHOT_KG, OVER_MOST, better_recovered, planned
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.block import DO_NOT_ADD
from lowside.core.session.state import State

HOSES_KG = 0.057
STEP_KG = 0.005


def thin_unit() -> State:
    """A microchannel coil with 1.5 kg: an ounce is several degrees."""
    return replace(
        opening(valve_unit(nameplate_charge_kg=1.5)),
        unit_texts={"coil": "microchannel", "receiver": "no"},
        target_texts={"microchannel_papers": "yes"},
    )


def short_thin_unit(handbook: Handbook) -> State:
    """It answered steeply, and 1.8 K is still missing."""
    state = read(thin_unit(), handbook, 60, 7.0, 2.2)
    state = read(shoot(state, 100, 0.015), handbook, 1100, 7.0, 3.8)
    return read(state, handbook, 1300, 7.0, 3.8)


def test_nothing_is_fed_on_the_offer_and_a_little_once_it_is_chosen(handbook: Handbook) -> None:
    state = short_thin_unit(handbook)
    offered = advise(holding(state, HOSES_KG), at(1300))
    assert offered.action == FINISH
    assert offered.recover_hoses
    assert "Recover it." in offered.reasons[0]
    chosen = advise(state, at(1300))
    assert chosen.action == ADD
    assert not chosen.recover_hoses
    assert chosen.amount_kg is not None
    assert chosen.amount_kg < HOSES_KG


def test_a_flat_unit_is_never_offered_it(handbook: Handbook) -> None:
    state = read(opening(valve_unit(nameplate_charge_kg=5.0)), handbook, 60, 7.0, 1.5)
    state = read(shoot(state, 100, 0.40), handbook, 1100, 7.0, 3.2)
    state = read(shoot(state, 1200, 0.40), handbook, 2200, 7.0, 4.9)
    state = read(state, handbook, 2400, 7.0, 4.9)
    found = advise(holding(state, HOSES_KG), at(2400))
    assert not found.recover_hoses


def test_from_the_start_only_where_the_end_would_be_blind(handbook: Handbook) -> None:
    tiny = replace(thin_unit(), system=valve_unit(nameplate_charge_kg=0.7, capacity_w=3516.9))
    state = holding(read(tiny, handbook, 60, 9.0, -0.2), HOSES_KG)
    outlook = outlook_of(state, state.readings[-1])
    assert outlook is not None
    assert hoses_blind(outlook)
    again = holding(read(state, handbook, 200, 9.0, -0.2), HOSES_KG)
    assert advise(again, at(200)).recover_hoses
    usual = holding(read(opening(valve_unit()), handbook, 60, 9.0, -0.2), HOSES_KG)
    large = outlook_of(usual, usual.readings[-1])
    assert large is not None
    assert not hoses_blind(large)
    assert not advise(usual, at(60)).recover_hoses


@settings(max_examples=40, deadline=None)
@given(
    first=st.floats(0.0, 4.0),
    rise=st.floats(0.2, 2.5),
    fed=st.sampled_from((0.02, 0.05, 0.15)),
    hoses=st.sampled_from((0.0, 0.03, 0.057, 0.1)),
    charge=st.sampled_from((0.9, 1.5, 3.4)),
)
def test_one_reading_tells_one_story(
    handbook: Handbook, first: float, rise: float, fed: float, hoses: float, charge: float
) -> None:
    unit = replace(thin_unit(), system=valve_unit(nameplate_charge_kg=charge))
    state = read(unit, handbook, 60, 7.0, first)
    state = read(shoot(state, 100, fed), handbook, 1100, 7.0, first + rise)
    state = holding(read(state, handbook, 1300, 7.0, first + rise), hoses)
    found = advise(state, at(1300))
    outlook = outlook_of(state, state.readings[-1])
    if outlook is None:
        return
    if hoses == 0.0:
        assert not found.recover_hoses
    if found.recover_hoses and found.action == ADD:
        least = max(STEP_KG, LEAST_SHOT_KG)
        assert hoses_blind(outlook) or over_after(outlook, least) <= OVER_MOST
    if found.action == FINISH and not found.recover_hoses and found.remaining_kg is not None:
        kept = without_hoses(outlook)
        sure = outlook.within >= FITS and outlook.over <= OVER_MOST
        assert sure or kept.within - kept.over <= outlook.within - outlook.over + 0.11
    kept = without_hoses(outlook)
    assert kept.missing_kg == pytest.approx(outlook.missing_kg + outlook.to_come_kg)
    assert planned(outlook).to_come_kg == outlook.to_come_kg
    assert not better_recovered(kept)
    assert 0.0 <= outlook.within <= 1.0000001
    assert 0.0 <= outlook.over <= 1.0000001 - outlook.within


def test_what_the_hoses_bring_is_not_known_to_the_gram(handbook: Handbook) -> None:
    state = short_thin_unit(handbook)
    outlook = outlook_of(state, state.readings[-1])
    assert outlook is not None
    shifted = [replace(g, missing=g.missing * 0.2) for g in outlook.guesses]
    exact, _ = odds.landing(outlook.subject, shifted, 0.0)
    spread, _ = odds.landing(outlook.subject, shifted, HOSES_KG / 1.5)
    assert spread < exact


def test_a_reading_that_says_no_says_what_becomes_of_the_hoses(handbook: Handbook) -> None:
    state = read(opening(valve_unit()), handbook, 60, 7.0, 2.5)
    state = read(state, handbook, 400, 7.0, 0.5)
    assert advise(state, at(400)).action == DO_NOT_ADD
    found = advise(holding(state, HOSES_KG), at(400))
    assert found.action in (DO_NOT_ADD, READ)
    assert any("hoses still hold about" in reason for reason in found.reasons)
