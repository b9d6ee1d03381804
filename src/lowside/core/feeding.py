"""How fast charge goes in, and how much liquid the suction gas can boil: the size of one shot.

Liquid fed to the suction line boils on the gas's superheat and on the heat of the pipe. What comes
faster than the gas can boil it lies in the line; how much may lie there is `HELD_KG_PER_W`. The
physics and the figures are in `docs/advice.md`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.state import Shot
from lowside.core.units import TON_W

FIRST_RATE_KG_S = 0.012
"""Flow taken for the first opening, on the fast side for a valve just cracked open, so that the
seconds err towards too little. Our choice: no published figure was found."""

SAFE_SUPERHEAT_K = 2.0
"""Superheat that must be left at the compressor while liquid is fed."""

BOILS_KG_PER_J_K = 1.3e-8
"""Liquid [kg/s] a watt of nominal capacity boils per kelvin of superheat: suction gas flow × heat
capacity / heat of evaporation, `cp / latent²` per watt. Computed from the tables at 5 °C: 1.32e-8
(R-290) to 4.2e-8 (R-507A); the low end is taken for all."""

HELD_KG_PER_W = 0.020 / TON_W
"""Liquid the line, the accumulator and the warm shell take for a moment: 20 g a ton. Our choice,
on the safe side of the heat in a metre of warm suction line and the compressor's shell."""

LEAST_BOIL_OFF_S = 60.0
MOST_BOIL_OFF_S = 240.0
"""Pause between two openings of one batch."""

LOWEST_CAPACITY_W = 1.5 * TON_W
"""Taken when the unit's capacity is not known: small, so shots stay small."""


@dataclass(frozen=True)
class Flow:
    """What this session's shots showed [kg/s]; `learned` is false before the first weighed one."""

    rate_kg_s: float
    fastest_kg_s: float
    """The most it may be within the scale's step."""
    learned: bool


def flow_of(shots: Sequence[Shot], step_kg: float) -> Flow:
    """Flow through the opened valve, from every shot with a weight and a trusted time."""
    kilograms = 0.0
    seconds = 0.0
    for shot in shots:
        if shot.amount_kg is None or shot.open_s is None or shot.doubtful_time:
            continue
        if shot.amount_kg <= 0.0 or shot.open_s <= 0.0:
            continue
        kilograms = kilograms + shot.amount_kg
        seconds = seconds + shot.open_s
    if seconds <= 0.0:
        return Flow(FIRST_RATE_KG_S, FIRST_RATE_KG_S, False)
    return Flow(kilograms / seconds, (kilograms + 0.5 * step_kg) / seconds, True)


def boil_rate(capacity_w: float | None, superheat_k: float | None) -> float:
    """Liquid [kg/s] the suction gas boils while `SAFE_SUPERHEAT_K` is left, 0 at least."""
    if superheat_k is None or superheat_k <= SAFE_SUPERHEAT_K:
        return 0.0
    return _capacity(capacity_w) * BOILS_KG_PER_J_K * (superheat_k - SAFE_SUPERHEAT_K)


def held_kg(capacity_w: float | None) -> float:
    """Liquid [kg] that may lie in the suction line for a moment."""
    return _capacity(capacity_w) * HELD_KG_PER_W


def most_in_one_opening(capacity_w: float | None, superheat_k: float | None, flow: Flow) -> float:
    """The largest shot [kg] the suction line can take at this flow."""
    held = held_kg(capacity_w)
    boiled = boil_rate(capacity_w, superheat_k)
    left = 1.0 - boiled / flow.fastest_kg_s
    left = max(left, 0.1)
    return held / left


def boil_off_s(capacity_w: float | None, superheat_k: float | None) -> float:
    """Pause [s] until what lies in the suction line has boiled."""
    boiled = boil_rate(capacity_w, superheat_k)
    if boiled <= 0.0:
        return MOST_BOIL_OFF_S
    pause = 1.5 * held_kg(capacity_w) / boiled
    if pause < LEAST_BOIL_OFF_S:
        return LEAST_BOIL_OFF_S
    if pause > MOST_BOIL_OFF_S:
        return MOST_BOIL_OFF_S
    return pause


def _capacity(capacity_w: float | None) -> float:
    if capacity_w is None or capacity_w <= 0.0:
        return LOWEST_CAPACITY_W
    return capacity_w
