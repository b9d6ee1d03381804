"""Corrections are new events: a void (`event.voided`) or an amendment (`event.amended`).

Voiding a void restores what it voided, because voids are settled from the latest back: by the time
one is looked at, it is known whether it is still valid.
"""

from collections.abc import Mapping, Sequence

from lowside.core.session.events import Event


def amend_data(target: str, data: Mapping[str, str]) -> dict[str, str]:
    """Data of an `event.amended` event that replaces `target`'s data by `data`."""
    return {"target": target, **data}


def voided_by(ordered: Sequence[Event]) -> dict[str, str]:
    """eid of each voided event -> eid of the void, later voids first."""
    voided: dict[str, str] = {}
    for event in reversed(ordered):
        if event.kind == "event.voided" and event.eid not in voided:
            voided[event.data.get("target", "")] = event.eid
    return voided


def amendments(ordered: Sequence[Event], voided: Mapping[str, str]) -> dict[str, Mapping[str, str]]:
    """eid -> the data that replaces it; the last amendment of each that was not voided wins."""
    found: dict[str, Mapping[str, str]] = {}
    for event in ordered:
        if event.kind == "event.amended" and event.eid not in voided:
            target = event.data.get("target", "")
            found[target] = {k: v for k, v in event.data.items() if k != "target"}
    return found
