"""What to do at a step, with the order that fits how this cylinder gives its liquid."""

from lowside.core.handbook.procedure import Step
from lowside.core.handbook.system import DIP_TUBE
from lowside.core.session.cylinder import HOW_LIQUID_COMES_OUT
from lowside.core.session.state import State

DIP_TUBE_STAYS = " A cylinder with a dip tube stays upright."
TURN_UPRIGHT = "Then turn the cylinder upright."
"""What the procedures say for both kinds of cylinder, and what only one kind needs."""


def acts(state: State, step: Step) -> list[str]:
    """The lines of the step; both orders while nobody has said which cylinder it is."""
    if state.cylinder is None:
        return list(step.do)
    upright = state.cylinder.withdrawal == DIP_TUBE
    found: list[str] = []
    for line in step.do:
        if upright and DIP_TUBE_STAYS in line:
            found.append(HOW_LIQUID_COMES_OUT[DIP_TUBE])
        elif not upright or line != TURN_UPRIGHT:
            found.append(line.replace(DIP_TUBE_STAYS, ""))
    return found
