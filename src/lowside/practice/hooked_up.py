"""A running unit of either model, as hoses, a recovery machine and a lesson reach it."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from random import Random

from lowside.core.handbook.system import Reading
from lowside.practice.thin_gas import ThinGas

CYLINDER_K = 303.15
LEAST_CHARGE_KG = 0.05
SLUG_KG = 0.004
"""This much liquid past the compressor's inlet at one time counts as an event."""


@dataclass(frozen=True)
class Gauges:
    """What the instruments on the unit show now [Pa absolute, K, kg]."""

    suction_pressure_pa: float
    suction_line_k: float
    liquid_pressure_pa: float
    liquid_line_k: float
    supply_air_k: float
    scale_kg: float


class HookedUp(ABC):
    """One running unit with a cylinder on a scale, advanced by `step`."""

    random: Random
    charge_kg: float
    cylinder_kg: float
    time_s: float
    liquid_kg: float
    """Liquid in the suction line."""
    slugged_kg: float
    """Liquid that reached the compressor."""
    condenser_m3: float
    air_pa_m3: float
    """Air that was let in, as pressure times volume at `CYLINDER_K`."""
    thin: ThinGas
    """Whether it runs, and with how much less than its model knows."""

    @abstractmethod
    def step(self, dt_s: float, valve_open: float) -> Gauges:
        """Advance by `dt_s` [s] with the cylinder valve open by `valve_open` (0 to 1).

        Returns
            What the instruments show at the end.
        """

    @abstractmethod
    def gauges(self) -> Gauges:
        """What the instruments show, without advancing. The noise is drawn again."""

    @abstractmethod
    def reading(self) -> Reading:
        """The gauges as a technician writes them down: whole psi, tenths of a degree F."""

    @abstractmethod
    def saturations_k(self) -> tuple[float, float]:
        """Dew on the low side and bubble on the high side now [K]."""

    @abstractmethod
    def in_vacuum(self) -> bool:
        """Whether it runs with a suction below the pressure of the air."""

    @abstractmethod
    def value_k(self) -> float:
        """The true superheat or subcooling now, whichever the target is in, settled or not."""

    @abstractmethod
    def settled_value_k(self) -> float:
        """The true settled superheat or subcooling, whichever the target is in."""

    @abstractmethod
    def missing_kg(self) -> float:
        """Charge truly missing to the target. Liquid in the suction line counts as in."""

    @abstractmethod
    def gap_with(self, missing_kg: float) -> float:
        """How far the settled reading is on the side of missing charge with this much missing
        [K]."""

    def let_in_air(self, air_pa_m3: float) -> None:
        """Air comes in with a hose: its pressure times volume at `CYLINDER_K` [Pa m³]."""
        self.air_pa_m3 += air_pa_m3

    def air_pa(self) -> float:
        """The pressure that the air adds in the condenser [Pa].

        Air is an ideal gas at the condensing temperature in the whole volume of the condenser, as
        if no liquid were in it. It does not dissolve and does not leave again. Common practice,
        no source. It is the least that air can do: where air gathers it also covers condensing
        surface, and that is left out.
        """
        return self.air_pa_of(self.air_pa_m3)

    def air_pa_of(self, air_pa_m3: float) -> float:
        """As `air_pa`, for this much air [Pa m³]."""
        return air_pa_m3 * self.saturations_k()[1] / CYLINDER_K / self.condenser_m3

    def exchange(self, into_unit_kg: float, out_of_cylinder_kg: float) -> None:
        """Hoses are filled or cleared: what unit and cylinder gain and lose by it [kg].

        What the close-out clears boils on its way, so no liquid is added to the suction line.
        """
        self.charge_kg = max(self.charge_kg + into_unit_kg, LEAST_CHARGE_KG)
        self.cylinder_kg = max(self.cylinder_kg - out_of_cylinder_kg, 0.0)

    def take_out(self, kilograms: float) -> float:
        """Take charge out of the unit. Returns how much there was to take [kg]."""
        left = max(self.charge_kg - kilograms, LEAST_CHARGE_KG)
        taken = max(self.charge_kg - left, 0.0)
        self.charge_kg -= taken
        return taken
