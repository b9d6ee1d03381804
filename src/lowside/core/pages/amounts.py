"""How much: added, still missing, left in the cylinder, and shot by shot."""

from typing import Any

from lowside.core.advice import ground
from lowside.core.advice.advice import Advice
from lowside.core.numbers.unit_choice import label, small_mass
from lowside.core.pages.facts import fact, finding_context
from lowside.core.pages.running import timer
from lowside.core.session import cylinder as cylinders
from lowside.core.session.state import (
    State,
    added_kg,
    shot_to_weigh,
    sum_of_shots,
    unweighed_shots,
)


def amount_facts(state: State, advice: Advice) -> list[dict[str, str]]:
    facts = [fact("Added so far", small_mass(added_kg(state), state.units))]
    unweighed = unweighed_shots(state)
    if unweighed > 0:
        facts.append(fact("Shots without a weight", str(unweighed)))
    facts.extend(_missing(state, advice))
    left = cylinders.left_beside_hoses(state)
    if left is not None:
        facts.append(fact("Left in the cylinder", label("mass", left, state.units)))
    if state.last_scale_kg is not None:
        facts.append(fact("Scale read last", label("mass", state.last_scale_kg, state.units)))
    return facts


def _missing(state: State, advice: Advice) -> list[dict[str, str]]:
    """The estimate of what is missing (or too much) as a range; none while a shot's weight is asked
    for, which changes it."""
    low = advice.remaining_low_kg
    high = advice.remaining_high_kg
    if low is None or high is None or shot_to_weigh(state) is not None:
        return []
    name = "Still missing, estimate"
    if high <= 0.0:
        # What the hoses hold is not in the unit, and is better recovered there.
        basis = ground.basis(state)
        held = 0.0 if basis is None else basis.hoses_kg
        low, high = low + held, high + held
        name = "Still missing without the hoses, estimate"
    if high <= 0.0:
        much = small_mass(-high, state.units) + " to " + small_mass(-low, state.units)
        return [fact("Overcharge, estimate", much)]
    if low <= 0.0:
        return [fact(name, "at most " + small_mass(high, state.units))]
    return [fact(name, small_mass(low, state.units) + " to " + small_mass(high, state.units))]


def enough(state: State, advice: Advice) -> list[dict[str, Any]]:
    """Whether the cylinder holds what is still missing."""
    left = cylinders.left_beside_hoses(state)
    low = advice.remaining_low_kg
    high = advice.remaining_high_kg
    if left is None or low is None or high is None:
        return []
    finding = cylinders.enough(left, low, high)
    return [] if finding is None else [finding_context(state.units, finding)]


def shot_rows(state: State) -> list[dict[str, str]]:
    rows = []
    for i, shot in enumerate(state.shots):
        if shot.closed is None:
            continue
        total = sum_of_shots(state.shots[: i + 1])
        rows.append(
            {
                "number": str(i + 1),
                "open": timer(shot.open_s) if shot.open_s is not None else "not known",
                "amount": small_mass(shot.amount_kg, state.units)
                if shot.amount_kg is not None
                else "not weighed",
                "total": small_mass(total, state.units),
            }
        )
    return rows
