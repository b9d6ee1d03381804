"""What the hand has found at the filter drier by the time of a reading."""

from collections.abc import Sequence

from lowside.core.handbook.system import COLDER, NOT_REACHED, SAME
from lowside.core.session.state import READING_KINDS, STANDS, Entry


def drier_by(entries: Sequence[Entry]) -> str:
    """The answer that holds after these entries; "" when nobody has answered. A restriction stays
    until the drier is felt again: one that was not reached was not felt."""
    known = ""
    for entry in entries:
        if entry.status == STANDS and entry.kind in READING_KINDS:
            said = entry.data.get("drier", "").strip()
            if said in (SAME, COLDER) or (said == NOT_REACHED and known == ""):
                known = said
    return known
