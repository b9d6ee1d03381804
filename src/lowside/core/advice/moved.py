"""The low or the high side moved between two readings as no charge moves it.

What went in since an earlier reading lifts the high side a little, and hardly cools the coil.
More than that, or both sides coming together, is the machine or the air and not the charge: a
compressor at another stage, a fan, a filter. Then the reading says nothing of the charge, so
nothing is added, finished or recovered on it. Measured limits: `docs/advice.md`.
"""

from collections.abc import Sequence
from typing import Literal

from lowside.core.advice import sides
from lowside.core.advice.ground import TOO_EARLY_S
from lowside.core.advice.response import Observation
from lowside.core.judging.targets import Target
from lowside.core.numbers.unit_choice import label
from lowside.core.session.state import State, Taken, recovered_before

LIFT_FELL_K = 1.38
COIL_WARMER_K = 0.56
"""Condensing nearer to outdoor air and low-side saturation nearer to return air by this much [K],
2.5 and 1 °F, both at once. Charge lifts the high side: on no sound unit of the tuning halves did
the lift fall by more than 0.65 K. The coil keeps a falling load out. Our choice."""
LIFT_ROSE_K = 2.2
LIFT_PER_SHARE_K = 17.0
"""Condensing further above outdoor air by this much [K] and so much for a whole full charge fed.
Sound units of the tuning halves: 0.86 K and that. Our choice."""
COIL_COLDER_K = 2.8
"""Low-side saturation further below return air [K], 5 °F. Sound units of the tuning halves: 2.28 K
once a fifth of the charge went in, 1.7 K with less. Our choice."""

Move = Literal["", "together", "condensing", "coil"]
"""What moved as charge does not: both sides toward their air, or one of them away from it."""


def moved(state: State, observations: Sequence[Observation], full_charge_kg: float) -> str | None:
    """What the newest reading shows against an earlier one that the charge between them cannot
    have done; `None` when nothing. An earlier one that moved so itself is passed over: back at the
    others' figures, all is as it was. The same holds for one whose own sides asked for a check:
    what was mended since moved them too."""
    last = observations[len(observations) - 1]
    held: list[Observation] = []
    for each in observations[: len(observations) - 1]:
        if _measures(state, each) and _against(state, held, each, full_charge_kg) is None:
            held.append(each)
    before = _against(state, held, last, full_charge_kg)
    if before is None or before.taken is None or last.taken is None:
        return None
    move = _move(before, last, full_charge_kg)
    return _told(state, move, before.taken, last.taken)


def _measures(state: State, each: Observation) -> bool:
    """Whether later readings are held against this one."""
    if each.since_shot_s is not None and each.since_shot_s < TOO_EARLY_S:
        return False
    if each.taken is None or each.taken.assessment is None:
        return False
    target = each.taken.assessment.target
    if not isinstance(target, Target):
        return False
    short = each.gap_k > target.tolerance_k
    return sides.sides(state, each.taken, target, short) is None


def _against(
    state: State, held: Sequence[Observation], now: Observation, full_charge_kg: float
) -> Observation | None:
    """The first of these readings against which this one moved, with no charge taken out since."""
    for before in held:
        if _move(before, now, full_charge_kg) != "" and not _taken_out(state, before, now):
            return before
    return None


def _move(before: Observation, now: Observation, full_charge_kg: float) -> Move:
    if before.taken is None or now.taken is None or now.added_kg < before.added_kg:
        return ""
    lift = _change(sides.lift_of(before.taken), sides.lift_of(now.taken))
    colder = _change(sides.depression_of(before.taken), sides.depression_of(now.taken))
    if lift <= -LIFT_FELL_K and colder <= -COIL_WARMER_K:
        return "together"
    fed = (now.added_kg - before.added_kg) / full_charge_kg
    if lift >= LIFT_ROSE_K + LIFT_PER_SHARE_K * fed:
        return "condensing"
    return "coil" if colder >= COIL_COLDER_K else ""


def _change(before_k: float | None, now_k: float | None) -> float:
    """By how much a figure rose [K]; 0 where either reading lacks it."""
    return 0.0 if before_k is None or now_k is None else now_k - before_k


def _taken_out(state: State, before: Observation, now: Observation) -> bool:
    """Whether charge was recovered between two readings."""
    if before.taken is None or now.taken is None:
        return False
    until = recovered_before(state, before.taken.moment)
    return recovered_before(state, now.taken.moment) > until


def _told(state: State, move: Move, before: Taken, now: Taken) -> str:
    """What was seen, in words, and what to check."""
    lift = _change(sides.lift_of(before), sides.lift_of(now))
    colder = _change(sides.depression_of(before), sides.depression_of(now))
    if move == "together":
        text = (
            "Condensing came "
            + label("temperature_difference", -lift, state.units)
            + " nearer to outdoor air and the coil "
            + label("temperature_difference", -colder, state.units)
            + " nearer to return air. Charge does not do that. Check which stage or speed the "
            "compressor runs at, its current against before, and the reversing valve’s pipes. See "
            "that the outdoor thermometer is in the shade."
        )
    elif move == "condensing":
        text = (
            "Condensing rose by "
            + label("temperature_difference", lift, state.units)
            + " above outdoor air, more than this charge can do. "
            + sides.OUTDOOR_FIRST
            + "outdoor coil and fan."
        )
    else:
        text = (
            "The coil got "
            + label("temperature_difference", colder, state.units)
            + " colder below return air. Charge does not do that. Check filter, blower and "
            "registers, then the indoor coil. If superheat rose too, feel both sides of the filter "
            "drier."
        )
    return text + " If the earlier reading was wrong, correct or void it on the timeline."
