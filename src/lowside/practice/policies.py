"""What a technician goes by: the program's advice, or a rule of thumb. Every policy sees the same
`State` and the same assessment of each reading."""

from collections.abc import Callable
from dataclasses import replace

from lowside.core.advice.advice import ADD, FINISH, READ, RECOVER, Advice, AdvisedAction, advise
from lowside.core.judging.charge import (
    CALLS_FOR_CHARGE,
    NEARLY_EMPTY,
    ON_TARGET,
    OVER,
    UNSAFE,
    Verdict,
)
from lowside.core.judging.targets import SUBCOOLING, NoTarget
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.core.session.block import DO_NOT_ADD, STOP, WAIT, WEIGH_IN
from lowside.core.session.events import Moment
from lowside.core.session.state import State, Taken

CAREFUL_WAIT_S = 600.0
"""Wait of the plain policies: manufacturers ask for 5 to 20 min."""

Policy = Callable[[State, Moment], Advice]


def by_advice(state: State, now: Moment) -> Advice:
    """The program's own advice."""
    return advise(state, now)


def by_advice_unthrottled(state: State, now: Moment) -> Advice:
    """The advice, with someone who opens the valve by habit and not as slowly as asked."""
    return replace(advise(state, now), rate_kg_s=None)


def by_advice_without_hoses(state: State, now: Moment) -> Advice:
    """The advice as if the hoses brought nothing."""
    blind = tuple(replace(taken, hoses_kg=0.0) for taken in state.readings)
    return advise(replace(state, readings=blind), now)


def fixed_shots(kilograms: float) -> Policy:
    """The same shot, a fixed wait, a reading, until it is within tolerance."""

    def policy(state: State, now: Moment) -> Advice:
        return _plain_policy(state, now, kilograms)

    return policy


def careful(state: State, now: Moment) -> Advice:
    """A careful rule of thumb: an ounce a ton at first, halved each time the gap has halved."""
    capacity = state.system.capacity_w if state.system is not None else None
    return _halving(state, now, (capacity or 3.0 * TON_W) / TON_W * OUNCE_KG)


def halving_from_4oz(state: State, now: Moment) -> Advice:
    """The same rule, bolder: four ounces to begin with, for any unit."""
    return _halving(state, now, 4.0 * OUNCE_KG)


def _halving(state: State, now: Moment, first_kg: float) -> Advice:
    gaps = [abs(_gap(taken)) for taken in state.readings if _gap(taken) != 0.0]
    shot = first_kg
    if len(gaps) > 1:
        share = gaps[0]
        while share > 0.05 and gaps[-1] <= 0.5 * share and shot > 0.5 * OUNCE_KG:
            shot = 0.5 * shot
            share = 0.5 * share
    return _plain_policy(state, now, shot)


def _plain_policy(state: State, now: Moment, kilograms: float) -> Advice:
    last = state.readings[-1] if state.readings else None
    nothing = Advice(READ, None, None, None, None, None, None, ("",))
    if last is None or last.assessment is None:
        return nothing
    if last.shots_before < len(state.shots):
        closed = state.shots[-1].closed
        since = 0.0 if closed is None else (now.mono - closed.mono) / 1000.0
        if since < CAREFUL_WAIT_S - 1.0:
            return replace(nothing, action=WAIT, wait_s=CAREFUL_WAIT_S - since)
        return nothing
    if last.assessment.verdict != CALLS_FOR_CHARGE:
        ends: dict[Verdict, AdvisedAction] = {
            ON_TARGET: FINISH,
            OVER: RECOVER,
            UNSAFE: STOP,
            NEARLY_EMPTY: WEIGH_IN,
        }
        return replace(nothing, action=ends.get(last.assessment.verdict, DO_NOT_ADD))
    return replace(nothing, action=ADD, amount_kg=kilograms)


def _gap(taken: Taken) -> float:
    assessment = taken.assessment
    if assessment is None or isinstance(assessment.target, NoTarget):
        return 0.0
    value = assessment.measured.superheat_k
    if assessment.target.quantity == SUBCOOLING:
        value = assessment.measured.subcooling_k
    return value - assessment.target.value_k if isinstance(value, float) else 0.0
