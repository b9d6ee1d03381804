"""A procedure: the steps of one session for one kind of hoses and manifold, as data.

`procedure_file.py` checks one, `procedure_read.py` reads it. The hardware part is what `core/hoses`
works with.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.system import Withdrawal

Stage = Literal[
    "Prepare",
    "Connect",
    "Measure",
    "Charge",
    "Close out",
    "Record",
    "Unit off",
    "Recover",
    "Weigh in",
]
UNIT_OFF: Stage = "Unit off"
RECOVER_STAGE: Stage = "Recover"
WEIGH_IN_STAGE: Stage = "Weigh in"
STAGES: tuple[Stage, ...] = (
    "Prepare",
    "Connect",
    "Measure",
    "Charge",
    "Close out",
    "Record",
    UNIT_OFF,
    RECOVER_STAGE,
    WEIGH_IN_STAGE,
)

StepPage = Literal["step", "charge"]
"""Which page shows a step."""

STEP_PAGE: StepPage = "step"
CHARGE_PAGE: StepPage = "charge"
ANY_HOSE = "any"

VolumeKind = Literal["hose", "body"]
"""A hose, or a chamber of the manifold."""

HOSE: VolumeKind = "hose"
BODY: VolumeKind = "body"

Boundary = Literal[
    "cylinder",
    "suction",
    "liquid_line",
    "recovery",
    "nitrogen",
    "pump",
    "machine_out",
    "recovery_cylinder",
    "outside",
]
"""What the hoses can be joined to, and which does not change by it. `recovery` is the inlet of a
recovery machine that runs, `machine_out` its outlet, `pump` a vacuum pump, `nitrogen` a nitrogen
cylinder behind its regulator."""

CYLINDER: Boundary = "cylinder"
SUCTION: Boundary = "suction"
LIQUID_LINE: Boundary = "liquid_line"
RECOVERY: Boundary = "recovery"
NITROGEN: Boundary = "nitrogen"
PUMP: Boundary = "pump"
MACHINE_OUT: Boundary = "machine_out"
RECOVERY_CYLINDER: Boundary = "recovery_cylinder"
OUTSIDE: Boundary = "outside"
BOUNDARIES: tuple[Boundary, ...] = (
    CYLINDER,
    SUCTION,
    LIQUID_LINE,
    RECOVERY,
    NITROGEN,
    PUMP,
    MACHINE_OUT,
    RECOVERY_CYLINDER,
    OUTSIDE,
)

ValveKind = Literal["gate", "handwheel", "nut", "position"]
"""Everything a hand sets: a valve in a hose's end or on the cylinder, a handwheel of the manifold,
a nut, and which way up the cylinder is."""

GATE: ValveKind = "gate"
HANDWHEEL: ValveKind = "handwheel"
NUT: ValveKind = "nut"
POSITION: ValveKind = "position"

ValveSetting = Literal[
    "open", "closed", "tight", "loose", "started", "off", "upright", "inverted", "below"
]
"""How a hand leaves it."""

OPEN: ValveSetting = "open"
CLOSED: ValveSetting = "closed"
TIGHT: ValveSetting = "tight"
LOOSE: ValveSetting = "loose"
STARTED: ValveSetting = "started"
OFF: ValveSetting = "off"
UPRIGHT: ValveSetting = "upright"
INVERTED: ValveSetting = "inverted"
BELOW_HOSES: ValveSetting = "below"
"""Upright and lower than the hoses, so that liquid in them runs and boils back into it."""

SETTINGS_OF_KIND: dict[ValveKind, tuple[ValveSetting, ...]] = {
    GATE: (OPEN, CLOSED),
    HANDWHEEL: (OPEN, CLOSED),
    NUT: (TIGHT, LOOSE, STARTED, OFF),
    POSITION: (UPRIGHT, INVERTED, BELOW_HOSES),
}


@dataclass(frozen=True)
class Caution:
    """A warning; `classes` are the safety classes it is shown for, empty: always."""

    code: str
    title: str
    text: str
    classes: tuple[str, ...] = ()
    source: str = ""
    """Where it comes from: a publication (read or from memory) or “common practice, no source”."""


@dataclass(frozen=True)
class Action:
    """One move of the hand: set `valve` to `to` (a nut, a handwheel, the cylinder's position).

    `only_if`: the move is made only from this setting; empty: always.
    `only_if_liquid`: only when this hose holds liquid as the step begins, or any hose does when it
    says `any`; empty: always. `line`: of the step's `do`, `1` first; empty: in
    none.
    """

    valve: str
    to: ValveSetting
    only_if: ValveSetting | Literal[""] = ""
    only_if_liquid: str = ""
    line: str = ""


@dataclass(frozen=True)
class Step:
    """One screen. `settings` is how the named valves are when the step is done."""

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
    withdrawal: Withdrawal | Literal[""] = ""
    """Only for a cylinder that gives liquid this way (`invert`, `dip_tube`); empty: for both."""
    source: str = ""
    """Where what it asks for comes from; empty: nothing to name."""


@dataclass(frozen=True)
class Volume:
    """A hose or a chamber of the manifold."""

    id: str
    title: str
    kind: VolumeKind
    colour: str
    """Word for the hose's color; empty for a chamber. Spelled as in the files that shops have."""


@dataclass(frozen=True)
class Valve:
    """Anything a hand sets. Handwheels and nuts join `a` and `b`; gates close a side of a nut.

    A nut: `tight` joins both sides, `loose` joins them and leaks, `started` is threaded on by about
    one turn and joins nothing, `off` leaves both sides open to the air. `a_gates`/`b_gates` name
    the gates between the nut and that side. `self_closing`: side `a` is closed unless the nut is
    tight. `core`: side `b` is a port with a core, pressed open by a tight nut and still by a loose
    one, not by one that is only started. An empty `b` is a blind end, like a cap.

    One turn of a 1/4 in flare nut is 1.27 mm of travel, half a turn 0.6 mm (thread arithmetic from
    7/16-20; the thread from memory of SAE J513). How far a core travels is published nowhere that
    was found, so a loose nut counts as one that presses it.
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
    off_steps: tuple[Step, ...] = ()
    """The way out of every step with hoses on when the unit is off."""
    walk_steps: tuple[Step, ...] = ()
    """Recovery and weigh-in: walks of their own, the same for all hoses, each a stage."""
    liquid_port: bool = True
    """Whether the liquid pressure can be read; without it subcooling cannot be known."""


def step_by_id(procedure: Procedure, step_id: str) -> Step | None:
    """The step, or `None` when the procedure has none of that name."""
    for step in procedure.steps + procedure.off_steps + procedure.walk_steps:
        if step.id == step_id:
            return step
    return None


def is_off_step(procedure: Procedure, step_id: str) -> bool:
    """Whether the step belongs to the close-out with the unit off."""
    return step_id in [step.id for step in procedure.off_steps]


def walk_of(procedure: Procedure, stage: Stage) -> tuple[Step, ...]:
    """The steps of recovery or of weigh-in, in order."""
    return tuple(step for step in procedure.walk_steps if step.stage == stage)


def walk_with(procedure: Procedure, step_id: str) -> tuple[Step, ...]:
    """The walk a step belongs to; empty when it belongs to none."""
    for step in procedure.walk_steps:
        if step.id == step_id:
            return walk_of(procedure, step.stage)
    return ()


def walk_neighbors(procedure: Procedure, step_id: str) -> tuple[Step | None, Step | None]:
    """The steps before and after this one in its walk."""
    return _around(walk_with(procedure, step_id), step_id)


def off_steps_for(procedure: Procedure, withdrawal: Withdrawal) -> tuple[Step, ...]:
    """The close-out with the unit off for a cylinder that gives its liquid this way."""
    return tuple(step for step in procedure.off_steps if step.withdrawal in ("", withdrawal))


def charging_step(procedure: Procedure) -> Step | None:
    """The step at which shots are given."""
    for step in procedure.steps:
        if step.page == CHARGE_PAGE:
            return step
    return None


def joining_steps(procedure: Procedure) -> tuple[Step, ...]:
    """The steps that make the hose tight on the cylinder and let its liquid in."""
    found: list[Step] = []
    for step in procedure.steps:
        for action in step.actions:
            valve = valve_by_id(procedure, action.valve)
            if valve is None or step.stage != "Connect" or step in found:
                continue
            tightens = valve.b == CYLINDER and action.to == TIGHT
            if tightens or (valve.id == "cylinder_valve" and action.to == OPEN):
                found.append(step)
    return tuple(found)


def last_with_actions(procedure: Procedure) -> str:
    """Id of the last step that turns a valve; empty when none does."""
    found = ""
    for step in procedure.steps:
        if step.actions:
            found = step.id
    return found


def off_neighbors(
    procedure: Procedure, step_id: str, withdrawal: Withdrawal
) -> tuple[Step | None, Step | None]:
    """The steps before and after this one in the close-out with the unit off."""
    return _around(off_steps_for(procedure, withdrawal), step_id)


def _around(steps: tuple[Step, ...], step_id: str) -> tuple[Step | None, Step | None]:
    for i, step in enumerate(steps):
        if step.id == step_id:
            after = steps[i + 1] if i + 1 < len(steps) else None
            return (steps[i - 1] if i > 0 else None), after
    return None, None


def position(procedure: Procedure, step_id: str) -> int:
    """Index of the step, from 0; -1 when the procedure has none of that name."""
    for i, step in enumerate(procedure.steps):
        if step.id == step_id:
            return i
    return -1


def open_step(procedure: Procedure, done: Mapping[str, str]) -> Step | None:
    """The first step not done, or `None` when all are. `done` maps step ids to anything.

    When the hoses came off by the close-out with the unit off, the steps at the hoses are past.
    """
    start = 0
    if procedure.off_steps and procedure.off_steps[-1].id in done:
        start = position(procedure, last_with_actions(procedure)) + 1
    for step in procedure.steps[start:]:
        if step.id not in done:
            return step
    return None


def neighbors(procedure: Procedure, step_id: str) -> tuple[Step | None, Step | None]:
    """The steps before and after this one."""
    at = position(procedure, step_id)
    before = procedure.steps[at - 1] if at > 0 else None
    after = procedure.steps[at + 1] if 0 <= at < len(procedure.steps) - 1 else None
    return before, after


def steps_of_stage(procedure: Procedure, stage: Stage) -> tuple[Step, ...]:
    """The steps of one stage, in order."""
    return tuple(step for step in procedure.steps if step.stage == stage)


def valve_by_id(procedure: Procedure, valve_id: str) -> Valve | None:
    """The valve, or `None` when this hardware has none of that name."""
    for valve in procedure.valves:
        if valve.id == valve_id:
            return valve
    return None


LOW_VALVE = "low-side manifold valve"
"""The valve between the hoses and the suction, where no procedure names it."""


def low_valve_of(procedure: Procedure | None) -> str:
    """What it calls that valve."""
    low = None if procedure is None else valve_by_id(procedure, "low")
    return LOW_VALVE if low is None else low.title


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
