"""Signs that this unit is not only short of charge: seen as charge goes in, and in the readings
that should have come right with it.

`charge.assess` judges each reading by itself, with wide limits. Here the session is judged: from
the third reading on, charge goes on only while the unit answers as a healthy one does and its low
and high side stand where a healthy unit's do. Limits and sources: `docs/advice.md`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.advice.odds import STARVED_GAP_K
from lowside.core.advice.response import Observation
from lowside.core.handbook.system import EEV, TXV
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT, SUPERHEAT_TOLERANCE_K, Target
from lowside.core.numbers.unit_choice import label
from lowside.core.session.state import State, Taken

WARMER_THAN_LIQUID_K = -2.2
"""Subcooling below this cannot be [K]. RA3.2 allows a gauge 7 psi (READ, 2013) and a thermometer
1.3 °F (READ, 2008), which explain about 2 K (COMPUTED for R-410A at 110 °F); the rest is our
choice."""

SESSION_READINGS = 3
"""From this many readings on the session as a whole is judged. Our choice."""

DEPRESSION_HIGHEST_K = 20.5
DEPRESSION_PER_SUPERHEAT = 0.7
"""Low-side saturation below return air [K]: 35 ± 5 °F (16.7 to 22.2 K) at 400 cfm a ton, about
40 °F at 350 (READ, trade). A starved coil runs colder by up to 0.7 of its superheat (seen in our
practice model). The limit, 24 K at 5 K of superheat, is our choice."""
DEPRESSION_LOWEST_K = 14.0
"""25 °F. Manufacturers' tables come out at 28 to 30 °F at 80 °F return and 67 °F wet bulb (READ,
COMPUTED from them); the margin below is our choice."""
LIFT_HIGHEST_K = 17.2
"""Condensing above outdoor air [K], 31 °F. A manufacturer's table comes out at 15 to 22 °F
(COMPUTED from READ), old units at 30 (MEMORY); one more is our choice."""
LIFT_LOWEST_K = 7.8
LIFT_PER_SUPERHEAT = 0.12
"""The least lift [K], 14 °F: just below the 15 °F of the same table. It is less on a starved unit,
by this share of its superheat above LIFT_SUPERHEAT_K (seen in our practice model). Our choice."""
LIFT_SUPERHEAT_K = 8.0
"""A unit with less superheat [K] is not starved. Our choice."""
WEAK_DEPRESSION_K = 16.5
WEAK_LIFT_K = 9.5
"""Both this small together [K]: the compressor moves too little. The first is the low end of 35 ±
5 °F (READ, trade); the second, 17 °F, and taking them together are our choice."""
WEAK_SHORT_K = 14.9
WEAK_SHORT_LIFT_K = 8.7
WARM_PER_STARVED = 0.5
"""Both for a unit that is still short [K], 27 and 16 °F, the first less this share of the superheat
of a starved coil: missing charge lowers the lift by itself, and makes the coil colder, not warmer.
Tuned on the tuning halves of both practice models."""
HIGH_SIDE_K = 17.2
HIGH_SIDE_PER_SUBCOOLING = 0.5
"""Condensing above outdoor air with half of the subcooling of a fixed orifice [K]. Both at the top
of what is published (22 °F from a manufacturer's table, 15.7 °F of subcooling; READ) come to
16.6 K, and missing charge lowers both: past that something other than charge fills the condenser.
The half and the margin are our choice. Old units come to more (30 °F, MEMORY); they are stopped
too, and the coil and the air in it are worth the look."""

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
down to about 80 % of the charge (READ, summary of ASHRAE RP-1173), hence the share; the other two
are our choice."""
ANSWER_NOISE_K = 0.3
"""What two readings may differ by in any case [K]. Our choice: less than that, and no answer at all
is seen twice before it counts."""

DRIFT_K = 1.5
"""A gap that grows by more than this [K] with no charge taken out, settled both times. Our
choice."""
SLIPS_ASKED = 2
"""Earlier readings that must agree on it, where there are more. Our choice."""
WENT_IN = 0.02
"""Share of the full charge from which charge counts as having gone in. Our choice."""
BACK_K = 1.2
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
"""From this subcooling on [K] (13 °F; manufacturers call 10 to 12 and 12 to 15 normal, READ)
superheat that is still above its tolerance is a restriction's, once charge went in; and from less,
the further above it is, because a fixed orifice short of charge has no liquid to spare. The share
is our choice."""
VALVE_STARVED_K = 9.5
VALVE_LIQUID_K = 3.9
"""An expansion valve that holds more than 17 °F of superheat (a manufacturer's guide: 8 to 12 °F,
READ, and the ±5 °F of RA3.2, READ) with 7 °F of subcooling before it does not lack liquid (the
published range of healthy units begins at 7.8 °F, READ). The manufacturer's own superheat goes
first."""
SPLIT_HIGH_K = 2.4
"""Air temperature drop above Table RA3.2-3 [K], mean of all readings: past the installer's ±3 °F
and about at the rater's ±4 °F (READ, RA3.2, 2008)."""


@dataclass(frozen=True)
class _Look:
    """What a reading shows beside the target [K]."""

    superheat_k: float
    subcooling_k: float | None
    depression_k: float | None
    lift_k: float | None


def doubt(
    state: State,
    basis: Taken,
    observations: Sequence[Observation],
    full_charge_kg: float,
    least_missing_kg: float,
) -> str | None:
    """Why charge should not go on although the target calls for it; `None` when nothing speaks
    against it.

    Args:
        state: the session.
        basis: the last reading that counts.
        observations: the readings up to it (`outlook.observations_of`).
        full_charge_kg: of the unit [kg].
        least_missing_kg: the low end of what is still missing [kg].
    """
    assessment = basis.assessment
    if assessment is None or not isinstance(assessment.target, Target):
        return None
    subcooling = assessment.subcooling_k
    if not isinstance(subcooling, Unknown) and subcooling < WARMER_THAN_LIQUID_K:
        return (
            "The liquid line reads warmer than this refrigerant can be at this pressure. Check "
            "the clamp, the gauge, and that the unit holds what its nameplate says."
        )
    drifting = _drift(state, observations, assessment.target, full_charge_kg)
    if drifting is not None:
        return drifting
    if len(observations) < SESSION_READINGS or not state.shots:
        return None
    silent = _answer(state, observations, assessment.target, full_charge_kg)
    if silent is not None:
        return silent
    devoured = _takes_too_much(state, observations, full_charge_kg, least_missing_kg)
    if devoured is not None:
        return devoured
    blocked = _liquid_but_starved(state, basis, assessment.target)
    if blocked is not None:
        return blocked
    short_of_air = _air_first(state, basis)
    if short_of_air is not None:
        return short_of_air
    if last_gap_k(observations) <= assessment.target.tolerance_k:
        return None
    return _sides(state, basis, assessment.target, True)


def last_gap_k(observations: Sequence[Observation]) -> float:
    """How far the newest reading is on the side of missing charge [K]."""
    return observations[len(observations) - 1].gap_k


def starved_behind_liquid(state: State, basis: Taken) -> str | None:
    """Why subcooling at or past its target is not yet the right charge or too much: behind a valve
    that starves it is a restriction that holds the liquid back. Judged from the first reading."""
    assessment = basis.assessment
    if assessment is None or not isinstance(assessment.target, Target):
        return None
    if assessment.target.quantity != SUBCOOLING:
        return None
    return _liquid_but_starved(state, basis, assessment.target)


def beside_the_target(state: State, basis: Taken) -> str | None:
    """What low and high side say of a unit whose reading is on or past its target: said with
    “finish” and “recover” too, from the first reading on."""
    assessment = basis.assessment
    if assessment is None or not isinstance(assessment.target, Target):
        return None
    return _sides(state, basis, assessment.target, False)


def _drift(
    state: State, observations: Sequence[Observation], target: Target, full_charge_kg: float
) -> str | None:
    """The target slips away, or the valve starves more, while nothing was taken out."""
    last = observations[len(observations) - 1]
    slipped: list[float] = []
    earlier = 0
    for before in observations[: len(observations) - 1]:
        if last.added_kg < before.added_kg:
            continue
        earlier = earlier + 1
        fed = last.added_kg - before.added_kg >= WENT_IN * full_charge_kg
        limit = BACK_K if fed and target.quantity == SUBCOOLING else DRIFT_K
        grown = last.gap_k - before.gap_k
        if grown > limit:
            slipped.append(grown)
        elif fed and last.valve_superheat_k is not None and before.valve_superheat_k is not None:
            grown = last.valve_superheat_k - before.valve_superheat_k
            if grown > VALVE_BACK_K:
                slipped.append(grown)
    # One odd reading among many is no leak: the lowest of many is low by chance.
    if not slipped or (len(slipped) < SLIPS_ASKED and earlier >= SLIPS_ASKED + 1):
        return None
    return _slipped(state, slipped[len(slipped) - 1])


def _slipped(state: State, grown_k: float) -> str:
    return (
        "The reading went "
        + label("temperature_difference", grown_k, state.units)
        + " the wrong way, and no charge was taken out. Look for a leak, or for a change in "
        "weather or load."
    )


def _answer(
    state: State, observations: Sequence[Observation], target: Target, full_charge_kg: float
) -> str | None:
    """Charge went in and the readings hardly moved."""
    first = observations[0]
    last = observations[len(observations) - 1]
    share = (last.added_kg - first.added_kg) / full_charge_kg
    hidden = target.quantity == SUBCOOLING and last.gap_k > FLAT_FROM * target.value_k
    if target.quantity == SUPERHEAT and first.gap_k > STARVED_GAP_K:
        hidden = last.gap_k > STARVED_GAP_K
    if share < (FLAT_SHARE if hidden else ANSWER_SHARE):
        return None
    moved = first.gap_k - last.gap_k
    least = SUPERHEAT_ANSWER_K
    if target.quantity == SUBCOOLING:
        least = SUBCOOLING_ANSWER_K
        if first.valve_superheat_k is not None and last.valve_superheat_k is not None:
            moved = moved + max(first.valve_superheat_k - last.valve_superheat_k, 0.0)
    wanted = FLAT_ANSWER_K if hidden else least * share + ANSWER_NOISE_K
    if moved >= wanted:
        return None
    return (
        "The unit hardly responds: "
        + label("mass", last.added_kg - first.added_kg, state.units)
        + " went in and the reading moved by "
        + label("temperature_difference", moved, state.units)
        + ". Look for a leak, a restriction or another fault before you add more."
    )


def _takes_too_much(
    state: State,
    observations: Sequence[Observation],
    full_charge_kg: float,
    least_missing_kg: float,
) -> str | None:
    """More went in, and is still wanted, than a unit that ran can have been short of."""
    known = state.system is not None and state.system.nameplate_charge_kg is not None
    went_in = observations[len(observations) - 1].added_kg - observations[0].added_kg
    most = (TAKEN_SHARE if known else TAKEN_SHARE_UNKNOWN) * full_charge_kg
    if went_in + max(least_missing_kg, 0.0) <= most:
        return None
    return (
        label("mass", went_in, state.units)
        + " went in and the readings still ask for more than a cooling unit can be missing. Look "
        "for a leak or a restriction before you add more."
    )


def _liquid_but_starved(state: State, basis: Taken, target: Target) -> str | None:
    """There is liquid before the metering device and the coil starves all the same.

    A fixed orifice's superheat is held against what it should show now: the target of superheat,
    or with a target of approach the manufacturer's figure or the chart's.
    """
    assessment = basis.assessment
    if assessment is None:
        return None
    superheat = assessment.superheat_k
    subcooling = assessment.subcooling_k
    if isinstance(superheat, Unknown) or isinstance(subcooling, Unknown):
        return None
    expected = assessment.expected_superheat_k
    if target.quantity == SUBCOOLING or (target.quantity != SUPERHEAT and _has_valve(state)):
        if superheat <= _most_a_valve_holds(state) or subcooling < VALVE_LIQUID_K:
            return None
    elif expected is None:
        return None
    else:
        above = superheat - expected[1]
        if above <= 0.0 or subcooling + LIQUID_PER_SUPERHEAT * above < LIQUID_K:
            return None
    return (
        "Superheat stays at "
        + label("temperature_difference", superheat, state.units)
        + " with "
        + label("temperature_difference", subcooling, state.units)
        + " of subcooling before the metering device. Before you change the charge, check "
        "for a temperature drop across the filter drier, a kinked line, and the metering device."
    )


def _has_valve(state: State) -> bool:
    return state.system is not None and state.system.metering in (TXV, EEV)


def _most_a_valve_holds(state: State) -> float:
    maker = None if state.system is None else state.system.maker_superheat_k
    return VALVE_STARVED_K if maker is None else maker + SUPERHEAT_TOLERANCE_K


def _air_first(state: State, basis: Taken) -> str | None:
    """The air's temperature drop is above the table's, reading after reading."""
    total = 0.0
    count = 0
    for taken in state.readings:
        assessment = taken.assessment
        if assessment is not None and taken.running and assessment.split_over_k is not None:
            total = total + assessment.split_over_k
            count = count + 1
        if taken.eid == basis.eid:
            break
    if count < SESSION_READINGS or total / count <= SPLIT_HIGH_K:
        return None
    return (
        "The air cools "
        + label("temperature_difference", total / count, state.units)
        + " more than its table says, reading after reading. An undercharged unit cools it less. "
        "Check filter, blower, coil and registers before you add more."
    )


def _sides(state: State, basis: Taken, target: Target, short: bool) -> str | None:
    """Low and high side do not come right as the charge does. Missing charge itself lowers the
    lift, so a low one says nothing while the unit is still `short`."""
    look = _look(basis)
    if look is None:
        return None
    starved = max(look.superheat_k - LIFT_SUPERHEAT_K, 0.0)
    depression = look.depression_k
    lift = look.lift_k
    if depression is not None:
        if depression > DEPRESSION_HIGHEST_K + DEPRESSION_PER_SUPERHEAT * look.superheat_k:
            return (
                "Low-side saturation stays "
                + label("temperature_difference", depression, state.units)
                + " below return air as charge goes in. Check filter, blower, coil and metering "
                "device."
            )
        if depression < DEPRESSION_LOWEST_K:
            return (
                "Low-side saturation is only "
                + label("temperature_difference", depression, state.units)
                + " below return air. Check the compressor, and check for high airflow or load."
            )
    if lift is None:
        return None
    if lift > LIFT_HIGHEST_K:
        return (
            "Condensing is "
            + label("temperature_difference", lift, state.units)
            + " above outdoor air. Check the outdoor coil and fan, and check for air in the unit."
        )
    subcooling = None if target.quantity == SUBCOOLING else look.subcooling_k
    if subcooling is not None and lift + HIGH_SIDE_PER_SUBCOOLING * subcooling > HIGH_SIDE_K:
        return (
            "Condensing "
            + label("temperature_difference", lift, state.units)
            + " above outdoor air with "
            + label("temperature_difference", subcooling, state.units)
            + " of subcooling is not an undercharged unit. Check the outdoor coil and fan, and "
            "check for air in the unit."
        )
    if short:
        warm = depression is not None and depression - WARM_PER_STARVED * starved < WEAK_SHORT_K
        return _weak(state, lift) if warm and lift < WEAK_SHORT_LIFT_K else None
    weak = depression is not None and depression < WEAK_DEPRESSION_K and lift < WEAK_LIFT_K
    if weak or lift < LIFT_LOWEST_K - LIFT_PER_SUPERHEAT * starved:
        return _weak(state, lift)
    return None


def _weak(state: State, lift_k: float) -> str:
    return (
        "Condensing is only "
        + label("temperature_difference", lift_k, state.units)
        + " above outdoor air with this much charge in. Check the compressor before you add more."
    )


def _look(basis: Taken) -> _Look | None:
    assessment = basis.assessment
    if assessment is None or isinstance(assessment.superheat_k, Unknown):
        return None
    depression = None
    lift = None
    indoor = basis.reading.return_dry_bulb_k
    outdoor = basis.reading.outdoor_dry_bulb_k
    if indoor is not None and assessment.dew_k is not None:
        depression = indoor - assessment.dew_k
    if outdoor is not None and assessment.bubble_k is not None:
        lift = assessment.bubble_k - outdoor
    subcooling = assessment.subcooling_k
    return _Look(
        assessment.superheat_k,
        None if isinstance(subcooling, Unknown) else subcooling,
        depression,
        lift,
    )
