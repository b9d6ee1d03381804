"""What the last visit wrote of a unit, so that its facts are not asked twice."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.session.amount import amount
from lowside.core.session.apart import REPLACES
from lowside.core.session.events import Moment, writer_of
from lowside.core.session.ledger import label_key
from lowside.core.session.since_read import since_read
from lowside.core.session.state import STANDS, State, find_entry, latest_reading, sum_of_lots

SCALE_FACTS = (
    "scale_mode",
    "scale_resolution",
    "scale_resolution_unit",
    "gauges",
    "clamps",
    "wet_bulb_by",
)
HOSE_FACTS = ("hose_length", "hose_length_unit", "hose_bore", "hose_bore_unit")
CYLINDER_FACTS = (
    "cylinder_label",
    "cylinder_refrigerant",
    "cylinder_tare",
    "cylinder_tare_unit",
    "cylinder_tare_oz",
    "withdrawal",
    "restrictor",
    *HOSE_FACTS,
)
"""What is stamped on it and which hoses go with it; its pressure is today's."""
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
    job: Mapping[str, str]
    scale: Mapping[str, str]
    """How it was used, its smallest step, and the other instruments: they are the phone's, not the
    unit's."""
    cylinder: Mapping[str, str]
    added_kg: float
    """Charge added to what was inside [kg], by the cylinder’s weights too. What was weighed into
    the emptied unit is not in it."""
    dev: str = ""
    """The device that began it; "" where that is not known."""
    reading: Mapping[str, str] | None = None
    """Its last reading; `None` without one, and when charge went in or out after it."""
    unknown_shots: int = 0
    """Shots whose amount is not known, on top of it."""


def visit_of(state: State) -> LastVisit | None:
    """What a session says of its unit; `None` before it says anything, and for practice."""
    if state.job is None or state.started is None or state.practice:
        return None
    unit = _entered(state, "unit.set")
    if not unit:
        return None
    machine = _entered(state, "machine.set")
    scale = _entered(state, "scale.set")
    cylinder = _entered(state, "cylinder.set")
    found = amount(state)
    return LastVisit(
        sid=state.sid,
        site=state.job.site,
        unit_label=state.job.unit_label,
        started=state.started,
        unit=unit,
        machine={name: machine[name] for name in MACHINE_FACTS if name in machine},
        target=_entered(state, "target.set"),
        job=_entered(state, "job.set"),
        scale={name: scale[name] for name in SCALE_FACTS if name in scale},
        cylinder={name: cylinder[name] for name in CYLINDER_FACTS if name in cylinder},
        added_kg=found.added_kg - sum_of_lots(state.lots),
        dev=begun_on(state),
        reading=_read_at_the_end(state),
        unknown_shots=found.unknown,
    )


def _read_at_the_end(state: State) -> Mapping[str, str] | None:
    latest = latest_reading(state)
    if latest is None or not latest.running or since_read(state) != "":
        return None
    entry = find_entry(state, latest.eid)
    return None if entry is None else _without_step(entry.data)


def begun_on(state: State) -> str:
    """The device that began the session."""
    return writer_of(state.entries[0].dev) if state.entries else ""


def last_visit(visits: Sequence[LastVisit], state: State) -> LastVisit | None:
    """The newest visit to this session's unit before it began."""
    return newest(visits_before(visits, state))


def visits_before(visits: Sequence[LastVisit], state: State) -> list[LastVisit]:
    """All visits to this session's unit before it began, the oldest first."""
    found: list[LastVisit] = []
    if state.job is None or state.started is None:
        return found
    key = _unit_key(state.job.site, state.job.unit_label)
    seen = [state.sid]
    for visit in visits:
        earlier = visit.sid not in seen and visit.started.at <= state.started.at
        if earlier and _unit_key(visit.site, visit.unit_label) == key:
            seen.append(visit.sid)
            found.append(visit)
    found.sort(key=lambda one: (one.started.at, one.sid))
    return found


def newest(visits: Sequence[LastVisit]) -> LastVisit | None:
    """The visit that began last."""
    found: LastVisit | None = None
    for visit in visits:
        if found is None or _later(visit.started, found.started):
            found = visit
    return found


def known_units(visits: Sequence[LastVisit]) -> list[LastVisit]:
    """The last visit to each unit, the newest first."""
    ordered = list(visits)
    ordered.sort(key=lambda one: (-one.started.at, one.sid))
    seen: list[str] = []
    found: list[LastVisit] = []
    for visit in ordered:
        key = _unit_key(visit.site, visit.unit_label)
        if key not in seen:
            seen.append(key)
            found.append(visit)
    return found


def known_cylinders(visits: Sequence[LastVisit]) -> list[LastVisit]:
    """The last visit with each cylinder, the newest first."""
    ordered = list(visits)
    ordered.sort(key=lambda one: (-one.started.at, one.sid))
    seen: list[str] = [""]
    found: list[LastVisit] = []
    for visit in ordered:
        key = label_key(visit.cylinder.get("cylinder_label", ""))
        if key not in seen:
            seen.append(key)
            found.append(visit)
    return found


def _unit_key(site: str, unit_label: str) -> str:
    return label_key(site) + "\n" + label_key(unit_label)


def _later(one: Moment, other: Moment) -> bool:
    return one.at > other.at


def _entered(state: State, kind: str) -> Mapping[str, str]:
    """The data of the last entry of a kind that was not voided, without the step it completed."""
    found: Mapping[str, str] = {}
    for entry in state.entries:
        if entry.kind == kind and entry.status == STANDS:
            found = entry.data
    return _without_step(found)


def _without_step(data: Mapping[str, str]) -> Mapping[str, str]:
    return {name: text for name, text in data.items() if name not in ("step", REPLACES)}
