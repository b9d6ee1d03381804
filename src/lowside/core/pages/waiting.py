"""How long a step must wait, counted down beside its form."""

from typing import Any

from lowside.core.handbook.procedure import Procedure, Step
from lowside.core.pages.wording import timer
from lowside.core.session.events import Moment, elapsed
from lowside.core.session.state import State

STEADY_S = 900.0
"""How long a unit runs before it is judged when its papers say nothing [s]; common practice, no
source."""


def wait_of(state: State, procedure: Procedure, step: Step, now: Moment) -> dict[str, Any] | None:
    """How long the unit must still run before this step's form means anything."""
    if state.closed is not None or not state.running:
        return None
    since = None
    if step.form == "final_reading":
        since = _since_last_act(state, procedure, step)
    elif step.form == "preconditions":
        since = _later(state.machine_at, state.restarted_at)
    if since is None:
        return None
    wait = STEADY_S
    if state.system is not None and state.system.papers_wait_s is not None:
        wait = state.system.papers_wait_s
    seconds = elapsed(since, now).seconds
    over = seconds >= wait
    return {
        "before": "Let it run steadily for another",
        "after": "Running steadily for",
        "elapsed": int(seconds),
        "wait": str(int(wait)),
        "over": over,
        "text": timer(seconds if over else wait - seconds),
    }


def _since_last_act(state: State, procedure: Procedure, step: Step) -> Moment | None:
    """When a hand last changed what is in the unit: a shot, a step at the hoses, a restart."""
    since = state.restarted_at
    if state.shots:
        since = _later(since, state.shots[len(state.shots) - 1].closed)
    at_hoses: list[str] = []
    for before in procedure.steps:
        if before.id == step.id:
            break
        if before.actions and before.id in state.done:
            at_hoses.append(state.done[before.id])
    for entry in state.entries:
        if entry.eid in at_hoses:
            since = _later(since, entry.moment)
    return since


def _later(one: Moment | None, other: Moment | None) -> Moment | None:
    if one is None or other is None:
        return other if one is None else one
    return other if other.at > one.at else one
