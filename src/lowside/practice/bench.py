"""Measures the advice on many random units. Plain policies charge the same units."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lowside.core.advice.advice import FINISH, RECOVER
from lowside.core.handbook.system import COLDER
from lowside.core.numbers.units import OUNCE_KG
from lowside.library import load_handbook
from lowside.practice.draw import pick_fault
from lowside.practice.once import learned_once
from lowside.practice.policies import (
    Policy,
    by_advice,
    by_advice_unthrottled,
    by_advice_without_hoses,
    careful,
    fixed_shots,
    halving_from_4oz,
)
from lowside.practice.sites import MODELS, TOLD_RECEIVER, TUNING, cycle_site, number_of
from lowside.practice.technician import (
    EMPTIES_HOSES,
    TECHNICIANS,
    Charged,
    Hands,
    Site,
    charge,
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
FAULTED_FROM = 500_000
"""Places of the units with a fault."""
PAST_SHARE = 0.02
"""A faulty unit counts as charged past the right amount from this share of it. Our choice."""


@learned_once()
def bench(
    units: int,
    seed: int,
    spread: float = 1.0,
    plain: bool = True,
    model: str = "cycle",
    half: str = TUNING,
) -> dict[str, Any]:
    """Charge `units` random units of one half by the advice and by each plain policy.

    Args:
        units: healthy units. A fifth as many units with a fault come on top.
        seed: the same seed gives the same units and figures.
        spread: see `draw.draw`; of the first model only.
        plain: whether the plain policies run too.
        model: a name in `sites.MODELS`.
        half: `sites.TUNING` or `sites.JUDGING`.
    """

    def site(number: int, fault: str = "") -> Site:
        if model == "cycle":
            return cycle_site(number, fault, spread)
        return MODELS[model](number, fault)

    handbook = load_handbook()
    ours: list[Charged] = []
    others: dict[str, list[Charged]] = {name: [] for name in PLAIN_POLICIES}
    for count in range(units):
        number = number_of(half, seed, count)
        ours.append(charge(site(number), by_advice, handbook))
        if plain:
            for name, policy in PLAIN_POLICIES.items():
                others[name].append(charge(site(number), policy, handbook))
    kept = 0
    faulted = max(int(units * FAULTED_SHARE), 1)
    for count in range(faulted):
        number = number_of(half, seed, FAULTED_FROM + count)
        kept += charge(site(number, pick_fault(count)), by_advice, handbook).kept_adding
    return {
        "model": model,
        "half": half,
        "units": units,
        **figures(ours),
        "range_coverage": coverage(ours),
        "faulted_units": faulted,
        "faulted_keep_adding": kept / faulted,
        "policies": {name: figures(found) for name, found in others.items() if found},
    }


@dataclass(frozen=True)
class Summary:
    """One model, one half of its units, and every technician."""

    model: str
    half: str
    by_technician: Mapping[str, Sequence[Charged]]
    faulty: Mapping[str, Sequence[Charged]]
    """By technician as well; none by the one who empties the hoses."""
    restricted: Sequence[Charged]
    """The first technician's faulty units that have a restriction."""
    not_felt: Sequence[Charged]
    """The same units by one who cannot reach the filter drier: what the check brings."""


@learned_once()
def summarize(
    model: str, half: str, units: int, seed: int, hands: Mapping[str, Hands] = TECHNICIANS
) -> Summary:
    """Charge `units` sound and as many faulty units of one half, once by each technician."""
    handbook = load_handbook()
    site = MODELS[model]
    sound: dict[str, list[Charged]] = {}
    faulty: dict[str, list[Charged]] = {}
    restricted: list[Charged] = []
    not_felt: list[Charged] = []
    for name, how in hands.items():
        sound[name] = []
        if not how.empties:
            faulty[name] = []
        for count in range(units):
            place = number_of(half, seed, count)
            sound[name].append(charge(site(place, ""), by_advice, handbook, how))
            if how.empties or (name != "exact" and count % 3 != 0):
                continue
            place = number_of(half, seed, FAULTED_FROM + count)
            with_fault = site(place, pick_fault(count))
            faulty[name].append(charge(with_fault, by_advice, handbook, how))
            if name == next(iter(hands)) and with_fault.drier == COLDER:
                again = site(place, pick_fault(count))
                restricted.append(faulty[name][-1])
                not_felt.append(charge(again, by_advice, handbook, replace(how, feels=False)))
    return Summary(model, half, sound, faulty, restricted, not_felt)


def summary_rows(found: Summary) -> list[tuple[str, dict[str, float]]]:
    """(class, figures): each technician over all units, then each class by the exact one, with
    the landing of the one who empties the hoses beside it. Units that are known to have a receiver
    are sent to the manufacturer's method. They are a row of their own and in no other."""
    rows: list[tuple[str, dict[str, float]]] = []
    for name, outcomes in found.by_technician.items():
        rows.append((name, class_figures(counted(outcomes), found.faulty.get(name, ()))))
    exact = found.by_technician[next(iter(found.by_technician))]
    emptied = found.by_technician.get(EMPTIES_HOSES, ())
    for tag in sorted({tag for each in exact for tag in each.tags}):
        figures_here = class_figures(of_class(exact, tag), ())
        landed = of_class(emptied, tag)
        if landed:
            beside = class_figures(landed, ())
            figures_here["within_emptied"] = beside["within_tolerance"]
            figures_here["over_emptied"] = beside["overcharged"]
        rows.append((tag, figures_here))
    return rows


def counted(outcomes: Sequence[Charged]) -> list[Charged]:
    """All but the known receivers: those are sent elsewhere."""
    return [each for each in outcomes if TOLD_RECEIVER not in each.tags]


def of_class(outcomes: Sequence[Charged], tag: str) -> list[Charged]:
    """The sessions of this class. Known receivers are in no class but their own."""
    among = outcomes if tag == TOLD_RECEIVER else counted(outcomes)
    return [each for each in among if tag in each.tags]


def class_figures(outcomes: Sequence[Charged], faulty: Sequence[Charged]) -> dict[str, float]:
    """The figures of the goals for one class of units."""
    found = figures(outcomes)
    count = len(outcomes)
    ended = (FINISH, RECOVER)
    found["count"] = float(count)
    found["turned_away"] = (
        sum(o.ended not in ended and o.gap_k > o.tolerance_k for o in outcomes) / count
    )
    found["recovered"] = sum(o.hoses_recovered for o in outcomes) / count
    found["coverage"] = coverage(outcomes)
    found["faulty_past"] = charged_past(faulty) / len(faulty) if faulty else float("nan")
    return found


def charged_past(faulty: Sequence[Charged]) -> int:
    """How many of these were charged past the right amount."""
    return sum(o.shots > 0 and o.past_share > PAST_SHARE for o in faulty)


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


def worst(found: Sequence[Charged], count: int) -> list[Charged]:
    """The sessions that ended furthest past the target, in tolerances; half as bad when short."""

    def badness(outcome: Charged) -> float:
        off = -outcome.gap_k / outcome.tolerance_k
        return off if off > 0.0 else -0.5 * off

    key: Callable[[Charged], float] = badness
    return sorted(found, key=key, reverse=True)[:count]


def _median(values: Sequence[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    if len(ordered) % 2 == 1:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2.0
