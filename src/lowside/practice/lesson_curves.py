"""A lesson's unit of the second model: what the solved cycle cannot show, in calm weather.

Only units of the tuning half: a lesson is charged by the advice in tests, and nobody is to learn
from units that judge it.
"""

from dataclasses import replace
from random import Random

from lowside.core.handbook.system import TXV
from lowside.core.numbers.arithmetic import to_step
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.practice.curves import MICROCHANNEL, CondenserKind, settled
from lowside.practice.curves_draw import DrawnCurves, Tools, Weather, draw_curves
from lowside.practice.sites import TUNING, number_of

CALM = Weather(0.0, 0.0, 3600.0, 0.0)
QUIET_HUNTING_K = 0.3
SLOWEST_SHARE = 0.12
"""Hunting and the slow part of the answer, at most: other lessons are about other things."""
TOLERANCE_KG = (0.018, 0.04)
"""Charge that is the whole tolerance of a steep unit: about an ounce. Two hoses of R-410A hold more
than that. Our choice."""
FLAT_FOR = 0.25
FLAT_WITHIN = 0.2
"""Flat first, then steep: this share of what is missing moves the reading by less than this share
of the tolerance."""
LEAST_SHORT_KG = 0.09
LEAST_CONVEXITY = 1.3
CLEARLY_SHORT = 1.4
"""A receiver unit reads this many tolerances short, at least."""
WITHIN_PLATEAU = (0.01, 0.04)
"""A receiver unit begins this share of the charge above where its receiver starts to fill, and at
least the second below where it is full."""


def suited_curves(
    random: Random,
    kind: CondenserKind,
    refrigerants: tuple[str, ...],
    start_share: tuple[float, float],
    scale_step_kg: float,
    scale_noise_kg: float,
) -> DrawnCurves | None:
    """One draw, in the hands of an apprentice; `None` when it does not show what `kind` is about.

    Args:
        random: of the lesson.
        start_share: charge at the start as a share of the right one.
    """
    drawn = draw_curves(number_of(TUNING, 0, random.randrange(1, 2**30)))
    fits = (
        drawn.curves.kind == kind
        and drawn.curves.metering == TXV
        and drawn.system.refrigerant in refrigerants
        and 293.0 < drawn.outdoor_k < 314.0
        and drawn.capacity_w <= 4.0 * TON_W
    )
    if not fits:
        return None
    tons = drawn.capacity_w / TON_W
    prepared = replace(
        drawn,
        system=replace(drawn.system, nameplate_charge_kg=_whole_ounces(drawn)),
        weather=CALM,
        start_charge_kg=drawn.right_charge_kg * random.uniform(*start_share),
        slow_share=min(drawn.slow_share, SLOWEST_SHARE),
        hunting_k=min(drawn.hunting_k, QUIET_HUNTING_K),
        hold_kg=min(drawn.hold_kg, 0.05 + 0.015 * tons),
        hose_size=1.0,
        tools=_tools(random, scale_step_kg, scale_noise_kg),
        valve_kg_s=random.uniform(0.003, 0.005),
    )
    shown = _is_flat_then_steep(prepared) if kind == MICROCHANNEL else _hides_charge(prepared)
    return prepared if shown else None


def _whole_ounces(drawn: DrawnCurves) -> float | None:
    """The charge as a nameplate states it [kg]."""
    stated = drawn.system.nameplate_charge_kg
    return None if stated is None else to_step(stated, OUNCE_KG)


def _is_flat_then_steep(drawn: DrawnCurves) -> bool:
    curves = drawn.curves
    low, high = TOLERANCE_KG
    short = curves.right_kg - drawn.start_charge_kg
    at_start = settled(curves, drawn.start_charge_kg, 0.0, 0.0).subcooling_k
    later = settled(curves, drawn.start_charge_kg + FLAT_FOR * short, 0.0, 0.0).subcooling_k
    return (
        low < drawn.tolerance_k / curves.subcooling_slope_k * curves.right_kg < high
        and curves.convexity >= LEAST_CONVEXITY
        and short > LEAST_SHORT_KG
        and later - at_start < FLAT_WITHIN * drawn.tolerance_k
    )


def _hides_charge(drawn: DrawnCurves) -> bool:
    low, high = drawn.curves.plateau
    short = drawn.start_charge_kg / drawn.curves.right_kg - 1.0
    at_start = settled(drawn.curves, drawn.start_charge_kg, 0.0, 0.0).subcooling_k
    return (
        low + WITHIN_PLATEAU[0] < short < high - WITHIN_PLATEAU[1]
        and drawn.target_k - at_start > CLEARLY_SHORT * drawn.tolerance_k
    )


def _tools(random: Random, scale_step_kg: float, scale_noise_kg: float) -> Tools:
    """Instruments as good as in the other lessons."""

    def thermometer() -> float:
        return random.gauss(0.0, 0.1)

    return Tools(
        suction_line_k=thermometer(),
        liquid_line_k=thermometer(),
        outdoor_k=0.0,
        return_k=0.0,
        wet_bulb_k=0.0,
        supply_k=0.0,
        suction_pa=random.gauss(0.0, 2.0e3),
        liquid_pa=random.gauss(0.0, 2.0e3),
        clamp_leak=(0.0, 0.0),
        noise_k=0.08,
        noise_pa=700.0,
        scale_step_kg=scale_step_kg,
        scale_drift_kg_s=0.0,
        scale_noise_kg=scale_noise_kg,
    )
