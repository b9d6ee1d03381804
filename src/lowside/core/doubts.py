"""Signs that this unit is not only short of charge: seen as charge goes in, and in the readings
that should have come right with it.

`charge.assess` judges each reading by itself, with wide limits. Here the session is judged: from
the third reading on, charge goes on only while the unit answers as a healthy one does and its low
and high side stand where a healthy unit's do. Limits and sources: `docs/advice.md`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.findings import Unknown
from lowside.core.response import Observation
from lowside.core.state import State, Taken
from lowside.core.targets import SUBCOOLING, Target
from lowside.core.unit_choice import label

WARMER_THAN_LIQUID_K = -2.2
"""Subcooling below this cannot be: gauge and thermometer within RA3.2's errors explain about 2 K
(7 psi and 1.3 °F)."""

SESSION_READINGS = 3
"""From this many readings on the session as a whole is judged."""

DEPRESSION_HIGHEST_K = 20.5
DEPRESSION_PER_SUPERHEAT = 0.5
"""Low-side saturation below return air: 35 ± 5 °F (16.7 to 22.2 K) is published for 400 cfm/ton,
about 40 °F for 350. A starved coil runs colder, by about half of its superheat (practice model), so
the limit is 23 K at 5 K of superheat."""
DEPRESSION_LOWEST_K = 14.0
"""25 °F; makers' tables come out at 28 to 30 °F at 80 °F return and 67 °F wet bulb."""
LIFT_HIGHEST_K = 17.2
"""Condensing above outdoor air: 31 °F; makers' tables 15 to 22 °F, old units 30."""
LIFT_LOWEST_K = 7.8
LIFT_PER_SUPERHEAT = 0.12
"""14 °F, less on a starved unit (practice model)."""
WEAK_DEPRESSION_K = 16.5
WEAK_LIFT_K = 9.5
"""Both this small together: the compressor moves too little."""

ANSWER_SHARE = 0.06
"""Share of the full charge that must have gone in before an answer is asked for."""
SUBCOOLING_ANSWER_K = 8.0
SUPERHEAT_ANSWER_K = 9.0
"""The least answer of a healthy unit for a whole full charge [K]: below the bottom of what
`response.py` believes."""
FLAT_SHARE = 0.30
FLAT_FROM = 0.4
"""An expansion valve hides charge: while it still opens further, neither superheat nor subcooling
shows what goes in. So with subcooling short of its target by more than FLAT_FROM of it, an answer
is asked for only after this share of the full charge."""
ANSWER_NOISE_K = 0.5

DRIFT_K = 1.5
"""A gap that grows by more than this with no charge taken out, settled both times."""


@dataclass(frozen=True)
class _Look:
    """What a reading shows beside the target [K]."""

    superheat_k: float
    depression_k: float | None
    lift_k: float | None


def doubt(
    state: State, basis: Taken, observations: Sequence[Observation], full_charge_kg: float
) -> str | None:
    """Why charge should not go on although the target calls for it; `None` when nothing speaks
    against it.

    Args:
        state: the session.
        basis: the last reading that counts.
        observations: the readings up to it (`outlook.observations_of`).
        full_charge_kg: of the unit [kg].
    """
    assessment = basis.assessment
    if assessment is None or not isinstance(assessment.target, Target):
        return None
    subcooling = assessment.subcooling_k
    if not isinstance(subcooling, Unknown) and subcooling < WARMER_THAN_LIQUID_K:
        return (
            "The liquid line reads warmer than this refrigerant can be at this pressure: check "
            "the clamp, the gauge, and that the unit holds what its nameplate says."
        )
    drifting = _drift(state, observations)
    if drifting is not None:
        return drifting
    if len(observations) < SESSION_READINGS or not state.shots:
        return None
    silent = _answer(state, observations, assessment.target, full_charge_kg)
    return silent if silent is not None else _sides(state, basis)


def _drift(state: State, observations: Sequence[Observation]) -> str | None:
    """The target slips away while nothing was taken out."""
    if len(observations) < 2:
        return None
    last = observations[len(observations) - 1]
    before = observations[len(observations) - 2]
    grown = last.gap_k - before.gap_k
    if last.added_kg < before.added_kg or grown <= DRIFT_K:
        return None
    return (
        "The reading went "
        + label("temperature_difference", grown, state.units)
        + " the wrong way since the one before although no charge was taken out: look for a leak, "
        "or for weather and load that changed."
    )


def _answer(
    state: State, observations: Sequence[Observation], target: Target, full_charge_kg: float
) -> str | None:
    """Charge went in and the readings hardly moved."""
    first = observations[0]
    last = observations[len(observations) - 1]
    share = (last.added_kg - first.added_kg) / full_charge_kg
    hidden = target.quantity == SUBCOOLING and last.gap_k > FLAT_FROM * target.value_k
    if share < (FLAT_SHARE if hidden else ANSWER_SHARE):
        return None
    moved = first.gap_k - last.gap_k
    least = SUPERHEAT_ANSWER_K
    if target.quantity == SUBCOOLING:
        least = SUBCOOLING_ANSWER_K
        if first.valve_superheat_k is not None and last.valve_superheat_k is not None:
            moved = moved + max(first.valve_superheat_k - last.valve_superheat_k, 0.0)
    if moved >= least * share + ANSWER_NOISE_K:
        return None
    return (
        "The unit hardly answers: "
        + label("mass", last.added_kg - first.added_kg, state.units)
        + " went in and the reading moved by "
        + label("temperature_difference", moved, state.units)
        + ". Look for a leak, a restriction or a wrong charge of another kind before adding more."
    )


def _sides(state: State, basis: Taken) -> str | None:
    """Low and high side do not come right as the charge does."""
    look = _look(basis)
    if look is None:
        return None
    starved = max(look.superheat_k - 8.0, 0.0)
    depression = look.depression_k
    lift = look.lift_k
    if depression is not None:
        if depression > DEPRESSION_HIGHEST_K + DEPRESSION_PER_SUPERHEAT * look.superheat_k:
            return (
                "Low-side saturation stays "
                + label("temperature_difference", depression, state.units)
                + " below return air as charge goes in: check filter, blower, coil and metering "
                "device."
            )
        if depression < DEPRESSION_LOWEST_K:
            return (
                "Low-side saturation is only "
                + label("temperature_difference", depression, state.units)
                + " below return air: check the compressor, and for too much air or heat."
            )
    if lift is None:
        return None
    if lift > LIFT_HIGHEST_K:
        return (
            "Condensing stands "
            + label("temperature_difference", lift, state.units)
            + " above outdoor air: check the outdoor coil and fan, and for air in the unit."
        )
    weak = depression is not None and depression < WEAK_DEPRESSION_K and lift < WEAK_LIFT_K
    if weak or lift < LIFT_LOWEST_K - LIFT_PER_SUPERHEAT * starved:
        return (
            "Condensing is only "
            + label("temperature_difference", lift, state.units)
            + " above outdoor air with this much charge in: check the compressor before adding "
            "more."
        )
    return None


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
    return _Look(assessment.superheat_k, depression, lift)
