"""What is said when another cylinder comes in the middle: what is done with the hose of the one
before, and how it is purged at the next."""

from typing import Any

from lowside.core.handbook.procedure import (
    CYLINDER,
    OPEN,
    Procedure,
    Step,
    joining_steps,
    valve_by_id,
)
from lowside.core.pages import addresses
from lowside.core.pages.parts import alert
from lowside.core.session.at_hoses import CLEARED_TO_SUCTION
from lowside.core.session.other_cylinder import (
    FIRST_CLEAR,
    FIRST_OFF,
    WEIGH_FIRST,
    first_before,
    not_joined,
)
from lowside.core.session.state import State

CLOSED_FIRST = "Close both manifold valves before its nut is loosened: a vacuum draws air in."
"""Played in the hose model."""


def before_another(state: State, form_name: str) -> list[dict[str, Any]]:
    """Beside the form of the cylinder: close that in use, clear its hose, weigh it. In a weigh-in
    beside the form of its start weight too: bare, it has no hose on it."""
    first = first_before(state)
    weighs = form_name == "start_weight" and first == FIRST_OFF
    if state.closed is not None or not (form_name == "cylinder" or weighs):
        return []
    if first != "":
        told = alert("stop", "Another cylinder?", first)
        if first == WEIGH_FIRST:
            href = addresses.step(state.sid, "end_weight")
            return [told | {"href": href, "link": "Go to “End weight”"}]
        to = CLEARED_TO_SUCTION[0] if first == FIRST_CLEAR else "off_stop"
        href = addresses.step(state.sid, to)
        return [told | {"href": href, "link": "Go to the close-out"}]
    if "vacuum.held" in state.walk and state.cylinder is not None:
        return [alert("warn", "Another cylinder?", CLOSED_FIRST)]
    return []


def purge_again(state: State, procedure: Procedure, step: Step) -> list[dict[str, Any]]:
    """At the step that makes the hose tight on the next cylinder: what its own words take as done.
    The hose that closes itself lost nothing and is not loose."""
    joining = joining_steps(procedure)
    if not not_joined(state) or not joining or step.id != joining[0].id:
        return []
    for action in step.actions:
        nut = valve_by_id(procedure, action.valve)
        if nut is not None and nut.b == CYLINDER and nut.self_closing:
            return [alert("warn", "Another cylinder.", "The blue hose stays on the unit.")]
    low = valve_by_id(procedure, "low")
    cure = ""
    if low is not None:
        if len([one for one in step.actions if one.valve == "low" and one.to == OPEN]) == 0:
            cure = "Open the " + low.title + " a crack first. "
        cure = cure + "When the nut is tight, close the " + low.title + "."
    words = "Hose onto it, the nut half a turn loose, the cylinder valve closed."
    return [alert("warn", "Another cylinder.", words, cure)]
