"""The outlook from the last reading: what is missing, what is safe to add, how long to wait."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lowside.core.advice import feeding, odds
from lowside.core.advice.counted import counted, guessed_until, lost_until, most_unweighed_kg
from lowside.core.advice.decay import time_constants_until
from lowside.core.advice.feeding import Feed, Suction
from lowside.core.advice.instruments import error_k
from lowside.core.advice.prior import slopes_of
from lowside.core.advice.response import (
    SETTLING_S,
    VALVE_SUPERHEAT_K,
    VALVE_SUPERHEAT_SPREAD_K,
    Guess,
    Observation,
    Subject,
    learn,
    missing_with_bias,
    on_plateau,
    quantile,
    quantiles,
)
from lowside.core.handbook.system import EEV, FIXED, TXV, System
from lowside.core.judging.by_weight import near_full
from lowside.core.judging.charge import gap_of
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import (
    APPROACH,
    SUBCOOLING,
    SUPERHEAT,
    SUPERHEAT_FLOOR_K,
    Target,
    TargetQuantity,
    judged_by_pressure,
)
from lowside.core.numbers.units import TON_W
from lowside.core.session.final_wait import LEAST_WAIT_S
from lowside.core.session.state import ScaleSetting, State, Taken, step_of

FULL_CHARGE_KG_PER_W = 1.13 / TON_W
"""Full charge when the nameplate's is not given: 2.5 lb a ton (common practice, no source; units
run from about 2 to 4)."""
ASSUMED_CAPACITY_W = 3.0 * TON_W

LAST_SHARE = 0.6
"""An addition of this share of what is missing may be the last, so its reading must be settled."""

RANGE = 0.08
"""The range that is shown leaves this share of the guesses on either side. It holds 9 of 10 true
amounts: the guesses are wider than the units of both practice models, whose tuning halves it is
from."""
SETTLED_CONSTANTS = 2.5
"""Time constants after which a reading may be the last."""
UNSETTLED_SHARE = 0.20
"""Share of the tolerance that may still be to come when a reading is taken."""
SUPERHEAT_FALL_K = 111.0
"""Fall of superheat [K] for a whole full charge that goes in, while it still falls: 2 °F for 1 %,
the middle of −1 to −3 °F (from memory)."""
HELD_K = 1.0
"""Superheat that fell by less than this [K] while charge went in is what the valve holds."""
WARMEST_APPROACH_K = 10.0
"""Condensing above outdoor air when it is not known [K]. A manufacturer's table: 15 to 22 °F."""
PRESSURE_REACH_K = 20.0
"""How far missing charge is believed to lower saturation [K]. It falls less than subcooling for
the same charge, so judging it by the slopes of subcooling asks for less than is missing. Ours."""
WARMEST_SUCTION_K = 28.0
"""Highest superheat believed possible when return air is not known [K]."""
LEAST_SUCTION_K = 10.0
"""The least of it [K]: the thermometers may be off. Our choice."""
LINE_GAIN_K = 2.0
"""How much warmer than return air suction gas may get on its way [K]."""

LEAST_FULL_WAIT_S = 300.0
MOST_WAIT_S = 900.0
"""Shortest wait for the reading after the last shot and longest after any. Manufacturers ask for 5
to 20 min; RA3.2 for 15 after the last. The shortest after a shot is `final_wait.LEAST_WAIT_S`."""


@dataclass(frozen=True)
class Outlook:
    """From the last reading that counts. Masses in kg, temperatures in K, times in s."""

    quantity: TargetQuantity
    target_k: float
    gap_k: float
    tolerance_k: float
    blind: bool
    """The reading shows nothing of the charge: subcooling of a condenser with hardly any liquid."""
    missing_kg: float
    low_kg: float
    high_kg: float
    """Median, 8 % and 92 % of what is still missing beyond what the hoses bring."""
    to_come_kg: float
    """What the hoses still held at that reading: it goes in at the close-out, in no shot. All
    that is planned and judged here counts it as in."""
    safe_kg: float
    """What may go in before the next reading, so that it hardly passes the target; 0 if nothing."""
    most_kg: float
    """The most that may go in before the next reading, whatever is missing."""
    opening_kg: float
    """The most one opening may bring while the reading is blind; a glance follows it."""
    within: float
    """How likely the settled value is within tolerance after the close-out."""
    over: float
    """How likely it is past the tolerance on the far side."""
    expected_gap_k: float
    """The gap once settled after the close-out, by all readings together."""
    full_charge_kg: float
    settling_s: float
    full_wait_s: float
    """Wait after a shot for a reading the finish may rest on."""
    slope_k_per_kg: float
    flow: Feed
    counted_kg_s: float
    """Flow by which a shot without a weight counts: as seen before the reading, so that what is
    missing does not change with what a later shot shows."""
    suction: Suction
    least_superheat_k: float
    """Where superheat comes to rest once the charge is right [K]."""
    readings_here: int
    """Readings that count since the charge last changed."""
    observations: tuple[Observation, ...]
    """Also those nothing is learned from (`counted.guessed_until`): a unit that takes charge by
    time and does not answer is still doubted."""
    subject: Subject
    guesses: tuple[Guess, ...]
    """As the readings leave them, without what the hoses bring."""
    steep_k: float
    answered: bool

    def suction_after(self, fed_kg: float) -> Suction:
        """The suction side once `fed_kg` [kg] went in since the last reading: superheat falls
        with charge, and what it will fall to cannot boil what it boiled before."""
        superheat = self.suction.superheat_k
        if superheat is None or fed_kg <= 0.0:
            return self.suction
        fallen = superheat - SUPERHEAT_FALL_K * fed_kg / self.full_charge_kg
        fallen = max(fallen, min(superheat, self.least_superheat_k))
        return replace(self.suction, superheat_k=fallen)

    def not_by_hand(self, fed_kg: float) -> bool:
        """Whether the last flow is one that no hand keeps small enough here."""
        return feeding.beyond_a_hand(self.suction_after(fed_kg), self.flow)

    def wait_for(self, fed_kg: float) -> float:
        """Wait [s] after `fed_kg` [kg] until a reading shows what it did. Whether a blind reading
        begins to move shows long before it has settled; then the next one is waited for."""
        if self.blind:
            return 0.0
        if fed_kg >= LAST_SHARE * self.missing_kg:
            return self.full_wait_s
        change = fed_kg * self.steep_k / self.full_charge_kg
        if change <= 0.0:
            return 0.0
        left = UNSETTLED_SHARE * self.tolerance_k / change
        return self.settling_s * time_constants_until(left)


def outlook_of(state: State, basis: Taken) -> Outlook | None:
    """What the readings up to `basis` say; `None` without a target or its reading."""
    if state.system is None or basis.assessment is None:
        return None
    target = basis.assessment.target
    if not isinstance(target, Target):
        return None
    flow = feeding.flow_of(state, len(state.shots))
    flow_then = feeding.flow_of(state, basis.shots_before)
    observations = observations_of(state, basis, target, flow_then)
    guessed = guessed_until(state, basis.shots_before)
    known = observations_of(state, basis, target, flow_then, guessed)
    if not known:
        return None
    subject = _subject(state.system, state.unit_texts, basis, target, state.scale)
    learned = learn(subject, known)
    if learned is None:
        return None
    full = subject.full_charge_kg
    to_come = basis.hoses_kg / full
    guesses = [Guess(g.weight, g.missing - to_come, g.slope_k) for g in learned.guesses]
    spread = missing_with_bias(guesses, subject.bias_k)
    low, middle, high = quantiles(spread, (RANGE, 0.5, 1.0 - RANGE))
    slopes = [(g.slope_k, g.weight) for g in guesses]
    slope, steep = quantiles(slopes, (0.5, odds.STEEP_QUANTILE))
    settling = quantile(list(zip(SETTLING_S, learned.settling, strict=True)), 0.6)
    superheat = basis.assessment.measured.superheat_k
    last = observations[len(observations) - 1]
    suction = feeding.suction_of(
        state.system,
        None if isinstance(superheat, Unknown) else superheat,
        basis.assessment.suction_share,
        feeding.parts_of(state.unit_texts),
    )
    most = min(
        feeding.most_before_reading(suction), _superheat_for(state.system, target, suction, full)
    )
    blind = on_plateau(subject, known) == len(known)
    answered = odds.answered(subject, known)
    inside, past_it = odds.landing(subject, guesses, to_come)
    return Outlook(
        quantity=target.quantity,
        target_k=target.value_k,
        gap_k=last.gap_k,
        tolerance_k=target.tolerance_k,
        blind=blind,
        missing_kg=middle * full,
        low_kg=low * full,
        high_kg=high * full,
        to_come_kg=basis.hoses_kg,
        safe_kg=min(odds.safe(subject, guesses, to_come, steep, blind, answered) * full, most),
        most_kg=most,
        opening_kg=odds.opening(subject, steep, to_come) * full,
        within=inside,
        over=past_it,
        expected_gap_k=odds.expected_gap(guesses),
        full_charge_kg=full,
        settling_s=settling,
        full_wait_s=_full_wait(settling)
        if state.system.papers_wait_s is None
        else state.system.papers_wait_s,
        slope_k_per_kg=slope / full,
        flow=flow,
        counted_kg_s=flow_then.fastest_kg_s,
        suction=suction,
        least_superheat_k=_least_superheat(state.system, target, observations),
        readings_here=_readings_here(observations),
        observations=observations,
        subject=subject,
        guesses=learned.guesses,
        steep_k=steep,
        answered=answered,
    )


def without_hoses(outlook: Outlook) -> Outlook:
    """The same with nothing to come: what the hoses hold is recovered and not cleared into the
    unit."""
    subject = outlook.subject
    safe = odds.safe(
        subject, outlook.guesses, 0.0, outlook.steep_k, outlook.blind, outlook.answered
    )
    inside, past_it = odds.landing(subject, outlook.guesses, 0.0)
    full = outlook.full_charge_kg
    return replace(
        outlook,
        missing_kg=outlook.missing_kg + outlook.to_come_kg,
        low_kg=outlook.low_kg + outlook.to_come_kg,
        high_kg=outlook.high_kg + outlook.to_come_kg,
        to_come_kg=0.0,
        safe_kg=min(safe * full, outlook.most_kg),
        opening_kg=odds.opening(subject, outlook.steep_k, 0.0) * full,
        within=inside,
        over=past_it,
        expected_gap_k=odds.expected_gap(outlook.guesses),
    )


def past_with_hoses(outlook: Outlook) -> float:
    """How likely the close-out takes the settled value past the tolerance on the far side, though
    it is not past it without what the hoses bring."""
    to_come = outlook.to_come_kg / outlook.full_charge_kg
    return odds.past(outlook.subject, outlook.guesses, to_come)


def over_after(outlook: Outlook, fed_kg: float) -> float:
    """How likely the unit ends past the tolerance after `fed_kg` [kg] more and the hoses."""
    full = outlook.full_charge_kg
    to_come = outlook.to_come_kg / full
    shift = to_come + fed_kg / full
    guesses = [Guess(g.weight, g.missing - shift, g.slope_k) for g in outlook.guesses]
    return odds.landing(outlook.subject, guesses, to_come)[1]


def hoses_blind(outlook: Outlook) -> bool:
    """Whether the hoses hold so much for this unit that a finish by clearing them would have to
    come before the reading shows anything."""
    subject = outlook.subject
    brings_k = outlook.to_come_kg * outlook.slope_k_per_kg
    return outlook.blind and brings_k > odds.BLIND_FROM * subject.target_k


def wait_after(state: State, outlook: Outlook | None, fed_kg: float) -> float:
    """Wait for a reading [s] after `fed_kg` [kg]: by its instructions, else as the unit answers,
    within the published."""
    if state.system is not None and state.system.papers_wait_s is not None:
        return state.system.papers_wait_s
    if outlook is None:
        return LEAST_WAIT_S
    return min(max(outlook.wait_for(fed_kg), LEAST_WAIT_S), MOST_WAIT_S)


def observations_of(
    state: State, basis: Taken, target: Target, flow: Feed, shots: int = 0
) -> tuple[Observation, ...]:
    """The readings after `shots` shots and up to `basis` that can be compared; unweighed shots
    count by their time."""
    found: list[Observation] = []
    valve = state.system is not None and state.system.metering in (TXV, EEV)
    most = 0.0
    if state.system is not None:
        most = most_unweighed_kg(state, _full_charge(state.system))
    lost = lost_until(state.shots[: basis.shots_before], most, flow.rate_kg_s)
    known_from = max(lost, shots)
    for taken in counted(state, basis):
        observation = _observation(state, taken, target, flow, valve)
        if observation is not None and taken.shots_before >= known_from:
            found.append(observation)
    return tuple(found)


def _observation(
    state: State, taken: Taken, target: Target, flow: Feed, valve: bool
) -> Observation | None:
    if taken.assessment is None:
        return None
    if taken.since_shot_s is not None and taken.since_shot_s < 60.0:
        return None
    gap = gap_of(taken.assessment, taken.reading, target.quantity)
    if gap is None:
        return None
    superheat = taken.assessment.measured.superheat_k
    valve_superheat = None
    if valve and not isinstance(superheat, Unknown):
        valve_superheat = superheat
    added = _added(state, taken, flow)
    return Observation(added, gap, taken.since_shot_s, valve_superheat, taken)


def _added(state: State, taken: Taken, flow: Feed) -> float:
    total = max(state.readings[0].hoses_kg - taken.hoses_kg, 0.0)
    count = 0
    for shot in state.shots:
        if shot.closed is None or count >= taken.shots_before:
            break
        count = count + 1
        if shot.amount_kg is not None:
            total = total + shot.amount_kg
        elif shot.open_s is not None:
            total = total + shot.open_s * flow.rate_kg_s
    return total


def _subject(
    system: System,
    unit_texts: Mapping[str, str],
    basis: Taken,
    target: Target,
    scale: ScaleSetting | None,
) -> Subject:
    by_pressure = judged_by_pressure(target.quantity)
    reach = PRESSURE_REACH_K if by_pressure else target.value_k
    headroom = reach
    if target.quantity == SUPERHEAT:
        headroom = _warmest(basis) - target.value_k
        headroom = max(headroom, 2.0 * target.tolerance_k)
    elif target.quantity == APPROACH:
        headroom = max(_approach_without_liquid(basis) - target.value_k, 2.0 * target.tolerance_k)
    elif headroom < target.tolerance_k:
        headroom = target.tolerance_k
    quantity = target.quantity
    if quantity == APPROACH or by_pressure:
        quantity = SUBCOOLING
    full = _full_charge(system)
    return Subject(
        quantity,
        reach,
        target.tolerance_k,
        full,
        headroom,
        system.maker_superheat_k if target.quantity == SUBCOOLING else None,
        step_of(scale),
        slopes_of(quantity, full, capacity_of(system), unit_texts),
        error_k(scale, system, quantity),
    )


def capacity_of(system: System) -> float:
    """Nominal capacity [W]; a usual one when it is not known."""
    capacity = system.capacity_w
    return ASSUMED_CAPACITY_W if capacity is None or capacity <= 0.0 else capacity


def _approach_without_liquid(basis: Taken) -> float:
    """The approach [K] once no liquid is left to cool: condensing above outdoor air. Until then
    it answers to charge as subcooling does."""
    bubble = None if basis.assessment is None else basis.assessment.measured.bubble_k
    outdoor = basis.reading.outdoor_dry_bulb_k
    if bubble is None or outdoor is None:
        return WARMEST_APPROACH_K
    return bubble - outdoor


def _least_superheat(system: System, target: Target, observations: Sequence[Observation]) -> float:
    """Superheat below which charge does not take it: the far side of its target, or what the
    valve holds, seen once charge went in and the superheat stayed. An orifice by another target
    holds none: down to its floor."""
    if target.quantity == SUPERHEAT:
        return target.value_k - target.tolerance_k
    if system.metering == FIXED:
        return SUPERHEAT_FLOOR_K
    if len(observations) > 1:
        last = observations[len(observations) - 1]
        before = observations[len(observations) - 2]
        held = last.valve_superheat_k
        was = before.valve_superheat_k
        went_in = last.added_kg > before.added_kg
        if held is not None and was is not None and went_in and held >= was - HELD_K:
            return held - HELD_K
    if system.maker_superheat_k is not None:
        return system.maker_superheat_k
    return VALVE_SUPERHEAT_K - 0.5 * VALVE_SUPERHEAT_SPREAD_K


def _superheat_for(system: System, target: Target, suction: Suction, full_kg: float) -> float:
    """Charge [kg] that takes a fixed orifice's superheat down to its floor, where it is charged by
    another target; else as much as there is."""
    superheat = suction.superheat_k
    if system.metering != FIXED or target.quantity == SUPERHEAT or superheat is None:
        return full_kg
    return max(superheat - SUPERHEAT_FLOOR_K, 0.0) / SUPERHEAT_FALL_K * full_kg


def _warmest(basis: Taken) -> float:
    dew = None if basis.assessment is None else basis.assessment.measured.dew_k
    air = basis.reading.return_dry_bulb_k
    if dew is None or air is None:
        return WARMEST_SUCTION_K
    return max(air + LINE_GAIN_K - dew, LEAST_SUCTION_K)


def _full_charge(system: System) -> float:
    charge = near_full(system)
    if charge is None or charge <= 0.0:
        return capacity_of(system) * FULL_CHARGE_KG_PER_W
    return charge


def _full_wait(settling_s: float) -> float:
    return min(max(SETTLED_CONSTANTS * settling_s, LEAST_FULL_WAIT_S), MOST_WAIT_S)


def _readings_here(observations: Sequence[Observation]) -> int:
    """How many readings there are since the charge last changed."""
    last = len(observations) - 1
    i = last
    while i >= 0 and observations[i].added_kg == observations[last].added_kg:
        i = i - 1
    return last - i
