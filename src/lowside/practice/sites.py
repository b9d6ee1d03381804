"""Units of both practice models, ready to be charged, each in its classes, in two halves.

Constants of the advice may be tuned on units with even numbers only. Odd ones judge.
"""

from collections.abc import Callable, Mapping

from lowside.core.handbook.system import COLDER, FIXED, SAME, Metering
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.practice.curves import RECEIVER
from lowside.practice.curves_draw import DrawnCurves, draw_curves
from lowside.practice.curves_unit import CurvesUnit
from lowside.practice.design import RESTRICTION
from lowside.practice.draw import Drawn, draw
from lowside.practice.technician import Site
from lowside.practice.unit import PracticeUnit

TUNING = "tuning"
JUDGING = "judging"

STEEP_OZ = 0.25
FLAT_OZ = 0.6
"""Charge that moves the reading by 1 °F, an ounce for each ton: a unit below the first is steep,
above the second flat. Our choice."""
UNTOLD_RECEIVER = "receiver, not known of"
TOLD_RECEIVER = "receiver, told"


def number_of(half: str, seed: int, count: int) -> int:
    """The number of the unit with place `count` in a half."""
    return 2 * (seed * 1_000_003 + count) + (1 if half == JUDGING else 0)


def cycle_site(number: int, fault: str = "", spread: float = 1.0) -> Site:
    """A unit of the first model."""
    return site_of_cycle(draw(number, spread, fault))


def site_of_cycle(drawn: Drawn) -> Site:
    """A drawn unit of the first model."""
    unit = PracticeUnit(drawn)
    right = drawn.right_charge_kg
    step = 0.01 * right
    first = getattr(drawn.steady.at(right - step), drawn.target_name)
    slope = abs(drawn.target_k - first) / step
    return Site(
        unit,
        drawn.system,
        {"coil": "tube_fin", "receiver": "no"},
        drawn.tolerance_k,
        drawn.instruments.scale_step_kg,
        drawn.flow_kg_s,
        drawn.sound_charge_kg,
        ("conventional", *_tags(drawn.design.metering, slope, drawn.design.capacity_w)),
        _drier(drawn.design.fault),
    )


def curves_site(number: int, fault: str = "") -> Site:
    """A unit of the second model."""
    drawn = draw_curves(number, fault)
    curves = drawn.curves
    fixed = curves.metering == FIXED
    slope = curves.superheat_slope_k if fixed else curves.subcooling_slope_k
    kind: str = curves.kind
    if curves.kind == RECEIVER:
        kind = TOLD_RECEIVER if drawn.described["receiver"] == "yes" else UNTOLD_RECEIVER
    return Site(
        CurvesUnit(drawn),
        drawn.system,
        drawn.described,
        drawn.tolerance_k,
        drawn.tools.scale_step_kg,
        drawn.valve_kg_s,
        _right_kg(drawn),
        (kind, *_tags(curves.metering, slope / curves.right_kg, curves.capacity_w)),
        _drier(curves.fault),
    )


def _drier(fault: str) -> str:
    """What a hand feels after the filter drier: the models' restrictions are in the liquid line
    before the metering device, and each takes most of the pressure drop."""
    return COLDER if fault == RESTRICTION else SAME


def _right_kg(drawn: DrawnCurves) -> float:
    return drawn.curves.right_kg


def _tags(metering: Metering, slope_k_per_kg: float, capacity_w: float) -> tuple[str, str]:
    ounces = capacity_w / TON_W
    per_degree = 1.0 / (slope_k_per_kg * 1.8 * OUNCE_KG * ounces) if slope_k_per_kg > 0.0 else 9.0
    steepness = "steep" if per_degree < STEEP_OZ else "flat" if per_degree > FLAT_OZ else "middling"
    return ("orifice" if metering == FIXED else "valve", steepness)


MODELS: Mapping[str, Callable[[int, str], Site]] = {
    "cycle": cycle_site,
    "curves": curves_site,
}
