"""What is said of the liquid in the hoses: recover it on this unit, and where that is chosen."""

from typing import Any

from lowside.core.advice.advice import Advice
from lowside.core.pages import addresses
from lowside.core.pages.parts import alert
from lowside.core.session.state import State, recovers_hoses

RECOVER_FORM = "hoses_recover"
RECOVERY_LEAD = (
    "Leave the cylinder valve and the red hose as they are: they are the relief. Take the final "
    "reading. Then the unit is switched off, and what the hoses hold goes into the cylinder or a "
    "recovery cylinder. It takes a recovery machine."
)


def hose_alerts(state: State, advice: Advice, clears: bool) -> list[dict[str, Any]]:
    """What to do with it.

    Args:
        state: the session.
        advice: of this moment.
        clears: whether the page is of a step that lets it into the unit.
    """
    if state.closed is not None:
        return []
    if recovers_hoses(state):
        if not clears:
            return []
        found = alert(
            "stop",
            "Not this step.",
            "You chose to recover the hoses. Do not clear them into the unit.",
            "Take the final reading with the hoses on. Then recover what they hold.",
        )
        found["href"] = addresses.current(state.sid)
        found["link"] = "Go to the open step"
        return [found]
    if not advice.recover_hoses:
        return []
    found = alert(
        "warn",
        "Hoses.",
        "What they hold is better recovered here than cleared into the unit.",
        "It takes a recovery machine. Once you choose it, the advice may ask for a little more.",
    )
    found["href"] = addresses.form(state.sid, RECOVER_FORM)
    found["link"] = "Recover the hoses"
    return [found]
