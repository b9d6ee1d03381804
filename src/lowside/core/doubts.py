"""Signs that this unit is not short of charge but ill: it does not answer as charge goes in."""

from lowside.core.findings import Unknown
from lowside.core.state import State, Taken
from lowside.core.targets import Target

WARMER_THAN_LIQUID_K = -2.2
"""Subcooling below this cannot be: gauge and thermometer within RA3.2's errors explain about 2 K
(7 psi and 1.3 °F)."""


def doubt(state: State, basis: Taken) -> str | None:
    """Why charge should not go on although the target calls for it; `None` when nothing speaks
    against it."""
    assessment = basis.assessment
    if assessment is None or not isinstance(assessment.target, Target):
        return None
    subcooling = assessment.subcooling_k
    if not isinstance(subcooling, Unknown) and subcooling < WARMER_THAN_LIQUID_K:
        return (
            "The liquid line reads warmer than this refrigerant can be at this pressure: check "
            "the clamp, the gauge, and that the unit holds what its nameplate says."
        )
    return None
