"""A practice unit's build, the weather, and its fault: plain numbers, SI."""

from dataclasses import dataclass

from lowside.core.handbook.system import Metering

LOW_AIRFLOW = "low_airflow"
DIRTY_CONDENSER = "dirty_condenser"
RESTRICTION = "restriction"
NON_CONDENSABLES = "non_condensables"
WEAK_COMPRESSOR = "weak_compressor"
LEAK = "leak"
WRONG_REFRIGERANT = "wrong_refrigerant"
FAULTS = (
    LOW_AIRFLOW,
    DIRTY_CONDENSER,
    RESTRICTION,
    NON_CONDENSABLES,
    WEAK_COMPRESSOR,
    LEAK,
    WRONG_REFRIGERANT,
)


@dataclass(frozen=True)
class Design:
    """One unit as built and as it is today."""

    refrigerant: str
    """On the nameplate."""
    inside: str
    """The refrigerant that is really inside."""
    metering: Metering
    capacity_w: float
    """Nominal, at 45 °F evaporating and 115 °F condensing."""

    outdoor_k: float
    return_k: float
    return_wet_bulb_k: float

    swept_m3_s: float
    """Compressor displacement."""
    clearance: float
    """Loss of volumetric efficiency for each unit of pressure ratio above 1."""
    isentropic: float
    """Isentropic efficiency, motor included."""

    evaporator_ua: float
    evaporator_air: float
    """Air-side capacity rate with the latent load [W/K]."""
    dry_air: float
    """The same without the latent load [W/K]."""
    superheat_ntu: float
    """Transfer units of the whole evaporator for vapor."""
    condenser_ua: float
    condenser_air: float
    subcool_ntu: float
    """Transfer units of the whole condenser for liquid."""

    valve_superheat_k: float
    flow_area_m2: float
    """Fixed orifice, or expansion valve wide open, with the discharge coefficient."""

    flow_subcooling: float
    """Growth of its flow per kelvin of subcooling, against saturated liquid: 25 to 35 % for the
    first 10 K in the short-tube measurements of Aaron and Domanski (from memory)."""

    condenser_m3: float
    evaporator_m3: float
    liquid_line_m3: float
    suction_m3: float
    """Suction line, accumulator and shell: vapor."""
    condenser_wetness: float
    evaporator_wetness: float
    """Share of the two-phase volume that is liquid."""

    settling_s: float
    """Time constant of the readings after a shot."""
    line_kg: float
    """Suction pipe and fittings that give heat to liquid, as copper [kg]."""
    hold_kg: float
    """Liquid that line, accumulator and shell can hold before it reaches the compressor [kg]."""

    fault: str = ""
    foreign_gas_pa: float = 0.0
    """Pressure of non-condensables in the condenser."""
    leak_kg_s: float = 0.0
