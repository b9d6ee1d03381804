"""A unit with hardly any charge, or one that is off: what its gauges show then.

Below the least charge its model knows there is no liquid column any more. What is inside is gas,
and the pressure of a gas goes with its mass (ideal gas), down to a vacuum. Both sides fall
together, the pipes take the temperature of the air around them, and the air is hardly cooled.
A compressor that pumps a vacuum is not cooled by suction gas: its own protector stops it.
"""

from dataclasses import dataclass
from math import exp

from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA

REST_SHARE = 0.3
"""With less than this share of the least charge even a unit that is off holds no liquid.
Our choice; as vapor at room temperature it fills the volumes of the drawn units."""
EVENS_OUT_S = 60.0
"""Time constant of the pressures after a stop. Common practice, no source: a minute or two."""
PROTECTOR_S = 300.0
"""The compressor's protector opens after so long in a vacuum. Our choice. That it must never run
there is READ (`core/judging/starvation.py`)."""


@dataclass(frozen=True)
class Shown:
    """What the instruments would show without their errors [Pa absolute, K]."""

    low_pa: float
    suction_line_k: float
    high_pa: float
    liquid_line_k: float
    supply_k: float


@dataclass(frozen=True)
class Around:
    """The air around, and the pressure of liquid in its colder part [K, Pa]."""

    outdoor_k: float
    return_k: float
    rest_pa: float


class ThinGas:
    """How far a unit is from one that runs with liquid inside."""

    def __init__(self) -> None:
        self.running = True
        self.stopped_itself = False
        """Its protector opened. It stays off until somebody starts it again."""
        self._share = 1.0
        self._off = 0.0
        self._vacuum_s = 0.0

    @property
    def share(self) -> float:
        """Of the model's suction gas that is there: pressure and flow go with it."""
        return self._share

    @property
    def is_usual(self) -> bool:
        """Whether nothing here changes what the model of the running unit says."""
        return self._share == 1.0 and self._off == 0.0

    def switch(self, on: bool) -> None:
        """Start or stop the unit."""
        self.running = on
        if on:
            self.stopped_itself = False
            self._vacuum_s = 0.0

    def in_vacuum(self, low_pa: float) -> bool:
        """Whether it runs below the pressure of the air, at this pressure of the model."""
        return self.running and low_pa * self._share < SEA_LEVEL_PA

    def follow(self, dt: float, lag_s: float, filled: float, low_pa: float) -> None:
        """Advance.

        Args:
            dt: [s].
            lag_s: time constant of the unit's readings [s].
            filled: its charge as a share of the least its model knows.
            low_pa: suction pressure by the model [Pa absolute].
        """
        self._share += (min(filled, 1.0) - self._share) * (1.0 - exp(-dt / lag_s))
        stood = 0.0 if self.running else 1.0
        self._off += (stood - self._off) * (1.0 - exp(-dt / EVENS_OUT_S))
        self._vacuum_s = self._vacuum_s + dt if self.in_vacuum(low_pa) else 0.0
        if self._vacuum_s >= PROTECTOR_S:
            self.running = False
            self.stopped_itself = True

    def shown(self, by_model: Shown, around: Around, filled: float) -> Shown:
        """What the instruments show, with what the model of the running unit says."""
        if self.is_usual:
            return by_model
        gas, off = 1.0 - self._share, self._off
        rest = around.rest_pa * min(filled / REST_SHARE, 1.0)

        def between(value: float, thin: float, still: float) -> float:
            running = value + (thin - value) * gas
            return running + (still - running) * off

        return Shown(
            between(by_model.low_pa, 0.0, rest),
            between(by_model.suction_line_k, around.return_k, around.outdoor_k),
            between(by_model.high_pa, 0.0, rest),
            between(by_model.liquid_line_k, around.outdoor_k, around.outdoor_k),
            between(by_model.supply_k, around.return_k, around.return_k),
        )
