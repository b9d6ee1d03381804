"""What is believed of a unit before it answers: how steeply its reading goes with charge.

A thin circuit answers steeply: an ounce in a microchannel coil is a larger part of it. So the
slopes of subcooling are tried in charge for each degree and ton, and become kelvin for a whole
charge by the nameplate's charge for each ton.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from lowside.core.judging.targets import SUPERHEAT, TargetQuantity
from lowside.core.numbers.units import OUNCE_KG, TON_W

SUBCOOLING_OZ = (0.05, 0.08, 0.12, 0.18, 0.27, 0.40, 0.60, 0.90, 1.35)
"""Charge that moves subcooling by 1 °F near the target [oz a ton]. The virtual charge sensor comes
out at 0.49 to 1.2 at 40 oz a ton (COMPUTED from constants that are MEMORY), 0.3 to 1 °F an ounce on
120 oz at 0.33 to 1.1 (MEMORY). Steeper units were met by an independent judge of this advice. The
ladder and all weights are our choice, tuned on the tuning halves of both practice models."""
TUBE_FIN = (0.015, 0.025, 0.05, 0.09, 0.16, 0.22, 0.23, 0.15, 0.06)
MICROCHANNEL = (0.16, 0.22, 0.24, 0.18, 0.11, 0.06, 0.02, 0.005, 0.005)
NOT_LOOKED_AT = (0.04, 0.06, 0.09, 0.12, 0.16, 0.19, 0.18, 0.12, 0.04)

SUPERHEAT_SLOPES_K = (28.0, 40.0, 56.0, 80.0, 112.0, 160.0, 225.0, 320.0, 450.0)
SUPERHEAT_TUBE_FIN = (0.03, 0.09, 0.18, 0.24, 0.21, 0.14, 0.07, 0.03, 0.01)
SUPERHEAT_MICROCHANNEL = (0.01, 0.02, 0.06, 0.12, 0.19, 0.22, 0.19, 0.13, 0.06)
"""Fall of superheat [K] for a whole full charge, at the target: −1 to −3 °F for 1 % is 55 to 167 K
(MEMORY; the virtual charge sensor's −1.4 °F is MEMORY too). Room on either side and the weights
are our choice, as above."""

MICROCHANNEL_COIL = "microchannel"
TUBE_FIN_COIL = "tube_fin"


@dataclass(frozen=True)
class Slopes:
    """Slopes that are tried [K for a whole full charge], rising, and their weights."""

    kelvin: tuple[float, ...]
    weights: tuple[float, ...]


def slopes_of(
    quantity: TargetQuantity,
    full_charge_kg: float,
    capacity_w: float,
    unit_texts: Mapping[str, str],
) -> Slopes:
    """The slopes believed of a unit whose outdoor coil is as its form says."""
    coil = unit_texts.get("coil", "")
    if quantity == SUPERHEAT:
        if coil == MICROCHANNEL_COIL:
            return Slopes(SUPERHEAT_SLOPES_K, SUPERHEAT_MICROCHANNEL)
        return Slopes(SUPERHEAT_SLOPES_K, SUPERHEAT_TUBE_FIN)
    weights = NOT_LOOKED_AT
    if coil == MICROCHANNEL_COIL:
        weights = MICROCHANNEL
    elif coil == TUBE_FIN_COIL and unit_texts.get("receiver", "no") == "no":
        weights = TUBE_FIN
    ounces_a_ton = full_charge_kg / OUNCE_KG / (capacity_w / TON_W)
    kelvin: list[float] = []
    believed: list[float] = []
    for i in range(len(SUBCOOLING_OZ) - 1, -1, -1):
        kelvin.append(ounces_a_ton / SUBCOOLING_OZ[i] / 1.8)
        believed.append(weights[i])
    return Slopes(tuple(kelvin), tuple(believed))
