"""How the charging is planned to end: the hoses cleared into the unit, or what they hold recovered.

Clearing them is the trade's way, and it wastes nothing. On a unit that answers steeply the hoses
hold more than the tolerance, so the unit would be finished well short of its target, by a slope
that is hardly known. There what they hold is recovered: then the last reading is the result.
"""

from collections.abc import Sequence
from dataclasses import replace

from lowside.core.advice import odds
from lowside.core.advice.outlook import (
    Outlook,
    hoses_blind,
    over_after,
    past_with_hoses,
    without_hoses,
)
from lowside.core.session.cylinder import left_beside_hoses
from lowside.core.session.state import Shot, State, step_of

CLOSE = 0.4
"""Share of the tolerance within which the target counts as met from below: the instruments
themselves may be off by as much as is left."""
WORTH = 0.2
"""A trim must move the reading by this share of the tolerance: less is not worth a reading."""
LEAST_SHOT_KG = 0.010
"""Nobody can feed less with a hand valve."""
HOSES_PAST = 0.4
"""How likely the close-out must overcharge before what the hoses hold is recovered. Our choice."""
FITS = 0.65
"""How likely the unit must be within tolerance once the hoses are cleared into it; below, they are
recovered where that is surer. Our choice."""
OVER_MOST = 0.08
"""How likely the unit may be past it then. Our choice, tuned on the tuning halves."""
SURER = 0.1
"""By how much it must be surer: a recovery machine is fetched for it. Our choice."""
LEAST_OVER = 0.04
"""How likely the smallest shot may leave the unit past the tolerance once the hoses are cleared
into it. A small shot is how a steep unit shows its slope at all. Tuned on the tuning halves."""
LEAST_ADDS = 0.005
"""Up to OVER_MOST it also fits when it adds no more than this to what the hoses risk without it.
Our choice."""
SMALLEST_OVER = 0.15
"""Up to this the smallest shot is fed although it does not fit, when nothing else is left: it is
how a sound unit that is hardly known goes on. Our choice: 3 of 286 sound units of the tuning halves
come above."""
READINGS_BEFORE = 3
"""Readings before such a shot: their mean is surer than one. Our choice."""
SHOT_ROOM = 0.5
"""Share of the tolerance past the target that the smallest shot may reach. Our choice."""


def fed_kg(since: Sequence[Shot], outlook: Outlook | None) -> float:
    """Charge in these shots [kg]; an unweighed one by its time and the flow seen so far."""
    total = 0.0
    for shot in since:
        if shot.amount_kg is not None:
            total = total + max(shot.amount_kg, 0.0)
        elif outlook is not None and shot.open_s is not None:
            total = total + shot.open_s * outlook.counted_kg_s
    return total


def fed_since_short_kg(outlook: Outlook) -> float | None:
    """What went in since the last settled reading that was short [kg]: what is too much now is no
    more than that. `None` when there was none."""
    observations = outlook.observations
    last = observations[len(observations) - 1]
    fed: float | None = None
    for each in observations[: len(observations) - 1]:
        settled = each.since_shot_s is None or each.since_shot_s >= outlook.full_wait_s - 1.0
        if settled and each.gap_k > outlook.tolerance_k:
            fed = last.added_kg - each.added_kg
    return fed


def least_kg(outlook: Outlook) -> float:
    """What the smallest shot brings that can be fed and weighed on this scale [kg], by a hand that
    runs over as this one does."""
    return max(outlook.subject.step_kg, LEAST_SHOT_KG) * outlook.flow.over


def far_short(outlook: Outlook) -> bool:
    """Whether the unit is so short that the smallest shot comes before anything else is known."""
    far = outlook.gap_k > odds.FAR_SHORT * outlook.tolerance_k
    return far and not outlook.blind and not outlook.answered


def smallest_is_too_much(outlook: Outlook) -> bool:
    """Whether the smallest shot of this scale and hand is too likely to take the unit past the
    tolerance to be fed at all."""
    return over_after(outlook, least_kg(outlook)) > SMALLEST_OVER


def is_worth(outlook: Outlook) -> bool:
    """Whether a unit within tolerance gets a small shot to the middle of it."""
    amount = outlook.safe_kg if outlook.missing_kg > 0.0 else 0.0
    worth = amount * outlook.slope_k_per_kg >= WORTH * outlook.tolerance_k
    return outlook.expected_gap_k > 0.0 and worth and amount >= least_kg(outlook)


def planned(outlook: Outlook) -> Outlook:
    """The outlook with the smallest shot as its plan where nothing is said to fit, but there is
    room for that one: even on a steep unit, or with the hoses still to come, as likely as that."""
    least = least_kg(outlook)
    if outlook.safe_kg >= least or outlook.missing_kg <= 0.0 or outlook.most_kg < least:
        return outlook
    if far_short(outlook):
        fits = True
    elif outlook.to_come_kg >= LEAST_SHOT_KG:
        over = over_after(outlook, least)
        fits = over <= LEAST_OVER
        fits = fits or (over <= OVER_MOST and over - outlook.over <= LEAST_ADDS)
    else:
        fits = _least_fits(least, outlook)
    return replace(outlook, safe_kg=least) if fits else outlook


def hoses_may_do(outlook: Outlook) -> bool:
    """Whether the hoses may hold enough, and move the reading by more than the tolerance."""
    brings_k = outlook.to_come_kg * outlook.slope_k_per_kg
    return outlook.low_kg <= 0.0 and brings_k > outlook.tolerance_k


def reads_again(outlook: Outlook, plan: Outlook) -> bool:
    """Whether one more reading comes before a shot that only just fits, or where the hoses
    may already hold enough. A blind one says nothing."""
    if outlook.blind or far_short(outlook):
        return False
    close = plan.safe_kg > outlook.safe_kg or hoses_may_do(outlook)
    return close and outlook.readings_here < READINGS_BEFORE


def likely_past_with_hoses(outlook: Outlook) -> bool:
    """Whether what the hoses hold is recovered where nothing more goes in."""
    return past_with_hoses(outlook) > HOSES_PAST


def better_recovered(outlook: Outlook) -> bool:
    """Whether what the hoses hold is better recovered than cleared into this unit: they hide so
    much that the finish would be blind, or the unit ends within tolerance more surely, or more
    could go in then."""
    if outlook.to_come_kg < LEAST_SHOT_KG:
        return False
    if hoses_blind(outlook):
        return True
    least = least_kg(outlook)
    if outlook.safe_kg >= least and outlook.missing_kg > 0.0:
        return False
    if outlook.within >= FITS and outlook.over <= OVER_MOST:
        return False
    kept = without_hoses(outlook)
    surer = kept.within - kept.over > outlook.within - outlook.over + SURER
    return surer or (kept.missing_kg > 0.0 and (kept.safe_kg >= least or _least_fits(least, kept)))


def _least_fits(least: float, outlook: Outlook) -> bool:
    """Whether even a steep unit stays within tolerance with the smallest shot."""
    moves_k = least * outlook.steep_k / outlook.full_charge_kg
    return moves_k <= outlook.expected_gap_k + SHOT_ROOM * outlook.tolerance_k


def from_cylinder_kg(state: State, wanted_kg: float) -> float:
    """As much of it as the cylinder holds by its weight [kg]: the scale never falls by more. 0 when
    that is less than the smallest shot on this scale."""
    held = left_beside_hoses(state)
    if held is None:
        return wanted_kg
    return 0.0 if held < max(LEAST_SHOT_KG, step_of(state.scale)) else min(wanted_kg, held)


def whole_steps_held(state: State, amount_kg: float) -> float:
    """An amount in whole steps of the scale, one less where rounding made it more than the cylinder
    holds."""
    held = left_beside_hoses(state)
    return amount_kg if held is None or amount_kg <= held else amount_kg - step_of(state.scale)


def whole_kg(outlook: Outlook) -> float:
    """The whole addition of a plan [kg]."""
    return max(outlook.safe_kg, least_kg(outlook))
