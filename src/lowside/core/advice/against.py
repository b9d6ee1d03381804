"""A shot against the advice: only with a reason, written at the decision after that reading."""

from dataclasses import replace

from lowside.core.advice import ground
from lowside.core.advice.advice import ADD, FINISH, READ, Advice, AdvisedAction, advise
from lowside.core.advice.words import OLD_READING
from lowside.core.session import gate
from lowside.core.session.block import DO_NOT_ADD, BlockCode
from lowside.core.session.events import Moment
from lowside.core.session.overriding import decided_on
from lowside.core.session.state import State, latest_reading, open_shot

ACTIONS_WITH_A_REASON: tuple[AdvisedAction, ...] = (DO_NOT_ADD, FINISH, READ)
"""A reason goes against this advice; against “read again” only where the newest reading is settled
and nothing was fed since. “Wait” means not yet, and no reason helps against the others. “Enough” is
said in tolerance. Past it the reading itself forbids more, whatever the reason."""
HELD: tuple[BlockCode, ...] = ("reading_reason", *ground.NO_SHOT)
"""Beside these blocks advice is given, but never to add."""


def advice_now(state: State, now: Moment) -> Advice:
    """The advice as a page says it: while a reading waits for a reason, it is not to add. An
    open shot that could not be started now does not go on either."""
    advice = advise(state, now)
    if advice.action != ADD:
        return advice
    for block in gate.blocks(state):
        if block.code in HELD or open_shot(state) is not None:
            why = (block.sentence + " " + block.cure, advice.reasons[0])
            return replace(
                advice, action=DO_NOT_ADD, amount_kg=None, open_s=None, rate_kg_s=None, reasons=why
            )
    return advice


def may_start(state: State, advice: Advice) -> bool:
    """Whether this advice leaves a shot to the technician: it says so, or a reason opens it."""
    if advice.too_old:
        return False
    return advice.action == ADD or (_opens(state, advice) and _reasoned(state))


def needs_a_reason(state: State, advice: Advice) -> bool:
    """Whether a reason written at the decision would let a shot be started."""
    return _opens(state, advice) and not _reasoned(state)


def why_no_shot(state: State, advice: Advice) -> str:
    """Why this advice lets no shot be started; "" when it does."""
    if may_start(state, advice):
        return ""
    why = advice.reasons[0] if advice.reasons else "Add nothing now."
    if advice.too_old:
        return OLD_READING
    if not _opens(state, advice):
        return why
    return why + " To add anyway, write why at the decision."


def _opens(state: State, advice: Advice) -> bool:
    """Whether this advice is one that a reason goes against, now."""
    if advice.action != READ:
        return advice.action in ACTIONS_WITH_A_REASON
    latest = latest_reading(state)
    basis = ground.basis(state)
    if latest is None or basis is None or basis.eid != latest.eid:
        return False
    return latest.shots_before == len(state.shots)


def _reasoned(state: State) -> bool:
    """Whether the newest reading has been decided on, with a reason."""
    latest = latest_reading(state)
    decided = decided_on(state)
    if latest is None or decided is None or state.decision_reason == "":
        return False
    return decided.eid == latest.eid
