"""A shot against the advice: only with a reason, written at the decision after that reading."""

from lowside.core.advice.advice import (
    DO_NOT_ADD,
    FINISH,
    RECOVER,
    STOP,
    WEIGH_IN,
    Advice,
    AdvisedAction,
    advise,
)
from lowside.core.advice.words import OLD_READING
from lowside.core.session.events import Moment
from lowside.core.session.overriding import decided_on
from lowside.core.session.state import State, latest_reading

NEVER: tuple[AdvisedAction, ...] = (STOP, WEIGH_IN, RECOVER)
"""Advice against which no reason opens the valve."""
WITH_A_REASON: tuple[AdvisedAction, ...] = (DO_NOT_ADD, FINISH)
"""Advice that a reason goes against. “Wait” and “read” only say: not yet. “Enough” is said inside
the tolerance; past it the reading itself forbids more, whatever the reason."""


def may_start(state: State, advice: Advice) -> bool:
    """Whether this advice leaves a shot to the technician."""
    if advice.too_old or advice.action in NEVER:
        return False
    return not needs_a_reason(state, advice)


def needs_a_reason(state: State, advice: Advice) -> bool:
    """Whether a reason written at the decision would let a shot be started."""
    return advice.action in WITH_A_REASON and not _reasoned(state)


def why_no_shot(state: State, now: Moment) -> str:
    """Why the advice of this moment lets no shot be started; "" when it does."""
    advice = advise(state, now)
    if may_start(state, advice):
        return ""
    why = advice.reasons[0] if advice.reasons else "Add nothing now."
    if advice.too_old:
        return OLD_READING
    if advice.action in NEVER:
        return why
    return why + " To add anyway, write why at the decision."


def _reasoned(state: State) -> bool:
    """Whether the newest reading has been decided on, with a reason."""
    latest = latest_reading(state)
    decided = decided_on(state)
    if latest is None or decided is None or state.decision_reason == "":
        return False
    return decided.eid == latest.eid
