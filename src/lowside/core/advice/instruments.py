"""How far the instruments of a session may be off as a whole, by their kind.

RA3.2 (READ, 2008) allows a thermometer ±1.3 °F, the gauges 3.5 and 7 psi, which is 1.5 and 1.4 °F
for R-410A (COMPUTED). Half of each is taken for its spread where nobody said which instrument it
is. The spreads by kind are our choice around that. An unshielded clamp errs by 5 °F (READ, a
manufacturer's interview), so a sensor that is not a clamp has the wider one.
"""

from collections.abc import Mapping

from lowside.core.handbook.system import BY_CHART, System
from lowside.core.judging.targets import SUBCOOLING, TargetQuantity
from lowside.core.numbers.arithmetic import square_root
from lowside.core.session.state import ScaleSetting

USUAL = ""
GAUGES_K: Mapping[str, float] = {USUAL: 0.30, "digital": 0.20, "dial": 0.45}
"""Of saturation [K], on the liquid side."""
SUCTION_FACTOR = 1.5
"""The same on the suction side, where a psi is more degrees. Our choice."""
CLAMPS_K: Mapping[str, float] = {USUAL: 0.335, "clamp": 0.28, "strap": 0.60}
"""Of a line's temperature [K]."""
WET_BULB_K: Mapping[str, float] = {USUAL: 0.62, "psychrometer": 0.45, "humidity": 0.80}
"""Of a chart's target [K], by what the wet bulb comes from; outdoor air is in it."""


def error_k(scale: ScaleSetting | None, system: System, quantity: TargetQuantity) -> float:
    """How far a reading of this session may be off its target as a whole [K].

    Args:
        scale: with what was said of the instruments; `None` counts as nothing said.
        system: for the method: a chart's target has errors of its own.
        quantity: SUBCOOLING for all that answers like it.
    """
    gauge = _of(GAUGES_K, USUAL if scale is None else scale.gauges)
    clamp = _of(CLAMPS_K, USUAL if scale is None else scale.clamps)
    if quantity != SUBCOOLING:
        gauge = gauge * SUCTION_FACTOR
    total = gauge * gauge + clamp * clamp
    if quantity != SUBCOOLING and system.method == BY_CHART:
        wet_bulb = _of(WET_BULB_K, USUAL if scale is None else scale.wet_bulb)
        total = total + wet_bulb * wet_bulb
    return square_root(total)


def _of(known: Mapping[str, float], kind: str) -> float:
    return known.get(kind, known[USUAL])
