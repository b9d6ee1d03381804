"""Random units of the second practice model (`curves.py`), with weather and instruments."""

from dataclasses import dataclass, replace
from math import exp, log
from random import Random
from typing import TypeVar

from lowside.core.handbook.charts import TARGET_SPLIT, TARGET_SUPERHEAT, NoValue, look_up
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA, wet_bulb
from lowside.core.handbook.system import BY_CHART, BY_SUBCOOLING, FIXED, TXV, Metering, System
from lowside.core.numbers.units import OUNCE_KG, POUND_KG, PSI_PA, TON_W
from lowside.library import load_handbook
from lowside.practice.curves import (
    CONVENTIONAL,
    MICROCHANNEL,
    RECEIVER,
    CondenserKind,
    Curves,
    settled,
)
from lowside.practice.design import LEAK, WRONG_REFRIGERANT
from lowside.practice.draw import MISTAKEN_FOR, REFRIGERANTS

Chosen = TypeVar("Chosen")

KINDS: tuple[tuple[CondenserKind, float], ...] = (
    (CONVENTIONAL, 0.68),
    (MICROCHANNEL, 0.18),
    (RECEIVER, 0.14),
)
"""Our choice: enough of each to judge it by, not how common they are."""
POUNDS_PER_TON: dict[CondenserKind, tuple[float, float]] = {
    CONVENTIONAL: (1.8, 3.6),
    MICROCHANNEL: (1.2, 2.2),
    RECEIVER: (2.4, 4.2),
}
"""About 2.5 lb a ton is common practice; that microchannel coils hold less and receivers more is
too (no source). The limits are our choice."""
OUNCE_PER_DEGREE: dict[CondenserKind, tuple[float, float]] = {
    CONVENTIONAL: (0.20, 1.30),
    MICROCHANNEL: (0.05, 0.25),
    RECEIVER: (0.20, 0.80),
}
"""Charge that moves subcooling by 1 °F, an ounce for each ton. The virtual charge sensor at 6 to
15 °F of rated subcooling comes out at 0.33 to 0.82 °F for 1 % of the charge (COMPUTED from
constants that are MEMORY), which is 0.49 to 1.2 oz at 40 oz a ton; 0.3 to 1 °F an ounce on 120 oz
(MEMORY) is 0.33 to 1.1. Steeper ones are our choice."""
SUPERHEAT_SLOPE_K = (50.0, 190.0)
"""Fall of a fixed orifice's superheat for a whole charge: −1 to −3 °F for 1 % (MEMORY) is 55 to
167 K. The rest is our choice."""
LEAST_SHORT, MOST_SHORT = 0.03, 0.38
"""Share missing at the start. Of surveyed units 55 % lacked 10 to 30 % (READ, summary of a 2012
study)."""
WEATHER_REACH_K = 3.5
"""How far outdoor air may go in a session. Our choice."""
SCALE_STEPS_KG = (0.001, 0.002, 0.005, 0.010, 0.1 * OUNCE_KG, 0.5 * OUNCE_KG, OUNCE_KG)
"""A scale for residential charging shows 1 oz (READ, training text) or better."""


@dataclass(frozen=True)
class Weather:
    """Outdoor air over the session [K, K/h, s]: a trend and clouds."""

    rate_k_h: float
    cloud_k: float
    cloud_s: float
    phase: float


@dataclass(frozen=True)
class Tools:
    """The technician's instruments [K, Pa, kg]. Offsets stay for the session."""

    suction_line_k: float
    liquid_line_k: float
    outdoor_k: float
    return_k: float
    wet_bulb_k: float
    supply_k: float
    suction_pa: float
    liquid_pa: float
    clamp_leak: tuple[float, float]
    """Share by which the clamps on suction and liquid line follow the air beside the pipe."""
    noise_k: float
    noise_pa: float
    scale_step_kg: float
    scale_drift_kg_s: float
    scale_noise_kg: float


@dataclass(frozen=True)
class DrawnCurves:
    """A unit of the second model with everything around it."""

    curves: Curves
    system: System
    described: dict[str, str]
    """What the unit's form says of the circuit; a receiver is not always seen."""
    target_k: float
    """At first; a chart's target moves with the weather."""
    tolerance_k: float
    inside: str
    outdoor_k: float
    return_k: float
    return_wet_bulb_k: float
    weather: Weather
    chart_followed: float
    """How much of the chart's own movement with outdoor air this orifice really follows."""
    start_charge_kg: float
    leak_kg_s: float
    lags_s: tuple[float, float, float]
    """Two lags in a row, and a slow one beside them."""
    slow_share: float
    hunting_k: float
    hunting_s: float
    hold_kg: float
    line_kg_s: float
    """Liquid that the warm suction line boils by itself [kg/s]."""
    hose_size: float
    """Volume of the hoses as a share of what the program takes them for."""
    tools: Tools
    valve_kg_s: float
    seed: int

    @property
    def fault(self) -> str:
        """What is broken; empty: nothing."""
        if self.inside != self.system.refrigerant:
            return WRONG_REFRIGERANT
        return LEAK if self.leak_kg_s > 0.0 else self.curves.fault

    @property
    def capacity_w(self) -> float:
        """Nominal cooling capacity."""
        return self.curves.capacity_w

    @property
    def target_name(self) -> str:
        """As in the first model: what the target is in."""
        return "superheat_k" if self.curves.metering == FIXED else "subcooling_k"

    @property
    def right_charge_kg(self) -> float:
        """Charge on target, of the unit without its fault."""
        return self.curves.right_kg

    @property
    def scale_step_kg(self) -> float:
        """The smallest step the scale shows."""
        return self.tools.scale_step_kg

    @property
    def flow_kg_s(self) -> float:
        """Through the cracked valve."""
        return self.valve_kg_s


def draw_curves(seed: int, fault: str = "") -> DrawnCurves:
    """The unit with number `seed`. The same number gives the same unit."""
    random = Random(seed * 2246822519 % 2**32 + 101)
    while True:
        drawn = _attempt(random, seed, fault)
        if drawn is not None:
            return drawn


def _attempt(random: Random, seed: int, fault: str) -> DrawnCurves | None:
    metering: Metering = TXV if random.random() < 0.6 else FIXED
    kind = _pick(random, KINDS)
    if metering == FIXED and kind == RECEIVER:
        return None
    refrigerant = _pick(random, REFRIGERANTS)
    tons = random.choice((1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0))
    capacity = tons * TON_W
    right = random.uniform(*POUNDS_PER_TON[kind]) * POUND_KG * tons
    outdoor = _fahrenheit(random.uniform(68.0, 112.0))
    indoor = _fahrenheit(random.uniform(72.0, 80.0))
    wet = wet_bulb(load_handbook().psychrometrics, indoor, random.uniform(0.40, 0.62), SEA_LEVEL_PA)
    wet_k = wet if isinstance(wet, float) else indoor - 7.0
    split = look_up(load_handbook().charts[TARGET_SPLIT], indoor, wet_k)
    if isinstance(split, NoValue):
        return None
    system = System(refrigerant, metering, BY_SUBCOOLING, SEA_LEVEL_PA, capacity)
    if metering == TXV:
        target = random.choice((6.0, 8.0, 9.0, 10.0, 11.0, 12.0, 14.0)) / 1.8
        tolerance = 3.0 / 1.8
        system = replace(system, maker_subcooling_k=target)
        curves = _valve(random, kind, capacity, right, target)
    else:
        chart = look_up(load_handbook().charts[TARGET_SUPERHEAT], outdoor, wet_k)
        if isinstance(chart, NoValue) or _leaves_chart(outdoor, wet_k):
            return None
        target, tolerance = chart, 5.0 / 1.8
        system = replace(system, method=BY_CHART)
        curves = _orifice(random, kind, capacity, right, target)
    nameplate = right * random.uniform(0.92, 1.08) if random.random() < 0.8 else None
    system = replace(system, nameplate_charge_kg=nameplate)
    curves = replace(
        curves,
        split_k=split + random.uniform(-1.3, 1.3),
        fault="" if fault in (LEAK, WRONG_REFRIGERANT) else fault,
        severity=random.random(),
    )
    if fault == "" and not _plausible(curves, target if metering == TXV else None):
        return None
    unseen = random.random() < 0.5
    described = {"coil": "microchannel" if kind == MICROCHANNEL else "tube_fin", "receiver": "no"}
    if random.random() < 0.1:
        described["coil"] = "not_known"
    if kind == RECEIVER:
        described["receiver"] = "unknown" if unseen else "yes"
    lags = (_log(random, 45.0, 190.0), _log(random, 25.0, 110.0), random.uniform(300.0, 800.0))
    return DrawnCurves(
        curves=curves,
        system=system,
        described=described,
        target_k=target,
        tolerance_k=tolerance,
        inside=random.choice(MISTAKEN_FOR[refrigerant])
        if fault == WRONG_REFRIGERANT
        else refrigerant,
        outdoor_k=outdoor,
        return_k=indoor,
        return_wet_bulb_k=wet_k,
        weather=Weather(
            random.uniform(-1.7, 1.7),
            random.uniform(0.0, 0.5),
            random.uniform(900.0, 3000.0),
            random.uniform(0.0, 6.28),
        ),
        chart_followed=random.uniform(0.5, 1.2),
        start_charge_kg=right * (1.0 - random.uniform(LEAST_SHORT, MOST_SHORT)),
        leak_kg_s=right * random.uniform(0.004, 0.02) / 60.0 if fault == LEAK else 0.0,
        lags_s=lags,
        slow_share=random.uniform(0.0, 0.12)
        if random.random() < 0.7
        else random.uniform(0.15, 0.35),
        hunting_k=random.choice((0.0, 0.3, 0.6, 1.5)) if metering == TXV else 0.0,
        hunting_s=random.uniform(50.0, 160.0),
        hold_kg=tons * random.uniform(0.012, 0.05) + random.uniform(0.010, 0.030),
        line_kg_s=tons * random.uniform(0.00005, 0.0002),
        hose_size=random.uniform(0.75, 1.25),
        tools=_tools(random),
        valve_kg_s=_log(random, 0.003, 0.025),
        seed=seed,
    )


def _valve(
    random: Random, kind: CondenserKind, capacity: float, right: float, target: float
) -> Curves:
    slope = _slope(random, kind, capacity, right)
    plateau = (0.0, 0.0)
    if kind == RECEIVER:
        shown = random.uniform(0.25, 0.75)
        high = -min((1.0 - shown) * target / slope, 0.12)
        plateau = (high - random.uniform(0.05, 0.20), high)
    return Curves(
        kind=kind,
        metering=TXV,
        capacity_w=capacity,
        right_kg=right,
        superheat_k=random.uniform(3.9, 8.5),
        subcooling_k=target,
        superheat_slope_k=0.0,
        subcooling_slope_k=slope,
        convexity=random.uniform(1.0, 1.8),
        warmest_k=0.0,
        starves_at=-random.uniform(0.12, 0.28),
        starving_slope_k=random.uniform(35.0, 150.0),
        plateau=plateau,
        depression_k=random.uniform(15.5, 21.0),
        lift_k=_lift(random),
        split_k=0.0,
        subcooling_by_outdoor=random.uniform(-0.15, 0.08),
    )


def _orifice(
    random: Random, kind: CondenserKind, capacity: float, right: float, target: float
) -> Curves:
    slope = _log(random, *SUPERHEAT_SLOPE_K)
    if kind == MICROCHANNEL:
        slope *= random.uniform(1.3, 2.2)
    depression = random.uniform(15.5, 20.5)
    return Curves(
        kind=kind,
        metering=FIXED,
        capacity_w=capacity,
        right_kg=right,
        superheat_k=target,
        subcooling_k=random.uniform(2.5, 7.5),
        superheat_slope_k=slope,
        subcooling_slope_k=_slope(random, kind, capacity, right),
        convexity=random.uniform(1.0, 1.6),
        warmest_k=max(depression + random.uniform(5.0, 9.0), target + 4.0),
        starves_at=0.0,
        starving_slope_k=0.0,
        plateau=(0.0, 0.0),
        depression_k=depression,
        lift_k=_lift(random),
        split_k=0.0,
        subcooling_by_outdoor=random.uniform(-0.15, 0.08),
    )


def _leaves_chart(outdoor_k: float, wet_k: float) -> bool:
    """The weather may take the target off the chart."""
    chart = load_handbook().charts[TARGET_SUPERHEAT]
    around = (outdoor_k - WEATHER_REACH_K, outdoor_k + WEATHER_REACH_K)
    return any(isinstance(look_up(chart, air, wet_k), NoValue) for air in around)


def _slope(random: Random, kind: CondenserKind, capacity: float, right: float) -> float:
    """Rise of subcooling [K] for a whole charge."""
    ounces = _log(random, *OUNCE_PER_DEGREE[kind])
    return right / (ounces * OUNCE_KG * capacity / TON_W) / 1.8


def _lift(random: Random) -> float:
    """Condensing above outdoor air [K]. A manufacturer's table comes out at 15 to 22 °F (COMPUTED
    from READ), old units at 30 (MEMORY); high-efficiency units below are our choice."""
    if random.random() < 0.25:
        return random.uniform(6.5, 9.0)
    return random.uniform(8.3, 15.5)


def _plausible(curves: Curves, subcooling_k: float | None) -> bool:
    """The target can be reached in this weather, and the unit runs without it."""
    at_right = settled(curves, curves.right_kg, 0.0, 0.0)
    if subcooling_k is None:
        return at_right.superheat_k > 3.5
    return at_right.subcooling_k > subcooling_k - 0.3


def _tools(random: Random) -> Tools:
    """RA3.2 allows a thermometer 1.3 °F and the gauges 3.5 and 7 psi (READ); half of that is the
    spread. An unshielded clamp errs by 5 °F (READ, a manufacturer's interview); one in eight is."""
    loose = random.random() < 0.125
    return Tools(
        suction_line_k=random.gauss(0.0, 0.3),
        liquid_line_k=random.gauss(0.0, 0.3),
        outdoor_k=random.gauss(0.0, 0.35),
        return_k=random.gauss(0.0, 0.35),
        wet_bulb_k=random.gauss(0.0, 0.4),
        supply_k=random.gauss(0.0, 0.35),
        suction_pa=random.gauss(0.0, 1.2 * PSI_PA),
        liquid_pa=random.gauss(0.0, 2.2 * PSI_PA),
        clamp_leak=(
            random.uniform(0.03, 0.08) if loose else random.uniform(0.0, 0.015),
            random.uniform(0.03, 0.08) if loose else random.uniform(0.0, 0.015),
        ),
        noise_k=random.uniform(0.05, 0.25),
        noise_pa=random.choice((0.1, 0.5)) * PSI_PA,
        scale_step_kg=random.choice(SCALE_STEPS_KG),
        scale_drift_kg_s=random.gauss(0.0, 2.0e-6),
        scale_noise_kg=random.uniform(0.0002, 0.002),
    )


def _log(random: Random, low: float, high: float) -> float:
    return exp(random.uniform(log(low), log(high)))


def _pick(random: Random, shares: tuple[tuple[Chosen, float], ...]) -> Chosen:
    x = random.random()
    for value, share in shares:
        x -= share
        if x < 0.0:
            return value
    return shares[-1][0]


def _fahrenheit(value: float) -> float:
    return (value + 459.67) / 1.8
