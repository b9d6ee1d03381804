"""What the guesses say together: how much may go in, and how likely the unit ends on target.

Shares are of the full charge; the guesses count what the hoses bring as in.
"""

from collections.abc import Sequence

from lowside.core.advice.response import (
    BIAS_REACH,
    BIAS_SIDE,
    Guess,
    Observation,
    Subject,
    on_plateau,
    quantile,
)
from lowside.core.judging.targets import SUBCOOLING
from lowside.core.numbers.arithmetic import square_root

OVERSHOOT = 0.05
"""How likely the whole of an addition may be to pass the far side of the tolerance. Our choice,
tuned on the tuning halves: at 0.10 a session of several additions passed it far too often."""
OVERSHOOT_BLIND = 0.03
"""The same while the reading shows nothing of the charge: many additions are alike then. Our
choice, tuned on the tuning halves."""
BLIND_FROM = 0.8
"""While subcooling is short by more than this share of its target, the condenser has hardly any
liquid, and how steep the answer will be has not been seen."""
STEEP_QUANTILE = 0.9
"""A unit counts as steep as only one in ten that explain the readings. Our choice."""
STARVED_GAP_K = 8.0
"""An orifice this far above its target [K] is starved: its superheat stays near the warmest the
gas can get, whatever goes in. Our choice."""
ANSWERED_SHARE = 0.01
"""Share of the full charge from which a reading after it counts as an answer. Our choice."""
TOLERANCE_USED = 0.8
"""Share of the tolerance beyond the target that counts as passing."""

HOSES_SPREAD = 0.25
"""How far what the hoses do to the reading is off, as a share: 0.15 for bore, length and how full
of liquid they are, and 0.2 for a slope that lies between two of those tried, or bends on the way.
Our choice, tuned on the tuning halves."""


FAR = 2.0
"""A unit short by more than this many times its tolerance is short, whatever the instruments and
the hoses do: what the hoses bring then no longer holds a small shot back that the guesses allow.
Our choice."""
FAR_SHORT = 4.0
"""By more than this many, it gets the smallest shot before its first answer although the guesses do
not allow it: nothing else shows how steep it is, and the hoses can be recovered. Twice FAR: here
the odds themselves are set aside, there only a caution beside them. Our choice."""


def answered(subject: Subject, observations: Sequence[Observation]) -> bool:
    """Whether charge went in since the first reading that could show it, and a reading followed."""
    last = observations[len(observations) - 1]
    for before in observations[on_plateau(subject, observations) :]:
        if subject.quantity == SUBCOOLING or before.gap_k <= STARVED_GAP_K:
            went_in = last.added_kg - before.added_kg
            return went_in >= ANSWERED_SHARE * subject.full_charge_kg
    return False


def opening(subject: Subject, steep_k: float, to_come: float) -> float:
    """Share of the full charge that a steep unit takes from showing nothing to the far side of the
    tolerance, less what the hoses bring."""
    window = BLIND_FROM * subject.target_k + TOLERANCE_USED * subject.tolerance_k
    return window / steep_k - to_come


def safe(
    subject: Subject,
    guesses: Sequence[Guess],
    to_come: float,
    steep_k: float,
    blind: bool,
    answered: bool,
) -> float:
    """Share of the full charge that may go in: no more than is probably missing, and passing the
    tolerance on the far side all but excluded.

    Before the first answer at most half of what is probably missing goes in. More may go in when
    even a steep unit would move by less than the tolerance. A far unit gets a small shot even where
    the instruments' error would forbid it: the smaller of that half and what moves a steep unit by
    the part of the tolerance that may be used. A near unit gets it only where its hoses bring a
    steep unit no more than the tolerance."""
    limits: list[tuple[float, float]] = []
    room = TOLERANCE_USED * subject.tolerance_k
    for guess in guesses:
        off = _offset(subject, guess, to_come)
        limits.append((guess.missing + room / guess.slope_k, guess.weight * (1.0 - BIAS_SIDE)))
        limits.append((guess.missing + (room - off) / guess.slope_k, guess.weight * BIAS_SIDE))
    limit = quantile(limits, OVERSHOOT_BLIND if blind else OVERSHOOT)
    middle = quantile([(guess.missing, guess.weight) for guess in guesses], 0.5)
    share = min(middle, limit)
    if not answered:
        share = min(share, max(0.5 * middle, subject.tolerance_k / steep_k))
        far = expected_gap(guesses, to_come) > FAR * subject.tolerance_k
        if not blind and (far or to_come * steep_k <= subject.tolerance_k):
            trim = TOLERANCE_USED * subject.tolerance_k / steep_k
            share = max(share, min(0.5 * middle, trim))
    return share if share > 0.0 else 0.0


def landing(subject: Subject, guesses: Sequence[Guess], to_come: float) -> tuple[float, float]:
    """How likely the true settled value is within tolerance, and how likely past it, with the
    instruments' offset and with what the hoses may bring more or less than the share they are
    taken to bring."""
    inside = 0.0
    past_it = 0.0
    tolerance = subject.tolerance_k
    for guess in guesses:
        off = _offset(subject, guess, to_come)
        middle = guess.slope_k * guess.missing
        side = guess.weight * BIAS_SIDE
        rest = guess.weight * (1.0 - 2.0 * BIAS_SIDE)
        for gap, weight in ((middle, rest), (middle + off, side), (middle - off, side)):
            if gap < -tolerance:
                past_it = past_it + weight
            elif gap <= tolerance:
                inside = inside + weight
    return inside, past_it


def _offset(subject: Subject, guess: Guess, to_come: float) -> float:
    """How far [K] the end may be off by the instruments and by what the hoses bring."""
    hoses_k = HOSES_SPREAD * to_come * guess.slope_k
    return BIAS_REACH * square_root(subject.bias_k * subject.bias_k + hoses_k * hoses_k)


def past(subject: Subject, guesses: Sequence[Guess], to_come: float) -> float:
    """How likely the close-out takes the settled value past the tolerance on the far side, though
    it is not past it without what the hoses bring (`to_come`, a share), which the guesses here do
    not count."""
    total = 0.0
    for guess in guesses:
        cleared = guess.slope_k * (guess.missing - to_come)
        if cleared < -subject.tolerance_k and guess.slope_k * guess.missing >= -subject.tolerance_k:
            total = total + guess.weight
    return total


def expected_gap(guesses: Sequence[Guess], more: float = 0.0) -> float:
    """The mean of the settled gap [K] once no more is to come; with `more`, the share of the full
    charge that is still to come, the mean before it."""
    total = 0.0
    for guess in guesses:
        total = total + guess.weight * guess.slope_k * (guess.missing + more)
    return total
