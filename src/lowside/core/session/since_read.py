"""What came after the last reading: then that reading is not how the unit was left."""

from lowside.core.session.at_hoses import CLEARED_TO_SUCTION
from lowside.core.session.state import STANDS, State, latest_reading

WEIGHED_IN = "Weighed in, not read since."
RECOVERED = "Not read after the recovery."
FED = "Not read after the last shot."
EMPTIED_IN = "Not read after the hoses were emptied."


def since_read(state: State) -> str:
    """What happened to the charge last, if that was after the last reading; else "", as without a
    reading. An emptied hose is said where nothing else is. What the red hose holds, which is
    cleared after the final reading, came from the unit."""
    latest = latest_reading(state)
    if latest is None:
        return ""
    told = ""
    last = latest.moment.at
    for entry in state.entries:
        cleared = entry.status == STANDS and entry.data.get("step", "") in CLEARED_TO_SUCTION
        if cleared and entry.moment.at > last:
            told = EMPTIED_IN
    if latest.shots_before < len(state.shots):
        told = FED
        last = state.shots[len(state.shots) - 1].opened.at
    for recovered in state.recovered:
        if recovered.moment.at > last:
            told = RECOVERED
            last = recovered.moment.at
    for lot in state.lots:
        if lot.moment.at > last:
            told = WEIGHED_IN
            last = lot.moment.at
    return told
