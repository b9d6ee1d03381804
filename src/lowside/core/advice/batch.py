"""Whether the rest of a batch follows without a settled reading."""

from lowside.core.advice import ground, words
from lowside.core.advice.glance import enough_k
from lowside.core.advice.moved import seen_in_batch
from lowside.core.advice.outlook import Outlook
from lowside.core.advice.plan import LEAST_SHOT_KG, whole_kg
from lowside.core.judging.charge import reason
from lowside.core.session.state import State

BATCH_LEFT = 0.30
"""When this share of a planned addition is still to be fed, it goes in before the next reading;
unless the shots so far have settled meanwhile: then a reading costs no wait. Our choice."""


def rest_kg(outlook: Outlook, fed_kg: float) -> float:
    """What is still to be fed before the next reading [kg]; 0 where that is not worth it."""
    planned = whole_kg(outlook)
    left = planned - fed_kg
    least = max(LEAST_SHOT_KG, BATCH_LEFT * planned, outlook.subject.step_kg)
    return left if left >= least and outlook.missing_kg - fed_kg >= LEAST_SHOT_KG else 0.0


def ended_by(state: State, outlook: Outlook, fed_kg: float) -> str:
    """What a glance since the last shot showed that lets no further one follow; empty: nothing."""
    assessment = state.readings[len(state.readings) - 1].assessment
    if ground.flooding(state) and assessment is not None:
        return reason(assessment, state.units)
    enough = enough_k(state, outlook)
    if enough is not None:
        return words.saw_enough(state, outlook, enough)
    return seen_in_batch(state, outlook.observations, fed_kg, outlook.full_charge_kg)
