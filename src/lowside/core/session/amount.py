"""What a session added to its unit and recovered from it: one amount for the ticket, the lists, the
law's record and the next visit."""

from collections.abc import Sequence
from dataclasses import dataclass

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
    """As far as it is known."""
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
        fed = sum_of_shots(shots)
        unweighed = unweighed_of(shots)
        if start is not None and end is not None:
            between = _between(state, start, end)
            if unweighed_of([shot for shot in shots if shot.eid in between]) > 0:
                by_weights = True
                fed = max(fed, start.kg - end.kg - charged)
                if not several and not end.fed_after and _all_in(state, shots, between):
                    unweighed = 0
        unknown = unknown + unweighed
        total = total + fed
    recovered = 0.0
    for one in state.recovered:
        recovered = recovered + (0.0 if one.kg is None else one.kg)
    return Amount(total, recovered, unknown, by_weights)


def _between(state: State, start: Weight, end: Weight) -> list[str]:
    """The entries from the one weighing to the other."""
    order = [entry.eid for entry in state.entries]
    return order[order.index(start.eid) : order.index(end.eid)]


def _all_in(state: State, shots: Sequence[Shot], between: Sequence[str]) -> bool:
    """Whether these shots and the weigh-in are among these entries."""
    for shot in shots:
        if shot.eid not in between:
            return False
    for entry in state.entries:
        if entry.kind in LOTS and entry.status == STANDS and entry.eid not in between:
            return False
    return True
