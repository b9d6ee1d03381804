"""What the last visit wrote of a unit, so that its facts are not asked twice."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.session.events import Moment
from lowside.core.session.ledger import label_key
from lowside.core.session.state import STANDS, State

MACHINE_FACTS = ("kind",)
"""Of what decides, this is the unit's; the rest is how it runs today."""


@dataclass(frozen=True)
class LastVisit:
    """What an earlier session wrote of this unit, as typed."""

    sid: str
    site: str
    unit_label: str
    started: Moment
    unit: Mapping[str, str]
    machine: Mapping[str, str]
    target: Mapping[str, str]


def visit_of(state: State) -> LastVisit | None:
    """What a session says of its unit; `None` before it says anything, and for practice."""
    if state.job is None or state.started is None or state.practice:
        return None
    unit = _entered(state, "unit.set")
    if not unit:
        return None
    machine = _entered(state, "machine.set")
    return LastVisit(
        sid=state.sid,
        site=state.job.site,
        unit_label=state.job.unit_label,
        started=state.started,
        unit=unit,
        machine={name: machine[name] for name in MACHINE_FACTS if name in machine},
        target=_entered(state, "target.set"),
    )


def last_visit(visits: Sequence[LastVisit], state: State) -> LastVisit | None:
    """The newest visit to this session's unit before it began."""
    if state.job is None or state.started is None:
        return None
    found: LastVisit | None = None
    for visit in visits:
        same = label_key(visit.site) == label_key(state.job.site) and label_key(
            visit.unit_label
        ) == label_key(state.job.unit_label)
        earlier = visit.sid != state.sid and visit.started.at <= state.started.at
        if same and earlier and (found is None or _later(visit.started, found.started)):
            found = visit
    return found


def _later(one: Moment, other: Moment) -> bool:
    return one.at > other.at


def _entered(state: State, kind: str) -> Mapping[str, str]:
    """The data of the last standing entry of a kind, without the step it completed."""
    found: Mapping[str, str] = {}
    for entry in state.entries:
        if entry.kind == kind and entry.status == STANDS:
            found = entry.data
    return {name: text for name, text in found.items() if name != "step"}
