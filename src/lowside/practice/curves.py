"""A second practice model of another structure: readings over charge, from published trends.

The first model (`cycle.py`) solves a refrigeration cycle. This one solves nothing. Each reading is
a curve over the charge, drawn from published responses and from the room between them, so the
advice meets units that no cycle of ours would make. It judges the advice and has two lessons.
`docs/practice.md` says what is published and what is our choice.

`x` is the share of the right charge that is too much: negative when charge is missing.
"""

from dataclasses import dataclass
from math import exp
from typing import Literal

from lowside.core.handbook.system import FIXED, Metering
from lowside.practice.design import (
    DIRTY_CONDENSER,
    LOW_AIRFLOW,
    NON_CONDENSABLES,
    RESTRICTION,
    WEAK_COMPRESSOR,
)
from lowside.practice.trends import published

CondenserKind = Literal["conventional", "microchannel", "receiver"]

CONVENTIONAL: CondenserKind = "conventional"
MICROCHANNEL: CondenserKind = "microchannel"
RECEIVER: CondenserKind = "receiver"

HIGHEST_SUBCOOLING_SHARE = 0.86
"""Subcooling cannot pass this share of condensing above outdoor air: the liquid leaves no colder
than the air. Our choice."""
COLDER_BY_SUPERHEAT = 0.45
"""How much colder the coil runs for each kelvin of superheat beyond that of the right charge. Our
choice."""
WARMER_BY_SUBCOOLING = 0.4
"""How much warmer it condenses for each kelvin of subcooling beyond that of the right charge: the
liquid covers surface. Our choice."""
COOLING_TO_POWER = 3.2
"""Cooling for each unit of power, to add both to the heat the condenser rejects. Our choice."""
ORIFICE_SUFFERS = 1.3
"""A fixed orifice loses that much more than the expansion valve of NIST TN 1848: below 90 % of the
charge against 80 % (ASHRAE RP-1173, READ as summarized by ORNL). The factor is our choice."""
BLIND_K = -0.5
"""Subcooling shown when no liquid is left: the pressure falls on the way to the gauge. That it goes
blind at zero is READ (IIR abstract); the amount is our choice."""
LEAST_SHARE = 0.45
"""Share of the right charge below which capacity and power are held. Our choice."""
PLATEAU_RISE = 0.06
"""What a receiver lets through of the slope while it fills. Our choice."""


@dataclass(frozen=True)
class Curves:
    """One unit: where its readings are at the right charge, and how they go from there. K, kg, W,
    shares of the right charge."""

    kind: CondenserKind
    metering: Metering
    capacity_w: float
    right_kg: float
    superheat_k: float
    subcooling_k: float
    superheat_slope_k: float
    """Fall of a fixed orifice's superheat for a whole full charge, at the right charge."""
    subcooling_slope_k: float
    """Rise of subcooling for a whole full charge, at the right charge."""
    convexity: float
    """Subcooling goes with this power of the liquid in the condenser: above 1 it is flat at first,
    then steep."""
    warmest_k: float
    """Superheat of a fixed orifice with hardly any charge."""
    starves_at: float
    """From here down (negative) an expansion valve cannot hold its superheat."""
    starving_slope_k: float
    plateau: tuple[float, float]
    """A receiver holds what goes in between these shares; both 0 without one."""
    depression_k: float
    """Return air above low-side saturation, at the right charge."""
    lift_k: float
    """Condensing above outdoor air, at the right charge."""
    split_k: float
    """Return air above supply air, at the right charge."""
    subcooling_by_outdoor: float
    """What subcooling does for each kelvin of warmer outdoor air."""
    fault: str = ""
    severity: float = 0.0
    """0 (mild) to 1."""


@dataclass(frozen=True)
class Settled:
    """Settled readings at one charge [K]; `capacity` is a share of that at the right charge."""

    superheat_k: float
    subcooling_k: float
    depression_k: float
    lift_k: float
    split_k: float
    capacity: float


def settled(curves: Curves, charge_kg: float, warmer_k: float, target_moved_k: float) -> Settled:
    """Where the readings come to rest.

    Args:
        curves: the unit.
        charge_kg: inside.
        warmer_k: outdoor air above what it was at first.
        target_moved_k: what the weather since did to an orifice's superheat.
    """
    x = charge_kg / curves.right_kg - 1.0
    share = min(max(1.0 + x, LEAST_SHARE), 1.3)
    suffers = ORIFICE_SUFFERS if curves.metering == FIXED and x < 0.0 else 1.0
    capacity = 1.0 + (published("capacity", share) - 1.0) * suffers
    power = published("power", share)
    subcooling = _subcooling(curves, x) + curves.subcooling_by_outdoor * warmer_k
    if curves.metering == FIXED:
        superheat = _orifice(curves, x) + target_moved_k
    else:
        superheat = curves.superheat_k + _starving(curves, x)
    excess = max(superheat - curves.superheat_k, 0.0)
    depression = curves.depression_k + COLDER_BY_SUPERHEAT * excess - 10.0 * max(x, 0.0)
    heat = (COOLING_TO_POWER * capacity + power) / (COOLING_TO_POWER + 1.0)
    covered = max(subcooling - curves.subcooling_k, 0.0)
    lift = curves.lift_k * heat + WARMER_BY_SUBCOOLING * covered
    found = Settled(
        max(superheat, 0.0),
        max(subcooling, BLIND_K),
        depression,
        lift,
        curves.split_k * capacity,
        capacity,
    )
    return found if curves.fault == "" else _faulty(curves, found)


def liquid_coordinate(curves: Curves, x: float) -> float:
    """`x` without what a receiver keeps to itself."""
    low, high = curves.plateau
    if high <= low or x >= high:
        return x
    if x >= low:
        return high - (high - x) * PLATEAU_RISE
    return x + (high - low) * (1.0 - PLATEAU_RISE)


def _subcooling(curves: Curves, x: float) -> float:
    y = liquid_coordinate(curves, x)
    power = curves.convexity
    liquid = 1.0 + y * curves.subcooling_slope_k / (power * curves.subcooling_k)
    if liquid <= 0.0:
        return BLIND_K
    found: float = curves.subcooling_k * liquid**power
    if liquid < 0.2:
        found += BLIND_K * (1.0 - liquid / 0.2)
    most = HIGHEST_SUBCOOLING_SHARE * (curves.lift_k + WARMER_BY_SUBCOOLING * found)
    if found > 0.0:
        ratio = found / most
        found = found / float((1.0 + ratio**6) ** (1.0 / 6.0))
    return found


def _orifice(curves: Curves, x: float) -> float:
    if x >= 0.0:
        return curves.superheat_k - curves.superheat_slope_k * x
    room = curves.warmest_k - curves.superheat_k
    return curves.warmest_k - room * exp(curves.superheat_slope_k * x / room)


def _starving(curves: Curves, x: float) -> float:
    """Rise of a valve's superheat below where it is wide open, rounded over a few percent."""
    short = curves.starves_at - x
    if short <= -0.04:
        return 0.0
    rounded = (short + 0.04) * (short + 0.04) / 0.16 if short < 0.04 else short
    return min(curves.starving_slope_k * rounded, 16.0)


def _faulty(curves: Curves, found: Settled) -> Settled:
    """The readings with the unit's fault, in the directions of the published service table
    (`docs/charge.md`); the amounts are our choice."""
    s = curves.severity
    valve = curves.metering != FIXED
    superheat, subcooling = found.superheat_k, found.subcooling_k
    depression, lift, split = found.depression_k, found.lift_k, found.split_k
    capacity = found.capacity
    if curves.fault == LOW_AIRFLOW:
        superheat -= (0.5 + s) if valve else (2.5 + 4.0 * s)
        depression += 4.0 + 6.0 * s
        split += 2.0 + 4.0 * s
        lift -= 0.5 + s
        capacity *= 0.9 - 0.15 * s
    elif curves.fault == DIRTY_CONDENSER:
        lift += 6.0 + 9.0 * s
        subcooling += 0.5 - 2.0 * s
        superheat -= 0.3 if valve else 1.0 + 3.0 * s
        split -= 1.0 * s
    elif curves.fault == RESTRICTION:
        superheat += 5.0 + 10.0 * s
        subcooling += 2.0 + 5.0 * s
        depression += 4.0 + 7.0 * s
        lift -= 1.0 * s
        split -= 1.5 + 3.0 * s
        capacity *= 0.85 - 0.25 * s
    elif curves.fault == NON_CONDENSABLES:
        lift += 2.5 + 6.0 * s
        subcooling += 2.5 + 6.0 * s
    elif curves.fault == WEAK_COMPRESSOR:
        depression -= 3.5 + 4.0 * s
        lift -= 2.0 + 3.5 * s
        superheat += 0.5 if valve else 1.0 + 4.0 * s
        subcooling -= 0.5 + 1.5 * s
        split -= 2.0 + 4.0 * s
        capacity *= 0.8 - 0.25 * s
    return Settled(
        max(superheat, 0.0), max(subcooling, BLIND_K), depression, max(lift, 1.0), split, capacity
    )
