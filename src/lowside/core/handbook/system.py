"""The unit being charged and what is read off it: plain values in SI, `None` where not known."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Metering = Literal["txv", "eev", "fixed", "unknown"]
"""Metering devices: thermostatic valve, electronic valve, fixed orifice (piston, capillary)."""

TXV: Metering = "txv"
EEV: Metering = "eev"
FIXED: Metering = "fixed"
METERING_UNKNOWN: Metering = "unknown"

ChargingMethod = Literal[
    "subcooling",
    "superheat",
    "chart",
    "approach",
    "suction_pressure",
    "liquid_pressure",
    "weigh_in",
]
"""How this unit's charge is judged: manufacturer's subcooling, manufacturer's superheat, the
target-superheat chart by outdoor dry bulb and indoor wet bulb, the manufacturer's approach (liquid
line less outdoor air), a pressure by points of this unit's own chart, or nameplate weight plus
line-set adder."""

BY_SUBCOOLING: ChargingMethod = "subcooling"
BY_SUPERHEAT: ChargingMethod = "superheat"
BY_CHART: ChargingMethod = "chart"
BY_APPROACH: ChargingMethod = "approach"
BY_SUCTION_PRESSURE: ChargingMethod = "suction_pressure"
BY_LIQUID_PRESSURE: ChargingMethod = "liquid_pressure"
BY_WEIGHT: ChargingMethod = "weigh_in"
METHODS: tuple[ChargingMethod, ...] = (
    BY_SUBCOOLING,
    BY_SUPERHEAT,
    BY_CHART,
    BY_APPROACH,
    BY_SUCTION_PRESSURE,
    BY_LIQUID_PRESSURE,
    BY_WEIGHT,
)

Withdrawal = Literal["invert", "dip_tube"]
"""How liquid comes out of the cylinder: turned over, or upright by a dip tube."""

INVERT: Withdrawal = "invert"
DIP_TUBE: Withdrawal = "dip_tube"

SAME = "same"
COLDER = "colder"
NOT_REACHED = "not reached"
"""Answers to what the hand feels after the filter drier; COLDER is a restriction."""


BY_POINTS = "points"
"""At the target: points typed off this unit's own chart. What they are of is the
`ChargingMethod` then."""


@dataclass(frozen=True)
class ChartPoint:
    """What this unit's chart gives [K, or Pa gauge for a pressure] at this outdoor air [K] and,
    where the chart asks for it, this wet bulb of the return air [K]."""

    outdoor_k: float
    wet_bulb_k: float | None
    value: float


@dataclass(frozen=True)
class System:
    """What was asked once about the unit and the site."""

    refrigerant: str
    """Designation as on the nameplate, normalized: `R-410A`."""
    metering: Metering
    method: ChargingMethod
    atmosphere_pa: float
    """Absolute pressure of the site's air [Pa]."""
    capacity_w: float | None = None
    """Nominal cooling capacity [W]."""
    maker_subcooling_k: float | None = None
    maker_superheat_k: float | None = None
    maker_tolerance_k: float | None = None
    """Half width the manufacturer allows around its own target [K]; `None`: the published
    procedure's."""
    nameplate_charge_kg: float | None = None
    line_length_m: float | None = None
    line_included_m: float | None = None
    """Length of line set the nameplate charge already covers [m]."""
    line_adder_kg_per_m: float | None = None
    short_line_takes_off: bool | None = None
    """Whether a line set shorter than covered takes charge off, by its instructions; `None`: not
    asked."""
    high_side_limit_pa: float | None = None
    """Highest gauge pressure on the nameplate for the high side [Pa gauge]."""
    maker_approach_k: float | None = None
    """Liquid line less outdoor air by the manufacturer [K]."""
    rated_a: float | None = None
    """The compressor's rated load current [A]."""
    static_limit_pa: float | None = None
    """Highest total external static pressure on the blower's plate [Pa]."""
    nameplate_refrigerant: str = ""
    """What the nameplate names, where a retrofit label names another; else empty."""
    retrofit_charge_kg: float | None = None
    """The whole charge by the retrofit label, line set included."""
    papers_outdoor_lowest_k: float | None = None
    papers_outdoor_highest_k: float | None = None
    papers_indoor_lowest_k: float | None = None
    papers_indoor_highest_k: float | None = None
    """Limits of outdoor and return air by its instructions [K]; `None`: the published ones."""
    papers_wait_s: float | None = None
    """Wait before a reading counts by this unit's instructions [s]; `None`: the published one."""
    by_points: bool = False
    """The target is from typed points of this unit's chart, of the quantity `method` names."""
    chart_points: tuple[ChartPoint, ...] = ()
    chart_tolerance_pa: float | None = None
    """Half width its instructions allow around a charted pressure [Pa]; `None`: the usual."""
    short_below: bool | None = None
    """Whether a pressure below this unit's chart means undercharged; `None`: not
    answered. Manufacturers differ."""
    temperature_unit: str = "°F"
    pressure_unit: str = "psig"
    """What this session shows. What shows as the limit of the tolerance is within it."""


@dataclass(frozen=True)
class Reading:
    """One set of instrument readings [absolute Pa, K, A]; any may be missing."""

    suction_pressure_pa: float | None = None
    suction_line_k: float | None = None
    liquid_pressure_pa: float | None = None
    liquid_line_k: float | None = None
    outdoor_dry_bulb_k: float | None = None
    return_dry_bulb_k: float | None = None
    return_wet_bulb_k: float | None = None
    return_humidity: float | None = None
    """Relative humidity of the return air [0..1], when no wet bulb was measured."""
    supply_dry_bulb_k: float | None = None
    compressor_a: float | None = None
    static_pa: float | None = None
    """Total external static pressure at the blower [Pa]."""
    drier: str = ""
    """What is known of the filter drier by then; "" when nobody answered."""


def reading_of(numbers: Mapping[str, float], atmosphere_pa: float, drier: str = "") -> Reading:
    """A reading in SI from the numbers of a reading form; gauges count from `atmosphere_pa`."""
    suction = numbers.get("suction_pressure")
    liquid = numbers.get("liquid_pressure")
    return Reading(
        suction_pressure_pa=None if suction is None else suction + atmosphere_pa,
        suction_line_k=numbers.get("suction_line"),
        liquid_pressure_pa=None if liquid is None else liquid + atmosphere_pa,
        liquid_line_k=numbers.get("liquid_line"),
        outdoor_dry_bulb_k=numbers.get("outdoor_dry_bulb"),
        return_dry_bulb_k=numbers.get("return_dry_bulb"),
        return_wet_bulb_k=numbers.get("return_wet_bulb"),
        return_humidity=numbers.get("return_humidity"),
        supply_dry_bulb_k=numbers.get("supply_dry_bulb"),
        compressor_a=numbers.get("compressor_amps"),
        static_pa=numbers.get("static_pressure"),
        drier=drier,
    )


def metering_from(text: str) -> Metering:
    """The metering device a form or an event names; METERING_UNKNOWN for any other text."""
    for metering in (TXV, EEV, FIXED):
        if metering == text:
            return metering
    return METERING_UNKNOWN


def method_from(text: str) -> ChargingMethod | None:
    """The method a form or an event names; `None` for any other text."""
    for method in METHODS:
        if method == text:
            return method
    return None


def withdrawal_from(text: str) -> Withdrawal:
    """How the cylinder's form says liquid comes out; any text but DIP_TUBE means turned over."""
    return DIP_TUBE if text == DIP_TUBE else INVERT
