"""Corrections are new events: a void (`event.voided`) or an amendment (`event.amended`).

Voiding a void restores what it voided, because voids are settled from the latest back: by the time
one is looked at, it is known whether it is still valid.

What the office wrote is corrected by nobody, and voided and restored by its own writer alone. A
session's start is neither.
"""

from collections.abc import Mapping, Sequence

from lowside.core.session.events import FIRST_KIND, Event, writer_of
from lowside.core.session.state import Entry

NOBODY = "."
"""In place of a writer, whose name has no dot."""


def amend_data(target: str, data: Mapping[str, str]) -> dict[str, str]:
    """Data of an `event.amended` event that replaces `target`'s data by `data`."""
    return {"target": target, **data}


def owners(ordered: Sequence[Event | Entry]) -> dict[str, str]:
    """eid of each entry that not everybody may void, and of what is about it -> who may."""
    found: dict[str, str] = {}
    for event in ordered:
        target = event.data.get("target", "")
        if target in found and event.kind.startswith("event."):
            found[event.eid] = found[target]
        elif event.kind.startswith("office."):
            found[event.eid] = writer_of(event.dev)
        elif event.kind == FIRST_KIND:
            found[event.eid] = NOBODY
    return found


def settled(
    ordered: Sequence[Event],
) -> tuple[dict[str, str], dict[str, Mapping[str, str]]]:
    """What the corrections come to.

    Returns
        eid of each voided event -> eid of the void, and eid of each corrected one -> the data that
        replaces it: that of its last amendment that was not voided.
    """
    owned = owners(ordered)
    voided: dict[str, str] = {}
    for event in reversed(ordered):
        if event.kind == "event.voided" and event.eid not in voided:
            target = event.data.get("target", "")
            writer = writer_of(event.dev)
            if owned.get(target, writer) == writer:
                voided[target] = event.eid
    amended: dict[str, Mapping[str, str]] = {}
    for event in ordered:
        target = event.data.get("target", "")
        if event.kind == "event.amended" and event.eid not in voided and target not in owned:
            amended[target] = {k: v for k, v in event.data.items() if k != "target"}
    return voided, amended
