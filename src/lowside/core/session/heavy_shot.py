"""A shot that was far heavier, or came far quicker, than the advice it was started on."""

from dataclasses import dataclass

from lowside.core.session.ledger import STEPS_ALLOWED
from lowside.core.session.state import Shot

TIMES = 2.0
"""So many times the advised amount or flow is said. Our choice."""


@dataclass(frozen=True)
class FarFromPlan:
    """A shot [kg] and what was planned for it; `quick`: by its flow, else by its weight."""

    kg: float
    planned_kg: float
    planned_s: float | None
    open_s: float | None
    quick: bool


def far_from_plan(shot: Shot) -> FarFromPlan | None:
    """What to say of a weighed shot; `None` when it was about as advised, or nobody can know."""
    planned = shot.planned_kg
    if shot.amount_kg is None or planned is None or shot.step_kg is None:
        return None
    sure = shot.amount_kg - STEPS_ALLOWED * shot.step_kg
    heavy = shot.amount_kg > TIMES * planned and sure > planned
    seconds = shot.planned_s
    open_s = shot.open_s
    if open_s is None or shot.doubtful_time or open_s <= 0.0:
        open_s = None
    quick = False
    if seconds is not None and seconds > 0.0 and open_s is not None:
        quick = sure > TIMES * planned / seconds * open_s
    if not heavy and not quick:
        return None
    return FarFromPlan(shot.amount_kg, planned, seconds, open_s, quick)
