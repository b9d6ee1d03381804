"""What came after the last reading: then that reading is not how the unit was left."""

from lowside.core.session.at_hoses import CLEARED_TO_SUCTION
from lowside.core.session.state import STANDS, State, latest_reading
from lowside.core.session.walk import LOTS, RECOVERED_KIND

WEIGHED_IN = "Weighed in, not read since."
RECOVERED = "Not read after the recovery."
FED = "Not read after the last shot."
EMPTIED_IN = "Not read after the hoses were emptied."


def since_read(state: State) -> str:
    """What happened to the charge last, if that was after the last reading; else "", as without a
    reading. By the order of the entries: two phones’ clocks may differ. An emptied hose is said
    where nothing else is. What the red hose holds, which is cleared after the final reading, came
    from the unit."""
    latest = latest_reading(state)
    if latest is None:
        return ""
    told = FED if latest.shots_before < len(state.shots) else ""
    cleared = False
    after = False
    for entry in state.entries:
        if after and entry.status == STANDS and len(entry.problems) == 0:
            cleared = cleared or entry.data.get("step", "") in CLEARED_TO_SUCTION
            if entry.kind == "shot.opened":
                told = FED
            elif entry.kind == RECOVERED_KIND:
                told = RECOVERED
            elif entry.kind in LOTS:
                told = WEIGHED_IN
        after = after or entry.eid == latest.eid
    return EMPTIED_IN if told == "" and cleared else told
