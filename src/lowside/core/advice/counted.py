"""Which readings and shots figures over several of them are made of."""

from collections.abc import Sequence

from lowside.core.advice import feeding
from lowside.core.judging.together import apart
from lowside.core.session.cylinder import left_in_cylinder
from lowside.core.session.state import Shot, State, Taken, shot_to_weigh
from lowside.core.session.steady import has_settled


def counted(state: State, basis: Taken) -> list[Taken]:
    """Those of the running unit up to `basis`, less earlier ones of a unit that was changed since,
    and those with two numbers that do not go together: one is wrong, and nobody knows which."""
    found: list[Taken] = []
    for taken in state.readings:
        odd = taken.assessment is None or apart(taken.assessment.findings)
        odd = odd or not has_settled(state, taken.moment)
        if taken.running and (taken.eid == basis.eid or not odd):
            found.append(taken)
        if taken.eid == basis.eid:
            break
    return found


def most_unweighed_kg(state: State, full_charge_kg: float) -> float:
    """The most that a shot without a weight may count as by its time [kg]: what the cylinder holds
    by its weight, and no more than the unit's whole charge."""
    left = left_in_cylinder(state)
    return full_charge_kg if left is None else min(max(left, 0.0), full_charge_kg)


def lost_until(shots: Sequence[Shot], most_kg: float, rate_kg_s: float) -> int:
    """How many of these shots there are up to the last one whose amount nobody knows: it was not
    weighed and by its time brought more than `most_kg`, or the scale hardly moved. Readings before
    it say nothing more."""
    count = 0
    for i in range(len(shots)):
        shot = shots[i]
        by_time = 0.0 if shot.open_s is None else shot.open_s * rate_kg_s
        lost = shot.amount_kg is None and by_time > most_kg
        if shot.closed is not None and (lost or feeding.unseen(shot)):
            count = i + 1
    return count


def guessed_until(state: State, shots: int) -> int:
    """How many of the session's first `shots` shots there are up to the last one that was not
    weighed before a weight had shown any flow. Nothing is learned from readings before it: the flow
    that an opening must be safe for may be ten times what came, and by it the unit looks flat."""
    count = 0
    for i in range(shots):
        shot = state.shots[i]
        unweighed = shot.closed is not None and shot.amount_kg is None
        if unweighed and not feeding.flow_of(state, i).learned:
            count = i + 1
    return count


def lost_since(
    state: State, since: Sequence[Shot], full_charge_kg: float, rate_kg_s: float
) -> bool:
    """Whether nobody knows what one of the newest shots, `since` a reading, brought. While its
    weight is asked for it counts by its time."""
    if lost_until(since, most_unweighed_kg(state, full_charge_kg), rate_kg_s) > 0:
        return True
    before = len(state.shots) - len(since)
    return shot_to_weigh(state) is None and guessed_until(state, len(state.shots)) > before
