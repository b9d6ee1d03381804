"""What to do next while charging: read, add, wait, stop, do not add, recover, finish.

Every answer comes from `state` alone, so the same session always gives the same advice, with its
reasons. It is an estimate: hands and the manufacturer's instructions win. See `docs/advice.md`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.advice import doubts, feeding, ground
from lowside.core.advice import plan as plans
from lowside.core.advice import words as words_of_advice
from lowside.core.advice.batch import ended_by, rest_kg
from lowside.core.advice.counted import lost_since
from lowside.core.advice.glance import limit_value_k
from lowside.core.advice.moved import load_moved, moved
from lowside.core.advice.outlook import Outlook, outlook_of, wait_after
from lowside.core.advice.plan import CLOSE, LEAST_SHOT_KG
from lowside.core.judging.charge import (
    NEARLY_EMPTY,
    ON_TARGET,
    OVER,
    POINTS_ELSEWHERE,
    UNKNOWN,
    Assessment,
    reason,
)
from lowside.core.judging.findings import sentence
from lowside.core.judging.starvation import LOW_SUCTION
from lowside.core.session.block import DO_NOT_ADD, STOP, WAIT, WEIGH_IN, Instead
from lowside.core.session.events import Moment, elapsed
from lowside.core.session.state import Shot, State, Taken, open_shot, step_of
from lowside.core.session.steady import by_the_record

AdvisedAction = Literal[Instead, "read", "add", "recover", "finish"]
"""What to do next: what a block says is done instead of adding, or one of these. What a reading
says is a `charge.Verdict`."""

READ: AdvisedAction = "read"
ADD: AdvisedAction = "add"
RECOVER: AdvisedAction = "recover"
FINISH: AdvisedAction = "finish"

SURE = 0.95
"""How likely the settled value must be within tolerance before the advice is to finish."""
LIKELY = 0.97
"""The same once the session had `doubts.SESSION_READINGS` readings."""
SHORT_SHARE = 0.7
"""A reading short by more than this share of the tolerance gets the small shot that fits, although
the hoses' charge is expected to bring it up: a flat unit moves less than expected. Not where low
and high side say more than the target does. Our choice, tuned on the tuning halves."""
CONFIRM_K = 0.5
"""A reading this little past the tolerance [K] is taken again before it counts as too much."""


@dataclass(frozen=True)
class Advice:
    """What to do next. Masses in kg, times in s; `None` where it does not apply."""

    action: AdvisedAction
    amount_kg: float | None
    """Of the next shot; with RECOVER, about how much is too much."""
    open_s: float | None
    """At `rate_kg_s`, if the weight does not come first; `None` when no hand is quick enough."""
    wait_s: float | None
    """From now."""
    remaining_kg: float | None
    """Most likely still missing beyond what the hoses bring; negative when that is too much."""
    remaining_low_kg: float | None
    remaining_high_kg: float | None
    """The truth is between these in 9 of 10 cases, if the unit is like those the prior knows."""
    reasons: tuple[str, ...]
    """Sentences in the session's units, the deciding one first."""
    rate_kg_s: float | None = None
    """With ADD: the flow to open the valve for. The amount is safe at the flow seen so far too."""
    glance_k: float | None = None
    """With ADD within a batch [K]: with this much subcooling or more, or with this little superheat
    or approach, the valve stays closed: wait and read."""
    recover_hoses: bool = False
    """Recover what the hoses hold rather than clear it into the unit. Once chosen, it counts."""
    too_old: bool = False
    """The reading it rests on is too old for a shot, whatever else it says."""


def advise(state: State, now: Moment) -> Advice:
    """The next thing to do in a session that was `fold`ed with the handbook; `now` is for waits."""
    now = by_the_record(state, now)
    barred = _barred(state, now)
    if barred is not None:
        return barred
    basis = ground.basis(state)
    if basis is None or basis.assessment is None:
        return _plain(READ, ground.why_read(state))
    outlook = outlook_of(state, basis)
    shut = [shot for shot in state.shots if shot.closed is not None]
    since_basis = shut[basis.shots_before :]
    old = ground.is_old(basis, now) or ground.struck_out(state, basis)
    if open_shot(state) is not None:
        return _while_open(state, outlook, since_basis)
    advice = _on_reading(state, basis, basis.assessment, outlook, now)
    if since_basis:
        calls = advice.action == ADD and ground.calls(state, basis)
        advice = _after_shots(state, outlook, since_basis, now, calls and not old)
    elif advice.action == RECOVER or ground.too_much(state, basis):
        advice = _hoses_too(state, basis, advice)
    if old and advice.action == ADD:
        advice = _plain(READ, words_of_advice.OLD_READING)
    return replace(advice, too_old=True) if old else advice


def _barred(state: State, now: Moment) -> Advice | None:
    """What is advised whatever the readings say."""
    if state.closed is not None:
        return _plain(FINISH, "This session is closed.")
    blocked = ground.blocked(state)
    if blocked is None:
        restricted = ground.restricted(state)
        return None if restricted is None else _plain(DO_NOT_ADD, restricted)
    why = blocked.sentence + " " + blocked.cure
    if blocked.instead == WEIGH_IN:
        return _weigh_in(state, why)
    if ground.may_read(state, blocked, now):
        return _plain(READ, why)
    return replace(_plain(blocked.instead, why), wait_s=ground.wait_s(state, blocked, now))


def _on_reading(
    state: State,
    basis: Taken,
    assessment: Assessment,
    outlook: Outlook | None,
    now: Moment,
) -> Advice:
    """The last thing that happened is a reading that counts."""
    why = reason(assessment, state.units)
    if assessment.verdict == UNKNOWN:
        return _plain(READ, why)
    early = _unsettled(state, basis, outlook, 0.0 if outlook is None else outlook.full_wait_s, now)
    if assessment.verdict in (POINTS_ELSEWHERE, OVER) and early is not None:
        return early
    if assessment.verdict == NEARLY_EMPTY:
        return _weigh_in(state, why)
    if assessment.verdict == POINTS_ELSEWHERE or outlook is None:
        why = why if assessment.verdict == POINTS_ELSEWHERE else words_of_advice.NO_GUESS
        # No close-out into a running unit, or not of what the hoses hold.
        off = assessment.reason_finding.code == LOW_SUCTION or ground.looks_over(assessment)
        held = () if outlook is None or off else words_of_advice.in_hoses(state, outlook.to_come_kg)
        return replace(_plain(DO_NOT_ADD, why), reasons=(why, *held))
    starved = doubts.starved_behind_liquid(state, basis)
    if starved is not None and assessment.verdict in (OVER, ON_TARGET):
        return _end(state, outlook, DO_NOT_ADD, (starved, why))
    seen = outlook.observations
    changed = _changed(state, basis, outlook, early, now)
    if changed is not None:
        return changed
    beside = doubts.beside_the_target(state, basis)
    if assessment.verdict == OVER:
        slip = ground.doubted_target(state, basis)
        return _over(state, outlook, why, beside) if slip == "" else _plain(DO_NOT_ADD, slip)
    least = outlook.low_kg + outlook.to_come_kg
    first_here = assessment.verdict != ON_TARGET and outlook.readings_here < 2
    # The cheap check before the second addition costs a minute. It ends nothing.
    readings = doubts.CHECKED_FROM if first_here else doubts.SESSION_READINGS
    doubt = doubts.doubt(state, basis, seen, outlook.full_charge_kg, least, readings)
    first = doubts.to_check_first(state, basis)
    if assessment.verdict == ON_TARGET:
        moving = _still_moving(outlook, basis, now)
        if moving is not None and doubt is None:
            return moving
        said = (why,) if beside is None else (why, beside)
        if assessment.bars_adding is not None:
            said = (*said, sentence(assessment.bars_adding, state.units))
        return _checked(state, basis, outlook, _near(state, outlook, early, said, doubt), first)
    if doubt is not None:
        return _doubted(state, outlook, early, doubt)
    # A part of the last shot is not in a reading that came before even the shortest wait.
    soon = _unsettled(state, basis, outlook, wait_after(state, outlook, 0.0), now)
    if soon is not None:
        return soon
    said = (why,) if first is None else (first[0], why)
    return _checked(state, basis, outlook, _add(state, outlook, early, said), first)


def _changed(
    state: State, basis: Taken, outlook: Outlook, early: Advice | None, now: Moment
) -> Advice | None:
    """Something else than the charge moved; where it was the load, what rests counts again."""
    seen = outlook.observations
    doubt = moved(state, seen, outlook.full_charge_kg)
    if doubt is not None:
        return _doubted(state, outlook, early, doubt)
    load = load_moved(state, seen, outlook.full_charge_kg)
    return None if load is None else _later(outlook, ground.again_s(basis, now), load)


def _checked(
    state: State, basis: Taken, outlook: Outlook, advice: Advice, first: tuple[str, bool] | None
) -> Advice:
    """Add, with the cheap checks said before the second addition. They block nothing, but a sign of
    a restriction waits for what the filter drier shows."""
    if advice.action != ADD or not ground.is_second(state, basis):
        return advice
    if first is None:
        checks = words_of_advice.before_second(basis.reading.drier)
    elif first[1]:
        return _with_range(READ, outlook, (words_of_advice.DRIER_FIRST, first[0]))
    else:
        checks = () if first[0] in advice.reasons else (first[0],)
    return replace(advice, reasons=checks + advice.reasons)


def _doubted(state: State, outlook: Outlook, early: Advice | None, doubt: str) -> Advice:
    """A doubt is believed when a settled second reading shows it too."""
    if early is not None:
        return early
    if outlook.readings_here < 2:
        return _with_range(READ, outlook, (doubt, words_of_advice.CHEAP_CHECK))
    return _end(state, outlook, DO_NOT_ADD, (doubt,))


def _while_open(state: State, outlook: Outlook | None, since: Sequence[Shot]) -> Advice:
    if outlook is None:
        return _plain(STOP, words_of_advice.SHUT_UNPLANNED)
    fed = plans.fed_kg(since, outlook)
    plan = plans.planned(outlook)
    left = plans.from_cylinder_kg(state, plans.whole_kg(plan) - fed)
    if left < LEAST_SHOT_KG:
        return _plain(STOP, words_of_advice.SHUT_UNPLANNED)
    return _shot(state, plan, left, (), fed)


def _after_shots(
    state: State, outlook: Outlook | None, since: Sequence[Shot], now: Moment, calls: bool
) -> Advice:
    """A shot went in since the last reading that counts. Only where that one still `calls` for
    charge by itself does the rest of the batch follow: a reason opens one shot, and a trim is read
    after its first. After a shot that a clock in doubt ended nobody knows how long ago that was."""
    shut = since[len(since) - 1].closed
    passed = 0.0 if shut is None else elapsed(shut, now).seconds
    calls = calls and (shut is None or shut.run == now.run or shut.slow_most == 0)
    fed = plans.fed_kg(since, outlook)
    if outlook is not None:
        if lost_since(state, since, outlook.full_charge_kg, outlook.counted_kg_s):
            return _later(None, outlook.full_wait_s - passed, words_of_advice.LOST_SHOT)
        outlook = plans.planned(outlook)
    wait = wait_after(state, outlook, fed) - passed
    left = 0.0 if outlook is None or not calls else rest_kg(outlook, fed)
    saw = "" if outlook is None or left == 0.0 else ended_by(state, outlook, fed)
    follows = left > 0.0 and saw == "" and wait >= 1.0
    if outlook is not None and follows and not outlook.not_by_hand(fed):
        pause = feeding.boil_off_s(outlook.suction_after(fed)) - passed
        if pause >= 1.0:
            return _wait(outlook, pause, words_of_advice.BOIL_OFF, fed)
        why = words_of_advice.batch(state, left + fed, fed)
        why = why + " " + words_of_advice.glance(state, outlook)
        advice = _shot(state, outlook, left, (why,), fed)
        return replace(advice, glance_k=limit_value_k(outlook))
    if wait >= 1.0:
        why = words_of_advice.SETTLING if saw == "" else saw + " " + words_of_advice.SETTLING
        return _wait(outlook, wait, why, fed)
    return _with_range(READ, outlook, (words_of_advice.SETTLED,), fed)


def _unsettled(
    state: State, basis: Taken, outlook: Outlook | None, wanted: float, now: Moment
) -> Advice | None:
    """A later reading is called for, because this one came before the `wanted` wait was over."""
    since_s = basis.since_shot_s
    if since_s is None or outlook is None or not state.shots or since_s >= wanted - 1.0:
        return None
    shut = state.shots[len(state.shots) - 1].closed
    left = wanted if shut is None else wanted - elapsed(shut, now).seconds
    return _later(outlook, left, words_of_advice.NOT_SETTLED)


def _still_moving(outlook: Outlook, basis: Taken, now: Moment) -> Advice | None:
    """Two readings with nothing fed between them differ: something still moves, whatever the
    minutes say. Nothing is finished on them."""
    if not ground.moving(outlook):
        return None
    return _later(outlook, ground.again_s(basis, now), words_of_advice.STILL_MOVING)


def _later(outlook: Outlook | None, left: float, why: str) -> Advice:
    """Read again, once the seconds that are left are over."""
    if left >= 1.0:
        return _wait(outlook, left, why, 0.0)
    return _with_range(READ, outlook, (why,))


def _over(state: State, outlook: Outlook, why: str, beside: str | None) -> Advice:
    if outlook.gap_k > -outlook.tolerance_k - CONFIRM_K and outlook.readings_here < 2:
        return _with_range(READ, outlook, (words_of_advice.CONFIRM_NEAR,))
    amount = -outlook.missing_kg
    most = plans.fed_since_short_kg(outlook)
    if most is not None and most < LEAST_SHOT_KG:
        return _end(state, outlook, DO_NOT_ADD, (words_of_advice.OVER_UNFED, why))
    limit = () if most is None or most >= amount else (words_of_advice.all_fed(state, most),)
    reasons = (why, words_of_advice.NEVER_VENT, *limit) + (() if beside is None else (beside,))
    amount = amount if most is None else min(amount, most)
    advice = _with_range(RECOVER, outlook, reasons)
    return replace(advice, amount_kg=amount if amount > 0.0 else None)


def _hoses_too(state: State, basis: Taken, advice: Advice) -> Advice:
    """What the hoses hold is recovered too: there is too much inside without it."""
    bars = advice.action in (RECOVER, DO_NOT_ADD) and not advice.recover_hoses
    if not bars or basis.hoses_kg < LEAST_SHOT_KG:
        return advice
    goes_in = words_of_advice.in_hoses(state, basis.hoses_kg)
    told = [each for each in advice.reasons if each not in goes_in]
    too = words_of_advice.recover_too(state, basis.hoses_kg)
    return replace(advice, recover_hoses=True, reasons=(*told, too))


def _near(
    state: State, outlook: Outlook, early: Advice | None, why: tuple[str, ...], doubt: str | None
) -> Advice:
    """The reading is within tolerance. `why` begins with that; whatever more it says speaks against
    the shot that would bring it to the middle."""
    if doubt is not None:
        return _end(state, outlook, FINISH, (*why, doubt))
    near = outlook.expected_gap_k <= CLOSE * outlook.tolerance_k
    enough = len(outlook.observations) >= doubts.SESSION_READINGS and outlook.within >= LIKELY
    plan = plans.planned(outlook)
    silent = len(why) == 1 and ground.is_wanted(state)
    trim = silent and plans.is_worth(plan) and not outlook.not_by_hand(0.0)
    low = trim and outlook.gap_k > SHORT_SHARE * outlook.tolerance_k
    if not low and (enough or (near and outlook.within >= SURE)):
        return _end(state, outlook, FINISH, why)
    if early is not None:
        return early
    if trim:
        return _shot(state, plan, plan.safe_kg, (words_of_advice.TRIM,))
    if outlook.readings_here < 2:
        return _with_range(READ, outlook, (words_of_advice.CONFIRM_NEAR,))
    return _end(state, outlook, FINISH, why)


def _end(state: State, outlook: Outlook, action: AdvisedAction, why: tuple[str, ...]) -> Advice:
    """Nothing more goes in: say what the hoses bring after it, or that it would be too much."""
    recover = plans.likely_past_with_hoses(outlook)
    if action == FINISH:
        holds = outlook.to_come_kg >= LEAST_SHOT_KG
        recover = plans.better_recovered(outlook) or (holds and ground.is_barred(state))
    if recover:
        too_much = words_of_advice.hoses_too_much(state, outlook.to_come_kg)
        said = (too_much, *why) if action == FINISH else (*why, too_much)
        return replace(_with_range(action, outlook, said), recover_hoses=True)
    held = words_of_advice.in_hoses(state, outlook.to_come_kg)
    return _with_range(action, outlook, why + held)


def _add(state: State, outlook: Outlook, early: Advice | None, why: tuple[str, ...]) -> Advice:
    """Add, as far as that goes."""
    least = plans.least_kg(outlook)
    near = outlook.expected_gap_k <= CLOSE * outlook.tolerance_k
    hoses_do = outlook.to_come_kg > 0.0 and near and outlook.within >= SURE
    plan = plans.planned(outlook)
    recover = plans.better_recovered(outlook)
    if outlook.most_kg < least and early is None and not hoses_do:
        return _end(state, outlook, DO_NOT_ADD, (words_of_advice.NO_SUPERHEAT_LEFT, *why))
    if plan.safe_kg >= least and plan.missing_kg > 0.0 and not hoses_do:
        if plans.reads_again(outlook, plan):
            return _with_range(READ, outlook, (words_of_advice.READ_SURER,))
        said = (*why, *words_of_advice.may_hide(state, outlook))
        if not recover:
            return _shot(state, plan, plan.safe_kg, said)
        said = (*said, words_of_advice.RECOVER_HOSES)
        return replace(_shot(state, plan, plan.safe_kg, said), recover_hoses=True)
    if early is not None:
        return early
    if outlook.readings_here < 2 and not hoses_do:
        return _with_range(READ, outlook, (words_of_advice.CONFIRM_NEAR,))
    coarse = plans.smallest_is_too_much(outlook)
    unsure = outlook.blind or outlook.over > plans.OVER_MOST or outlook.missing_kg <= 0.0
    if recover and (unsure or coarse):
        return _end(state, outlook, FINISH, why)
    if hoses_do or outlook.missing_kg <= 0.0:
        return _end(state, outlook, FINISH, (words_of_advice.HOSES_DO, *why))
    if coarse:
        return _end(state, outlook, DO_NOT_ADD, (words_of_advice.TOO_COARSE, *why))
    return _shot(state, outlook, least, why)


def _shot(
    state: State, outlook: Outlook, left: float, why: tuple[str, ...], fed_kg: float = 0.0
) -> Advice:
    """The next opening of what is left to feed, with `fed_kg` in since the last reading; none where
    no hand can keep it small enough."""
    if open_shot(state) is None and outlook.not_by_hand(fed_kg):
        return _end(state, outlook, DO_NOT_ADD, (words_of_advice.NOT_BY_HAND, *why))
    left = plans.from_cylinder_kg(state, left)
    if left <= 0.0:
        return _end(state, outlook, DO_NOT_ADD, (words_of_advice.CHANGE_CYLINDER, *why))
    suction = outlook.suction_after(fed_kg)
    step = step_of(state.scale)
    first = min(left, feeding.most_in_one_opening(suction, outlook.flow, step))
    suction = outlook.suction_after(fed_kg + 0.5 * first)
    most = feeding.most_in_one_opening(suction, outlook.flow, step)
    if outlook.blind:
        most = min(most, max(outlook.opening_kg, feeding.least_blind(suction)))
    wanted = min(left, most)
    wanted = min(wanted - outlook.flow.fastest_kg_s * feeding.LAG_S, wanted / outlook.flow.over)
    amount = feeding.whole_steps(max(wanted, LEAST_SHOT_KG), step)
    amount = plans.whole_steps_held(state, amount)
    reasons = list(why)
    if left > most:
        reasons.append(words_of_advice.liquid_limit(state, amount))
    asked = feeding.rate_to_ask_for(suction, outlook.flow)
    rate = feeding.rate_to_count_on(outlook.flow, asked)
    seconds = feeding.seconds_for(amount, rate)
    too_much = feeding.quickest_brings(suction, outlook.flow, feeding.MORE_THAN_TAKEN)
    if seconds is None or too_much:
        reasons.append(words_of_advice.TOO_QUICK)
    told = tuple(reasons) + words_of_advice.of_shot(state, outlook, amount, asked, fed_kg)
    advice = _with_range(ADD, outlook, told, fed_kg)
    return replace(advice, amount_kg=amount, open_s=seconds, rate_kg_s=rate)


def _weigh_in(state: State, why: str) -> Advice:
    """With the whole charge by weight where it is known: never an amount to add to the rest."""
    told = () if state.system is None else words_of_advice.whole_charge(state, state.system)
    return Advice(WEIGH_IN, None, None, None, None, None, None, (why, *told))


def _wait(outlook: Outlook | None, seconds: float, why: str, fed_kg: float) -> Advice:
    return replace(_with_range(WAIT, outlook, (why,), fed_kg), wait_s=seconds)


def _with_range(
    action: AdvisedAction, outlook: Outlook | None, reasons: tuple[str, ...], fed_kg: float = 0.0
) -> Advice:
    """Advice without an amount; `fed_kg` went in since the reading the outlook rests on."""
    advice = Advice(action, None, None, None, None, None, None, reasons)
    if outlook is None:
        return advice
    return replace(
        advice,
        remaining_kg=outlook.missing_kg - fed_kg,
        remaining_low_kg=outlook.low_kg - fed_kg,
        remaining_high_kg=outlook.high_kg - fed_kg,
    )


def _plain(action: AdvisedAction, why: str) -> Advice:
    return Advice(action, None, None, None, None, None, None, (why,))
