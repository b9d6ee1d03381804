"""What the program asked for just before the low handwheel was opened."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lowside.core.advice.advice import ADD, Advice
from lowside.core.advice.against import advice_now, may_start
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.block import WAIT
from lowside.core.session.events import Event, Moment, in_order, later, moment_of
from lowside.core.session.fold import fold
from lowside.core.session.heavy_shot import TIMES
from lowside.core.session.state import State
from lowside.practice.pace import PACE, RECOVERY, VALVE

NEARLY_DUE_S = 5.0
"""A wait for the next shot with no more than this left was kept. Our choice."""


@dataclass(frozen=True)
class Asked:
    """The advice at one moment, and whether it left an opening to the technician."""

    advice: Advice | None
    """`None` before unit and target are known. In the last seconds before a shot it is that."""
    running: bool
    leaves: bool
    entries: int
    """How many entries it rests on: openings with as many share one advised amount."""


NOTHING_KNOWN = Asked(None, True, False, 0)


def asked_before(events: Sequence[Event], time_s: float, handbook: Handbook) -> Asked:
    """The advice just before a practice time [s], when no shot had begun."""
    before = [event for event in in_order(events) if event.mono / 1000.0 < time_s]
    while before and before[-1].kind in (VALVE, PACE, "shot.opened"):
        before.pop()
    if not before:
        return NOTHING_KNOWN
    then = with_recovery(fold(before, handbook), before)
    if then.system is None:
        return replace(NOTHING_KNOWN, running=then.running, entries=len(before))
    advice = _nearly_due(then, moment_of(before[-1]), time_s)
    leaves = then.running and may_start(then, advice)
    return Asked(advice, then.running, leaves, len(before))


def _nearly_due(then: State, last: Moment, time_s: float) -> Advice:
    """The advice at this time; where a wait that ends in a shot is nearly over, of that shot."""
    passed = int(time_s * 1000.0) - last.mono
    advice = advice_now(then, replace(last, mono=last.mono + passed, at=last.at + passed))
    if advice.action == WAIT and advice.wait_s is not None and advice.wait_s <= NEARLY_DUE_S:
        passed += int(NEARLY_DUE_S * 1000.0)
        due = advice_now(then, replace(last, mono=last.mono + passed, at=last.at + passed))
        return due if due.action == ADD else advice
    return advice


def with_recovery(state: State, events: Sequence[Event]) -> State:
    """The session as its page must know it: what the recovery machine took is in no form. The unit
    runs anew from then on, so no reading before it counts."""
    for event in events:
        if event.kind == RECOVERY:
            state = replace(state, changed_at=later(state.changed_at, moment_of(event)))
    return state


def is_far_over(asked: Asked, fed_kg: float) -> bool:
    """Whether this much is what the field page calls far more than was planned."""
    advice = asked.advice
    if advice is None or advice.action != ADD or advice.amount_kg is None:
        return False
    return fed_kg > TIMES * advice.amount_kg
