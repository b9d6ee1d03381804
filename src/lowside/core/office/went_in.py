"""On which days a session added to its unit, and when it did so last."""

from lowside.core.office.dates import local_day
from lowside.core.session.events import Moment, later
from lowside.core.session.ledger import ROUNDING_KG
from lowside.core.session.state import State


def last_added(state: State) -> Moment | None:
    """When refrigerant went in last; `None` when none did. A shot that weighed nothing is none."""
    found: Moment | None = None
    for shot in state.shots:
        if shot.amount_kg is None or shot.amount_kg > ROUNDING_KG:
            found = later(found, shot.opened if shot.closed is None else shot.closed)
    for lot in state.lots:
        if lot.kg > ROUNDING_KG:
            found = later(found, lot.moment)
    return found


def service_days(state: State) -> tuple[int, int] | None:
    """First and last day of the service: the session may be kept open for days."""
    if state.started is None:
        return None
    last = later(state.started, last_added(state))
    for taken in state.readings:
        last = later(last, taken.moment)
    for one in state.recovered:
        last = later(last, one.moment)
    first = local_day(state.started)
    return first, first if last is None else max(local_day(last), first)


def day_of_addition(state: State) -> int | None:
    """The day of what was added, else the session's first: it may be kept open for days, or go on
    over midnight."""
    moment = last_added(state)
    if moment is None:
        moment = state.started
    return None if moment is None else local_day(moment)
