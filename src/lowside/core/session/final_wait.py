"""Was the final reading taken before the unit had settled: after its last shot, or after the
close-out cleared what was in the hoses into it."""

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import label
from lowside.core.session.at_hoses import moved_before
from lowside.core.session.events import Moment, elapsed
from lowside.core.session.state import STANDS, State, find_entry
from lowside.core.session.steady import settles_s

LEAST_WAIT_S = 240.0
"""READ: manufacturers ask for 4 to 15 min from shot to reading. The shortest holds."""

WHY_EARLY = "early_reason"
"""The field that says why it was taken so early."""


def early(state: State, moment: Moment, since_shot_s: float | None, handbook: Handbook) -> str:
    """What a final reading of this moment follows too soon, in words; "" when it is in time.

    Args:
        state: the session.
        moment: of the reading.
        since_shot_s: since the last shot before it was closed [s]; `None` when there was none.
        handbook: says which steps turn a valve at the hoses.
    """
    wait = LEAST_WAIT_S
    if state.system is not None and state.system.papers_wait_s is not None:
        wait = state.system.papers_wait_s
    if since_shot_s is not None and since_shot_s < wait:
        return label("duration", since_shot_s, state.units) + " after the last shot"
    emptied = _hoses_emptied(state, handbook)
    since = None if emptied is None else elapsed(emptied, moment).seconds
    if since is not None and 0.0 <= since < settles_s(state):
        return label("duration", since, state.units) + " after the hoses were emptied"
    again = state.changed_at
    since = None if again is None else elapsed(again, moment).seconds
    if since is not None and 0.0 <= since < settles_s(state):
        after = " after the unit was started again or changed"
        return label("duration", since, state.units) + after
    return ""


def early_now(state: State, now: Moment, handbook: Handbook) -> str:
    """The same of a final reading taken now."""
    closed = state.shots[len(state.shots) - 1].closed if state.shots else None
    since = None if closed is None else elapsed(closed, now).seconds
    return early(state, now, since, handbook)


def reason_of(state: State, eid: str) -> str:
    """Why this final reading was taken early, as written."""
    entry = find_entry(state, eid)
    return "" if entry is None or entry.status != STANDS else entry.data.get(WHY_EARLY, "").strip()


def _hoses_emptied(state: State, handbook: Handbook) -> Moment | None:
    procedure = handbook.procedures.get(state.procedure)
    if procedure is None or not state.shots:
        return None
    for step in procedure.steps:
        if step.form == "final_reading":
            return moved_before(state, procedure, step.id)
    return None
