"""What the advice rests on: what blocks it, the reading that counts, and the moment it is for."""

from lowside.core.advice import feeding, words
from lowside.core.advice.outlook import Outlook
from lowside.core.judging.charge import CALLS_FOR_CHARGE, OVER, UNKNOWN, Assessment
from lowside.core.judging.findings import Unknown, sentence
from lowside.core.session import block, gate
from lowside.core.session.block import Block, BlockCode
from lowside.core.session.events import Moment, age_s, elapsed
from lowside.core.session.overriding import (
    SAVE_AGAIN,
    doubtful_target,
    never_added_to,
    open_objection,
)
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    READING_KINDS,
    STANDS,
    State,
    Taken,
    find_entry,
    latest_reading,
)
from lowside.core.session.steady import SETTLES_S, has_settled, still_settles_s, unread_since

NO_SHOT: tuple[BlockCode, ...] = ("cylinder_cold", "hoses_off", "closed_out")
"""What only a shot waits for: a warm cylinder, or nothing once the close-out has begun. The advice
goes on: it says what the end is."""
NOT_YET_DECIDED: tuple[BlockCode, ...] = (
    "undecided",
    "no_baseline",
    "reading_unknown",
    "reading_refused",
    "reading_reason",
    *NO_SHOT,
)
"""Advice is given in spite of these blocks: the decision is made by it. Not of a reading that is
nearly empty: soon after a shot it counts all the more."""

TOO_EARLY_S = 120.0
"""A reading this soon after a shot says nothing about the charge."""
MISTAP_S = 10.0
NOT_BY_MISTAKE = ("shot.opened", "system.stopped")
"""A shot voided later than this after its start was perhaps no mistake: the valve may have been
open, and nobody knows what went in. A voided stop is the same: the unit may have been off. Our
choice."""
HOW_IT_WAS = ("machine.set", "checks.answered")
"""One of these voided or corrected later than that: nobody knows how the unit was at the reading.
Perhaps it said so, and the unit was changed since. Our choice: an honest slip costs one reading."""
OLD_READING_S = 900.0
"""Nothing is added on a reading older than this, and no shot is started: outdoor air, load and the
unit move. Our choice; the manufacturers' charts ask for steady conditions at the reading (common
practice, no source)."""
LOOKS_OVER = ("overcharge", "restriction_overcharge")
"""Signs of too much inside, where the target does not say so."""
AHEAD_S = 120.0
"""Two devices' clocks may be this far apart [s] before a reading's age is not known. Our choice."""
AGAIN_S = 180.0
"""Wait [s] before a reading that still moves is taken again. Our choice."""
MOVING_K = 0.5
"""Two readings that differ by more [K] are not of a settled unit: those of a resting one differ by
0.4 K. Our choice, tuned on the tuning halves."""
MOST_AGAIN = 3
"""How many such readings there may be: a valve that hunts never rests. Our choice."""


def blocked(state: State) -> Block | None:
    """The first thing that blocks the advice; advice is given while only the decision is open."""
    found = list(gate.blocks(state))
    if not state.readings and state.start_weight is None and state.running:
        found = [each for each in found if each.instead == block.STOP]
    for each in found:
        # That nothing is added does not take out what is too much.
        left = each.code == "leave" and _is_over(state)
        if each.code not in NOT_YET_DECIDED and not left:
            return each
    return None


def _is_over(state: State) -> bool:
    read = basis(state)
    return read is not None and read.assessment is not None and read.assessment.verdict == OVER


def looks_over(assessment: Assessment) -> bool:
    """Whether what refuses this reading is a sign of too much inside; not where a number that
    cannot be true refuses it."""
    if assessment.reason_finding.code not in (*LOOKS_OVER, "floodback"):
        return False
    return any(one.code in LOOKS_OVER for one in assessment.findings)


def too_much(state: State, basis: Taken) -> bool:
    """Whether there is too much inside by the target, or by what refuses the reading."""
    assessment = basis.assessment
    if assessment is None:
        return False
    over = assessment.verdict == OVER and doubted_target(state, basis) == ""
    return over or looks_over(assessment)


def doubted_target(state: State, basis: Taken) -> str:
    """What is asked before refrigerant is taken out by the typed target; "" for nothing."""
    slip = doubtful_target(state, basis)
    return "" if slip is None else sentence(slip, state.units) + " " + SAVE_AGAIN


def is_wanted(state: State) -> bool:
    """Whether it was decided to add, and nothing is objected that nobody answered with a reason."""
    return state.decision == DECIDED_TO_ADD and open_objection(state) is None


def may_read(state: State, blocked: Block, now: Moment) -> bool:
    """Whether all that it waited for is a reading, and that can be taken now."""
    if blocked.code == "recovered":
        return wait_s(state, blocked, now) is None
    waited = blocked.code == "steady" and blocked.form == "reading"
    return waited and has_settled(state, now)


def wait_s(state: State, blocked: Block, now: Moment) -> float | None:
    """How long the unit must still run before it is read, after a part was recovered [s]; `None`
    when that is over, or something else blocks."""
    since = unread_since(state)
    if blocked.code != "recovered" or since is None:
        return None
    left = max(SETTLES_S - elapsed(since, now).seconds, still_settles_s(state, now))
    return left if left > 0.0 else None


def basis(state: State) -> Taken | None:
    """The newest reading that says something about the charge: taken while running, not too soon
    after a shot, unless it is the only one."""
    found: Taken | None = None
    for taken in state.readings:
        if not taken.running:
            continue
        if taken.since_shot_s is not None and taken.since_shot_s < TOO_EARLY_S:
            continue
        found = taken
    return found


def calls(state: State, basis: Taken) -> bool:
    """Whether this reading calls for charge, and no later one is of a clock in doubt."""
    at = [taken.eid for taken in state.readings].index(basis.eid)
    short = basis.assessment is not None and basis.assessment.verdict == CALLS_FOR_CHARGE
    return short and not any(taken.apart for taken in state.readings[at:])


def is_old(basis: Taken, now: Moment) -> bool:
    """Whether this reading is too long ago for a shot, or by a clock that is ahead of this one so
    far that nobody knows."""
    ahead_s = (basis.moment.at - now.at) / 1000.0
    unknown = basis.moment.run != now.run and ahead_s > AHEAD_S
    return unknown or age_s(basis.moment, now) > OLD_READING_S


def struck_out(state: State, basis: Taken) -> bool:
    """Whether a later reading was voided, or a later shot or stop, but not at once; or what was
    said of the unit was taken back since."""
    for entry in state.entries:
        if entry.status != STANDS or "target" not in entry.data:
            continue
        struck = find_entry(state, entry.data["target"])
        if struck is None:
            continue
        late = elapsed(struck.moment, entry.moment).seconds > MISTAP_S
        moment = struck.moment
        about = find_entry(state, struck.data.get("target", ""))
        said = struck.kind if about is None else about.kind
        if late and said in HOW_IT_WAS:
            moment = entry.moment
        elif entry.kind != "event.voided" or not (
            struck.kind in READING_KINDS or (late and struck.kind in NOT_BY_MISTAKE)
        ):
            continue
        if elapsed(basis.moment, moment).seconds > 0.0:
            return True
    return False


def why_read(state: State) -> str:
    """Why nothing is said before a reading that counts."""
    if state.system is None:
        return words.NO_UNIT
    if not state.readings:
        return words.NO_READING
    if basis(state) is None:
        return words.NO_USABLE_READING
    return words.NO_HANDBOOK


def restricted(state: State) -> str | None:
    """The restriction that the hand has found at the filter drier, in words."""
    latest = latest_reading(state)
    refused = None if latest is None else never_added_to(latest)
    if refused is None or refused.code != "drier":
        return None
    return sentence(refused, state.units)


def is_barred(state: State) -> bool:
    """Whether the newest reading, a complete one, says that no more goes in."""
    return any(each.code == "reading_refused" for each in gate.blocks(state))


def is_second(state: State, basis: Taken) -> bool:
    """Whether `basis` is the first to show what went in: the second addition would follow."""
    for taken in state.readings:
        if taken.running and 0 < taken.shots_before < basis.shots_before:
            return False
    return basis.shots_before > 0


def flooding(state: State) -> bool:
    """The newest reading, settled or not, shows no superheat, or is one never added to, or cannot
    be judged: the gate is closed then."""
    later = state.readings[len(state.readings) - 1]
    if later.assessment is None:
        return False
    if later.assessment.verdict == UNKNOWN or never_added_to(later) is not None:
        return True
    superheat = later.assessment.measured.superheat_k
    return not isinstance(superheat, Unknown) and superheat < feeding.SAFE_SUPERHEAT_K


def moving(outlook: Outlook) -> bool:
    """Whether the last two readings differ though nothing was fed between them."""
    if not 2 <= outlook.readings_here <= MOST_AGAIN:
        return False
    count = len(outlook.observations)
    before = outlook.observations[count - 2]
    return abs(outlook.observations[count - 1].gap_k - before.gap_k) > MOVING_K


def again_s(basis: Taken, now: Moment) -> float:
    """How long a unit that still moves is left alone before it is read again [s], from now."""
    return AGAIN_S - elapsed(basis.moment, now).seconds
