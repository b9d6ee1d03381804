"""Signs that this unit is not only undercharged: seen as charge goes in, and in the readings
that should have come right with it.

`charge.assess` judges each reading by itself, with wide limits. Here the session is judged: from
the third reading on, charge goes on only while the unit answers as a healthy one does and its low
and high side are where a healthy unit's are. Limits and sources: `docs/advice.md`.
"""

from collections.abc import Sequence

from lowside.core.advice import sides
from lowside.core.advice.counted import counted
from lowside.core.advice.ground import is_second
from lowside.core.advice.odds import STARVED_GAP_K
from lowside.core.advice.prior import MICROCHANNEL_COIL
from lowside.core.advice.response import Observation
from lowside.core.handbook.system import EEV, TXV
from lowside.core.judging.by_target import is_short_by
from lowside.core.judging.by_weight import full_by_labels
from lowside.core.judging.contrary import VALVE_LIQUID_K, most_a_valve_holds
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT, Target
from lowside.core.numbers.unit_choice import label
from lowside.core.session.state import State, Taken

WARMER_THAN_LIQUID_K = -2.2
"""Subcooling below this cannot be [K]. RA3.2 allows a gauge 7 psi (READ, 2013) and a thermometer
1.3 °F (READ, 2008), which explain about 2 K (COMPUTED for R-410A at 110 °F); the rest is our
choice."""

SESSION_READINGS = 3
"""From this many readings on the session as a whole is judged. Our choice."""

CHECKED_FROM = 2
"""From this many on the cheap check is asked for: before the second addition. Our choice."""

ANSWER_SHARE = 0.06
"""Share of the full charge that must have gone in before an answer is asked for. Our choice."""
SUBCOOLING_ANSWER_K = 8.0
SUPERHEAT_ANSWER_K = 10.0
"""The least answer of a healthy unit for a whole full charge [K]. Our choice, below the bottom of
what `response.py` believes."""
FLAT_SHARE = 0.20
FLAT_FROM = 0.4
FLAT_ANSWER_K = 1.2
"""An expansion valve hides charge: while it still opens further, neither superheat nor subcooling
shows what goes in. So with subcooling short of its target by more than FLAT_FROM of it, an answer
is asked for only after FLAT_SHARE of the full charge, and then a slight one. Valves hold superheat
down to about 80 % of the charge (READ, summary of ASHRAE RP-1173), so the share; the other two
are our choice."""
THIN_FLAT_SHARE = 0.33
"""The same with a microchannel coil: it holds little liquid, so it is flat for longer, then steep.
Our choice."""
STARVED_FLAT_SHARE = 0.10
"""The same for a valve that starves all along: it is wide open and hides nothing, so the coil's
superheat comes down with what goes in. Our choice."""
STARVED_SUPERHEAT_K = 22.0
"""An orifice with this much superheat [K], 40 °F, is starved too, however near its target is: the
gas can hardly get warmer, so the reading hides what goes in. Our choice."""
ANSWER_NOISE_K = 0.3
"""What two readings may differ by in any case [K]. Our choice: less than that, and no answer at all
is seen twice before it counts."""

DRIFT_K = 1.5
"""A gap that grows by more than this [K] with no charge taken out, settled both times. Our
choice."""
SLIPS_ASKED = 2
"""With more earlier readings than this, half of them must agree on it. Our choice."""
WENT_IN = 0.02
"""Share of the full charge from which charge counts as having gone in. Our choice."""
SUBCOOLING_BACK_K = 1.2
"""The same of subcooling when charge went in [K]: three times the 0.4 K by which two readings of a
resting unit differ. Our choice."""
VALVE_BACK_K = 2.5
"""Rise of an expansion valve's superheat while charge went in [K]; a valve hunts, so more may pass.
Our choice."""

TAKEN_SHARE = 0.45
"""Share of the full charge: no unit that still cools is short of more. The lightest charge in the
published correlation (READ, NIST TN 1848 and ANSI/RESNET 301) is 60 %; the other 5 % are for the
nameplate. Our choice."""
TAKEN_SHARE_UNKNOWN = 0.60
"""The same when the full charge is only an estimate from the capacity, which may be off by a third
(common practice, no source). Our choice."""

LIQUID_K = 7.0
LIQUID_PER_SUPERHEAT = 0.15
"""Once charge went in, superheat above its tolerance with this much subcooling [K] means a
restriction (13 °F; manufacturers call 10 to 12 and 12 to 15 normal, READ). The higher the
superheat, the less subcooling is enough for that: an undercharged fixed orifice has no liquid to
spare. The share is our choice."""
SHORT_STARVED_K = 1.0
"""While subcooling is short, a valve may hold this much more superheat [K] before it starves behind
liquid: both near their limits are within what it hunts, and the next reading shows more. Our
choice, tuned on the tuning halves."""
LIQUID_SEEN_K = 1.0
"""From this subcooling on [K] there is some liquid whatever the instruments' error, 0.45 K, is: a
coil that starves behind it is worth the check. Our choice: it asks 3 % of the sound units of the
tuning halves."""
SPLIT_HIGH_K = 2.4
"""Air temperature drop above Table RA3.2-3 [K], mean of all readings: past the installer's ±3 °F
and about at the rater's ±4 °F (READ, RA3.2, 2008)."""


def doubt(
    state: State,
    basis: Taken,
    observations: Sequence[Observation],
    full_charge_kg: float,
    least_missing_kg: float,
    readings: int = SESSION_READINGS,
) -> str | None:
    """Why charge should not go on although the target calls for it; `None` when nothing speaks
    against it.

    Args:
        state: the session.
        basis: the last reading that counts.
        observations: the readings up to it (`outlook.observations_of`).
        full_charge_kg: of the unit [kg].
        least_missing_kg: the low end of what is still missing [kg].
        readings: from so many on the session as a whole is judged.
    """
    assessment = basis.assessment
    target = _target_of(basis)
    if assessment is None or target is None:
        return None
    subcooling = assessment.measured.subcooling_k
    if not isinstance(subcooling, Unknown) and subcooling < WARMER_THAN_LIQUID_K:
        return (
            "The liquid line reads warmer than this refrigerant can be at this pressure. Shade the "
            "clamp, press it on bare, clean pipe and hold the other thermometer beside it. Check "
            "the gauge and the refrigerant."
        )
    drifting = _drift(state, observations, target, full_charge_kg)
    if drifting is not None:
        return drifting
    if len(observations) < readings or not state.shots:
        return None
    silent = _answer(state, observations, target, full_charge_kg)
    if silent is not None:
        return silent
    devoured = _takes_too_much(state, observations, full_charge_kg, least_missing_kg)
    if devoured is not None:
        return devoured
    blocked = _liquid_but_starved(state, basis, target)
    if blocked is not None and not _comes_down(observations, target):
        return blocked
    short_of_air = _air_first(state, basis)
    if short_of_air is not None:
        return short_of_air
    if not is_short_by(target, last_gap_k(observations)):
        return None
    return sides.sides(state, basis, target, True)


def last_gap_k(observations: Sequence[Observation]) -> float:
    """How far the newest reading is on the side of missing charge [K]."""
    return observations[len(observations) - 1].gap_k


def starved_behind_liquid(state: State, basis: Taken) -> str | None:
    """Why subcooling at or past its target is not yet the right charge or too much: behind a valve
    that starves it is a restriction that holds the liquid back. Judged from the first reading."""
    target = _target_of(basis)
    if target is None or target.quantity != SUBCOOLING:
        return None
    return _liquid_but_starved(state, basis, target)


def to_check_first(state: State, basis: Taken) -> tuple[str, bool] | None:
    """What a short unit's reading may mean beside missing charge, though it does not speak for it
    yet: a restriction whose superheat still comes down, a weak compressor. Worth the check, no
    reason to stop, and only between the first addition and the second: later, sound units come to
    these signs too, and the doubts see more.

    Returns
        The sign with its check, and whether the second addition waits for what the drier shows.
    """
    assessment = basis.assessment
    seen = _superheat_here(state, basis)
    if assessment is None or seen is None or not is_second(state, basis):
        return None
    subcooling = assessment.measured.subcooling_k
    limit = _most_a_valve_holds(state) if _has_valve(state) else STARVED_SUPERHEAT_K
    if isinstance(subcooling, Unknown) or seen[0] <= limit or subcooling < LIQUID_SEEN_K:
        weak = sides.weak_though_short(state, basis)
        return None if weak is None else (weak, False)
    return _restricted(state, seen, subcooling), basis.reading.drier == ""


def beside_the_target(state: State, basis: Taken) -> str | None:
    """What low and high side say of a unit whose reading is on or past its target: said with
    “finish” and “recover” too, from the first reading on."""
    target = _target_of(basis)
    return None if target is None else sides.sides(state, basis, target, False)


def _target_of(basis: Taken) -> Target | None:
    target = None if basis.assessment is None else basis.assessment.target
    return target if isinstance(target, Target) else None


def _drift(
    state: State, observations: Sequence[Observation], target: Target, full_charge_kg: float
) -> str | None:
    """The target slips away, or the valve starves more, while nothing was taken out."""
    last = observations[len(observations) - 1]
    held = _valve_here(observations)
    slipped: list[float] = []
    earlier = 0
    for before in observations[: len(observations) - 1]:
        if last.added_kg < before.added_kg:
            continue
        earlier = earlier + 1
        fed = last.added_kg - before.added_kg >= WENT_IN * full_charge_kg
        limit = SUBCOOLING_BACK_K if fed and target.quantity == SUBCOOLING else DRIFT_K
        grown = last.gap_k - before.gap_k
        if grown > limit:
            slipped.append(grown)
        elif fed and held is not None and before.valve_superheat_k is not None:
            grown = held - before.valve_superheat_k
            if grown > VALVE_BACK_K:
                slipped.append(grown)
    # One odd reading among many is no leak: the lowest of many is low by chance.
    if not slipped or (earlier > SLIPS_ASKED and 2 * len(slipped) < earlier):
        return None
    return _slipped(state, slipped[len(slipped) - 1])


def _valve_here(observations: Sequence[Observation]) -> float | None:
    """A valve's superheat at the newest reading [K], as the mean of those since the charge last
    changed: a valve hunts."""
    last = observations[len(observations) - 1]
    total = 0.0
    count = 0
    for each in observations:
        if each.added_kg == last.added_kg and each.valve_superheat_k is not None:
            total = total + each.valve_superheat_k
            count = count + 1
    return None if count == 0 else total / count


def _slipped(state: State, grown_k: float) -> str:
    return (
        "The reading went "
        + label("temperature_difference", grown_k, state.units)
        + " the wrong way, and no charge was taken out. See whether a clamp came loose, or weather "
        "or load changed. If not, look for a leak."
    )


def _answer(
    state: State, observations: Sequence[Observation], target: Target, full_charge_kg: float
) -> str | None:
    """Charge went in and the readings hardly moved."""
    first = observations[0]
    last = observations[len(observations) - 1]
    if target.quantity == SUPERHEAT and _hides(target, first):
        silent = _silent(state, first, last, target, full_charge_kg, True)
        if silent is not None or _hides(target, last):
            return silent
        # From where a starved coil begins to show what goes in, an answer is asked for as usual.
        first = _first_that_shows(observations, target)
    hidden = target.quantity == SUBCOOLING and last.gap_k > FLAT_FROM * target.value_k
    return _silent(state, first, last, target, full_charge_kg, hidden)


def _first_that_shows(observations: Sequence[Observation], target: Target) -> Observation:
    """The first reading of an orifice that is not so starved that superheat hides the charge."""
    for each in observations:
        if not _hides(target, each):
            return each
    return observations[len(observations) - 1]


def _silent(
    state: State,
    first: Observation,
    last: Observation,
    target: Target,
    full_charge_kg: float,
    hidden: bool,
) -> str | None:
    """What went in between two readings should have moved them further; less is asked for where
    the unit's state has `hidden` the charge."""
    share = (last.added_kg - first.added_kg) / full_charge_kg
    flat_share = FLAT_SHARE
    if state.unit_texts.get("coil", "") == MICROCHANNEL_COIL:
        flat_share = THIN_FLAT_SHARE
    flat_answer = FLAT_ANSWER_K
    if hidden and _starves(state, first) and _starves(state, last) and share < flat_share:
        flat_share = STARVED_FLAT_SHARE
        flat_answer = FLAT_ANSWER_K * share / FLAT_SHARE
    if share < (flat_share if hidden else ANSWER_SHARE):
        return None
    moved = first.gap_k - last.gap_k
    least = SUPERHEAT_ANSWER_K
    if target.quantity == SUBCOOLING:
        least = SUBCOOLING_ANSWER_K
        if first.valve_superheat_k is not None and last.valve_superheat_k is not None:
            moved = moved + max(first.valve_superheat_k - last.valve_superheat_k, 0.0)
    wanted = flat_answer if hidden else least * share + ANSWER_NOISE_K
    if moved >= wanted:
        return None
    return (
        "The unit hardly responds: "
        + label("mass", last.added_kg - first.added_kg, state.units)
        + " went in and the reading moved by "
        + label("temperature_difference", moved, state.units)
        + ". See that no hose pulls on the scale and both clamps sit tight. Then look for a leak "
        "or a restriction before you add more."
    )


def _hides(target: Target, seen: Observation) -> bool:
    """Whether an orifice is so starved that its superheat hardly shows what goes in."""
    superheat = target.value_k + seen.gap_k
    return seen.gap_k > STARVED_GAP_K or superheat > STARVED_SUPERHEAT_K


def _starves(state: State, seen: Observation) -> bool:
    """Whether the valve held more superheat than one holds that has liquid."""
    superheat = seen.valve_superheat_k
    return superheat is not None and superheat > _most_a_valve_holds(state)


def _takes_too_much(
    state: State,
    observations: Sequence[Observation],
    full_charge_kg: float,
    least_missing_kg: float,
) -> str | None:
    """More went in, and is still wanted, than a unit that ran can have been short of."""
    known = full_by_labels(state.system) is not None
    went_in = observations[len(observations) - 1].added_kg - observations[0].added_kg
    most = (TAKEN_SHARE if known else TAKEN_SHARE_UNKNOWN) * full_charge_kg
    if went_in + max(least_missing_kg, 0.0) <= most:
        return None
    return (
        label("mass", went_in, state.units)
        + " went in and the readings still ask for more than a cooling unit can be missing. "
        "Compare the nameplate’s charge with the one entered. Then look for a leak or a "
        "restriction before you add more."
    )


def _liquid_but_starved(state: State, basis: Taken, target: Target) -> str | None:
    """There is liquid before the metering device, and the coil still starves.

    A fixed orifice's superheat is held against what it should show now: the target of superheat,
    or with a target of approach the manufacturer's figure or the chart's.
    """
    assessment = basis.assessment
    if assessment is None:
        return None
    seen = _superheat_here(state, basis)
    subcooling = assessment.measured.subcooling_k
    if seen is None or isinstance(subcooling, Unknown):
        return None
    superheat = seen[0]
    expected = assessment.expected_superheat_k
    if target.quantity == SUBCOOLING or (target.quantity != SUPERHEAT and _has_valve(state)):
        short = target.quantity == SUBCOOLING and is_short_by(target, target.value_k - subcooling)
        most = _most_a_valve_holds(state) + (SHORT_STARVED_K if short else 0.0)
        if superheat <= most or subcooling < VALVE_LIQUID_K:
            return None
    elif expected is None:
        return None
    else:
        above = superheat - expected[1]
        if above <= 0.0 or subcooling + LIQUID_PER_SUPERHEAT * above < LIQUID_K:
            return None
    return _restricted(state, seen, subcooling)


def _restricted(state: State, seen: tuple[float, int], subcooling_k: float) -> str:
    of = "" if seen[1] == 1 else f", the mean of {seen[1]} readings,"
    return (
        "Superheat is "
        + label("temperature_difference", seen[0], state.units)
        + of
        + " with "
        + label("temperature_difference", subcooling_k, state.units)
        + " of subcooling before the metering device. Before you change the charge, check for a "
        "temperature drop across the filter drier, a kinked line, and the metering device. With "
        "no drop, hold the other thermometer beside the suction clamp."
    )


def _superheat_here(state: State, basis: Taken) -> tuple[float, int] | None:
    """Superheat at `basis` [K], as the mean of the readings since the last shot: a valve hunts. And
    of how many."""
    total = 0.0
    count = 0
    for taken in counted(state, basis):
        superheat = None if taken.assessment is None else taken.assessment.measured.superheat_k
        here = taken.shots_before == basis.shots_before
        if here and superheat is not None and not isinstance(superheat, Unknown):
            total = total + superheat
            count = count + 1
    return None if count == 0 else (total / count, count)


def _comes_down(observations: Sequence[Observation], target: Target) -> bool:
    """Whether a unit that is still short has its valve's superheat come down with the last charge
    that went in, so it does not stay: no restriction is mended by charge."""
    last = observations[len(observations) - 1]
    held = _valve_here(observations)
    if held is None or not is_short_by(target, last.gap_k):
        return False
    before: float | None = None
    for each in observations:
        if each.added_kg < last.added_kg and each.valve_superheat_k is not None:
            before = each.valve_superheat_k
    return before is not None and before - held > VALVE_BACK_K


def _has_valve(state: State) -> bool:
    return state.system is not None and state.system.metering in (TXV, EEV)


def _most_a_valve_holds(state: State) -> float:
    return most_a_valve_holds(None if state.system is None else state.system.maker_superheat_k)


def _air_first(state: State, basis: Taken) -> str | None:
    """The air's temperature drop is above the table's, reading after reading."""
    total = 0.0
    count = 0
    for taken in counted(state, basis):
        assessment = taken.assessment
        if assessment is not None and assessment.split_over_k is not None:
            total = total + assessment.split_over_k
            count = count + 1
    if count < SESSION_READINGS or total / count <= SPLIT_HIGH_K:
        return None
    return (
        "The air cools on average "
        + label("temperature_difference", total / count, state.units)
        + " more than its table says. An undercharged unit cools it less. "
        "Hold both air thermometers side by side. Check filter, blower, coil and registers before "
        "you add more."
    )
