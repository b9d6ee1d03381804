"""Technicians who charge a practice unit. Each follows one policy; the rest is the same for all.

They close the valve when the scale shows the weight or the time is up, whichever comes first. They
are two seconds late. They wait, read and weigh, and write it as the session's events. Every policy
sees the same `State` and the same assessment of each reading.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from lowside.core.advice.advice import (
    ADD,
    DO_NOT_ADD,
    FINISH,
    READ,
    RECOVER,
    STOP,
    WAIT,
    WEIGH_IN,
    Advice,
    AdvisedAction,
    advise,
)
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import COOLING, FULL_STAGE, SPLIT, Machine
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import DIP_TUBE
from lowside.core.hoses.contents import usual_conditions
from lowside.core.hoses.to_come import to_come
from lowside.core.judging.charge import (
    CALLS_FOR_CHARGE,
    NEARLY_EMPTY,
    ON_TARGET,
    OVER,
    UNSAFE,
    Verdict,
    assess,
)
from lowside.core.judging.targets import SUBCOOLING, NoTarget
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    GROSS,
    Cylinder,
    ScaleSetting,
    Shot,
    State,
    Taken,
    Weight,
    added_kg,
)
from lowside.practice.draw import Drawn
from lowside.practice.unit import PracticeUnit

LATE_S = 2.0
"""From seeing to the closed valve."""
HAND = (0.7, 1.5)
"""How closely a hand valve is set to the asked flow, as a share of it."""
READING_S = 60.0
"""Time to read all gauges and write them down."""
CAREFUL_WAIT_S = 600.0
"""Wait of the plain policies: manufacturers ask for 5 to 20 min."""
PAST_READING = 3
"""Advice to add at this reading or a later one counts as adding on and on."""
CHECKED_ALWAYS = {
    "qualified": "yes",
    "protected": "yes",
    "airflow": "yes",
    "outdoor_coil": "yes",
    "leak": "none_found",
    "steady": "yes",
    "same_refrigerant": "yes",
}
CHECKED = {
    **CHECKED_ALWAYS,
    "flammable_detector": "yes",
    "flammable_air": "yes",
    "flammable_ground": "yes",
    "flammable_gear": "yes",
    "flammable_covers": "yes",
}
HARDWARE = "self-closing-three-port"
"""The procedure whose hoses every technician uses."""
MOST_SHOTS = 40
MOST_TURNS = 200
FIRST = Moment("practice", 0, 0, 0)

Policy = Callable[[State, Moment], Advice]


@dataclass(frozen=True)
class Charged:
    """How one session ended."""

    gap_k: float
    """Settled true value after the close-out [K]; positive when charge is missing."""
    tolerance_k: float
    liquid_events: int
    shots: int
    minutes: float
    readings: int
    ended: str
    """The last action."""
    why: str
    ranges: tuple[tuple[float, float, float], ...]
    """(lowest, highest, truly) missing [kg], each time a new reading gave a range."""
    kept_adding: bool
    """Advice to add at the third reading or later."""


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


def charge(drawn: Drawn, policy: Policy, handbook: Handbook) -> Charged:
    """Play one session to its end."""
    unit = PracticeUnit(drawn)
    state = _opening(drawn, unit)
    hoses_kg = hoses_bring_kg(drawn, handbook)
    ranges: list[tuple[float, float, float]] = []
    kept_adding = False
    advice = policy(state, _moment(unit))
    for _ in range(MOST_TURNS):
        if advice.action == READ:
            state = _read(state, unit, handbook, hoses_kg)
            advice = policy(state, _moment(unit))
            if advice.remaining_low_kg is not None and advice.remaining_high_kg is not None:
                true = unit.missing_kg() - hoses_kg
                ranges.append((advice.remaining_low_kg, advice.remaining_high_kg, true))
            kept_adding = kept_adding or (
                advice.action == ADD and len(state.readings) >= PAST_READING
            )
            continue
        if advice.action == WAIT and advice.wait_s is not None:
            unit.step(advice.wait_s + 0.5, 0.0)
        elif advice.action == ADD and advice.amount_kg is not None:
            if len(state.shots) >= MOST_SHOTS:
                break
            kept_adding = kept_adding or len(state.readings) >= PAST_READING
            state = _shot(state, unit, advice)
        else:
            break
        advice = policy(state, _moment(unit))
    sign = 1.0 if drawn.target_name == "superheat_k" else -1.0
    minutes = unit.time_s / 60.0
    unit.charge_kg += hoses_kg
    unit.step(60.0, 0.0)
    return Charged(
        sign * (unit.settled_value_k() - drawn.target_k),
        drawn.tolerance_k,
        unit.liquid_events,
        len(state.shots),
        minutes,
        len(state.readings),
        advice.action,
        advice.reasons[0] if advice.reasons else "",
        tuple(ranges),
        kept_adding,
    )


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
    value = assessment.superheat_k
    if assessment.target.quantity == SUBCOOLING:
        value = assessment.subcooling_k
    return value - assessment.target.value_k if isinstance(value, float) else 0.0


def _opening(drawn: Drawn, unit: PracticeUnit) -> State:
    """The session up to the scale being set: decided, weighed, running."""
    shown = unit.gauges().scale_kg
    return replace(
        fold(()),
        sid="practice",
        system=drawn.system,
        unit_texts={"coil": "tube_fin", "receiver": "no"},
        machine=Machine(COOLING, FULL_STAGE, SPLIT),
        checks=CHECKED,
        cylinder=Cylinder("practice", drawn.system.refrigerant, 5.0, DIP_TUBE, None, None),
        start_weight=Weight("start", FIRST, 5.0 + shown),
        scale=ScaleSetting(GROSS, shown, drawn.instruments.scale_step_kg),
        last_scale_kg=shown,
        decision=DECIDED_TO_ADD,
        practice=True,
        started=FIRST,
    )


def hoses_bring_kg(drawn: Drawn, handbook: Handbook) -> float:
    """What the close-out brings this unit [kg]: three hoses of the usual size, by the core's hose
    model. They boil into the suction slowly, so no liquid is reckoned with."""
    table = handbook.tables[drawn.system.refrigerant]
    conditions = usual_conditions(table, drawn.system.atmosphere_pa, DIP_TUBE)
    if isinstance(conditions, OutOfRange):
        return 0.0
    return to_come(handbook.procedures[HARDWARE], conditions).total_kg


def _read(state: State, unit: PracticeUnit, handbook: Handbook, hoses_kg: float) -> State:
    assert state.system is not None
    reading = unit.reading()
    moment = _moment(unit)
    closed = state.shots[-1].closed if state.shots else None
    taken = Taken(
        eid=f"reading-{len(state.readings)}",
        moment=moment,
        reading=reading,
        final=False,
        shots_before=len(state.shots),
        added_kg=added_kg(state),
        since_shot_s=None if closed is None else (moment.mono - closed.mono) / 1000.0,
        running=True,
        assessment=assess(state.system, reading, handbook),
        hoses_kg=hoses_kg,
    )
    unit.step(READING_S, 0.0)
    return replace(state, readings=(*state.readings, taken))


def _shot(state: State, unit: PracticeUnit, advice: Advice) -> State:
    """Open, watch scale and clock, close a little late, write down what the scale shows."""
    amount = advice.amount_kg or 0.0
    opening = 1.0
    if advice.rate_kg_s is not None:
        hand = unit.random.uniform(*HAND)
        opening = min(1.0, hand * advice.rate_kg_s / unit.drawn.flow_kg_s)
    before = unit.gauges().scale_kg
    opened = _moment(unit)
    passed = 0.0
    while passed < 600.0:
        shown = unit.step(1.0, opening).scale_kg
        passed += 1.0
        if before - shown >= amount or (advice.open_s is not None and passed >= advice.open_s):
            break
    unit.step(LATE_S, opening)
    unit.step(3.0, 0.0)
    after = unit.gauges().scale_kg
    shot = Shot(
        f"shot-{len(state.shots)}",
        opened,
        _moment(unit),
        "shut",
        passed + LATE_S,
        False,
        before - after,
    )
    return replace(state, shots=(*state.shots, shot), last_scale_kg=after)


def _moment(unit: PracticeUnit) -> Moment:
    milliseconds = int(unit.time_s * 1000.0)
    return Moment("practice", milliseconds, milliseconds, 0)
