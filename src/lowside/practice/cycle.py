"""The steady cycle of a running unit: each state takes a charge, so each charge has a superheat
and a subcooling.

Compressor: swept volume with a volumetric efficiency that falls with pressure ratio, and work by
an isentropic efficiency. Evaporator and condenser: effectiveness against their air (Incropera and
DeWitt, effectiveness for one constant-temperature side); superheating and subcooling take a share
of the surface. Metering: orifice flow; an expansion valve holds its superheat until it is wide
open. Charge: volumes times densities. `docs/practice.md` says what is left out.
"""

from bisect import bisect_right
from dataclasses import dataclass
from math import exp, log, sqrt

from lowside.core.handbook.system import FIXED
from lowside.practice.design import Design
from lowside.practice.fluid import Fluid, fluid

POLYTROPIC = 1.13
"""Exponent of the compression's work. Only power and discharge heat depend on it."""
SURFACE_OVER_COLD_K = 3.8
"""Coil surface over evaporating temperature. It makes the air temperature drop 18 °F at 80 °F,
67 °F wet bulb and 400 cfm/ton, as in Table RA3.2-3."""
AIR_J_KG_K = 1020.0
TOUCHED = 0.85
"""Share of the air that meets the coil. The rest passes by (from memory: 0.1 to 0.2)."""
SATURATED_AIR_J_KG = (-6090.0, 1140.0, 9440.0, 18590.0, 29280.0, 42020.0, 57420.0, 76310.0, 99730.0)
"""Every 5 °C from −10 to 30 °C at 101.325 kPa, by the formulas of ASHRAE Fundamentals 2017."""
HIGHEST_SUPERHEAT_SHARE = 0.93
"""The map ends at this superheat, as a share of return air over evaporating temperature."""
HIGHEST_SUBCOOLING_SHARE = 0.86
"""The map ends at this subcooling, as a share of condensing temperature over outdoor air."""


@dataclass(frozen=True)
class Steady:
    """One settled state. K, W, kg, kg/s, Pa; `quality` is the vapor at the metering device."""

    charge_kg: float
    superheat_k: float
    subcooling_k: float
    quality: float
    evaporating_k: float
    """Of the coil: what its air meets. The heat balance takes it for the dew point too. Gauges
    show the pressure that has it as midpoint."""
    condensing_k: float
    """Of the condenser, likewise; without foreign gas."""
    flow_kg_s: float
    capacity_w: float
    power_w: float
    supply_k: float


@dataclass(frozen=True)
class SteadyMap:
    """States by rising charge."""

    charges: tuple[float, ...]
    states: tuple[Steady, ...]

    def at(self, charge_kg: float) -> Steady:
        """The state at a charge. Beyond the ends it is the end state."""
        charges = self.charges
        if charge_kg <= charges[0]:
            return self.states[0]
        if charge_kg >= charges[-1]:
            return self.states[-1]
        i = bisect_right(charges, charge_kg) - 1
        a, b = self.states[i], self.states[i + 1]
        s = (charge_kg - charges[i]) / (charges[i + 1] - charges[i])
        return Steady(
            charge_kg,
            a.superheat_k + (b.superheat_k - a.superheat_k) * s,
            a.subcooling_k + (b.subcooling_k - a.subcooling_k) * s,
            a.quality + (b.quality - a.quality) * s,
            a.evaporating_k + (b.evaporating_k - a.evaporating_k) * s,
            a.condensing_k + (b.condensing_k - a.condensing_k) * s,
            a.flow_kg_s + (b.flow_kg_s - a.flow_kg_s) * s,
            a.capacity_w + (b.capacity_w - a.capacity_w) * s,
            a.power_w + (b.power_w - a.power_w) * s,
            a.supply_k + (b.supply_k - a.supply_k) * s,
        )

    def charge_for(self, name: str, value_k: float) -> float | None:
        """Charge at which `superheat_k` falls, or `subcooling_k` rises, through `value_k`.
        `None` outside the map."""
        values: list[float] = [getattr(state, name) for state in self.states]
        for i in range(len(values) - 1, 0, -1):
            low, high = values[i - 1], values[i]
            if low == high:
                continue
            s = (value_k - low) / (high - low)
            if 0.0 <= s <= 1.0:
                return self.charges[i - 1] + (self.charges[i] - self.charges[i - 1]) * s
        return None


class NoBalanceError(Exception):
    """No steady state was found where the unit can run."""


def steady_map(design: Design, points: int = 14) -> SteadyMap:
    """Every state from nearly empty to far too full.

    Raises
        NoBalanceError: the unit cannot run in this weather.
    """
    solver = _Solver(design)
    states = solver.fixed(points) if design.metering == FIXED else solver.valve(points)
    states.sort(key=lambda state: state.charge_kg)
    kept: list[Steady] = []
    for state in states:
        if not kept or state.charge_kg > kept[-1].charge_kg + 1.0e-4:
            kept.append(state)
    if len(kept) < 4:
        raise NoBalanceError
    return SteadyMap(tuple(s.charge_kg for s in kept), tuple(kept))


def _sensible_share(design: Design, cold_k: float) -> float:
    """Share of the capacity that cools the air and does not dry it: the straight line on the
    psychrometric chart from return air to saturated air at the coil's surface (textbook form)."""
    surface = cold_k + SURFACE_OVER_COLD_K
    drying = _saturated_air(design.return_wet_bulb_k) - _saturated_air(surface)
    sensible = AIR_J_KG_K * (design.return_k - surface)
    if sensible >= drying:
        return 1.0
    return sensible / drying


def _saturated_air(temperature_k: float) -> float:
    """Enthalpy of saturated air at sea level [J/kg], by straight lines."""
    table = SATURATED_AIR_J_KG
    x = (temperature_k - 263.15) / 5.0
    i = min(max(int(x), 0), len(table) - 2)
    return table[i] + (table[i + 1] - table[i]) * (x - i)


class _Solver:
    def __init__(self, design: Design) -> None:
        self.d = design
        self.fluid: Fluid = fluid(design.inside)
        self.guess = (design.return_k - 19.5, design.outdoor_k + 12.0)

    def valve(self, points: int) -> list[Steady]:
        """An expansion valve: it holds superheat until it is wide open, then it is an orifice."""
        d = self.d
        set_k = d.valve_superheat_k
        edge = self._open_state(set_k)
        states = self._orifice_branch(set_k, points)
        if edge is None:
            return states
        subcooling, quality = edge
        if quality > 0.0:
            for share in (0.75, 0.5, 0.25):
                states.append(self._state(set_k, 0.0, quality * share))
        lowest = max(subcooling, 0.0)
        for i in range(points + 1):
            state = self._try(set_k, lowest + 1.1 * i, 0.0)
            if state is None or self._too_cold(state):
                break
            states.append(state)
        return states

    def fixed(self, points: int) -> list[Steady]:
        """A fixed orifice: every superheat has its own subcooling."""
        return self._orifice_branch(0.2, points + 10)

    def _orifice_branch(self, lowest_k: float, points: int) -> list[Steady]:
        states: list[Steady] = []
        superheat = lowest_k
        while len(states) < points:
            found = self._open_state(superheat)
            if found is None:
                if states:
                    break
                superheat += 1.5
                if superheat > 25.0:
                    break
                continue
            state = self._try(superheat, max(found[0], 0.0), max(found[1], 0.0))
            if state is None:
                break
            states.append(state)
            limit = HIGHEST_SUPERHEAT_SHARE * (self.d.return_k - state.evaporating_k)
            superheat += 0.9 if superheat < 8.0 else 1.8
            if superheat > limit or state.quality > 0.6:
                break
        return states

    def _open_state(self, superheat: float) -> tuple[float, float] | None:
        """Subcooling and inlet quality at which the wide-open device passes what the compressor
        takes at this superheat. One of the two is 0. `None`: it cannot."""
        subcooling, quality = 0.0, 0.0
        for _ in range(40):
            state = self._try(superheat, subcooling, quality)
            if state is None:
                return None
            wanted = state.flow_kg_s / self._saturated_flow(state)
            if wanted >= 1.0:
                new_subcooling, new_quality = (wanted - 1.0) / self.d.flow_subcooling, 0.0
            else:
                new_subcooling, new_quality = 0.0, self._quality_for(state, wanted * wanted)
            highest = HIGHEST_SUBCOOLING_SHARE * (state.condensing_k - self.d.outdoor_k)
            new_subcooling = min(new_subcooling, highest + 4.0)
            if abs(new_subcooling - subcooling) < 0.01 and abs(new_quality - quality) < 0.0005:
                if new_subcooling >= highest:
                    return None
                return new_subcooling, new_quality
            subcooling = 0.5 * (subcooling + new_subcooling)
            quality = 0.5 * (quality + new_quality)
        return None

    def _saturated_flow(self, state: Steady) -> float:
        """Flow through the wide-open device with saturated liquid before it [kg/s]."""
        high, liquid, *_ = self.fluid.at_bubble(state.condensing_k)
        low = self.fluid.at_dew(state.evaporating_k)[0]
        return self.d.flow_area_m2 * sqrt(2.0 * liquid * max(high - low, 1.0e4))

    def _quality_for(self, state: Steady, density_share: float) -> float:
        """Vapor quality at which the mixture has this share of the liquid's density."""
        _, liquid, _, vapor, _ = self.fluid.at_bubble(state.condensing_k)
        ratio = liquid / vapor
        return max((1.0 / density_share - 1.0) / (ratio - 1.0), 0.0)

    def _too_cold(self, state: Steady) -> bool:
        highest = HIGHEST_SUBCOOLING_SHARE * (state.condensing_k - self.d.outdoor_k)
        return state.subcooling_k > highest

    def _try(self, superheat: float, subcooling: float, quality: float) -> Steady | None:
        try:
            return self._state(superheat, subcooling, quality)
        except NoBalanceError:
            return None

    def _state(self, superheat: float, subcooling: float, quality: float) -> Steady:
        cold, hot = self.guess
        for _ in range(40):
            a, b, found = self._errors(cold, hot, superheat, subcooling, quality)
            if abs(a) < 2.0 and abs(b) < 2.0:
                self.guess = (cold, hot)
                return self._settled(cold, hot, superheat, subcooling, quality, found)
            a1, b1, _ = self._errors(cold + 0.05, hot, superheat, subcooling, quality)
            a2, b2, _ = self._errors(cold, hot + 0.05, superheat, subcooling, quality)
            p, q = (a1 - a) / 0.05, (a2 - a) / 0.05
            r, s = (b1 - b) / 0.05, (b2 - b) / 0.05
            determinant = p * s - q * r
            if abs(determinant) < 1.0e-9:
                break
            change_cold = min(max(-(s * a - q * b) / determinant, -4.0), 4.0)
            change_hot = min(max(-(p * b - r * a) / determinant, -4.0), 4.0)
            cold = min(max(cold + change_cold, 243.0), self.d.return_k - 1.0)
            hot = min(max(hot + change_hot, self.d.outdoor_k + 0.5), self.fluid.hottest_k - 1.0)
        self.guess = (self.d.return_k - 19.5, self.d.outdoor_k + 12.0)
        raise NoBalanceError

    def _errors(
        self, cold: float, hot: float, superheat: float, subcooling: float, quality: float
    ) -> tuple[float, float, tuple[float, ...]]:
        """Heat balance of evaporator and condenser [W] at these saturation temperatures, and what
        `_settled` makes a state of: the solver asks several times for each state."""
        d = self.d
        low, gas, gas_h, heat_capacity, low_liquid, _ = self.fluid.at_dew(cold)
        high, liquid, liquid_h, high_gas, high_gas_h = self.fluid.at_bubble(hot)
        suction = gas * cold / (cold + superheat)
        volumetric = max(1.0 - d.clearance * (high / low - 1.0), 0.1)
        flow = d.swept_m3_s * volumetric * suction
        inlet_h = (
            liquid_h
            - self.fluid.liquid_heat_capacity * subcooling
            + quality * (high_gas_h - liquid_h)
        )
        boiling = flow * (gas_h - inlet_h)
        warming = flow * heat_capacity * superheat
        share = superheat / (d.return_k - cold)
        dry = -log(1.0 - min(share, 0.985)) / d.superheat_ntu
        wet = max(1.0 - dry, 0.02)
        evaporator = d.evaporator_air * (1.0 - exp(-d.evaporator_ua * wet / d.evaporator_air))
        error_cold = evaporator * (d.return_k - cold) - boiling
        exponent = (POLYTROPIC - 1.0) / POLYTROPIC
        ideal = low / suction / exponent * ((high / low) ** exponent - 1.0)
        power = flow * ideal / d.isentropic
        outlet_h = liquid_h + quality * (high_gas_h - liquid_h)
        rejected = boiling + warming + 0.92 * power
        condensing = rejected - flow * (outlet_h - inlet_h)
        lift = hot - d.outdoor_k
        full = -log(1.0 - min(subcooling / lift, 0.985)) / d.subcool_ntu
        active = max(1.0 - full, 0.02)
        condenser = d.condenser_air * (1.0 - exp(-d.condenser_ua * active / d.condenser_air))
        error_hot = condenser * lift - condensing
        found = (gas, suction, low_liquid, liquid, high_gas)
        return error_cold, error_hot, (*found, wet, full, active, flow, boiling + warming, power)

    def _settled(
        self,
        cold: float,
        hot: float,
        superheat: float,
        subcooling: float,
        quality: float,
        found: tuple[float, ...],
    ) -> Steady:
        """The state of these temperatures; `found` is of `_errors`."""
        d = self.d
        gas, suction, low_liquid, liquid, high_gas, wet, full, active, flow, capacity, power = found
        wetness = d.condenser_wetness * (1.0 - 0.6 * quality)
        charge = (
            d.condenser_m3 * (full * liquid + active * (high_gas + wetness * (liquid - high_gas)))
            + d.liquid_line_m3 / (quality / high_gas + (1.0 - quality) / liquid)
            + d.evaporator_m3 * (gas + wet * d.evaporator_wetness * (low_liquid - gas))
            + d.suction_m3 * suction
        )
        supply = d.return_k - _sensible_share(d, cold) * capacity / d.dry_air
        coldest = d.return_k - TOUCHED * (d.return_k - cold - SURFACE_OVER_COLD_K)
        return Steady(
            charge,
            superheat,
            subcooling,
            quality,
            cold,
            hot,
            flow,
            capacity,
            power,
            max(supply, coldest),
        )
