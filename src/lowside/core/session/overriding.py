"""Which readings a technician may go against, and only with a reason.

A refusal holds whatever anybody writes. Beside a reading that calls for charge, and for nothing
else, the few in `WITH_A_REASON` ask for one: a refusal that a reason opens would hide what else the
reading lacks. The table with the source of each is in `docs/permission.md`. A reason counts for the
finding it was written against, not for one that comes later.
"""

from lowside.core.judging.charge import CALLS_FOR_CHARGE, OVER, POINTS_ELSEWHERE
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


def never_added_to(taken: Taken) -> Finding | None:
    """What this reading says against adding that no reason opens; `None` when nothing does."""
    assessment = taken.assessment
    if assessment is None or assessment.verdict not in (POINTS_ELSEWHERE, OVER):
        return None
    return assessment.reason_finding


def needs_a_reason(taken: Taken) -> Finding | None:
    """What this reading says against adding that a reason opens; `None` when nothing does."""
    assessment = taken.assessment
    if assessment is None or assessment.verdict != CALLS_FOR_CHARGE:
        return None
    for finding in assessment.findings:
        if finding.code in WITH_A_REASON:
            return finding
    return None


def open_objection(state: State) -> Finding | None:
    """What the newest reading says against adding while the decision gives no reason for it."""
    latest = latest_reading(state)
    if latest is None:
        return None
    objection = needs_a_reason(latest)
    if objection is None:
        return None
    decided = decided_on(state)
    if decided is None or state.decision_reason == "":
        return objection
    answered = needs_a_reason(decided)
    if answered is not None and answered.code == objection.code:
        return None
    return objection


def gone_against(state: State) -> Finding | None:
    """What the readings said when it was decided to add all the same."""
    decided = decided_on(state)
    if decided is None or decided.assessment is None or state.decision != DECIDED_TO_ADD:
        return None
    if decided.assessment.verdict == CALLS_FOR_CHARGE:
        return needs_a_reason(decided)
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
