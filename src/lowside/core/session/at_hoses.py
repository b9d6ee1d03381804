"""When a hand last turned a valve at the hoses before a step, and which steps close out."""

from collections.abc import Sequence

from lowside.core.handbook.procedure import Procedure
from lowside.core.session.events import Moment, later
from lowside.core.session.state import State

OFF_HOSES = "off_hoses"
"""The last step of the close-out with the unit off."""
HOSES_OFF = ("disconnect", OFF_HOSES)
"""Steps that take the hoses off, in every procedure."""
CLOSED_OUT = (
    "close_cylinder",
    "clear_hoses",
    "clear_high",
    "off_drain",
    "off_cylinder",
    "off_recover",
)
"""Those after which a hose lacks the liquid or the open valve that a shot needs."""


def is_done(state: State, steps: Sequence[str]) -> bool:
    """Whether any of these steps is done."""
    return len([step for step in steps if step in state.done]) > 0


def moved_before(state: State, procedure: Procedure, step_id: str) -> Moment | None:
    """When the steps at the hoses before this one were last done; `None` when none was."""
    at_hoses: list[str] = []
    for before in procedure.steps:
        if before.id == step_id:
            break
        if before.actions and before.id in state.done:
            at_hoses.append(state.done[before.id])
    found: Moment | None = None
    for entry in state.entries:
        if entry.eid in at_hoses:
            found = later(found, entry.moment)
    return found
