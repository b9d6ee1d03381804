"""CoolProp. Nothing else in Lowside imports it.

Saturation uses temperature–quality calls only. Pressure–quality calls of mixtures can return a
wrong root without an error. Both kinds fail in patches inside the working range. So every answer
is checked here by the physics of equilibrium, and the caller counts the failures.
"""

from dataclasses import dataclass
from typing import Any

import CoolProp
import CoolProp.CoolProp as CP  # noqa: N817 - CoolProp's own documentation writes it so
from CoolProp.CoolProp import PyGuessesStructure

NAMES = {
    "R-600": "n-Butane",
    "R-600a": "IsoButane",
    "R-290": "n-Propane",
    "R-744": "CarbonDioxide",
}
"""CoolProp's name, when it is not the designation without its hyphen."""

EQUILIBRIUM_TOLERANCE = 1e-5
"""Largest relative difference of pressure and fugacities between the phases; about 0.0003 K."""
LEAST_DENSITY_RATIO = 1.05
"""Liquid over vapor. Closer than this, the two phases are the same root found twice."""

BUBBLE = 0
DEW = 1


@dataclass(frozen=True)
class Point:
    """One saturation state: the boiling liquid (BUBBLE) or the condensing vapor (DEW), in SI.

    `rescued`: CoolProp failed on its own and found it from the neighboring point.
    """

    temperature_k: float
    pressure_pa: float
    density: float
    enthalpy: float
    heat_capacity: float
    rescued: bool


class Mixture:
    """One refrigerant in CoolProp, by its components.

    Args:
        components: designation (`R-32`) and mass share [%] of each.
    """

    def __init__(self, components: tuple[tuple[str, float], ...]) -> None:
        names = "&".join(_name(designation) for designation, _ in components)
        self.pure = len(components) == 1
        self._state = CP.AbstractState("HEOS", names)
        self._liquid = CP.AbstractState("HEOS", names)
        self._vapor = CP.AbstractState("HEOS", names)
        if not self.pure:
            total = sum(share for _, share in components)
            self._state.set_mass_fractions([share / total for _, share in components])
            fractions = self._state.get_mole_fractions()
            self._liquid.set_mole_fractions(fractions)
            self._vapor.set_mole_fractions(fractions)
        self._liquid.specify_phase(CP.iphase_liquid)
        self._vapor.specify_phase(CP.iphase_gas)
        self._names = names
        self._count = len(components)
        self._guess: Any = None

    def ceiling_pa(self) -> float:
        """Critical pressure [Pa] of a pure fluid. For a blend: the highest pressure of its phase
        envelope, which is at or a little above (up to 0.2 %) its critical pressure."""
        if self.pure:
            return float(self._state.p_critical())
        state = CP.AbstractState("HEOS", self._names)
        state.set_mole_fractions(self._state.get_mole_fractions())
        state.build_phase_envelope("")
        return float(max(state.get_phase_envelope_data().p))

    def lowest_k(self) -> float:
        """Lowest temperature [K] of the equation. 0 for a blend, because its components' triple
        points say little about it."""
        return float(self._state.Tmin()) if self.pure else 0.0

    def start(self) -> None:
        """Forget the neighboring point: a new sweep begins."""
        self._guess = None

    def point(self, side: int, temperature_k: float) -> Point | None:
        """The state at `temperature_k` on `side` (BUBBLE or DEW), `None` when CoolProp fails or its
        answer is no equilibrium."""
        for rescued in (False, True):
            if rescued and self._guess is None:
                return None
            try:
                if rescued:
                    self._state.update_with_guesses(CP.QT_INPUTS, side, temperature_k, self._guess)
                else:
                    self._state.update(CP.QT_INPUTS, side, temperature_k)
                point = self._checked(side, temperature_k, rescued)
            except ValueError:  # every failure of CoolProp's solvers
                point = None
            if point is not None:
                return point
        return None

    def _checked(self, side: int, temperature_k: float, rescued: bool) -> Point | None:
        pressure = self._state.p()
        liquid_density = self._state.saturated_liquid_keyed_output(CP.iDmolar)
        vapor_density = self._state.saturated_vapor_keyed_output(CP.iDmolar)
        if not liquid_density > LEAST_DENSITY_RATIO * vapor_density > 0.0:
            return None
        guess = PyGuessesStructure()
        if not self.pure:
            guess.x = self._state.mole_fractions_liquid()
            guess.y = self._state.mole_fractions_vapor()
            self._liquid.set_mole_fractions(guess.x)
            self._vapor.set_mole_fractions(guess.y)
        self._liquid.update(CP.DmolarT_INPUTS, liquid_density, temperature_k)
        self._vapor.update(CP.DmolarT_INPUTS, vapor_density, temperature_k)
        pairs = [(self._liquid.p(), pressure), (self._vapor.p(), pressure)]
        pairs += [(self._liquid.fugacity(i), self._vapor.fugacity(i)) for i in range(self._count)]
        if not all(abs(a - b) <= EQUILIBRIUM_TOLERANCE * abs(b) for a, b in pairs):
            return None
        guess.T, guess.p = temperature_k, pressure
        guess.rhomolar_liq, guess.rhomolar_vap = liquid_density, vapor_density
        self._guess = None if self.pure else guess
        phase = self._liquid if side == BUBBLE else self._vapor
        return Point(
            temperature_k, pressure, phase.rhomass(), phase.hmass(), phase.cpmass(), rescued
        )


def water_saturation_pa(temperature_k: float) -> float:
    """Saturation pressure of pure water [Pa] above 0.01 °C."""
    return float(CP.PropsSI("P", "T", temperature_k, "Q", 0, "Water"))


def version() -> str:
    """As the package names itself."""
    return str(CoolProp.__version__)


def _name(designation: str) -> str:
    return NAMES.get(designation, designation.replace("-", ""))
