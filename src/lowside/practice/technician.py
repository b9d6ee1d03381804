"""Technicians who charge a practice unit. Each follows one policy with one pair of hands.

They close the valve when the scale shows the weight or the time is up, whichever comes first. They
are a little late. They wait, read and weigh, and write it as the session's events.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, log
from random import Random
from typing import Protocol

from lowside.core.advice.advice import ADD, FINISH, READ, Advice
from lowside.core.advice.words import NOT_BY_HAND, TOO_QUICK
from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import COOLING, FULL_STAGE, SPLIT, Machine
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import DIP_TUBE, NOT_REACHED, SAME, Reading, System
from lowside.core.hoses.contents import usual_conditions
from lowside.core.hoses.run import follow
from lowside.core.hoses.to_come import ToCome, to_come
from lowside.core.judging.charge import assess
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import SUBCOOLING, NoTarget
from lowside.core.session.block import WAIT
from lowside.core.session.drier import drier_now
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    GROSS,
    RECOVERS_HOSES,
    Cylinder,
    ScaleSetting,
    Shot,
    State,
    Taken,
    Weight,
    added_kg,
    recovers_hoses,
)
from lowside.practice.hooked_up import Gauges
from lowside.practice.policies import Policy

GLANCE_S = 20.0
"""Time to look at both gauges and the thermometer. Our choice."""
READING_S = 60.0
"""Time to read all gauges and write them down."""
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
FINAL_WAIT_S = 900.0
"""Run time before the final reading, as its step asks."""
YELLOW_CLEARED = "clear_hoses"
"""Step after which only the red hose still holds liquid."""
HARDWARE = "self-closing-three-port"
"""The procedure whose hoses every technician uses."""
FITTING_S = 180.0
"""Time to fit a charging restrictor and enter it. Our choice."""
MOST_SHOTS = 40
MOST_TURNS = 200
FIRST = Moment("practice", 0, 0, 0)


class Unit(Protocol):
    """A running unit of either model, with a cylinder on a scale."""

    charge_kg: float
    time_s: float
    liquid_events: int
    random: Random

    @property
    def scale_kg(self) -> float:
        """What the scale shows [kg]."""

    @property
    def hose_size(self) -> float:
        """Volume of the hoses as a share of what the program takes them for."""

    def step(self, dt_s: float, valve_open: float) -> Gauges:
        """Advance by `dt_s` [s]."""

    def reading(self) -> Reading:
        """The gauges as a technician writes them down."""

    def missing_kg(self) -> float:
        """Charge truly missing [kg]."""

    def gap_k(self) -> float:
        """How far the true settled reading is on the side of missing charge [K]."""


@dataclass(frozen=True)
class Site:
    """A unit and what is known and true of it."""

    unit: Unit
    system: System
    described: Mapping[str, str]
    """What the unit's form says of its circuit."""
    tolerance_k: float
    scale_step_kg: float
    valve_kg_s: float
    """Through the cracked valve, when it is opened as it comes."""
    right_kg: float
    """Charge on target, of the unit without its fault."""
    tags: tuple[str, ...]
    """The classes it is counted in."""
    drier: str = SAME
    """What a hand feels after the filter drier."""


@dataclass(frozen=True)
class Hands:
    """How a technician does what is advised. Our choice, all of it."""

    flow: tuple[float, float] | None = (0.7, 1.5)
    """How closely the valve is set to the asked flow, as a share of it; `None`: not at all."""
    own_flow_kg_s: tuple[float, float] | None = None
    """The flow this technician feeds whatever is asked, one for the session."""
    late_s: float = 2.0
    """From seeing to the closed valve."""
    overshoot: float = 0.0
    """The valve is closed at this share past the weight."""
    waits: float = 1.0
    """Share of the asked wait that is waited."""
    empties: bool = False
    """Both hoses are cleared into the unit at close-out, whatever is advised."""
    restrictor_kg_s: tuple[float, float] | None = None
    """Flow through the charging restrictor this technician has along, and fits when the advice
    asks for it, before the first opening too; `None`: has none."""
    feels: bool = True
    """Reaches the filter drier, and says with each reading after an addition what it shows."""


USUAL = Hands()
EXACT = Hands(flow=(0.95, 1.05), late_s=1.0)
OWN_FLOW = Hands(flow=None, own_flow_kg_s=(0.003, 0.025))
RESTRICTOR = replace(OWN_FLOW, restrictor_kg_s=(0.002, 0.004))
SLOPPY = Hands(overshoot=0.3, waits=0.5)
EMPTIES = replace(EXACT, empties=True)
EMPTIES_HOSES = "empties hoses"
TECHNICIANS: Mapping[str, Hands] = {
    "exact": EXACT,
    EMPTIES_HOSES: EMPTIES,
    "own flow": OWN_FLOW,
    "own, restrictor": RESTRICTOR,
    "sloppy": SLOPPY,
}


@dataclass(frozen=True)
class Told:
    """One step of a session, to be read later."""

    minute: float
    advice: Advice
    missing_kg: float
    gap_k: float


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
    past_share: float = 0.0
    """Charge after the close-out past the right one of the sound unit, as a share of it."""
    tags: tuple[str, ...] = ()
    told: tuple[Told, ...] = ()
    hoses_recovered: bool = False


def charge(site: Site, policy: Policy, handbook: Handbook, hands: Hands = USUAL) -> Charged:
    """Play one session to its end."""
    unit = site.unit
    own = _own_flow(site, hands)
    state = _opening(site, handbook)
    hoses_kg = hoses_bring(site.system, handbook).total_kg
    ranges: list[tuple[float, float, float]] = []
    told: list[Told] = []
    kept_adding = False
    advice = policy(state, _moment(unit))
    for _ in range(MOST_TURNS):
        if advice.recover_hoses and hoses_kg > 0.0 and not hands.empties:
            hoses_kg = 0.0
            state = _recovering(state)
            advice = policy(state, _moment(unit))
        told.append(Told(unit.time_s / 60.0, advice, unit.missing_kg(), unit.gap_k()))
        if advice.action == READ:
            state = _read(state, unit, handbook, hoses_kg, drier=_felt(site, state, hands))
            advice = policy(state, _moment(unit))
            if advice.remaining_low_kg is not None and advice.remaining_high_kg is not None:
                true = unit.missing_kg() - hoses_kg * unit.hose_size
                ranges.append((advice.remaining_low_kg, advice.remaining_high_kg, true))
            kept_adding = kept_adding or (
                advice.action == ADD and len(state.readings) >= PAST_READING
            )
            continue
        if advice.action == WAIT and advice.wait_s is not None:
            cut_s = advice.wait_s * (1.0 - hands.waits)
            unit.step(advice.wait_s + 0.5 - cut_s, 0.0)
            advice = policy(state, _moment(unit, cut_s))
            continue
        if _fits_restrictor(state, advice, hands) and hands.restrictor_kg_s is not None:
            own = unit.random.uniform(*hands.restrictor_kg_s)
            state = _with_restrictor(state)
            unit.step(FITTING_S, 0.0)
        elif advice.action == ADD and advice.amount_kg is not None:
            if len(state.shots) >= MOST_SHOTS:
                break
            if advice.glance_k is not None:
                state, stop = _glance(state, unit, handbook, hoses_kg, advice.glance_k)
                if stop:
                    advice = policy(state, _moment(unit))
                    continue
            kept_adding = kept_adding or len(state.readings) >= PAST_READING
            state = _shot(state, site, advice, hands, own)
        else:
            break
        advice = policy(state, _moment(unit))
    minutes = unit.time_s / 60.0
    told.append(Told(minutes, advice, unit.missing_kg(), unit.gap_k()))
    recovered = _close_out(state, site, policy, handbook, advice, hands)
    return Charged(
        unit.gap_k(),
        site.tolerance_k,
        unit.liquid_events,
        len(state.shots),
        minutes,
        len(state.readings),
        advice.action,
        advice.reasons[0] if advice.reasons else "",
        tuple(ranges),
        kept_adding,
        unit.charge_kg / site.right_kg - 1.0,
        site.tags,
        tuple(told),
        recovered,
    )


def _felt(site: Site, state: State, hands: Hands) -> str:
    """What is answered about the filter drier: the page asks once charge went in."""
    return "" if not state.shots else site.drier if hands.feels else NOT_REACHED


def _fits_restrictor(state: State, advice: Advice, hands: Hands) -> bool:
    cylinder = state.cylinder
    fitted = cylinder is None or cylinder.restrictor
    asked = NOT_BY_HAND in advice.reasons or TOO_QUICK in advice.reasons
    return hands.restrictor_kg_s is not None and not fitted and asked


def _with_restrictor(state: State) -> State:
    assert state.cylinder is not None
    fitted = replace(state.cylinder, restrictor=True, fitted_after=len(state.shots))
    return replace(state, cylinder=fitted)


def _recovering(state: State) -> State:
    """The same session once it is decided that the hoses are recovered: they bring nothing."""
    readings = tuple(replace(taken, hoses_kg=0.0) for taken in state.readings)
    walk = {**state.walk, RECOVERS_HOSES: Fields({}, {}, {})}
    return replace(state, readings=readings, walk=walk)


def _close_out(
    state: State, site: Site, policy: Policy, handbook: Handbook, advice: Advice, hands: Hands
) -> bool:
    """The hoses are cleared into the unit, or recovered where the advice says so: all of them, or
    the red one after the final reading, which shows what the yellow one brought.

    Returns
        Whether anything was recovered.
    """
    unit = site.unit
    brings = hoses_bring(site.system, handbook)
    if recovers_hoses(state):
        return True
    red_kg = brings.after.get(YELLOW_CLEARED, 0.0)
    unit.charge_kg += (brings.total_kg - red_kg) * unit.hose_size
    if advice.action == FINISH and not hands.empties:
        unit.step(FINAL_WAIT_S, 0.0)
        state = _read(state, unit, handbook, red_kg)
        if policy(state, _moment(unit)).recover_hoses:
            return True
    unit.charge_kg += red_kg * unit.hose_size
    unit.step(60.0, 0.0)
    return False


def hoses_bring(system: System, handbook: Handbook) -> ToCome:
    """What the close-out brings this unit [kg]: three hoses of the usual size, by the core's hose
    model. They boil into the suction slowly, so no liquid is expected."""
    table = handbook.tables[system.refrigerant]
    conditions = usual_conditions(table, system.atmosphere_pa, DIP_TUBE)
    if isinstance(conditions, OutOfRange):
        return ToCome(0.0, 0.0, {})
    procedure = handbook.procedures[HARDWARE]
    return to_come(procedure, follow(procedure, conditions))


def _own_flow(site: Site, hands: Hands) -> float:
    if hands.own_flow_kg_s is None:
        return site.valve_kg_s
    low, high = hands.own_flow_kg_s
    return exp(site.unit.random.uniform(log(low), log(high)))


def _opening(site: Site, handbook: Handbook) -> State:
    """The session up to the scale being set: decided, weighed, running."""
    shown = site.unit.scale_kg
    named = site.system.refrigerant
    microchannel = site.described.get("coil", "") == "microchannel"
    return replace(
        fold(()),
        sid="practice",
        system=site.system,
        refrigerant=handbook.refrigerants.get(named),
        unit_texts=site.described,
        target_texts={"microchannel_papers": "yes"} if microchannel else {},
        machine=Machine(COOLING, FULL_STAGE, SPLIT),
        checks=CHECKED,
        cylinder=Cylinder("practice", named, 5.0, DIP_TUBE, None, None),
        start_weight=Weight("start", FIRST, 5.0 + shown),
        scale=ScaleSetting(GROSS, shown, site.scale_step_kg),
        last_scale_kg=shown,
        decision=DECIDED_TO_ADD,
        practice=True,
        started=FIRST,
    )


def _read(
    state: State,
    unit: Unit,
    handbook: Handbook,
    hoses_kg: float,
    takes_s: float = READING_S,
    drier: str = "",
) -> State:
    """Take a reading; `drier` is what is said of the filter drier with it."""
    assert state.system is not None
    known = state.readings[-1].reading.drier if state.readings else ""
    reading = replace(unit.reading(), drier=drier_now(known, drier))
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
    if takes_s > 0.0:
        unit.step(takes_s, 0.0)
    return replace(state, readings=(*state.readings, taken))


def _glance(
    state: State, unit: Unit, handbook: Handbook, hoses_kg: float, limit_k: float
) -> tuple[State, bool]:
    """Look before the next opening. What has come this far is written down as a reading."""
    unit.step(GLANCE_S, 0.0)
    seen = _read(state, unit, handbook, hoses_kg, 0.0)
    assessment = seen.readings[-1].assessment
    if assessment is None or isinstance(assessment.target, NoTarget):
        return state, False
    rises = assessment.target.quantity == SUBCOOLING
    value = assessment.measured.subcooling_k if rises else assessment.measured.superheat_k
    if isinstance(value, Unknown) or (value < limit_k if rises else value > limit_k):
        return state, False
    unit.step(READING_S - GLANCE_S, 0.0)
    return seen, True


def _shot(state: State, site: Site, advice: Advice, hands: Hands, own_kg_s: float) -> State:
    """Open, watch scale and clock, close a little late, write down what the scale shows."""
    unit = site.unit
    amount = (advice.amount_kg or 0.0) * (1.0 + hands.overshoot)
    seconds = None if advice.open_s is None else advice.open_s * (1.0 + hands.overshoot)
    opening = own_kg_s / site.valve_kg_s
    if advice.rate_kg_s is not None and hands.flow is not None:
        opening = min(1.0, unit.random.uniform(*hands.flow) * advice.rate_kg_s / site.valve_kg_s)
    before = unit.scale_kg
    opened = _moment(unit)
    passed = 0.0
    while passed < 600.0:
        shown = unit.step(1.0, opening).scale_kg
        passed += 1.0
        if before - shown >= amount or (seconds is not None and passed >= seconds):
            break
    unit.step(hands.late_s, opening)
    unit.step(3.0, 0.0)
    after = unit.scale_kg
    shot = Shot(
        f"shot-{len(state.shots)}",
        opened,
        _moment(unit),
        passed + hands.late_s,
        False,
        before - after,
        planned_kg=advice.amount_kg,
    )
    return replace(state, shots=(*state.shots, shot), last_scale_kg=after)


def _moment(unit: Unit, later_s: float = 0.0) -> Moment:
    milliseconds = int((unit.time_s + later_s) * 1000.0)
    return Moment("practice", milliseconds, milliseconds, 0)
