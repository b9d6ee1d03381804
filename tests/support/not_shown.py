"""What the calls on paper show; what no lesson shows, and why. All else that keeps charge out has
a lesson."""

from functools import lru_cache

from lowside.core.judging.findings import REFUSE
from lowside.core.judging.plausibility import WET_ABOVE_DRY, WET_AGAINST_HUMIDITY
from lowside.core.session import gate
from lowside.core.session.state import State, latest_reading
from lowside.practice.calls import calls, played

_A_GAP = "It is no fault of a unit: an answer or an entry is missing, and its page asks for it."
_A_STATE = "It is a state of the session after a walk or at its end, which every lesson may reach."

NOT_SHOWN: dict[str, str] = {
    "machine_unanswered": _A_GAP,
    "port_unanswered": _A_GAP,
    "circuit_unanswered": _A_GAP,
    "checks_unanswered": _A_GAP,
    "no_target": _A_GAP,
    "no_cylinder": _A_GAP,
    "not_weighed": _A_GAP,
    "no_baseline": _A_GAP,
    "reading_unknown": _A_GAP,
    "apart": "A lesson has one phone.",
    "corrected_apart": "A lesson has one phone.",
    "undecided": _A_GAP,
    "no_liquid_port": "A practice unit has both ports; what to do without one is weigh-in.",
    "leave": _A_STATE,
    "closed": _A_STATE,
    "hoses_off": _A_STATE,
    "not_joined": _A_STATE,
    "closed_out": _A_STATE,
    "emptied": _A_STATE,
    "recovered": _A_STATE,
    "recovery_begun": _A_STATE,
    "weighed_in": _A_STATE,
}
"""Code of a reason not to add -> why no lesson shows it."""

SLIPS = (WET_ABOVE_DRY, WET_AGAINST_HUMIDITY)
"""At a box, and no fault of a unit: the page that corrects the reading says so beside it."""


@lru_cache(maxsize=1)
def shown_codes() -> frozenset[str]:
    """Those of all calls."""
    return frozenset(code for call in calls() for code in fault_codes(played(call.id).state))


def fault_codes(state: State) -> set[str]:
    """The reasons not to add that the program finds: what blocks, what the reading refuses."""
    found: set[str] = {one.code for one in gate.blocks(state)}
    taken = latest_reading(state)
    if taken is not None and taken.assessment is not None:
        found |= {one.code for one in taken.assessment.findings if one.level == REFUSE} - set(SLIPS)
    return found
