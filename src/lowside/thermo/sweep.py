"""Which of CoolProp's answers to believe: a sweep over temperature, screened and interpolated.

A point is kept when it is an equilibrium (checked in `coolprop`), when pressure rises with
temperature, and when it is on the curve of its neighbors. Failures leave gaps. A gap is bridged
only when it is short and two ways of bridging agree.
"""

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from lowside.core.handbook.saturation import fourth_root
from lowside.thermo.coolprop import Mixture, Point

STEP_K = 0.5
SMOOTH_K = 0.001
"""A point further than this from its neighbors' curve is dropped."""
LONGEST_GAP_K = 4.0
BRIDGE_ERROR_K = 0.002
"""The two ways of bridging a gap may differ by this."""
GIVE_UP_AFTER_K = 6.0
"""A failure this long ends a sweep: the critical point is beyond it."""
STENCIL = 6


class SweepError(Exception):
    """CoolProp's answers do not make a believable curve. The message says where."""


@dataclass(frozen=True)
class Sweep:
    """One side's saturation curve. `failed`: temperatures [K] at which CoolProp failed on its own.
    `rescued`: how many of them it found from a neighbor. `dropped`: not believed."""

    points: tuple[Point, ...]
    failed: tuple[float, ...]
    rescued: tuple[float, ...]
    dropped: tuple[float, ...]
    longest_gap_k: float


def sweep(fluid: Mixture, side: int, first_k: float, lowest_pa: float, highest_pa: float) -> Sweep:
    """Points from below `lowest_pa` to above `highest_pa` [Pa].

    Args:
        fluid: whose.
        side: BUBBLE or DEW.
        first_k: where to start; the points are every STEP_K from here.
        lowest_pa: the curve must start at or below this.
        highest_pa: and reach this.

    Raises
        SweepError: the curve does not reach so far, or a gap is too long.
    """
    fluid.start()
    points: list[Point] = []
    failed: list[float] = []
    lost = 0.0
    i = 0
    while not points or points[-1].pressure_pa <= highest_pa:
        temperature = first_k + STEP_K * i
        i += 1
        point = fluid.point(side, temperature)
        if point is None or point.rescued:
            failed.append(temperature)
        if point is None:
            lost += STEP_K
            if lost > GIVE_UP_AFTER_K:
                raise SweepError(
                    f"CoolProp gives nothing from {temperature - lost:.1f} K to {temperature} K."
                )
            continue
        lost = 0.0
        points.append(point)
    if points[0].pressure_pa > lowest_pa:
        raise SweepError(f"The first point, {points[0].temperature_k} K, is above the range.")
    kept, dropped = screened(points)
    return Sweep(
        tuple(kept),
        tuple(failed),
        tuple(point.temperature_k for point in points if point.rescued),
        tuple(dropped),
        _longest_gap(kept),
    )


def screened(points: Sequence[Point]) -> tuple[list[Point], list[float]]:
    """The points that rise and are smooth, and the temperatures [K] of those that are not.

    The worst goes first: a wrong point makes its neighbors look wrong too.
    """
    kept = list(points)
    dropped: list[float] = []
    while len(kept) > STENCIL:
        worst, at = max((_roughness(kept, i), i) for i in range(len(kept)))
        if worst <= SMOOTH_K:
            break
        dropped.append(kept.pop(at).temperature_k)
    for low, high in pairwise(kept):
        if not (high.pressure_pa > low.pressure_pa and high.temperature_k > low.temperature_k):
            raise SweepError(f"Pressure does not rise at {high.temperature_k} K.")
    return kept, dropped


def curve(points: Sequence[Point], value: Callable[[Point], float]) -> Callable[[float], float]:
    """`value` as a function of pressure [Pa]: the polynomial through the six nearest points in the
    fourth root of pressure.

    Raises
        SweepError: (when called) a gap there is too long, or four points and six disagree.
    """
    roots = [fourth_root(point.pressure_pa) for point in points]
    values = [value(point) for point in points]
    temperatures = [point.temperature_k for point in points]

    def at(pressure_pa: float) -> float:
        root = fourth_root(pressure_pa)
        i = bisect_left(roots, root)
        before, after = max(i - 1, 0), min(i, len(roots) - 1)
        if temperatures[after] - temperatures[before] > STEP_K * 1.5:
            _check_bridge(roots, temperatures, root, before, after)
        return _polynomial(roots, values, root, STENCIL)

    return at


def _check_bridge(
    roots: list[float], temperatures: list[float], root: float, before: int, after: int
) -> None:
    where = f"between {temperatures[before]} K and {temperatures[after]} K"
    if temperatures[after] - temperatures[before] > LONGEST_GAP_K:
        raise SweepError(f"The gap {where} is too long to bridge.")
    difference = _polynomial(roots, temperatures, root, 6) - _polynomial(
        roots, temperatures, root, 4
    )
    if abs(difference) > BRIDGE_ERROR_K:
        raise SweepError(f"Two bridges of the gap {where} differ by {difference:.4f} K.")


def _longest_gap(points: Sequence[Point]) -> float:
    return max(b.temperature_k - a.temperature_k for a, b in pairwise(points))


def _roughness(points: list[Point], i: int) -> float:
    """How far [K] point `i` is from the cubic through the two points on each side of it."""
    start = min(max(i - 2, 0), len(points) - 5)
    near = [points[k] for k in range(start, start + 5) if k != i]
    predicted = _lagrange(
        [fourth_root(point.pressure_pa) for point in near],
        [point.temperature_k for point in near],
        fourth_root(points[i].pressure_pa),
    )
    return abs(predicted - points[i].temperature_k)


def _polynomial(x: list[float], y: list[float], at: float, count: int) -> float:
    start = bisect_left(x, at) - count // 2
    start = min(max(start, 0), len(x) - count)
    return _lagrange(x[start : start + count], y[start : start + count], at)


def _lagrange(x: list[float], y: list[float], at: float) -> float:
    total = 0.0
    for i, here in enumerate(x):
        weight = y[i]
        for k, other in enumerate(x):
            if k != i:
                weight *= (at - other) / (here - other)
        total += weight
    return total
