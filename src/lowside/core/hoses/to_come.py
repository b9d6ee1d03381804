"""What the hoses still bring the unit: the charge no shot holds.

While shots are given, the cylinder's hose is full of the cylinder's liquid and the high-side hose
full of the unit's own. The close-out clears both into the suction. The last reading before it
shows neither.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.handbook.procedure import CHARGE_PAGE, CYLINDER, LIQUID_LINE, SUCTION, Procedure
from lowside.core.hoses.contents import Hoses
from lowside.core.hoses.run import StepRun


@dataclass(frozen=True)
class ToCome:
    """What the close-out of one procedure brings a running unit [kg]."""

    total_kg: float
    """Between the last shot and the last hose taken off; 0 without a charging step."""
    from_cylinder_kg: float
    """What the cylinder lost to the hoses beside the shots, the trace of a purge included."""
    after: Mapping[str, float]
    """What is still to come once a step of the close-out is done [kg], by the id of a step that
    turns a valve. Caps and weights say nothing: the unit may have been left by the way out."""

    def left_kg(self, done: Sequence[str]) -> float:
        """What is still to come with these steps done [kg]."""
        left = self.total_kg
        for step_id, kilograms in self.after.items():
            if step_id in done:
                left = kilograms
        return left


NOTHING_TO_COME = ToCome(0.0, 0.0, {})


def to_come(procedure: Procedure, runs: Sequence[StepRun]) -> ToCome:
    """What the hoses bring.

    Args:
        procedure: of the hardware in use; what it has no hose for holds nothing.
        runs: the hose model followed through all of it.
    """
    filled = 0.0
    shut = 0.0
    charging = ""
    reached: dict[str, float] = {}
    for i in range(len(runs)):
        inside = _in_unit(runs[i].after)
        if procedure.steps[i].page == CHARGE_PAGE:
            charging = runs[i].step_id
            filled = 0.0 - runs[i].before.received_kg.get(CYLINDER, 0.0)
            shut = inside
        elif charging != "" and runs[i].turns:
            reached[runs[i].step_id] = inside
    if charging == "" or not reached:
        return NOTHING_TO_COME
    end = _in_unit(runs[len(runs) - 1].after)
    total = max(end - shut, 0.0)
    left: dict[str, float] = {}
    for step_id, inside in reached.items():
        left[step_id] = max(end - inside, 0.0)
    return ToCome(total, max(filled, 0.0), left)


def _in_unit(hoses: Hoses) -> float:
    """What the unit took from the hoses, less what it gave them [kg]."""
    return hoses.received_kg.get(SUCTION, 0.0) + hoses.received_kg.get(LIQUID_LINE, 0.0)
