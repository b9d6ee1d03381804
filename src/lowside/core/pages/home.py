"""The first page: open sessions to go on with, and the start of a new one."""

from collections.abc import Sequence
from typing import Any

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Procedure
from lowside.core.pages import addresses
from lowside.core.pages.screen import nth_eid
from lowside.core.pages.wording import day, day_and_time
from lowside.core.session.state import State, is_finished
from lowside.core.session.unit import designation
from lowside.core.session.walk import step_now

NEW_SESSION = "New session"


def home_context(
    states: Sequence[State], handbook: Handbook, fresh: str, older: str = ""
) -> dict[str, Any]:
    """Context of `field/home.html`; practice has its own first page.

    Args:
        states: newest first.
        older: address of the page with older open sessions; empty when there are none.
    """
    open_slips = []
    closed_slips = []
    for state in states:
        if state.practice or state.discarded:
            continue
        if not is_finished(state):
            open_slips.append(
                {
                    "href": addresses.current(state.sid),
                    "title": unit_name(state),
                    "line": _line(state),
                    "step": _step_title(state, handbook),
                }
            )
        else:
            closed_slips.append(
                {
                    "href": addresses.ticket(state.sid),
                    "title": unit_name(state),
                    "line": _line(state),
                }
            )
    if older != "":
        open_slips.append(
            {
                "href": older,
                "title": "Older open sessions",
                "line": "Each one was started before those above",
                "step": "Show them",
            }
        )
    return {
        "title": "Sessions",
        "page": "home",
        "heading": "Charging sessions",
        "open": open_slips,
        "closed": closed_slips,
        "practice": addresses.PRACTICE,
        "start": {
            "eid": nth_eid(fresh, 1),
            "sid": nth_eid(fresh, 2),
            "units": _units_used(states),
            "procedures": [
                {"value": procedure.id, "label": procedure.title}
                for procedure in _used_first(states, handbook)
            ],
        },
    }


def _units_used(states: Sequence[State]) -> list[dict[str, str]]:
    """The units of the last session: they are asked once a phone."""
    for state in states:
        if not state.practice:
            choice = state.units
            return [
                {"name": "pressure", "value": choice.pressure},
                {"name": "temperature", "value": choice.temperature},
                {"name": "mass", "value": choice.mass},
                {"name": "length", "value": choice.length},
            ]
    return []


def _used_first(states: Sequence[State], handbook: Handbook) -> list[Procedure]:
    """The procedures to choose from; what the last session had is asked once a phone."""
    offered = [each for each in handbook.procedures.values() if not each.retired]
    last = ""
    for state in states:
        if last == "" and not state.practice:
            last = state.procedure
    first = [each for each in offered if each.id == last]
    return first + [each for each in offered if each.id != last]


def unit_name(state: State) -> str:
    """How lists and headings call a session."""
    if state.job is None:
        return NEW_SESSION
    return state.job.unit_label + ", " + state.job.site


def _line(state: State) -> str:
    if state.started is None:
        return "Start not known"
    words = day_and_time(state.started)
    if state.closed is not None:
        words = "Closed " + day(state.closed)
    refrigerant = designation(state.unit_texts)
    if refrigerant != "":
        words = words + " · " + refrigerant
    return words


def _step_title(state: State, handbook: Handbook) -> str:
    procedure = handbook.procedures.get(state.procedure)
    if procedure is None:
        return "Open"
    step = step_now(procedure, state)
    return step.title if step is not None else "Ready to close"
