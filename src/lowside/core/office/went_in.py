"""What a session added to its unit and recovered from it, and on which days."""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.office.dates import local_day
from lowside.core.session.events import Moment, later
from lowside.core.session.ledger import ROUNDING_KG
from lowside.core.session.state import (
    STANDS,
    Shot,
    State,
    Weight,
    shots_by_cylinder,
    sum_of_lots,
    sum_of_shots,
    unweighed_of,
)
from lowside.core.session.walk import LOTS


@dataclass(frozen=True)
class Amount:
    """What a session added and took out [kg]."""

    added_kg: float
    recovered_kg: float
    unknown: int
    """Shots that neither a scale nor a cylinder's two weights tell of."""
    by_weights: bool
    """A shot was not weighed, so the difference of start and end weight was taken."""

    @property
    def at_least(self) -> bool:
        return self.unknown > 0


def amount(state: State) -> Amount:
    """What went in and what was recovered. What the hoses brought is not in it.

    Each cylinder by its own shots and its own weights.
    """
    charged = sum_of_lots(state.lots)
    weights = [(used.start, used.end) for used in state.used_before]
    weights.append((state.start_weight, state.end_weight))
    # With several cylinders a weigh-in's share of each is not taken off here.
    several = charged > ROUNDING_KG and len(weights) > 1
    unknown = 0
    by_weights = False
    total = charged
    for (start, end), shots in zip(weights, shots_by_cylinder(state), strict=True):
        fed, unweighed = sum_of_shots(shots), unweighed_of(shots)
        if unweighed > 0 and start is not None and end is not None:
            by_weights = True
            fed = max(fed, start.kg - end.kg - charged)
            if not several and _around(state, start, shots, end):
                unweighed = 0
        unknown = unknown + unweighed
        total = total + fed
    recovered = 0.0
    for one in state.recovered:
        recovered = recovered + one.kg
    return Amount(total, recovered, unknown, by_weights)


def _around(state: State, start: Weight, shots: Sequence[Shot], end: Weight) -> bool:
    """Whether these shots and the weigh-in lie between the entries of the weights."""
    order = [entry.eid for entry in state.entries]
    fed = [shot.eid for shot in shots]
    fed += [one.eid for one in state.entries if one.kind in LOTS and one.status == STANDS]
    return set(fed) <= set(order[order.index(start.eid) : order.index(end.eid)])


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
