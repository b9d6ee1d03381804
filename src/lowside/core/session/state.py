"""What one charging session amounts to: plain values, built by `session.fold`."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.machine import Machine
from lowside.core.handbook.procedure import LOW_VALVE
from lowside.core.handbook.refrigerants import Refrigerant
from lowside.core.handbook.system import INVERT, Reading, System, Withdrawal
from lowside.core.hoses.contents import Conditions
from lowside.core.hoses.run import StepRun
from lowside.core.judging.charge import Assessment
from lowside.core.judging.findings import Finding
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.session.apart import Given
from lowside.core.session.events import IN_AN_EMPTY_ONE, Moment

EntryStatus = Literal["stands", "voided"]

STANDS: EntryStatus = "stands"
VOIDED: EntryStatus = "voided"

READING_KINDS = ("reading.taken", "reading.final")
"""Kinds of the entries that are readings."""

SINGLE_VALUED = (
    "job.set",
    "unit.set",
    "machine.set",
    "target.set",
    "checks.answered",
    "cylinder.set",
    "weight.start",
    "weight.end",
    "scale.set",
    "decision.made",
    "session.closed",
)
"""Only one entry of each of these kinds can be true at a time."""

ScaleMode = Literal["gross", "zeroed"]

GROSS: ScaleMode = "gross"
"""The scale shows cylinder and hose."""
ZEROED: ScaleMode = "zeroed"
"""Zeroed with the hoses on, so it shows what has been taken out, with either sign."""

Decision = Literal["", "add", "leave"]

NOT_DECIDED: Decision = ""
DECIDED_TO_ADD: Decision = "add"
DECIDED_TO_LEAVE: Decision = "leave"


@dataclass(frozen=True)
class Entry:
    """One event as the timeline shows it."""

    eid: str
    kind: str
    moment: Moment
    dev: str
    data: Mapping[str, str]
    """What counts, after amendments."""
    written: Mapping[str, str]
    """What was written, before them."""
    status: EntryStatus
    amended: bool
    problems: Mapping[str, str]


@dataclass(frozen=True)
class Job:
    site: str
    unit_label: str
    technician: str
    elevation_m: float


@dataclass(frozen=True)
class Cylinder:
    """What the technician read off the cylinder [kg, Pa gauge, K]."""

    label: str
    refrigerant: str
    tare_kg: float
    withdrawal: Withdrawal
    pressure_pa: float | None
    temperature_k: float | None
    hose_length_m: float | None = None
    hose_bore_m: float | None = None
    """Of the hoses used with it [m]; `None`: not said, the usual size is taken."""
    restrictor: bool = False
    """A fitting on the hose meters the liquid."""
    fitted_after: int = 0
    """Shots of the session before it was put on or taken off: they say nothing of the flow now."""


@dataclass(frozen=True)
class Weight:
    """A weighing of the bare cylinder [kg]."""

    eid: str
    moment: Moment
    kg: float
    shots: int = 0
    """Those of the session before it."""
    lots: int = 0
    """The same of what was weighed in."""
    first: "Weight | None" = None
    """Of one weighed again after it fed: its first weighing."""
    fed_after: bool = False
    """It fed, or was weighed as at the start, after this one at the end."""


@dataclass(frozen=True)
class ScaleSetting:
    """How the scale reads while the hoses are on [kg]."""

    mode: ScaleMode
    reading_kg: float
    resolution_kg: float
    gauges: str = ""
    clamps: str = ""
    wet_bulb: str = ""
    """Kinds of the other instruments, asked with it; empty: not said."""


@dataclass(frozen=True)
class UsedCylinder:
    """One that another took the place of in the middle of the session."""

    cylinder: Cylinder
    start: Weight | None
    end: Weight | None
    scale: ScaleSetting | None
    shots_until: int
    """Shots of the session up to then, of earlier cylinders too."""
    lots_until: int = 0
    """The same of what was weighed in."""
    readings_until: int = 0
    """The same of readings."""
    cleared: str = ""
    """eid of the step that opened its hose into the unit; empty: it was not."""


@dataclass(frozen=True)
class Shot:
    """One opening of the low-side valve. `amount_kg` is `None` when the scale did not say."""

    eid: str
    opened: Moment
    closed: Moment | None
    open_s: float | None
    doubtful_time: bool
    amount_kg: float | None
    before_kg: float | None = None
    """What the scale showed before it [kg]."""
    weight_asked: bool = False
    """Closed, and nobody has yet said what the scale showed, or that it was not read."""
    planned_kg: float | None = None
    """What the advice said when it was started [kg]; `None` when it said not to add."""
    planned_s: float | None = None
    """How long the valve was to be open for that [s]."""
    step_kg: float | None = None
    """Smallest step of the scale that weighed it [kg]."""


@dataclass(frozen=True)
class Taken:
    """A reading as it was taken, with what it means."""

    eid: str
    moment: Moment
    reading: Reading
    final: bool
    shots_before: int
    added_kg: float
    """Weighed charge added before it [kg]."""
    since_shot_s: float | None
    """Since the last shot was closed [s]; 0 while one is open."""
    running: bool
    assessment: Assessment | None
    """`None` until unit and target are known, or without a handbook."""
    hoses_kg: float = 0.0
    """What the hoses still held for the unit then [kg]: it goes in at the close-out."""
    apart: bool = False
    """By a phone that did not know a shot before it, or whose clock is in doubt since."""


@dataclass(frozen=True)
class Recovered:
    """What one recovery cylinder took [kg], `None` where the weight before is missing; `whole`: the
    unit was emptied."""

    moment: Moment
    kg: float | None
    whole: bool


@dataclass(frozen=True)
class Lot:
    """What one entry of a weigh-in let in [kg]."""

    kind: str
    kg: float
    start: str
    """eid of the start weight of the cylinder it came from."""
    moment: Moment
    eid: str = ""


@dataclass(frozen=True)
class State:
    """One session as its events tell it; everything on a screen derives from it."""

    sid: str
    units: UnitChoice
    procedure: str
    started: Moment | None
    job: Job | None
    system: System | None
    unit_numbers: Mapping[str, float]
    unit_texts: Mapping[str, str]
    """What the unit form said, before the target makes it a `System`."""
    target_texts: Mapping[str, str]
    machine: Machine | None
    """`None` until asked, as in sessions from before it was."""
    machine_at: Moment | None
    """When that was answered last."""
    refrigerant: Refrigerant | None
    """Facts of the unit's refrigerant; `None` while unknown, or without a handbook."""
    checks: Mapping[str, str]
    cylinder: Cylinder | None
    start_weight: Weight | None
    end_weight: Weight | None
    scale: ScaleSetting | None
    readings: tuple[Taken, ...]
    shots: tuple[Shot, ...]
    last_scale_kg: float | None
    """What the scale showed last while the hoses were on [kg]."""
    shot_before_kg: float | None
    """What it showed before the newest shot [kg]."""
    decision: Decision
    decision_reason: str
    explanation: str
    running: bool
    """False between the technician saying the unit stopped and saying it runs again."""
    stopped_at: Moment | None
    changed_at: Moment | None
    """Since when it runs as it does now: said to run again, or changed after a reading."""
    done: Mapping[str, str]
    """Step id -> eid of the event that completed it."""
    notes: tuple[tuple[Moment, str], ...]
    signed_by: str
    closed: Moment | None
    practice: bool
    entries: tuple[Entry, ...]
    cylinder_findings: tuple[Finding, ...]
    """What is known of the cylinder by its pressure and temperature; empty without a handbook."""
    flags: tuple[str, ...]
    """Sentences about the record itself: conflicts, unreadable entries, doubtful clocks."""
    walk: Mapping[str, Fields]
    """By kind of event: what the forms of recovery and weigh-in said last and what still holds."""
    recovered: tuple[Recovered, ...]
    """Every recovery of this session."""
    answers: Mapping[str, Sequence[Given]]
    """By kind of `SINGLE_VALUED`: every answer that no later one knew, the newest last."""
    lots: tuple[Lot, ...] = ()
    """All that was weighed in, whether recovered since or not."""
    lots_recovered: int = 0
    """How many of them had gone in before the unit was emptied last."""
    used_before: tuple[UsedCylinder, ...] = ()
    """The cylinders that another one took the place of, the first first."""
    liquid_port: bool = True
    """Whether the procedure followed reads the high side; as far as its name is known."""
    low_valve: str = LOW_VALVE
    """What the procedure calls the valve between the hoses and the suction; likewise."""
    discarded: bool = False
    """Begun by mistake and closed with nothing in it."""
    hoses_brought_kg: float = 0.0
    """What the steps of the close-out done so far cleared from the hoses into the unit [kg]."""
    hoses_recovered_kg: float = 0.0
    """What they hold that is recovered instead, by the hose model [kg]."""
    hoses_weighed_kg: float | None = None
    """The same as weighed [kg]; `None` when nobody did."""
    hoses_from_cylinder_kg: float = 0.0
    """What the hoses took from the cylinder for the unit, beside the shots [kg]."""
    hose_runs: tuple[StepRun, ...] = ()
    """The procedure followed at the pressures read last; empty before the first reading."""
    hoses_at: Conditions | None = None
    """What the hoses were joined to in these runs."""


RECOVERS_HOSES = "hoses.recover"
"""Kind of the event that says so."""


def recovers_hoses(state: State) -> bool:
    """Whether what the hoses hold is recovered at the close-out, not cleared into the unit."""
    return RECOVERS_HOSES in state.walk


def find_entry(state: State, eid: str) -> Entry | None:
    """The entry with this eid."""
    for entry in state.entries:
        if entry.eid == eid:
            return entry
    return None


def is_empty(state: State) -> bool:
    """Whether nothing was entered but perhaps the units."""
    kinds = [entry.kind for entry in state.entries if entry.status == STANDS]
    return state.closed is None and all(kind in IN_AN_EMPTY_ONE for kind in kinds)


def open_shot(state: State) -> Shot | None:
    """The shot whose valve is still open, if any."""
    if state.shots and state.shots[-1].closed is None:
        return state.shots[-1]
    return None


def is_finished(state: State) -> bool:
    """Whether it is closed, and no valve is open: one phone may sign while another’s is."""
    return state.closed is not None and open_shot(state) is None


def shot_to_weigh(state: State) -> Shot | None:
    """The newest shot, when it is closed and its scale reading is still to be asked for."""
    if state.shots and state.shots[-1].weight_asked:
        return state.shots[-1]
    return None


def last_shot_lacks(state: State) -> bool:
    """Whether the newest shot is still to be ended or to be weighed."""
    return open_shot(state) is not None or shot_to_weigh(state) is not None


def added_kg(state: State) -> float:
    """Sum of the weighed shots [kg]; unweighed ones are counted by `unweighed_shots`."""
    return sum_of_shots(state.shots)


def shots_of_cylinder(state: State) -> Sequence[Shot]:
    """Those fed from the cylinder that is connected now."""
    return shots_by_cylinder(state)[-1]


def shots_by_cylinder(state: State) -> list[Sequence[Shot]]:
    """Those fed from each of `used_before`, and from the one that is connected now."""
    found: list[Sequence[Shot]] = []
    first = 0
    for used in state.used_before:
        found.append(state.shots[first : used.shots_until])
        first = used.shots_until
    found.append(state.shots[first:])
    return found


def unweighed_shots(state: State) -> int:
    """Shots without a scale reading after them."""
    return unweighed_of(state.shots)


def unweighed_of(shots: Sequence[Shot]) -> int:
    """Those of these shots without a scale reading after them: one still open is among them."""
    return len([shot for shot in shots if shot.amount_kg is None])


def withdrawal_of(state: State) -> Withdrawal:
    """How the cylinder gives its liquid; turned upside down until it is said otherwise."""
    return state.cylinder.withdrawal if state.cylinder is not None else INVERT


def latest_reading(state: State) -> Taken | None:
    """The newest reading, if any."""
    return state.readings[-1] if state.readings else None


def sum_of_shots(shots: Sequence[Shot]) -> float:
    """Weighed charge of these shots [kg]."""
    total = 0.0
    for shot in shots:
        if shot.amount_kg is not None:
            total = total + shot.amount_kg
    return total


def sum_of_lots(lots: Sequence[Lot], start: str = "") -> float:
    """What these let in [kg]; with a start weight's eid, those from its cylinder."""
    total = 0.0
    for lot in lots:
        if start in ("", lot.start):
            total = total + lot.kg
    return total


def step_of(scale: ScaleSetting | None) -> float:
    """The scale's smallest step [kg]; 0 while it is not known."""
    return 0.0 if scale is None else scale.resolution_kg


def taken_out(mode: ScaleMode, before_kg: float, after_kg: float) -> float:
    """Refrigerant that left the cylinder between two scale readings [kg], negative if it gained."""
    if mode == ZEROED:
        return abs(after_kg) - abs(before_kg)
    return before_kg - after_kg


def scale_after(mode: ScaleMode, before_kg: float, amount_kg: float) -> float | None:
    """What a scale that read `before_kg` shows once `amount_kg` have left the cylinder [kg].

    `None` where a gross scale would have to show less than nothing.
    """
    if mode == ZEROED:
        shown = abs(before_kg) + amount_kg
        return -shown if before_kg < 0.0 else shown
    after = before_kg - amount_kg
    return after if after >= 0.0 else None


def scale_from(fields: Fields) -> ScaleSetting:
    """What the form of the scale says."""
    return ScaleSetting(
        scale_mode_from(fields.texts["scale_mode"]),
        fields.numbers["scale_reading"],
        fields.numbers["scale_resolution"],
        fields.texts.get("gauges", ""),
        fields.texts.get("clamps", ""),
        fields.texts.get("wet_bulb_by", ""),
    )


def scale_mode_from(text: str) -> ScaleMode:
    """The mode the scale's form names."""
    return ZEROED if text == ZEROED else GROSS


def decision_from(text: str) -> Decision:
    """The decision its form names; NOT_DECIDED for any other text."""
    for decision in (DECIDED_TO_ADD, DECIDED_TO_LEAVE):
        if decision == text:
            return decision
    return NOT_DECIDED
