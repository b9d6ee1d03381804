"""Random units within stated ranges. The bench uses `spread` 1. A `spread` of 2 doubles the
distance of slopes, times and flows from their middle, to try the advice on strange units."""

from dataclasses import dataclass, replace
from math import exp, log, sqrt
from random import Random

from lowside.core.handbook.charts import TARGET_SUPERHEAT, NoValue, look_up
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA, wet_bulb
from lowside.core.handbook.system import BY_CHART, BY_SUBCOOLING, FIXED, TXV, Metering, System
from lowside.core.numbers.units import OUNCE_KG, POUND_KG, TON_W
from lowside.library import load_handbook
from lowside.practice.cycle import NoBalanceError, SteadyMap, steady_map
from lowside.practice.design import (
    DIRTY_CONDENSER,
    FAULTS,
    LEAK,
    LOW_AIRFLOW,
    NON_CONDENSABLES,
    RESTRICTION,
    WEAK_COMPRESSOR,
    WRONG_REFRIGERANT,
    Design,
)
from lowside.practice.fluid import fluid

REFRIGERANTS = (
    ("R-410A", 0.42),
    ("R-22", 0.20),
    ("R-454B", 0.14),
    ("R-32", 0.12),
    ("R-407C", 0.08),
    ("R-134a", 0.04),
)
MISTAKEN_FOR = {
    "R-410A": ("R-32", "R-454B", "R-407C"),
    "R-22": ("R-407C", "R-410A", "R-134a"),
    "R-454B": ("R-410A", "R-32"),
    "R-32": ("R-410A", "R-454B"),
    "R-407C": ("R-22", "R-134a"),
    "R-134a": ("R-22", "R-407C"),
}
SCALE_STEPS_KG = (0.001, 0.002, 0.005, 0.1 * OUNCE_KG, 0.5 * OUNCE_KG, OUNCE_KG)

SENSIBLE = 0.75
"""Share of the air side's capacity rate that is not latent load: 310 W/K a ton with it and 232
without it, at 400 cfm."""


@dataclass(frozen=True)
class Instruments:
    """The technician's instruments [K, Pa, kg]. Their offsets stay for the session."""

    thermometer_offsets_k: tuple[float, float]
    """Suction line, liquid line."""
    gauge_offsets_pa: tuple[float, float]
    thermometer_noise_k: float
    gauge_noise_pa: float
    scale_step_kg: float
    scale_drift_kg_s: float
    scale_noise_kg: float


@dataclass(frozen=True)
class Drawn:
    """A unit with everything around it."""

    design: Design
    system: System
    target_name: str
    """`superheat_k` or `subcooling_k` of `Steady`."""
    target_k: float
    tolerance_k: float
    steady: SteadyMap
    right_charge_kg: float
    """Charge at which the settled reading is on target. It is of the unit without its fault when
    the faulty unit has no such charge."""
    sound_charge_kg: float
    """The same of the unit without its fault."""
    start_charge_kg: float
    instruments: Instruments
    flow_kg_s: float
    """Through the cracked valve."""
    seed: int

    @property
    def fault(self) -> str:
        """What is broken; empty: nothing."""
        return self.design.fault

    @property
    def capacity_w(self) -> float:
        """Nominal cooling capacity."""
        return self.design.capacity_w

    @property
    def outdoor_k(self) -> float:
        """Outdoor air."""
        return self.design.outdoor_k

    @property
    def return_k(self) -> float:
        """Return air."""
        return self.design.return_k

    @property
    def return_wet_bulb_k(self) -> float:
        """Return air, wet bulb."""
        return self.design.return_wet_bulb_k

    @property
    def scale_step_kg(self) -> float:
        """The smallest step the scale shows."""
        return self.instruments.scale_step_kg

    @property
    def inside(self) -> str:
        """The refrigerant that is really inside."""
        return self.design.inside


def draw(seed: int, spread: float = 1.0, fault: str = "") -> Drawn:
    """The unit with number `seed`. The same number gives the same unit."""
    random = Random(seed * 2654435761 % 2**32 + 17)
    while True:
        drawn = _attempt(random, seed, spread, fault)
        if drawn is not None:
            return drawn


def pick_fault(seed: int) -> str:
    """Faults in turn."""
    return FAULTS[seed % len(FAULTS)]


def _attempt(random: Random, seed: int, spread: float, fault: str) -> Drawn | None:
    metering = TXV if random.random() < 0.55 else FIXED
    design = _design(random, metering, spread)
    target = _target(random, design)
    if target is None:
        return None
    system, name, target_k, tolerance_k = target
    try:
        healthy = steady_map(design)
    except NoBalanceError:
        return None
    right = healthy.charge_for(name, target_k)
    if right is None or not _plausible(healthy, right, metering):
        return None
    per_ton = random.uniform(1.9, 3.4) * POUND_KG * design.capacity_w / TON_W
    design = _scaled(design, per_ton / right)
    healthy = SteadyMap(
        tuple(c * per_ton / right for c in healthy.charges),
        tuple(replace(s, charge_kg=s.charge_kg * per_ton / right) for s in healthy.states),
    )
    right = per_ton
    nameplate = right * random.uniform(0.94, 1.06) if random.random() < 0.8 else None
    system = replace(system, nameplate_charge_kg=nameplate)
    steady = healthy
    start = right * random.uniform(0.60, 0.95)
    if fault != "":
        design = _with_fault(random, design, fault, right)
        try:
            steady = steady_map(design)
        except NoBalanceError:
            return None
        start = right * random.uniform(0.70, 1.0)
    return Drawn(
        design,
        system,
        name,
        target_k,
        tolerance_k,
        steady,
        steady.charge_for(name, target_k) or right,
        right,
        start,
        _instruments(random),
        _middling(random, 0.005, 2.2, spread),
        seed,
    )


def _plausible(healthy: SteadyMap, right: float, metering: Metering) -> bool:
    """Whether a technician would meet it: it cools at the target, and can run below it."""
    state = healthy.at(right)
    if not 274.0 < state.evaporating_k < 289.0:
        return False
    if metering == FIXED and not 0.0 <= state.subcooling_k < 9.0:
        return False
    return healthy.charges[0] < 0.66 * right and healthy.charges[-1] > 1.02 * right


def _design(random: Random, metering: Metering, spread: float) -> Design:
    name = _choice(random, REFRIGERANTS)
    gas = fluid(name)
    tons = random.choice((1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0))
    capacity = tons * TON_W
    outdoor = _fahrenheit(random.uniform(65.0, 115.0))
    indoor = _fahrenheit(random.uniform(72.0, 80.0))
    humidity = random.uniform(0.40, 0.62)
    wet = wet_bulb(load_handbook().psychrometrics, indoor, humidity, SEA_LEVEL_PA)
    wet_k = wet if isinstance(wet, float) else indoor - 7.0
    low, density, gas_h, *_ = gas.at_dew(280.37)
    high, liquid, liquid_h, *_ = gas.at_bubble(319.26)
    clearance = random.uniform(0.03, 0.055)
    flow = capacity / (gas_h - liquid_h + gas.liquid_heat_capacity * 5.0)
    swept = flow / (1.0 - clearance * (high / low - 1.0)) / (density * 280.37 / 286.0)
    damp = 1.0 + 0.06 * (wet_k - 289.8) / 1.8
    share_sc = _middling(random, 0.16, 1.45, spread)
    subcool_ntu = 0.62 / share_sc
    flow_subcooling = random.uniform(0.018, 0.036)
    orifice = flow / sqrt(2.0 * liquid * (high - low))
    if metering == TXV:
        area = orifice * random.uniform(0.95, 1.45)
    else:
        area = orifice / (1.0 + flow_subcooling * random.uniform(3.0, 7.0))
    line = random.uniform(6.0, 22.0) * random.choice((3.2e-5, 4.9e-5))
    built = Design(
        refrigerant=name,
        inside=name,
        metering=metering,
        capacity_w=capacity,
        outdoor_k=outdoor,
        return_k=indoor,
        return_wet_bulb_k=wet_k,
        swept_m3_s=swept,
        clearance=clearance,
        isentropic=random.uniform(0.58, 0.72),
        evaporator_ua=tons * random.uniform(250.0, 330.0),
        evaporator_air=tons * random.uniform(285.0, 335.0) * damp,
        dry_air=0.0,
        superheat_ntu=_middling(random, 2.6, 1.3, spread),
        condenser_ua=tons * random.uniform(560.0, 900.0),
        condenser_air=tons * random.uniform(400.0, 560.0),
        subcool_ntu=subcool_ntu,
        valve_superheat_k=random.uniform(4.0, 8.5),
        flow_area_m2=area,
        flow_subcooling=flow_subcooling,
        condenser_m3=tons * random.uniform(0.0011, 0.0018),
        evaporator_m3=tons * random.uniform(0.0006, 0.0011),
        liquid_line_m3=line,
        suction_m3=tons * random.uniform(0.001, 0.0025),
        condenser_wetness=random.uniform(0.14, 0.26),
        evaporator_wetness=random.uniform(0.07, 0.14),
        settling_s=_middling(random, 125.0, 1.5, spread),
        line_kg=tons * random.uniform(0.12, 0.4),
        hold_kg=random.uniform(0.010, 0.030) + tons * 0.015 * exp(random.uniform(0.0, 2.2)),
    )
    return replace(built, dry_air=SENSIBLE * built.evaporator_air / damp)


def _target(random: Random, design: Design) -> tuple[System, str, float, float] | None:
    system = System(
        refrigerant=design.refrigerant,
        metering=design.metering,
        method=BY_SUBCOOLING,
        atmosphere_pa=SEA_LEVEL_PA,
        capacity_w=design.capacity_w,
    )
    if design.metering == TXV:
        subcooling = random.choice((7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0)) / 1.8
        return replace(system, maker_subcooling_k=subcooling), "subcooling_k", subcooling, 3.0 / 1.8
    chart = load_handbook().charts[TARGET_SUPERHEAT]
    value = look_up(chart, design.outdoor_k, design.return_wet_bulb_k)
    if isinstance(value, NoValue):
        return None
    return replace(system, method=BY_CHART), "superheat_k", value, 5.0 / 1.8


def _scaled(design: Design, share: float) -> Design:
    """All volumes times the same share: the same unit with more or less inside."""
    return replace(
        design,
        condenser_m3=design.condenser_m3 * share,
        evaporator_m3=design.evaporator_m3 * share,
        liquid_line_m3=design.liquid_line_m3 * share,
        suction_m3=design.suction_m3 * share,
    )


def _with_fault(random: Random, design: Design, fault: str, right: float) -> Design:
    faulty = replace(design, fault=fault)
    if fault == LOW_AIRFLOW:
        share = random.uniform(0.35, 0.6)
        return replace(
            faulty,
            evaporator_air=design.evaporator_air * share,
            dry_air=design.dry_air * share,
            evaporator_ua=design.evaporator_ua * sqrt(share),
        )
    if fault == DIRTY_CONDENSER:
        share = random.uniform(0.3, 0.55)
        return replace(
            faulty,
            condenser_air=design.condenser_air * share,
            condenser_ua=design.condenser_ua * sqrt(share),
        )
    if fault == RESTRICTION:
        return replace(faulty, flow_area_m2=design.flow_area_m2 * random.uniform(0.35, 0.6))
    if fault == NON_CONDENSABLES:
        return replace(faulty, foreign_gas_pa=random.uniform(1.0e5, 3.5e5))
    if fault == WEAK_COMPRESSOR:
        return replace(faulty, swept_m3_s=design.swept_m3_s * random.uniform(0.4, 0.65))
    if fault == LEAK:
        return replace(faulty, leak_kg_s=right * random.uniform(0.004, 0.02) / 60.0)
    if fault == WRONG_REFRIGERANT:
        return replace(faulty, inside=random.choice(MISTAKEN_FOR[design.refrigerant]))
    raise ValueError(fault)


def _instruments(random: Random) -> Instruments:
    return Instruments(
        (random.gauss(0.0, 0.22), random.gauss(0.0, 0.22)),
        (random.gauss(0.0, 4.0e3), random.gauss(0.0, 8.0e3)),
        random.uniform(0.05, 0.25),
        random.choice((700.0, 3500.0)),
        random.choice(SCALE_STEPS_KG),
        random.gauss(0.0, 2.0e-6),
        random.uniform(0.0002, 0.002),
    )


def _middling(random: Random, middle: float, factor: float, spread: float) -> float:
    """Log-uniform between middle / factor and middle × factor; `spread` widens it."""
    width = log(factor) + log(spread)
    return middle * exp(random.uniform(-width, width))


def _choice(random: Random, shares: tuple[tuple[str, float], ...]) -> str:
    x = random.random()
    for name, share in shares:
        x -= share
        if x < 0.0:
            return name
    return shares[-1][0]


def _fahrenheit(value: float) -> float:
    return (value + 459.67) / 1.8
