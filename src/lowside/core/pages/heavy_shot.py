"""A shot that was far heavier, or came far quicker, than it was advised."""

from dataclasses import replace

from lowside.core.advice.advice import ADD, advise
from lowside.core.numbers.unit_choice import small_mass
from lowside.core.pages.wording import timer
from lowside.core.session.ledger import STEPS_ALLOWED
from lowside.core.session.state import State, latest_reading

TIMES = 2.0
"""So many times the advised amount or flow is said. Our choice."""

CHECK = (
    "Is the low-side manifold valve closed? Close it further the next time. Listen to the "
    "compressor."
)


def said_of_shot(state: State) -> str:
    """What the newest shot was and what was planned, until a reading follows; "" when it was about
    what was advised, or nobody can know."""
    latest = latest_reading(state)
    count = len(state.shots)
    if count == 0 or latest is None or state.scale is None or latest.shots_before == count:
        return ""
    shot = state.shots[count - 1]
    if shot.amount_kg is None:
        return ""
    before = replace(state, shots=state.shots[: count - 1], last_scale_kg=shot.before_kg)
    plan = advise(before, shot.opened)
    if plan.action != ADD or plan.amount_kg is None:
        return ""
    sure = shot.amount_kg - STEPS_ALLOWED * state.scale.resolution_kg
    heavy = shot.amount_kg > TIMES * plan.amount_kg and sure > plan.amount_kg
    rate = plan.rate_kg_s
    open_s = 0.0 if shot.open_s is None or shot.doubtful_time else shot.open_s
    quick = rate is not None and open_s > 0.0 and sure > TIMES * rate * open_s
    if not heavy and not quick:
        return ""
    was = small_mass(shot.amount_kg, state.units)
    planned = small_mass(plan.amount_kg, state.units)
    if open_s > 0.0:
        was = was + " in " + timer(open_s)
    if quick and plan.open_s is not None:
        planned = planned + " in " + timer(plan.open_s)
    return "The last shot was " + was + ". Planned: " + planned + ". " + CHECK
