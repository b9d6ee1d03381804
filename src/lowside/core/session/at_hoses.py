"""When a hand last turned a valve at the hoses before a step."""

from lowside.core.handbook.procedure import Procedure
from lowside.core.session.events import Moment, later
from lowside.core.session.state import State


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
