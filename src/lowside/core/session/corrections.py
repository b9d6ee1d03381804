"""Corrections are new events: a void (`event.voided`) or an amendment (`event.amended`).

Voiding a void restores what it voided, because voids are settled from the latest back: by the time
one is looked at, it is known whether it is still valid.

What the office wrote is corrected by nobody, and voided and restored by its own writer alone. A
session's start is neither.

“Discard” is of an empty session. Beside other entries, of a phone that had no signal, it is void.
"""

from collections.abc import Mapping, Sequence

from lowside.core.session.events import DISCARDED, FIRST_KIND, IN_AN_EMPTY_ONE, Event, writer_of
from lowside.core.session.state import STANDS, Entry

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
        eid of each voided event -> eid of the void (of a “discard” its own), and eid of each
        corrected one -> the data that replaces it: that of its last amendment that was not voided.
    """
    owned = owners(ordered)
    voided: dict[str, str] = {}
    for event in reversed(ordered):
        if event.kind == "event.voided" and event.eid not in voided:
            target = event.data.get("target", "")
            writer = writer_of(event.dev)
            if owned.get(target, writer) == writer:
                voided[target] = event.eid
    entered = [event.kind for event in ordered if event.eid not in voided]
    if any(kind not in IN_AN_EMPTY_ONE and not kind.startswith("office.") for kind in entered):
        for event in ordered:
            if event.kind == DISCARDED:
                voided[event.eid] = event.eid
    amended: dict[str, Mapping[str, str]] = {}
    for event in ordered:
        target = event.data.get("target", "")
        if event.kind == "event.amended" and event.eid not in voided and target not in owned:
            amended[target] = {k: v for k, v in event.data.items() if k != "target"}
    return voided, amended


def kind_of(entries: Sequence[Entry], event: Event) -> str:
    """The event's kind; of a correction that of the entry it corrects."""
    if event.kind == "event.amended":
        for entry in entries:
            if entry.eid == event.data.get("target", "") and entry.status == STANDS:
                return entry.kind
    return event.kind


def corrected_apart(entries: Sequence[Entry], eid: str) -> bool:
    """Whether the last correction of this entry has a field as it was first written that another
    phone’s last one had changed: that phone’s was not seen, and all of its data is gone."""
    first: Mapping[str, str] = {}
    last: dict[str, Mapping[str, str]] = {}
    newest = ""
    for entry in entries:
        if entry.eid == eid:
            first = entry.written
        amends = entry.kind == "event.amended" and entry.data.get("target", "") == eid
        if amends and entry.status == STANDS:
            newest = writer_of(entry.dev)
            last[newest] = entry.data
    for writer, data in last.items():
        for name in {**first, **data}:
            before = first.get(name, "")
            undone = last[newest].get(name, "") == before and data.get(name, "") != before
            if writer != newest and name != "target" and undone:
                return True
    return False
