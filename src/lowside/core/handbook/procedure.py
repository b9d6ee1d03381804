"""A procedure: the steps of one session for one kind of hoses and manifold, as data.

`procedure_file.py` reads one. The hardware part is what `core/hoses` works with.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Stage = Literal["Prepare", "Connect", "Measure", "Charge", "Close out", "Record"]
STAGES: tuple[Stage, ...] = ("Prepare", "Connect", "Measure", "Charge", "Close out", "Record")

StepPage = Literal["step", "charge"]
"""Which page shows a step."""

STEP_PAGE: StepPage = "step"
CHARGE_PAGE: StepPage = "charge"

VolumeKind = Literal["hose", "body"]
"""A hose, or a chamber of the manifold."""

HOSE: VolumeKind = "hose"
BODY: VolumeKind = "body"

Boundary = Literal["cylinder", "suction", "liquid_line", "outside"]
"""What the hoses can be joined to, and which does not change by it."""

CYLINDER: Boundary = "cylinder"
SUCTION: Boundary = "suction"
LIQUID_LINE: Boundary = "liquid_line"
OUTSIDE: Boundary = "outside"
BOUNDARIES: tuple[Boundary, ...] = (CYLINDER, SUCTION, LIQUID_LINE, OUTSIDE)

ValveKind = Literal["gate", "handwheel", "nut", "position"]
"""Everything a hand sets: a valve in a hose's end or on the cylinder, a handwheel of the manifold,
a nut, and which way up the cylinder is."""

GATE: ValveKind = "gate"
HANDWHEEL: ValveKind = "handwheel"
NUT: ValveKind = "nut"
POSITION: ValveKind = "position"

ValveSetting = Literal["open", "closed", "tight", "loose", "off", "upright", "inverted"]
"""How a hand leaves it."""

OPEN: ValveSetting = "open"
CLOSED: ValveSetting = "closed"
TIGHT: ValveSetting = "tight"
LOOSE: ValveSetting = "loose"
OFF: ValveSetting = "off"
UPRIGHT: ValveSetting = "upright"
INVERTED: ValveSetting = "inverted"

SETTINGS_OF_KIND: dict[ValveKind, tuple[ValveSetting, ...]] = {
    GATE: (OPEN, CLOSED),
    HANDWHEEL: (OPEN, CLOSED),
    NUT: (TIGHT, LOOSE, OFF),
    POSITION: (UPRIGHT, INVERTED),
}


@dataclass(frozen=True)
class Caution:
    """A warning; `classes` are the safety classes it is shown for, empty: always."""

    code: str
    title: str
    text: str
    classes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Action:
    """One move of the hand: set `valve` to `to` (a nut, a handwheel, the cylinder's position)."""

    valve: str
    to: ValveSetting


@dataclass(frozen=True)
class Step:
    """One screen. `settings` is how the named valves stand when the step is done."""

    id: str
    stage: Stage
    title: str
    do: tuple[str, ...]
    why: str
    done_when: str
    cautions: tuple[str, ...]
    form: str
    """Name in `forms.FORMS`; empty: the step is completed by a "done" button."""
    page: StepPage
    settings: Mapping[str, ValveSetting]
    actions: tuple[Action, ...]
    """In order."""


@dataclass(frozen=True)
class Volume:
    """A hose or a chamber of the manifold."""

    id: str
    title: str
    kind: VolumeKind
    colour: str
    """Word for the hose's colour; empty for a chamber."""


@dataclass(frozen=True)
class Valve:
    """Anything a hand sets. Handwheels and nuts join `a` and `b`; gates close a side of a nut.

    A nut: `tight` joins both sides, `loose` leaks from the sides that are open, `off` leaves them
    open to the air. `a_gates`/`b_gates` name the gates between the nut and that side.
    `self_closing`: side `a` is shut unless the nut is tight. `core`: side `b` is a port whose core
    is pressed only by a tight nut. An empty `b` is a blind end, like a cap.
    """

    id: str
    title: str
    kind: ValveKind
    start: ValveSetting
    a: str = ""
    b: str = ""
    a_gates: tuple[str, ...] = ()
    b_gates: tuple[str, ...] = ()
    self_closing: bool = False
    core: bool = False


@dataclass(frozen=True)
class Procedure:
    """`volumes` and `valves` describe the hoses and the manifold before anything is connected."""

    id: str
    title: str
    hardware: str
    steps: tuple[Step, ...]
    volumes: tuple[Volume, ...]
    valves: tuple[Valve, ...]
    retired: bool = False
    """Followed by sessions that began with it, no longer offered to new ones."""


def step_by_id(procedure: Procedure, step_id: str) -> Step | None:
    """The step, or `None` when the procedure has none of that name."""
    for step in procedure.steps:
        if step.id == step_id:
            return step
    return None


def position(procedure: Procedure, step_id: str) -> int:
    """Index of the step, from 0; -1 when the procedure has none of that name."""
    for i, step in enumerate(procedure.steps):
        if step.id == step_id:
            return i
    return -1


def open_step(procedure: Procedure, done: Mapping[str, str]) -> Step | None:
    """The first step not done, or `None` when all are. `done` maps step ids to anything."""
    for step in procedure.steps:
        if step.id not in done:
            return step
    return None


def neighbours(procedure: Procedure, step_id: str) -> tuple[Step | None, Step | None]:
    """The steps before and after this one."""
    at = position(procedure, step_id)
    before = procedure.steps[at - 1] if at > 0 else None
    after = procedure.steps[at + 1] if 0 <= at < len(procedure.steps) - 1 else None
    return before, after


def steps_of_stage(procedure: Procedure, stage: str) -> tuple[Step, ...]:
    """The steps of one stage, in order."""
    return tuple(step for step in procedure.steps if step.stage == stage)


def valve_by_id(procedure: Procedure, valve_id: str) -> Valve | None:
    """The valve, or `None` when this hardware has none of that name."""
    for valve in procedure.valves:
        if valve.id == valve_id:
            return valve
    return None


def cautions_of(
    step: Step, cautions: Mapping[str, Caution], safety_class: str
) -> tuple[Caution, ...]:
    """The step's cautions that apply to a refrigerant of this safety class (empty: unknown).

    With the class unknown, every caution of the step is shown.
    """
    shown: list[Caution] = []
    for code in step.cautions:
        caution = cautions[code]
        if not caution.classes or safety_class == "" or safety_class in caution.classes:
            shown.append(caution)
    return tuple(shown)
