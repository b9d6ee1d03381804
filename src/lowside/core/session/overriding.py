"""Which readings a technician may go against, and only with a reason.

A refusal holds whatever anybody writes. Beside a reading that calls for charge or is on target,
and says nothing else, the few in `WITH_A_REASON` ask for one: a refusal that a reason opens would
hide what else the reading lacks. The table with the source of each is in `docs/permission.md`. A
reason counts for the finding it was written against, not for one that comes later.
"""

from lowside.core.judging.by_target import ABOVE_CHART
from lowside.core.judging.charge import CALLS_FOR_CHARGE, ON_TARGET, OVER, POINTS_ELSEWHERE
from lowside.core.judging.findings import Finding
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    READING_KINDS,
    STANDS,
    State,
    Taken,
    latest_reading,
)

WITH_A_REASON = ("current_high", "split_high", "head_held", "below_chart")
"""Rated load amps come from the approval and do not say whether operating amps are right (READ:
an article on compressor amperage ratings). A temperature drop within the thermometers' error of
the table is no proof of low airflow, and another text rejects the test (READ: an article on
checking the charge without gauges). With a fan whose speed is controlled a manufacturer charges by
subcooling once it is steady (READ: LCS 5.2.2); whether it cycles, only the technician sees."""

SAVE_AGAIN = "If the target is right, save it once more before anything is recovered."

CURRENT_MORE = 1.1
"""A reason for a current counts up to this many times it: a third more is another cause, as voltage
or head. Our choice."""


def never_added_to(taken: Taken) -> Finding | None:
    """What this reading says against adding that no reason opens; `None` when nothing does."""
    assessment = taken.assessment
    if assessment is None:
        return None
    if assessment.verdict in (POINTS_ELSEWHERE, OVER):
        return assessment.reason_finding
    return assessment.bars_adding


def doubtful_target(state: State, taken: Taken) -> Finding | None:
    """What is asked before refrigerant is taken out by a typed target far above the chart's; `None`
    once it was saved twice alike. Our choice: a slip of the thumb would empty a sound unit."""
    saved = [
        entry.data.get("maker_superheat", "") + entry.data.get("maker_superheat_unit", "")
        for entry in state.entries
        if entry.kind == "target.set" and entry.status == STANDS
    ]
    assessment = taken.assessment
    count = len(saved)
    if assessment is None or assessment.verdict != OVER:
        return None
    if count > 1 and saved[count - 1] == saved[count - 2]:
        return None
    for finding in assessment.findings:
        if finding.code == ABOVE_CHART:
            return finding
    return None


def needs_a_reason(taken: Taken) -> Finding | None:
    """What this reading says against adding that a reason opens; `None` when nothing does."""
    return _not_answered(taken, None)


def open_objection(state: State) -> Finding | None:
    """What the newest reading says against adding while the decision gives no reason for it."""
    latest = latest_reading(state)
    if latest is None:
        return None
    return _not_answered(latest, None if state.decision_reason == "" else decided_on(state))


def _not_answered(taken: Taken, decided: Taken | None) -> Finding | None:
    """The first that `decided`, the reading a reason was written at, did not say too."""
    answered = [] if decided is None else [each.code for each in _asking(decided)]
    for finding in _asking(taken):
        more = finding.code == "current_high" and _draws_more(decided, taken)
        if more or finding.code not in answered:
            return finding
    return None


def _draws_more(decided: Taken | None, now: Taken) -> bool:
    """Whether the compressor draws more than its reason was written at, beyond what charge adds."""
    before = None if decided is None else decided.reading.compressor_a
    current = now.reading.compressor_a
    return before is not None and current is not None and current > CURRENT_MORE * before


def _asking(taken: Taken) -> list[Finding]:
    """What asks for a reason beside a reading that calls for charge, or is on target."""
    assessment = taken.assessment
    if assessment is None or assessment.verdict not in (CALLS_FOR_CHARGE, ON_TARGET):
        return []
    return [each for each in assessment.findings if each.code in WITH_A_REASON]


def gone_against(state: State) -> Finding | None:
    """What the readings said when it was decided to add in spite of it."""
    decided = decided_on(state)
    if decided is None or decided.assessment is None or state.decision != DECIDED_TO_ADD:
        return None
    asked = needs_a_reason(decided)
    if asked is not None or decided.assessment.verdict == CALLS_FOR_CHARGE:
        return asked
    return decided.assessment.reason_finding


def decided_on(state: State) -> Taken | None:
    """The newest reading there was when the decision was made."""
    seen = ""
    eid = ""
    for entry in state.entries:
        if entry.status != STANDS:
            continue
        if entry.kind in READING_KINDS:
            seen = entry.eid
        elif entry.kind == "decision.made":
            eid = seen
    for taken in state.readings:
        if taken.eid == eid:
            return taken
    return None
