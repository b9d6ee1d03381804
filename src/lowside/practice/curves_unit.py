"""A running unit of the second practice model. Same hands, gauges and scale as the first, other
physics: second-order settling with a slow part, a hunting valve, weather that drifts, clamps that
follow the air, hoses that are not the size they are taken for."""

from math import exp, pi, sin
from random import Random

from lowside.core.handbook.charts import TARGET_SUPERHEAT, NoValue, look_up
from lowside.core.handbook.system import FIXED, Reading
from lowside.core.numbers.arithmetic import to_step
from lowside.core.numbers.units import TON_W
from lowside.library import load_handbook
from lowside.practice.curves import (
    CONVENTIONAL,
    LEAST_SHARE,
    MICROCHANNEL,
    RECEIVER,
    CondenserKind,
    Settled,
    settled,
)
from lowside.practice.curves_draw import DrawnCurves
from lowside.practice.fluid import fluid
from lowside.practice.hooked_up import CYLINDER_K, LEAST_CHARGE_KG, SLUG_KG, Gauges, HookedUp
from lowside.practice.thin_gas import Around, Shown, ThinGas
from lowside.practice.unit import tenth_f, whole_psi

FINEST_S = 1.0
COARSEST_S = 5.0
SUCTION_AIR_OVER_OUTDOOR_K = 3.0
"""Sun and the warm cabinet beside the clamps [K]. Our choice."""
SENSED_LIQUID_KG = 0.02
CONDENSER_M3_A_TON: dict[CondenserKind, float] = {
    CONVENTIONAL: 0.0014,
    MICROCHANNEL: 0.0005,
    RECEIVER: 0.0014,
}
"""Room for air in the outdoor coil: the middle of the first model's, and for a microchannel coil
about a third. Our choice."""
HEAT_CAPACITY_SUPERHEAT_K = 0.5
"""Superheat left when the gas has given what it can [K]."""


class CurvesUnit(HookedUp):
    """One running unit with a cylinder on a scale, advanced by `step`."""

    def __init__(self, drawn: DrawnCurves, cylinder_kg: float = 12.0) -> None:
        self.drawn = drawn
        self.random = Random(drawn.seed * 7321 + 11)
        self.charge_kg = drawn.start_charge_kg
        self.time_s = 0.0
        self.cylinder_kg = cylinder_kg
        self.liquid_kg = 0.0
        self.slugged_kg = 0.0
        self.liquid_events = 0
        self.condenser_m3 = CONDENSER_M3_A_TON[drawn.curves.kind] * drawn.curves.capacity_w / TON_W
        self.air_pa_m3 = 0.0
        self.thin = ThinGas()
        self._in_slug = False
        self._inside = fluid(drawn.inside)
        self._named = fluid(drawn.system.refrigerant)
        start = self._values(self._settled(self.charge_kg))
        self._first = list(start)
        self._second = list(start)
        self._slow = list(start)
        self._drift_kg = 0.0
        self._right_kg = drawn.curves.right_kg

    @property
    def hose_size(self) -> float:
        """Volume of the hoses as a share of what the program takes them for."""
        return self.drawn.hose_size

    @property
    def scale_kg(self) -> float:
        """What the scale shows [kg]."""
        tools = self.drawn.tools
        shown = self.cylinder_kg + self._drift_kg + self.random.gauss(0.0, tools.scale_noise_kg)
        return to_step(shown, tools.scale_step_kg)

    def outdoor_k(self) -> float:
        """Outdoor air now [K]."""
        weather = self.drawn.weather
        clouds = sin(2.0 * pi * self.time_s / weather.cloud_s + weather.phase) - sin(weather.phase)
        warmer = weather.rate_k_h * self.time_s / 3600.0 + weather.cloud_k * clouds
        return self.drawn.outdoor_k + warmer

    def step(self, dt_s: float, valve_open: float) -> Gauges:
        """See `HookedUp`."""
        left = dt_s
        while left > 1.0e-9:
            busy = valve_open > 0.0 or self.liquid_kg > 1.0e-5
            dt = min(left, FINEST_S if busy else COARSEST_S)
            self._advance(dt, valve_open)
            left -= dt
        return self.gauges()

    def gauges(self) -> Gauges:
        """See `HookedUp`."""
        drawn, tools, noise = self.drawn, self.drawn.tools, self.random.gauss
        superheat, subcooling, _, _, split = self._now()
        if self.liquid_kg > 0.002:
            superheat = max(0.0, superheat * (1.0 - self.liquid_kg / SENSED_LIQUID_KG))
        swing = drawn.hunting_k * sin(2.0 * pi * self.time_s / drawn.hunting_s)
        outdoor = self.outdoor_k()
        dew, bubble = self.saturations_k()
        superheat = min(superheat, drawn.return_k - dew)
        dew -= 0.3 * swing
        low = self._inside.at_dew(dew)[0]
        high = self._inside.at_bubble(min(bubble, self._inside.hottest_k))[0] + self.air_pa()
        shown = Shown(
            low,
            dew + superheat + swing,
            high,
            bubble - subcooling - 0.1 * swing,
            drawn.return_k - split,
        )
        if not self.thin.is_usual:
            rest = self._inside.at_bubble(min(outdoor, drawn.return_k))[0]
            shown = self.thin.shown(shown, Around(outdoor, drawn.return_k, rest), self._filled())
        suction_line, liquid_line = shown.suction_line_k, shown.liquid_line_k
        beside = outdoor + SUCTION_AIR_OVER_OUTDOOR_K
        suction_line += tools.clamp_leak[0] * (beside - suction_line)
        liquid_line += tools.clamp_leak[1] * (beside - liquid_line)
        return Gauges(
            shown.low_pa + tools.suction_pa + noise(0.0, tools.noise_pa),
            suction_line + tools.suction_line_k + noise(0.0, tools.noise_k),
            shown.high_pa + tools.liquid_pa + noise(0.0, 1.5 * tools.noise_pa),
            liquid_line + tools.liquid_line_k + noise(0.0, tools.noise_k),
            shown.supply_k + tools.supply_k + noise(0.0, 0.2),
            self.scale_kg,
        )

    def reading(self) -> Reading:
        """See `HookedUp`."""
        shown = self.gauges()
        drawn, tools = self.drawn, self.drawn.tools
        return Reading(
            suction_pressure_pa=whole_psi(shown.suction_pressure_pa),
            suction_line_k=tenth_f(shown.suction_line_k),
            liquid_pressure_pa=whole_psi(shown.liquid_pressure_pa),
            liquid_line_k=tenth_f(shown.liquid_line_k),
            outdoor_dry_bulb_k=tenth_f(self.outdoor_k() + tools.outdoor_k),
            return_dry_bulb_k=tenth_f(drawn.return_k + tools.return_k),
            return_wet_bulb_k=tenth_f(drawn.return_wet_bulb_k + tools.wet_bulb_k),
            supply_dry_bulb_k=tenth_f(shown.supply_air_k),
        )

    def gap_k(self) -> float:
        """How far the true settled reading is on the side of missing charge, in the weather of
        this moment [K]."""
        return self._gap_at(self.charge_kg)

    def gap_with(self, missing_kg: float) -> float:
        """See `HookedUp`; in the weather of this moment."""
        return self._gap_at(self._right_now_kg() - missing_kg)

    def saturations_k(self) -> tuple[float, float]:
        """See `HookedUp`."""
        _, _, depression, lift, _ = self._now()
        inside = self._inside
        hot = inside.bubble_k(self.outdoor_k() + lift)
        return inside.dew_k(self.drawn.return_k - depression), hot

    def in_vacuum(self) -> bool:
        """See `HookedUp`."""
        return self.thin.in_vacuum(self._low_pa())

    def _low_pa(self) -> float:
        return self._inside.at_dew(self.saturations_k()[0])[0]

    def _filled(self) -> float:
        """Charge as a share of the least the curves know."""
        return self.charge_kg / (LEAST_SHARE * self._right_kg)

    def value_k(self) -> float:
        """See `HookedUp`; without what the valve hunts."""
        superheat, subcooling, _, _, _ = self._now()
        return superheat if self.drawn.curves.metering == FIXED else subcooling

    def settled_value_k(self) -> float:
        """See `HookedUp`; in the weather of this moment."""
        found = self._settled(self.charge_kg)
        fixed = self.drawn.curves.metering == FIXED
        return found.superheat_k if fixed else found.subcooling_k

    def missing_kg(self) -> float:
        """See `HookedUp`; in the weather of this moment."""
        return self._right_now_kg() - self.charge_kg - self.liquid_kg

    def _right_now_kg(self) -> float:
        low, high = 0.5 * self._right_kg, 1.5 * self._right_kg
        for _ in range(40):
            middle = 0.5 * (low + high)
            if self._gap_at(middle) > 0.0:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    def _gap_at(self, charge_kg: float) -> float:
        found = self._settled(charge_kg)
        if self.drawn.curves.metering == FIXED:
            return found.superheat_k - self.drawn.target_k - self._chart_moved()
        return self.drawn.target_k - found.subcooling_k

    def _chart_moved(self) -> float:
        """How far the chart's target moved with outdoor air [K]."""
        chart = load_handbook().charts[TARGET_SUPERHEAT]
        now = look_up(chart, self.outdoor_k(), self.drawn.return_wet_bulb_k)
        return 0.0 if isinstance(now, NoValue) else now - self.drawn.target_k

    def _settled(self, charge_kg: float) -> Settled:
        moved = 0.0
        if self.drawn.curves.metering == FIXED:
            moved = self.drawn.chart_followed * self._chart_moved()
        warmer = self.outdoor_k() - self.drawn.outdoor_k
        return settled(self.drawn.curves, charge_kg, warmer, moved)

    def _values(self, found: Settled) -> list[float]:
        return [
            found.superheat_k,
            found.subcooling_k,
            found.depression_k,
            found.lift_k,
            found.split_k,
        ]

    def _now(self) -> list[float]:
        slow = self.drawn.slow_share
        return [
            (1.0 - slow) * quick + slow * late
            for quick, late in zip(self._second, self._slow, strict=True)
        ]

    def _advance(self, dt: float, valve_open: float) -> None:
        drawn = self.drawn
        fed = min(drawn.valve_kg_s * valve_open * dt, self.cylinder_kg)
        self.cylinder_kg -= fed
        self.time_s += dt
        if fed > 0.0 or self.liquid_kg > 0.0:
            self._boil(dt, fed)
        else:
            self._in_slug = False
        self.charge_kg = max(self.charge_kg - drawn.leak_kg_s * dt, LEAST_CHARGE_KG)
        to = self._values(self._settled(self.charge_kg))
        quick, second, slow = (1.0 - exp(-dt / lag) for lag in drawn.lags_s)
        for i in range(len(to)):
            self._second[i] += (self._first[i] - self._second[i]) * second
            self._first[i] += (to[i] - self._first[i]) * quick
            self._slow[i] += (to[i] - self._slow[i]) * slow
        self._drift_kg += drawn.tools.scale_drift_kg_s * dt
        if not self.thin.is_usual or not self.thin.running or self._filled() < 1.0:
            self.thin.follow(dt, drawn.lags_s[0], self._filled(), self._low_pa())

    def _boil(self, dt: float, fed: float) -> None:
        drawn = self.drawn
        if not self.thin.running:
            # Nothing moves it and nothing boils it: it lies in the suction line.
            self.liquid_kg += fed
            return
        dew = self.saturations_k()[0]
        _, _, gas_h, heat_capacity, _, liquid_h = self._inside.at_dew(dew)
        latent = gas_h - liquid_h
        cylinder_h = self._named.at_bubble(CYLINDER_K)[2]
        flash = min(max((cylinder_h - self._named.at_dew(dew)[5]) / latent, 0.0), 0.6)
        self.charge_kg += fed * flash
        self.liquid_kg += fed * (1.0 - flash)
        flow = drawn.curves.capacity_w * self._settled(self.charge_kg).capacity / latent
        flow *= self.thin.share
        warm = max(self._now()[0] - HEAT_CAPACITY_SUPERHEAT_K, 0.0)
        boiled = (flow * heat_capacity * warm / latent + drawn.line_kg_s) * dt
        boiled = min(boiled, self.liquid_kg)
        self.liquid_kg -= boiled
        self.charge_kg += boiled
        over = self.liquid_kg - drawn.hold_kg
        if over > 0.0:
            self.liquid_kg -= over
            self.charge_kg += over
            self.slugged_kg += over
            if not self._in_slug and self.slugged_kg > SLUG_KG:
                self._in_slug = True
                self.liquid_events += 1
