"""The low or the high side moved between two readings as no charge moves it.

What went in since an earlier reading lifts the high side a little, and hardly cools the coil.
More than that, or both sides coming together, is the machine or the air and not the charge: a
compressor at another stage, a fan, a filter, rain. The same holds for a valve that starves, or a
current that falls. Then the reading says nothing of the charge, so nothing is added, finished or
recovered on it. Where only the load moved, the next reading that rests counts again. Measured
limits: `docs/advice.md`.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from lowside.core.advice import sides
from lowside.core.advice.ground import TOO_EARLY_S
from lowside.core.advice.response import Observation
from lowside.core.handbook.system import Reading
from lowside.core.judging.contrary import VALVE_STARVED_K
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import Target
from lowside.core.numbers.unit_choice import label
from lowside.core.session.state import State, Taken

LIFT_FELL_K = 1.38
COIL_WARMER_K = 0.56
"""Condensing nearer to outdoor air and low-side saturation nearer to return air by this much [K],
2.5 and 1 °F, both at once. Charge lifts the high side: on no sound unit of the tuning halves did
the lift fall by more than 0.65 K. The coil keeps a falling load out. Our choice."""
LIFT_FELL_ALONE_K = 2.2
"""Condensing nearer to outdoor air by this much [K], whatever the coil does: rain on the outdoor
coil, its thermometer in the sun. Our choice, more than three times what sound units show."""
LIFT_ROSE_K = 2.2
LIFT_PER_SHARE_K = 17.0
"""Condensing further above outdoor air by this much [K] and so much for a whole full charge fed.
Sound units of the tuning halves: 0.86 K and that. Our choice."""
COIL_COLDER_K = 2.8
"""Low-side saturation further below return air [K], 5 °F. Sound units of the tuning halves: 2.28 K
once a fifth of the charge went in, 1.7 K with less. Our choice."""
SUPERHEAT_ROSE_K = 5.0
"""A valve's superheat higher by more than this [K], 9 °F, and above what one holds that has liquid,
however little was fed. Sound valves of the tuning halves: 5.1 °F to above that. Our choice."""
CURRENT_FELL = 0.8
COOLER_AIR_K = 5.0
"""The compressor's current below this share of the earlier one, in outdoor air no more than so much
cooler [K]: charge raises current, and cooler air alone lowers the work to 0.88 at 5 K and 0.77 at
10 K (COMPUTED, R-410A at 35 °C, the same suction). Our choice."""
LOAD_MOVED_K = 2.8
"""Return air warmer or cooler than at the reading before by more than this [K], 5 °F. Our choice;
that the load rests before a reading counts is common practice, no source."""
SUPERHEAT_FELL_K = 4.0
SUPERHEAT_PER_SHARE_K = 170.0
"""Superheat lower than at the reading before by more than this [K], 7 °F, and so much for a whole
full charge fed. Sound units of the tuning halves: 2.7 K and 150 K. The margin is our choice."""

Move = Literal["", "nearer", "condensing", "coil", "superheat", "current"]
"""What moved as charge does not: condensing toward its air or away from it, the coil away from its
own, the superheat up, the current down."""
LET_SETTLE = " See that the clamps are tight, let the load settle, then read again."
_WRONG_BEFORE = " If the earlier reading was wrong, correct or void it on the timeline."
_CHECK_COMPRESSOR = (
    "Check which stage or speed the compressor runs at, its current against before, and the "
    "reversing valve’s pipes."
)


def moved(state: State, observations: Sequence[Observation], full_charge_kg: float) -> str | None:
    """What the newest reading shows against an earlier one that the charge between them cannot
    have done; `None` when nothing. An earlier one that moved so itself is passed over: back at the
    others' figures, all is as it was. The same holds for one whose own sides asked for a check:
    what was mended since moved them too."""
    last = observations[len(observations) - 1]
    held: list[Observation] = []
    for each in observations[: len(observations) - 1]:
        if _measures(state, each) and _against(held, each, full_charge_kg) is None:
            held.append(each)
    before = _against(held, last, full_charge_kg)
    if before is None or before.taken is None or last.taken is None:
        return None
    move = _move(before, last, full_charge_kg)
    return _seen(state, move, before.taken, last.taken) + _check(move) + _WRONG_BEFORE


def load_moved(
    state: State, observations: Sequence[Observation], full_charge_kg: float
) -> str | None:
    """What shows that the load moved between the last two readings; `None` when nothing."""
    count = len(observations)
    if count < 2:
        return None
    seen = _load(state, observations[count - 2], observations[count - 1], full_charge_kg)
    return None if seen == "" else seen + LET_SETTLE


def seen_in_batch(
    state: State, observations: Sequence[Observation], fed_kg: float, full_charge_kg: float
) -> str:
    """What a glance since the last shot, settled or not, shows of either against the reading the
    batch rests on, the last of `observations`; empty: nothing."""
    newest = state.readings[len(state.readings) - 1]
    basis = observations[len(observations) - 1]
    if newest.shots_before < len(state.shots) or basis.taken is None:
        return ""
    now = replace(basis, added_kg=basis.added_kg + fed_kg, taken=newest)
    move = _move(basis, now, full_charge_kg)
    if move == "":
        return _load(state, basis, now, full_charge_kg)
    return _seen(state, move, basis.taken, newest)


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
    held: Sequence[Observation], now: Observation, full_charge_kg: float
) -> Observation | None:
    """The first of these readings against which this one moved."""
    for before in held:
        if _move(before, now, full_charge_kg) != "":
            return before
    return None


def _move(before: Observation, now: Observation, full_charge_kg: float) -> Move:
    if before.taken is None or now.taken is None or now.added_kg < before.added_kg:
        return ""
    lift = _change(sides.lift_of(before.taken), sides.lift_of(now.taken))
    colder = _change(sides.depression_of(before.taken), sides.depression_of(now.taken))
    together = lift <= -LIFT_FELL_K and colder <= -COIL_WARMER_K
    if together or lift <= -LIFT_FELL_ALONE_K:
        return "nearer"
    fed = (now.added_kg - before.added_kg) / full_charge_kg
    if lift >= LIFT_ROSE_K + LIFT_PER_SHARE_K * fed:
        return "condensing"
    if colder >= COIL_COLDER_K:
        return "coil"
    superheat = _superheat_of(now.taken)
    rose = _change(before.valve_superheat_k, superheat)
    if superheat is not None and superheat > VALVE_STARVED_K and rose > SUPERHEAT_ROSE_K:
        return "superheat"
    return "current" if _current_fell(before.taken.reading, now.taken.reading) else ""


def _superheat_of(taken: Taken) -> float | None:
    found = None if taken.assessment is None else taken.assessment.measured.superheat_k
    return None if isinstance(found, Unknown) else found


def _current_fell(before: Reading, now: Reading) -> bool:
    if before.compressor_a is None or now.compressor_a is None:
        return False
    warmer = _change(before.outdoor_dry_bulb_k, now.outdoor_dry_bulb_k)
    return warmer >= -COOLER_AIR_K and now.compressor_a < CURRENT_FELL * before.compressor_a


def _change(before_k: float | None, now_k: float | None) -> float:
    """By how much a figure rose [K]; 0 where either reading lacks it."""
    return 0.0 if before_k is None or now_k is None else now_k - before_k


def _load(state: State, before: Observation, now: Observation, full_charge_kg: float) -> str:
    """How return air or superheat moved as the load moves them, in a sentence; empty: not."""
    if before.taken is None or now.taken is None or now.added_kg < before.added_kg:
        return ""
    air = before.taken.reading.return_dry_bulb_k
    warmer = _change(air, now.taken.reading.return_dry_bulb_k)
    if abs(warmer) > LOAD_MOVED_K:
        moved_by = label("temperature_difference", abs(warmer), state.units)
        return f"Return air moved by {moved_by}."
    fell = -_change(_superheat_of(before.taken), _superheat_of(now.taken))
    fed = (now.added_kg - before.added_kg) / full_charge_kg
    if fell > SUPERHEAT_FELL_K + SUPERHEAT_PER_SHARE_K * fed:
        return (
            f"Superheat fell by {label('temperature_difference', fell, state.units)}, more than "
            "this charge can do."
        )
    return ""


def _seen(state: State, move: Move, before: Taken, now: Taken) -> str:
    """What was seen, in words."""
    lift = _change(sides.lift_of(before), sides.lift_of(now))
    colder = _change(sides.depression_of(before), sides.depression_of(now))
    if move == "condensing":
        return (
            "Condensing rose by "
            + label("temperature_difference", lift, state.units)
            + " above outdoor air, more than this charge can do."
        )
    if move == "nearer":
        text = (
            "Condensing came "
            + label("temperature_difference", -lift, state.units)
            + " nearer to outdoor air"
        )
        if colder <= -COIL_WARMER_K:
            nearer = label("temperature_difference", -colder, state.units)
            text = text + " and the coil " + nearer + " nearer to return air"
    elif move == "coil":
        text = (
            "The coil got "
            + label("temperature_difference", colder, state.units)
            + " colder below return air"
        )
    elif move == "superheat":
        rose = _change(_superheat_of(before), _superheat_of(now))
        text = "Superheat rose by " + label("temperature_difference", rose, state.units)
    else:
        text = "The compressor’s current fell by more than a fifth"
    return text + ". Charge does not do that."


def _check(move: Move) -> str:
    """What to check then."""
    if move == "condensing":
        return " " + sides.OUTDOOR_FIRST + "outdoor coil and fan."
    if move == "nearer":
        return (
            " See that the outdoor thermometer is in the shade and the outdoor coil is dry. "
            + _CHECK_COMPRESSOR
        )
    if move == "coil":
        return (
            " Check filter, blower and registers, then the indoor coil. If superheat rose too, "
            "feel both sides of the filter drier."
        )
    if move == "superheat":
        return (
            " Hold the other thermometer beside the suction clamp. Feel both sides of the filter "
            "drier. Then check the expansion valve and its bulb."
        )
    return " " + _CHECK_COMPRESSOR
