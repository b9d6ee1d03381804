"""When a hand last turned a valve at the hoses before a step, and which steps close out."""

from collections.abc import Mapping, Sequence

from lowside.core.handbook.procedure import Procedure
from lowside.core.session.events import Moment, later
from lowside.core.session.state import STANDS, Entry, State, shots_of_cylinder

OFF_HOSES = "off_hoses"
"""The last step of the close-out with the unit off."""
HOSES_OFF = ("disconnect", OFF_HOSES)
"""Steps that take the hoses off, in every procedure."""
CLEARED_TO_SUCTION = ("close_cylinder", "clear_hoses")
"""Steps that close the cylinder valve and clear its hose into the unit."""
CLEARED_BACK = ("off_drain", "off_cylinder")
"""Steps that clear it back into the cylinder and close that, with the unit off."""
CLOSED_OUT = (*CLEARED_TO_SUCTION, "clear_high", *CLEARED_BACK, "off_recover")
"""Those after which a hose lacks the liquid or the open valve that a shot needs."""


EMPTIED = ("clear_hoses", "off_cylinder", "off_recover", *HOSES_OFF)
"""Those after which the cylinder’s hose holds no liquid."""


def liquid_was_let_in(state: State) -> bool:
    """Whether the cylinder in use was opened at the hose. Not everybody ticks each step: a scale
    that is set, or a shot, says so too."""
    return "liquid" in state.done or state.scale is not None or len(shots_of_cylinder(state)) > 0


def off_for_recovery(entries: Sequence[Entry], done: Mapping[str, str]) -> bool:
    """Whether the hoses came off for a recovery, and no liquid was let in by its step since."""
    found = False
    for entry in entries:
        if entry.status != STANDS:
            continue
        if entry.kind == "recovery.ready" and entry.data.get("hoses_off", "") == "yes":
            found = True
        elif entry.eid == done.get("liquid", ""):
            found = False
    return found


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
