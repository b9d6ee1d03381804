"""What each hose holds and what turning a valve does: the network of hoses, manifold and ports.

A picture of the moments after each turn, not of their course: pressures have evened out, gas has
taken the place air left, liquid has run where it can. Assumptions, all on the side of caution:
- hoses are as warm as the cylinder, so liquid in them boils whenever the pressure they are joined
  to is below the cylinder's;
- vapor is taken as saturated (denser than it really is), so trapped grams are an upper bound;
- air and refrigerant do not mix; a stream pushes all air ahead of it (common practice, no source).

`flow.py` moves the contents, `hazards.py` says what is wrong with a turn.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.handbook.procedure import HOSE, INVERTED, Procedure, ValveSetting
from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_pressure,
    dew_pressure,
    liquid_density,
    vapor_density,
)
from lowside.core.handbook.system import DIP_TUBE, INVERT, Withdrawal
from lowside.core.numbers.arithmetic import linear

HOSE_LENGTH_M = 1.524
"""60 in, a usual hose (common practice, no source)."""
HOSE_BORE_M = 0.0047625
"""3/16 in, the bore of a nominal 1/4 in hose (from memory; ask the hose's manufacturer)."""
BODY_VOLUME_M3 = 4.0e-6
"""A chamber of the manifold; no source, small beside a hose."""

USUAL_SUCTION_K = 278.15
USUAL_LIQUID_K = 315.15
USUAL_CYLINDER_K = 300.15
"""Saturation of a running unit and a cylinder in mild weather, until the gauges are read."""

QUARTER_CIRCLE = 0.7853981633974483


@dataclass(frozen=True)
class Densities:
    """Densities [kg/m3] of saturated liquid and vapor at rising pressures [Pa absolute]."""

    pressures: tuple[float, ...]
    liquid: tuple[float, ...]
    vapor: tuple[float, ...]


UnitHolds = Literal["charge", "vapor", "gas", "nothing"]
"""What is in the unit: its charge; vapor left after recovery; nitrogen or air; a vacuum."""

CHARGE: UnitHolds = "charge"
VAPOR_LEFT: UnitHolds = "vapor"
GAS: UnitHolds = "gas"
NOTHING: UnitHolds = "nothing"


@dataclass(frozen=True)
class Walk:
    """A unit that is off for recovery or weigh-in [Pa absolute]."""

    holds: UnitHolds
    nitrogen_pa: float
    """Behind the regulator."""
    machine_liquid: bool = False
    """The recovery machine draws liquid, so its outlet gives liquid."""


@dataclass(frozen=True)
class Conditions:
    """What the hoses are joined to [Pa absolute], and how big they are."""

    suction_pa: float
    liquid_pa: float
    cylinder_pa: float
    atmosphere_pa: float
    densities: Densities
    withdrawal: Withdrawal = INVERT
    hose_length_m: float = HOSE_LENGTH_M
    hose_bore_m: float = HOSE_BORE_M
    walk: Walk | None = None
    """`None`: a unit that is charged by readings."""


@dataclass(frozen=True)
class Contents:
    """What one hose or chamber holds.

    `air` [Pa m3] is pressure times volume of the air in it, which compressing does not change.
    """

    air: float
    vapor_kg: float
    liquid_kg: float
    pressure_pa: float


@dataclass(frozen=True)
class Hoses:
    """The network at one moment.

    `received_kg` is what unit, cylinder and open air have taken in, less what they gave; with the
    contents it sums to nothing, always.
    """

    settings: Mapping[str, ValveSetting]
    contents: Mapping[str, Contents]
    received_kg: Mapping[str, float]


Phase = Literal["air", "vapor", "liquid"]
"""What flows."""

AIR: Phase = "air"
VAPOR: Phase = "vapor"
LIQUID: Phase = "liquid"

Filling = Literal["air", "vapor and air", "vapor", "liquid", "empty"]
"""What a hose holds, in a word."""

AIR_AND_VAPOR: Filling = "vapor and air"
EMPTY: Filling = "empty"

TRACE_KG = 1.0e-9


def usual_conditions(
    table: PropertyTable,
    atmosphere_pa: float,
    withdrawal: Withdrawal = INVERT,
    hose_length_m: float = HOSE_LENGTH_M,
    hose_bore_m: float = HOSE_BORE_M,
) -> Conditions | OutOfRange:
    """Conditions of a unit in mild weather, for the picture before any gauge is read."""
    suction = dew_pressure(table, USUAL_SUCTION_K)
    liquid = bubble_pressure(table, USUAL_LIQUID_K)
    cylinder = bubble_pressure(table, USUAL_CYLINDER_K)
    if isinstance(suction, OutOfRange):
        return suction
    if isinstance(liquid, OutOfRange):
        return liquid
    if isinstance(cylinder, OutOfRange):
        return cylinder
    return conditions_from(
        table, suction, liquid, cylinder, atmosphere_pa, withdrawal, hose_length_m, hose_bore_m
    )


def conditions_from(  # noqa: PLR0913, PLR0917 - makes `Conditions` of its parts
    table: PropertyTable,
    suction_pa: float,
    liquid_pa: float,
    cylinder_pa: float,
    atmosphere_pa: float,
    withdrawal: Withdrawal = INVERT,
    hose_length_m: float = HOSE_LENGTH_M,
    hose_bore_m: float = HOSE_BORE_M,
) -> Conditions | OutOfRange:
    """Conditions with the densities the table has at these pressures [Pa absolute].

    Between two of the pressures densities are taken on a straight line; below the lowest, vapor
    thins in proportion to pressure.
    """
    pressures: list[float] = []
    liquid: list[float] = []
    vapor: list[float] = []
    for pressure in sorted([suction_pa, cylinder_pa, liquid_pa]):
        heavy = liquid_density(table, pressure)
        light = vapor_density(table, pressure)
        if isinstance(heavy, OutOfRange):
            return heavy
        if isinstance(light, OutOfRange):
            return light
        if not pressures or pressure > pressures[-1]:
            pressures.append(pressure)
            liquid.append(heavy)
            vapor.append(light)
    return Conditions(
        suction_pa,
        liquid_pa,
        cylinder_pa,
        atmosphere_pa,
        Densities(tuple(pressures), tuple(liquid), tuple(vapor)),
        withdrawal,
        hose_length_m,
        hose_bore_m,
    )


def vapor_at(densities: Densities, pressure_pa: float) -> float:
    """Vapor density [kg/m3] at a pressure between nothing and the highest of `densities`."""
    if pressure_pa <= densities.pressures[0]:
        return densities.vapor[0] * pressure_pa / densities.pressures[0]
    if pressure_pa >= densities.pressures[-1]:
        return densities.vapor[-1]
    return linear(densities.pressures, densities.vapor, pressure_pa)


def liquid_at(densities: Densities, pressure_pa: float) -> float:
    """Liquid density [kg/m3]; at a pressure outside those of `densities`, that of the nearest."""
    if pressure_pa <= densities.pressures[0]:
        return densities.liquid[0]
    if pressure_pa >= densities.pressures[-1]:
        return densities.liquid[-1]
    return linear(densities.pressures, densities.liquid, pressure_pa)


def volumes_of(procedure: Procedure, conditions: Conditions) -> dict[str, float]:
    """Inner volume [m3] of each hose and chamber."""
    bore = conditions.hose_bore_m
    hose = QUARTER_CIRCLE * bore * bore * conditions.hose_length_m
    return {
        volume.id: hose if volume.kind == HOSE else BODY_VOLUME_M3 for volume in procedure.volumes
    }


def bare(procedure: Procedure, conditions: Conditions) -> Hoses:
    """Hoses on nothing yet, full of air."""
    sizes = volumes_of(procedure, conditions)
    air = conditions.atmosphere_pa
    return Hoses(
        {valve.id: valve.start for valve in procedure.valves},
        {name: Contents(air * size, 0.0, 0.0, air) for name, size in sizes.items()},
        {},
    )


def gives_liquid(conditions: Conditions, settings: Mapping[str, ValveSetting]) -> bool:
    """Whether liquid is at the cylinder's valve: upside down, or upright on a dip tube."""
    inverted = settings.get("cylinder_position", INVERTED) == INVERTED
    return inverted != (conditions.withdrawal == DIP_TUBE)


def unit_off(conditions: Conditions) -> Conditions:
    """The same hoses on a unit that is off: both sides have come to the cylinder's pressure.

    Unit and cylinder are taken to be as warm as the same outdoor air (our choice).
    """
    return with_pressures(conditions, conditions.cylinder_pa, conditions.cylinder_pa)


def with_pressures(conditions: Conditions, suction_pa: float, liquid_pa: float) -> Conditions:
    """The same hoses on a unit with these pressures [Pa absolute]."""
    return replace(conditions, suction_pa=suction_pa, liquid_pa=liquid_pa)


def filling_of(contents: Contents) -> Filling:
    """Contents in one of five words."""
    if contents.liquid_kg > TRACE_KG:
        return LIQUID
    if contents.air > 0.0:
        return AIR_AND_VAPOR if contents.vapor_kg > TRACE_KG else AIR
    return VAPOR if contents.vapor_kg > TRACE_KG else EMPTY


def held_kg(hoses: Hoses) -> float:
    """Refrigerant in all hoses and chambers [kg]."""
    total = 0.0
    for contents in hoses.contents.values():
        total = total + contents.vapor_kg + contents.liquid_kg
    return total
