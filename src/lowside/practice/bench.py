"""Measures the advice on many random units. Plain policies charge the same units."""

from collections.abc import Mapping, Sequence
from typing import Any

from lowside.core.numbers.units import OUNCE_KG
from lowside.library import load_handbook
from lowside.practice.draw import draw, pick_fault
from lowside.practice.technician import (
    Charged,
    Policy,
    by_advice,
    by_advice_unthrottled,
    by_advice_without_hoses,
    careful,
    charge,
    fixed_shots,
    halving_from_4oz,
)

PLAIN_POLICIES: Mapping[str, Policy] = {
    "fixed_2oz": fixed_shots(2.0 * OUNCE_KG),
    "fixed_4oz": fixed_shots(4.0 * OUNCE_KG),
    "careful_halving": careful,
    "halving_from_4oz": halving_from_4oz,
    "advice_valve_as_ever": by_advice_unthrottled,
    "advice_without_hoses": by_advice_without_hoses,
}
FAULTED_SHARE = 0.2
"""How many units with a fault are measured, as a share of the healthy ones."""


def bench(units: int, seed: int, spread: float = 1.0, plain: bool = True) -> dict[str, Any]:
    """Charge `units` random units by the advice and by each plain policy.

    Args:
        units: healthy units. A fifth as many units with a fault come on top.
        seed: the same seed gives the same units and figures.
        spread: see `draw.draw`.
        plain: whether the plain policies run too.
    """
    handbook = load_handbook()
    ours: list[Charged] = []
    others: dict[str, list[Charged]] = {name: [] for name in PLAIN_POLICIES}
    for number in range(units):
        drawn = draw(seed * 1_000_003 + number, spread)
        ours.append(charge(drawn, by_advice, handbook))
        if plain:
            for name, policy in PLAIN_POLICIES.items():
                others[name].append(charge(drawn, policy, handbook))
    kept = 0
    faulted = max(int(units * FAULTED_SHARE), 1)
    for number in range(faulted):
        drawn = draw(seed * 1_000_003 + 500_000 + number, spread, pick_fault(number))
        kept += charge(drawn, by_advice, handbook).kept_adding
    return {
        "units": units,
        **figures(ours),
        "range_coverage": coverage(ours),
        "faulted_units": faulted,
        "faulted_keep_adding": kept / faulted,
        "policies": {name: figures(found) for name, found in others.items() if found},
    }


def figures(outcomes: Sequence[Charged]) -> dict[str, Any]:
    """Shares and medians of one policy's sessions."""
    count = len(outcomes)
    return {
        "within_tolerance": sum(abs(o.gap_k) <= o.tolerance_k for o in outcomes) / count,
        "overcharged": sum(o.gap_k < -o.tolerance_k for o in outcomes) / count,
        "liquid_at_compressor": sum(o.liquid_events > 0 for o in outcomes) / count,
        "median_shots": _median([float(o.shots) for o in outcomes]),
        "median_minutes": _median([o.minutes for o in outcomes]),
    }


def coverage(outcomes: Sequence[Charged]) -> float:
    """Share of the stated ranges that contained the truth."""
    held = 0
    count = 0
    for outcome in outcomes:
        for low, high, true in outcome.ranges:
            count += 1
            held += low <= true <= high
    return held / count if count else 0.0


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    if len(ordered) % 2 == 1:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2.0
