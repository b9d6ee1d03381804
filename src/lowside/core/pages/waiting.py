"""How long a step must wait, counted down beside its form."""

from typing import Any

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.procedure import Procedure, Step
from lowside.core.pages import addresses
from lowside.core.pages.form import small_form
from lowside.core.pages.running import clock_face, is_over
from lowside.core.pages.screen import Screen
from lowside.core.session.at_hoses import moved_before
from lowside.core.session.events import Moment, elapsed, later
from lowside.core.session.state import STANDS, State
from lowside.core.session.steady import counted_from, settles_from, settles_s
from lowside.core.session.weighing import TEST_S, VACUUM_S

HOLDS: dict[str, float] = {"wi_pressure": TEST_S, "wi_vacuum": VACUUM_S, "rec_run": 300.0}
"""Steps at which a pressure is held without a typed figure [s]. The five minutes after
recovery: common practice, no source."""
HOLD_FORM = 11
"""Number of the form on its page (see `Screen.eid`)."""


def wait_of(state: State, procedure: Procedure, step: Step, now: Moment) -> dict[str, Any] | None:
    """How long the unit must still run before this step's form means anything."""
    if state.closed is not None or (not state.running and step.id not in HOLDS):
        return None
    if step.id in HOLDS:
        return _hold(state, step, now)
    since = None
    if step.form == "final_reading":
        since = _since_last_act(state, procedure, step)
    elif step.form == "preconditions":
        since = counted_from(state)
    elif step.form in ("tare", "reading"):
        since = settles_from(state)
    if since is None:
        return None
    wait = settles_s(state)
    return _count(since, now, wait, "Let it run steadily for another", "Running steadily for")


def hold_form_of(screen: Screen, step: Step) -> dict[str, Any] | None:
    """The button that starts the countdown of a step at which something is held for a time."""
    state = screen.state
    if state.closed is not None or step.id not in HOLDS or step.id in state.done:
        return None
    again = _held_since(state, step) is not None
    button = "Start the countdown again" if again else FORMS["hold"].button
    return {
        "form": small_form(
            screen, "hold", HOLD_FORM, back=addresses.step(state.sid, step.id), button=button
        ),
        "held": step.id,
    }


def _held_since(state: State, step: Step) -> Moment | None:
    found: Moment | None = None
    for entry in state.entries:
        is_hold = entry.kind == "hold.started" and entry.status == STANDS
        if is_hold and entry.data.get("held", "") == step.id:
            found = entry.moment
    return found


def _hold(state: State, step: Step, now: Moment) -> dict[str, Any] | None:
    since = _held_since(state, step)
    if since is None:
        return None
    return _count(
        since, now, HOLDS[step.id], "Without a figure in the instructions, hold another", "Held"
    )


def _count(since: Moment, now: Moment, wait: float, before: str, after: str) -> dict[str, Any]:
    seconds = elapsed(since, now).seconds
    return {
        "before": before,
        "after": after,
        "elapsed": int(seconds),
        "wait": str(int(wait)),
        "over": is_over(seconds, wait),
        "text": clock_face(seconds, wait),
    }


def _since_last_act(state: State, procedure: Procedure, step: Step) -> Moment | None:
    """When a hand last changed what is in the unit: a shot, a step at the hoses, a restart."""
    since = state.changed_at
    if state.shots:
        since = later(since, state.shots[len(state.shots) - 1].closed)
    return later(since, moved_before(state, procedure, step.id))
