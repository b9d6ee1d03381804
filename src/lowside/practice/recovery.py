"""The recovery machine of a practice session. It takes charge out of the unit.

The charge goes into a recovery cylinder, never into the air. The practice unit has no other way to
less charge.
"""

from dataclasses import dataclass

from lowside.practice.hooked_up import HookedUp

RECOVERY_KG_S = 0.008
"""Vapor drawn off the low side: about a pound a minute. Common practice, no source."""


@dataclass(frozen=True)
class Recovery:
    """One run of the machine [s, kg]."""

    began_s: float
    ended_s: float | None
    taken_kg: float
    missing_before_kg: float
    missing_after_kg: float


class RecoveryMachine:
    """The machine and its cylinder, joined to the low side by the lesson's hoses."""

    def __init__(self, unit: HookedUp) -> None:
        self.runs: list[Recovery] = []
        self.taken_kg = 0.0
        self.is_on = False
        self._unit = unit
        self._began_s = 0.0
        self._taken_before = 0.0
        self._missing_before = 0.0

    def switch(self, on: bool) -> None:
        """Start or stop it. A second time changes nothing."""
        if on == self.is_on:
            return
        self.is_on = on
        if on:
            self._began_s = self._unit.time_s
            self._taken_before = self.taken_kg
            self._missing_before = self._unit.missing_kg()
        else:
            self.runs.append(self._run(self._unit.time_s))

    def step(self, seconds: float, hoses_on: bool) -> None:
        """Draw for this long, when it is on and joined to the unit."""
        if self.is_on and hoses_on:
            self.taken_kg += self._unit.take_out(RECOVERY_KG_S * seconds)

    def all_runs(self) -> list[Recovery]:
        """All runs, with the one that still goes on."""
        return [*self.runs, self._run(None)] if self.is_on else list(self.runs)

    def _run(self, ended_s: float | None) -> Recovery:
        taken = self.taken_kg - self._taken_before
        return Recovery(
            self._began_s, ended_s, taken, self._missing_before, self._unit.missing_kg()
        )
