"""What the hand has found at the filter drier by the time of a reading."""

from lowside.core.handbook.system import COLDER, NOT_REACHED, SAME
from lowside.core.session.state import READING_KINDS, STANDS, Entry


def drier_after(known: str, entry: Entry) -> str:
    """The answer that holds after this entry, `known` before it; "" when nobody has answered."""
    if entry.status != STANDS or entry.kind not in READING_KINDS:
        return known
    return drier_now(known, entry.data.get("drier", "").strip())


def drier_now(known: str, said: str) -> str:
    """The answer that holds once a reading said this. A restriction stays until the drier is felt
    again: one that was not reached was not felt."""
    if said in (SAME, COLDER) or (said == NOT_REACHED and known == ""):
        return said
    return known
