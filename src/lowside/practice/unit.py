"""A practice unit that runs: charge goes in, readings follow, liquid collects in the suction line.

The steady map says where superheat, subcooling and saturation go. They follow with one time
constant. Part of the liquid fed to the suction port flashes. The rest boils on the gas's superheat
and on the warmth of the pipe. Liquid in the line beyond `Design.hold_kg` reaches the compressor.
"""

from math import exp
from random import Random

from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.handbook.system import Reading
from lowside.core.numbers.arithmetic import nearest, to_step
from lowside.core.numbers.units import FAHRENHEIT_OFFSET, PSI_PA
from lowside.practice.cycle import Steady
from lowside.practice.draw import Drawn
from lowside.practice.fluid import fluid
from lowside.practice.hooked_up import CYLINDER_K, LEAST_CHARGE_KG, SLUG_KG, Gauges, HookedUp
from lowside.practice.thin_gas import Around, Shown, ThinGas

COPPER_J_KG_K = 385.0
PIPE_TO_LIQUID_W_K_KG = 60.0
"""Heat from pipe to boiling liquid, for each kelvin and kilogram of pipe."""
PIPE_RECOVERY_S = 60.0
"""How fast suction gas warms the pipe again."""
FINEST_STEP_S = 1.0
LEAST_SHARE = 0.55
"""The map's least charge is no more than this share of the right one: units are drawn with 60 % and
more. Our choice."""


class PracticeUnit(HookedUp):
    """One running unit with a cylinder on a scale, advanced by `step`."""

    def __init__(self, drawn: Drawn, cylinder_kg: float = 12.0) -> None:
        self.drawn = drawn
        self.random = Random(drawn.seed * 7919 + 5)
        self.charge_kg = drawn.start_charge_kg
        self.time_s = 0.0
        self.cylinder_kg = cylinder_kg
        self.liquid_kg = 0.0
        self.slugged_kg = 0.0
        self.liquid_events = 0
        self.condenser_m3 = drawn.design.condenser_m3
        self.air_pa_m3 = 0.0
        self.thin = ThinGas()
        self._in_slug = False
        settled = drawn.steady.at(self.charge_kg)
        self._superheat_k = settled.superheat_k
        self._subcooling_k = _shown_subcooling(settled)
        self._evaporating_k = settled.evaporating_k
        self._condensing_k = settled.condensing_k
        self._supply_k = settled.supply_k
        self._pipe_k = self._evaporating_k + self._superheat_k
        self._drift_kg = 0.0
        self._gas = fluid(drawn.design.inside)
        self._name = fluid(drawn.design.refrigerant)

    @property
    def hose_size(self) -> float:
        """Volume of the hoses as a share of what the program takes them for."""
        return 1.0

    def step(self, dt_s: float, valve_open: float) -> Gauges:
        """See `HookedUp`; in the finest steps while liquid is about."""
        left = dt_s
        while left > 1.0e-9:
            busy = valve_open > 0.0 or self.liquid_kg > 1.0e-5
            dt = min(left, FINEST_STEP_S) if busy else left
            self._advance(dt, valve_open)
            left -= dt
        return self.gauges()

    def gauges(self) -> Gauges:
        """See `HookedUp`."""
        design = self.drawn.design
        tools = self.drawn.instruments
        noise = self.random.gauss
        dew, bubble = self.saturations_k()
        suction = self._gas.at_dew(dew)[0]
        liquid = self._gas.at_bubble(bubble)[0] + design.foreign_gas_pa
        liquid += self.air_pa()
        superheat = min(self._superheat_k, design.return_k - dew)
        if self.liquid_kg > 0.002:
            superheat = min(superheat, max(0.0, superheat * (1.0 - self.liquid_kg / 0.02)))
        hunting = 0.0
        if design.metering == "txv":
            hunting = noise(0.0, 0.3)
        shown = Shown(suction, dew + superheat, liquid, bubble - self._subcooling_k, self._supply_k)
        if not self.thin.is_usual:
            rest = self._gas.at_bubble(min(design.outdoor_k, design.return_k))[0]
            around = Around(design.outdoor_k, design.return_k, rest)
            shown = self.thin.shown(shown, around, self._filled())
        return Gauges(
            shown.low_pa + tools.gauge_offsets_pa[0] + noise(0.0, tools.gauge_noise_pa),
            shown.suction_line_k
            + hunting
            + tools.thermometer_offsets_k[0]
            + noise(0.0, tools.thermometer_noise_k),
            shown.high_pa + tools.gauge_offsets_pa[1] + noise(0.0, 1.5 * tools.gauge_noise_pa),
            shown.liquid_line_k
            + tools.thermometer_offsets_k[1]
            + noise(0.0, tools.thermometer_noise_k),
            shown.supply_k + noise(0.0, 0.2),
            self.scale_kg,
        )

    def reading(self) -> Reading:
        """See `HookedUp`."""
        shown = self.gauges()
        design = self.drawn.design
        return Reading(
            suction_pressure_pa=whole_psi(shown.suction_pressure_pa),
            suction_line_k=tenth_f(shown.suction_line_k),
            liquid_pressure_pa=whole_psi(shown.liquid_pressure_pa),
            liquid_line_k=tenth_f(shown.liquid_line_k),
            outdoor_dry_bulb_k=design.outdoor_k,
            return_dry_bulb_k=design.return_k,
            return_wet_bulb_k=design.return_wet_bulb_k,
            supply_dry_bulb_k=tenth_f(shown.supply_air_k),
        )

    def saturations_k(self) -> tuple[float, float]:
        """See `HookedUp`."""
        gas = self._gas
        return gas.dew_k(self._evaporating_k), gas.bubble_k(self._condensing_k)

    def in_vacuum(self) -> bool:
        """See `HookedUp`."""
        return self.thin.in_vacuum(self._low_pa())

    def _low_pa(self) -> float:
        return self._gas.at_dew(self.saturations_k()[0])[0]

    def _filled(self) -> float:
        """Charge as a share of the least the map knows."""
        drawn = self.drawn
        return self.charge_kg / min(drawn.steady.charges[0], LEAST_SHARE * drawn.right_charge_kg)

    def settled_value_k(self) -> float:
        """See `HookedUp`."""
        value: float = getattr(self.drawn.steady.at(self.charge_kg), self.drawn.target_name)
        return value

    def gap_k(self) -> float:
        """How far the true settled reading is on the side of missing charge [K]."""
        return self._gap_at(self.charge_kg)

    def gap_with(self, missing_kg: float) -> float:
        """See `HookedUp`."""
        return self._gap_at(self.drawn.right_charge_kg - missing_kg)

    def _gap_at(self, charge_kg: float) -> float:
        drawn = self.drawn
        value: float = getattr(drawn.steady.at(charge_kg), drawn.target_name)
        sign = 1.0 if drawn.target_name == "superheat_k" else -1.0
        return sign * (value - drawn.target_k)

    def value_k(self) -> float:
        """See `HookedUp`."""
        return self._superheat_k if self.drawn.target_name == "superheat_k" else self._subcooling_k

    def missing_kg(self) -> float:
        """See `HookedUp`."""
        return self.drawn.right_charge_kg - self.charge_kg - self.liquid_kg

    def _advance(self, dt: float, valve_open: float) -> None:
        design = self.drawn.design
        fed = self.drawn.flow_kg_s * valve_open * dt
        fed = min(fed, self.cylinder_kg)
        self.cylinder_kg -= fed
        self.time_s += dt
        if fed > 0.0 or self.liquid_kg > 0.0:
            self._boil(dt, fed)
        else:
            self._in_slug = False
        self.charge_kg = max(self.charge_kg - design.leak_kg_s * dt, LEAST_CHARGE_KG)
        settled = self.drawn.steady.at(self.charge_kg)
        share = 1.0 - exp(-dt / design.settling_s)
        self._superheat_k += (settled.superheat_k - self._superheat_k) * share
        self._subcooling_k += (_shown_subcooling(settled) - self._subcooling_k) * share
        self._evaporating_k += (settled.evaporating_k - self._evaporating_k) * share
        self._condensing_k += (settled.condensing_k - self._condensing_k) * share
        self._supply_k += (settled.supply_k - self._supply_k) * share
        gas_k = self._evaporating_k + self._superheat_k
        self._pipe_k += (gas_k - self._pipe_k) * (1.0 - exp(-dt / PIPE_RECOVERY_S))
        if not self.thin.is_usual or not self.thin.running or self._filled() < 1.0:
            self.thin.follow(dt, design.settling_s, self._filled(), self._low_pa())
        self._drift_kg += self.drawn.instruments.scale_drift_kg_s * dt

    def _boil(self, dt: float, fed: float) -> None:
        design = self.drawn.design
        if not self.thin.running:
            # Nothing moves it and nothing boils it: it lies in the suction line.
            self.liquid_kg += fed
            return
        _, _, gas_h, heat_capacity, _, liquid_h = self._gas.at_dew(self._evaporating_k)
        latent = gas_h - liquid_h
        cylinder_h = self._name.at_bubble(CYLINDER_K)[2]
        flash = min(
            max((cylinder_h - self._name.at_dew(self._evaporating_k)[5]) / latent, 0.0), 0.6
        )
        self.charge_kg += fed * flash
        self.liquid_kg += fed * (1.0 - flash)
        flow = self.drawn.steady.at(self.charge_kg).flow_kg_s * self.thin.share
        heat = flow * heat_capacity * max(self._superheat_k - 0.5, 0.0) * dt
        pipe = PIPE_TO_LIQUID_W_K_KG * design.line_kg * dt
        pipe = min(pipe * max(self._pipe_k - self._evaporating_k, 0.0), 1.0e6)
        boiled = min((heat + pipe) / latent, self.liquid_kg)
        if heat / latent < boiled:
            drawn_from_pipe = (boiled - heat / latent) * latent
            self._pipe_k -= drawn_from_pipe / (COPPER_J_KG_K * design.line_kg)
        self.liquid_kg -= boiled
        self.charge_kg += boiled
        over = self.liquid_kg - design.hold_kg
        if over > 0.0:
            self.liquid_kg -= over
            self.charge_kg += over
            self.slugged_kg += over
            if not self._in_slug and self.slugged_kg > SLUG_KG:
                self._in_slug = True
                self.liquid_events += 1

    @property
    def scale_kg(self) -> float:
        """What the scale shows [kg]."""
        tools = self.drawn.instruments
        shown = self.cylinder_kg + self._drift_kg + self.random.gauss(0.0, tools.scale_noise_kg)
        return to_step(shown, tools.scale_step_kg)


def _shown_subcooling(settled: Steady) -> float:
    """With vapor in the liquid line the pressure drop to the gauge makes subcooling a little less
    than zero."""
    return settled.subcooling_k - 0.6 * min(settled.quality / 0.1, 1.0)


def whole_psi(pascal: float) -> float:
    """An absolute pressure [Pa] as a dial in whole psi shows it."""
    return to_step(pascal - SEA_LEVEL_PA, PSI_PA) + SEA_LEVEL_PA


def tenth_f(kelvin: float) -> float:
    """A temperature [K] as a thermometer with tenths of a degree F shows it."""
    return (nearest((kelvin * 1.8 - FAHRENHEIT_OFFSET) * 10.0) / 10.0 + FAHRENHEIT_OFFSET) / 1.8
