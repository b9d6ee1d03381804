"""A glance at the gauges between two openings of one batch.

A steep unit passes its target within one batch, before any settled reading shows it. Part of the
answer shows within a minute or two. So the next opening waits for a look.
"""

from lowside.core.advice.outlook import Outlook
from lowside.core.judging.charge import gap_of
from lowside.core.judging.targets import SUBCOOLING, judged_by_pressure
from lowside.core.session.state import State

MOVED_K = 0.9
"""A reading that hid the charge before and now moved this much [K] is no longer blind: about three
times the 0.4 K by which two readings of a resting unit differ. Our choice."""


def limit_gap_k(outlook: Outlook) -> float:
    """The gap [K] at or below which no further opening goes in before a settled reading."""
    near = outlook.tolerance_k
    if outlook.blind:
        return max(outlook.gap_k - MOVED_K, near)
    return near


def value_k(outlook: Outlook, gap_k: float) -> float | None:
    """A gap as what the gauges show [K]; `None` for a pressure of this unit's chart, which has
    units of its own."""
    if judged_by_pressure(outlook.quantity):
        return None
    if outlook.quantity == SUBCOOLING:
        return outlook.target_k - gap_k
    return outlook.target_k + gap_k


def limit_value_k(outlook: Outlook) -> float | None:
    """The limit as what the gauges show [K]."""
    return value_k(outlook, limit_gap_k(outlook))


def enough_k(state: State, outlook: Outlook) -> float | None:
    """The gap of the newest reading, settled or not, where nothing more goes in after it."""
    newest = state.readings[len(state.readings) - 1]
    if newest.assessment is None or newest.shots_before < len(state.shots):
        return None
    gap = gap_of(newest.assessment, newest.reading, outlook.quantity)
    return gap if gap is not None and gap <= limit_gap_k(outlook) else None
