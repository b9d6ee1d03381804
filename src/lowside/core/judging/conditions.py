"""What today's conditions say: whether the method holds, and readings that need care by themselves.

Limits of the method: California Reference Residential Appendix RA3.2 (2008: RA3.2.1; 2013:
RA3.2.1.1 d) for outdoor air; two manufacturers' charging instructions for 70 to 80 °F indoors and
120 °F outdoors. See `docs/charge.md`.
"""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.charts import Chart, NoValue, edge, look_up
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_SUBCOOLING,
    BY_WEIGHT,
    COLDER,
    FIXED,
    Reading,
    System,
)
from lowside.core.judging.findings import (
    DANGER,
    REFUSE,
    WARN,
    Fact,
    Finding,
    Grade,
    Unknown,
)
from lowside.core.judging.targets import BOUNDARY_K, FAHRENHEIT_DEGREE_K
from lowside.core.numbers.units import FAHRENHEIT_OFFSET, FOOT_M, PSI_PA, ZERO_CELSIUS_K

OUTDOOR_LOWEST_K = (55.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Coldest outdoor air for charging by readings. RA3.2, 2008 and 2013."""
OUTDOOR_HIGHEST_K = (120.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Where the widest manufacturer's chart ends (4TTR3018, 55 to 120 °F)."""
OUTDOOR_LOWEST_APPROACH_K = (65.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""For the approach method (EL072XCSS p. 2, ML14XC1 p. 29), and for a fixed orifice by its
manufacturer's subcooling (4HP18LT p. 14, HP23 p. 15)."""
INDOOR_LOWEST_K = (70.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
INDOOR_REFUSED_K = (84.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Where the published table of the air's temperature drop ends, so that the airflow cannot be held
against anything. Manufacturers ask for the room to cool first (READ: 25TPB7 p. 10, above 80 °F)."""
INDOOR_HIGHEST_K = (80.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Indoor air two manufacturers ask for while charging (4TTR3018; 14ACX)."""

SWITCH_OPENS_K = (146.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Condensing where high-pressure switches begin to open. READ: 590 psig with R-410A (4HP14
506318-03 p. 14), 660 ± 10 (DCH048 S-11); the lower one, less the gauge's error, as saturation. For
other refrigerants, blends by their midpoint: ours. The switch is a pressure, but R-410A's carries
over to others only as condensing, and what the air makes of a condenser is its midpoint."""
PLATE_ASKED_K = (139.0 + FAHRENHEIT_OFFSET) * FAHRENHEIT_DEGREE_K
"""Condensing above this, nothing is added before the nameplate's highest pressure is known: 0.9 of
those 590 psig. Our choice."""

FREEZING_K = ZERO_CELSIUS_K

LONG_LINE_M = 80.0 * FOOT_M
"""Beyond this, or 20 ft of height, the long-line guideline holds. READ: 25TPB7 p. 10; an older
guide says 50 ft."""
COOL_LIQUID_K = 3.0 * FAHRENHEIT_DEGREE_K
"""A liquid line this little above outdoor air, with high superheat, has liquid backed up behind it:
manufacturers' approaches are 4 to 10 °F (READ: HPXA16 table 10). Our choice."""
BACKED_UP_K = 10.0 * FAHRENHEIT_DEGREE_K
"""The same where the coil starves (`contrary.STARVED_OVER_K`): the top of these approaches."""

THERMOMETER_K = 1.3 * FAHRENHEIT_DEGREE_K
THERMOMETER_SHARE = 0.001
"""Thermometer error allowed by RA3.2 (2008): ±(0.1 % of reading + 1.3 °F); the share is taken of
the reading above 0 °F, so colder ones count as 0."""
SUCTION_GAUGE_PA = 3.5 * PSI_PA
LIQUID_GAUGE_PA = 7.0 * PSI_PA
"""Gauge errors allowed by RA3.2 (2013): ±3.5 psi suction, ±7.0 psi liquid."""

FAR_OVER_RATED = 1.4
"""Above its rated current times this nothing is added, whatever the reason. The approval's figure
is the current that trips, divided by 1.56 or 1.44 (READ: an article on compressor amperage
ratings), and a separate overload trips at 1.4 or less (READ: NEC 440.52, by an article on hermetic
motors). Our choice."""

SPLIT_TOLERANCE_K = 3.0 * FAHRENHEIT_DEGREE_K
"""Temperature split, installer's test. RA3.2, 2008; READ: 3 °F needs no change (ML14XC1 p. 28).
Another text rejects the test (READ: an article on checking the charge without gauges), so only a
drop beyond this and both thermometers' error blocks adding."""

SHOWN_K = 0.04
"""A limit in whole °F shows in tenths of °C as at most this much more or less, and what shows as
the limit is within it. Less than a tenth of °F. Arithmetic of the rounding."""
SLACK_K = BOUNDARY_K
"""Differences this small come from converting units there and back, and decide nothing."""


def thermometer_error(temperature_k: float) -> float:
    """Error [K] a permitted thermometer may have at `temperature_k` [K]. RA3.2, 2008."""
    above_zero_f = temperature_k - FAHRENHEIT_OFFSET * FAHRENHEIT_DEGREE_K
    above_zero_f = max(above_zero_f, 0.0)
    return THERMOMETER_K + THERMOMETER_SHARE * above_zero_f


def split_of(
    reading: Reading, wet_bulb_k: float | Unknown, chart: Chart
) -> tuple[float, float] | None:
    """Return minus supply air and what the chart expects [K]; `None` when either is not known.

    In drier or damper air than the chart has for this dry bulb its nearest value counts: our
    choice. Damper air cools less, nobody says how much: only a drop above that value is judged.
    """
    if reading.return_dry_bulb_k is None or reading.supply_dry_bulb_k is None:
        return None
    if isinstance(wet_bulb_k, Unknown):
        return None
    wet_k = edge(chart.columns_k, wet_bulb_k)
    target = look_up(chart, reading.return_dry_bulb_k, wet_k)
    for column_k in chart.columns_k:
        if isinstance(target, NoValue) and column_k > wet_k:
            target = look_up(chart, reading.return_dry_bulb_k, column_k)
    drop = reading.return_dry_bulb_k - reading.supply_dry_bulb_k
    if isinstance(target, NoValue) or (wet_bulb_k > wet_k and drop < target):
        return None
    return drop, target


def method_limits(system: System, reading: Reading) -> list[Finding]:
    """Whether charging by readings holds in this air. Weighing in holds in any.

    Limits typed from its instructions replace the published ones, stricter or looser; where they
    let through what the published ones would not, that is said.
    """
    if system.method == BY_WEIGHT:
        return []
    found: list[Finding] = []
    outdoor = reading.outdoor_dry_bulb_k
    if outdoor is not None:
        air = _Air("outdoor", "outdoor", outdoor)
        papers = (system.papers_outdoor_lowest_k, system.papers_outdoor_highest_k)
        found.extend(_limits(air, papers, (_outdoor_lowest(system), OUTDOOR_HIGHEST_K)))
    indoor = reading.return_dry_bulb_k
    if indoor is not None:
        air = _Air("indoor", "return_air", indoor)
        papers = (system.papers_indoor_lowest_k, system.papers_indoor_highest_k)
        highest = INDOOR_REFUSED_K if papers[1] is None else INDOOR_HIGHEST_K
        beyond = _limits(air, papers, (INDOOR_LOWEST_K, highest))
        if not beyond and indoor > INDOOR_HIGHEST_K + SHOWN_K:
            beyond = [_limit("indoor_warm", WARN, air, INDOOR_HIGHEST_K)]
        found.extend(beyond)
    return found


@dataclass(frozen=True)
class _Air:
    """An air temperature [K]: how codes begin, and what sentences call it."""

    code: str
    name: str
    value_k: float


def _limits(
    air: _Air, papers: tuple[float | None, float | None], published: tuple[float, float]
) -> list[Finding]:
    """Beyond its instructions, or beyond the published limits [K]; the instructions go first."""
    lowest = papers[0]
    highest = papers[1]
    if lowest is not None and air.value_k < lowest - SHOWN_K:
        return [_limit(air.code + "_cold_papers", REFUSE, air, lowest)]
    if highest is not None and air.value_k > highest + SHOWN_K:
        return [_limit(air.code + "_hot_papers", REFUSE, air, highest)]
    if air.value_k < published[0] - SHOWN_K:
        return [_beyond(air, "_cold", lowest, published[0])]
    if air.value_k > published[1] + SHOWN_K:
        return [_beyond(air, "_hot", highest, published[1])]
    return []


def _beyond(
    air: _Air, side: Literal["_cold", "_hot"], papers_k: float | None, published_k: float
) -> Finding:
    """Beyond a published limit: let through, and said, only where instructions reach further."""
    if papers_k is None:
        return _limit(air.code + side, REFUSE, air, published_k)
    return _limit(air.code + "_by_papers", WARN, air, published_k)


def _outdoor_lowest(system: System) -> float:
    by_subcooling = system.method == BY_SUBCOOLING and system.metering == FIXED
    if system.method == BY_APPROACH or by_subcooling:
        return OUTDOOR_LOWEST_APPROACH_K
    return OUTDOOR_LOWEST_K


def plates(system: System, reading: Reading) -> list[Finding]:
    """Current and static pressure against what the unit's own plates say.

    An undercharged unit draws less current, not more (READ: a service table; RHE-A2 p. 6 adds
    only when pressures and current are both low). Static pressure has its limit on the blower's
    plate (READ: AVPVC S-202).
    """
    found: list[Finding] = []
    amps = reading.compressor_a
    rated = system.rated_a
    if amps is not None and rated is not None and amps > rated:
        found.append(
            Finding(
                "current_high",
                REFUSE if amps > FAR_OVER_RATED * rated else WARN,
                (Fact("current", "current", amps), Fact("limit", "current", rated)),
            )
        )
    static = reading.static_pa
    most = system.static_limit_pa
    if static is not None and most is not None and static > most:
        found.append(
            Finding(
                "static_high",
                REFUSE,
                (Fact("static", "air_pressure", static), Fact("limit", "air_pressure", most)),
            )
        )
    return found


def labels(system: System) -> list[Finding]:
    """What a label on the unit asks to be minded."""
    found: list[Finding] = []
    if system.nameplate_refrigerant != "":
        found.append(
            Finding(
                "retrofit_label",
                WARN,
                (
                    Fact("refrigerant", "text", text=system.refrigerant),
                    Fact("nameplate", "text", text=system.nameplate_refrigerant),
                ),
            )
        )
    if system.method == BY_SUBCOOLING and system.metering == FIXED:
        found.append(Finding("fixed_by_subcooling", WARN))
    length = system.line_length_m
    if length is not None and length > LONG_LINE_M:
        found.append(
            Finding(
                "long_line",
                WARN,
                (Fact("length", "length", length), Fact("limit", "length", LONG_LINE_M)),
            )
        )
    return found


def pressures(system: System, reading: Reading, coil_k: float | None) -> list[Finding]:
    """High side against the nameplate, low side against freezing."""
    found: list[Finding] = []
    liquid = reading.liquid_pressure_pa
    limit = system.high_side_limit_pa
    if liquid is not None and limit is not None and liquid - system.atmosphere_pa > limit:
        found.append(
            Finding(
                "above_rating",
                DANGER,
                (
                    Fact("pressure", "gauge_pressure", liquid - system.atmosphere_pa),
                    Fact("limit", "gauge_pressure", limit),
                ),
            )
        )
    if coil_k is not None and coil_k < FREEZING_K - SLACK_K:
        found.append(Finding("freezing", WARN, (Fact("coil", "temperature", coil_k),)))
    return found


def too_near_the_limit(system: System, condensing_k: float | None) -> Finding | None:
    """Why a high side this high blocks adding, although nothing else does: charge raises it."""
    if condensing_k is None or condensing_k <= PLATE_ASKED_K:
        return None
    facts = (Fact("condensing", "temperature", condensing_k),)
    if condensing_k > SWITCH_OPENS_K:
        return Finding("near_switch", REFUSE, facts)
    return Finding("plate_first", REFUSE, facts) if system.high_side_limit_pa is None else None


def by_hand(reading: Reading) -> list[Finding]:
    """A temperature drop across the filter drier is a restriction (READ: the service table)."""
    return [Finding("drier", REFUSE)] if reading.drier == COLDER else []


def air_and_lines(reading: Reading, liquid_dew_k: float | Unknown) -> list[Finding]:
    """Temperatures that cannot be, or mean something by themselves.

    Args:
        reading: temperatures of air and lines.
        liquid_dew_k: dew point at the liquid pressure [K].
    """
    found: list[Finding] = []
    supply = reading.supply_dry_bulb_k
    indoor = reading.return_dry_bulb_k
    if supply is not None and indoor is not None and supply >= indoor:
        found.append(
            Finding(
                "not_cooling",
                REFUSE,
                (Fact("supply", "temperature", supply), Fact("return_air", "temperature", indoor)),
            )
        )
    line = reading.liquid_line_k
    if line is None:
        return found
    error = thermometer_error(line)
    if not isinstance(liquid_dew_k, Unknown) and line > liquid_dew_k + error:
        found.append(
            Finding(
                "no_liquid",
                WARN,
                (
                    Fact("liquid_line", "temperature", line),
                    Fact("dew", "temperature", liquid_dew_k),
                ),
            )
        )
    return found


def liquid_below_outdoor(reading: Reading) -> list[Finding]:
    """The liquid line colder than the air that cools the condenser."""
    line = reading.liquid_line_k
    outdoor = reading.outdoor_dry_bulb_k
    if line is None or outdoor is None:
        return []
    if line >= outdoor - thermometer_error(line) - thermometer_error(outdoor):
        return []
    return [
        Finding(
            "liquid_line_below_outdoor",
            REFUSE,
            (Fact("liquid_line", "temperature", line), Fact("outdoor", "temperature", outdoor)),
        )
    ]


def split_finding(code: str, level: Grade, split: tuple[float, float]) -> Finding:
    """`split_high`, `split_bars` or `split_low`, from `split_of`."""
    return Finding(
        code,
        level,
        (
            Fact("split", "temperature_difference", split[0]),
            Fact("target", "temperature_difference", split[1]),
            Fact("tolerance", "temperature_difference", SPLIT_TOLERANCE_K),
        ),
    )


def _limit(code: str, level: Grade, air: _Air, limit: float) -> Finding:
    return Finding(
        code,
        level,
        (Fact(air.name, "temperature", air.value_k), Fact("limit", "temperature", limit)),
    )
