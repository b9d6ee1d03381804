"""A procedure: the steps of one session for one kind of hoses and manifold, as data.

Steps come from files a shop may copy and edit, so `procedure_from` refuses a bad one with a
sentence that names file, step and field. The hardware part is what `hoses.py` reasons about.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lowside.core.handbook.forms import FORMS

STAGES = ("Prepare", "Connect", "Measure", "Charge", "Close out", "Record")

STEP_PAGE = "step"
CHARGE_PAGE = "charge"
PAGES = (STEP_PAGE, CHARGE_PAGE)

HOSE = "hose"
BODY = "body"
VOLUME_KINDS = (HOSE, BODY)

CYLINDER = "cylinder"
SUCTION = "suction"
LIQUID_LINE = "liquid_line"
OUTSIDE = "outside"
BOUNDARIES = (CYLINDER, SUCTION, LIQUID_LINE, OUTSIDE)
"""What the hoses can be joined to, and which does not change by it."""

GATE = "gate"
HANDWHEEL = "handwheel"
NUT = "nut"
POSITION = "position"

OPEN = "open"
CLOSED = "closed"
TIGHT = "tight"
LOOSE = "loose"
OFF = "off"
UPRIGHT = "upright"
INVERTED = "inverted"

SETTINGS_OF_KIND: dict[str, tuple[str, ...]] = {
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
    to: str


@dataclass(frozen=True)
class Step:
    """One screen. `settings` is how the named valves stand when the step is done."""

    id: str
    stage: str
    title: str
    do: tuple[str, ...]
    why: str
    done_when: str
    cautions: tuple[str, ...]
    form: str
    """Name in `forms.FORMS`; empty: the step is completed by a "done" button."""
    page: str
    settings: Mapping[str, str]
    actions: tuple[Action, ...]
    """In order."""


@dataclass(frozen=True)
class Volume:
    """A hose or a chamber of the manifold."""

    id: str
    title: str
    kind: str
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
    kind: str
    start: str
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


def cautions_from(data: Mapping[str, Any], source: str = "cautions") -> dict[str, Caution]:
    """Cautions by code, in order.

    Raises
        ValueError: a sentence naming `source`, the caution and the field that is wrong.
    """
    cautions: dict[str, Caution] = {}
    for i, item in enumerate(_list(data, "cautions", source)):
        where = f"{source}, caution {i + 1}"
        code = _text(item, "code", where)
        if code in cautions:
            raise ValueError(f"{where}: code “{code}” is used twice")
        cautions[code] = Caution(
            code,
            _text(item, "title", where),
            _text(item, "text", where),
            _texts(item, "classes", where) if "classes" in item else (),
        )
    return cautions


def procedure_from(
    data: Mapping[str, Any], cautions: Mapping[str, Caution], source: str = "procedure"
) -> Procedure:
    """Read and check a procedure.

    Raises
        ValueError: a sentence naming `source`, the step or valve, and the field that is wrong.
    """
    volumes = tuple(
        Volume(
            _text(item, "id", f"{source}, volume {i + 1}"),
            _text(item, "title", f"{source}, volume {i + 1}"),
            _one_of(item, "kind", VOLUME_KINDS, f"{source}, volume {i + 1}"),
            _optional(item, "colour", f"{source}, volume {i + 1}"),
        )
        for i, item in enumerate(_list(data, "volumes", source))
    )
    _refuse_doubles([volume.id for volume in volumes], f"{source}, volumes")
    valves = tuple(
        _valve(item, f"{source}, valve {i + 1}")
        for i, item in enumerate(_list(data, "valves", source))
    )
    _refuse_doubles([valve.id for valve in valves], f"{source}, valves")
    _check_joints(valves, [volume.id for volume in volumes], source)
    steps = tuple(
        _step(item, cautions, valves, f"{source}, step {i + 1}")
        for i, item in enumerate(_list(data, "steps", source))
    )
    _refuse_doubles([step.id for step in steps], f"{source}, steps")
    if not steps:
        raise ValueError(f"{source}: “steps” is empty")
    procedure = Procedure(
        _text(data, "id", source),
        _text(data, "title", source),
        _text(data, "hardware", source),
        steps,
        volumes,
        valves,
        _flag(data, "retired", source),
    )
    _check_settings(procedure, source)
    return procedure


def _step(
    item: Mapping[str, Any], cautions: Mapping[str, Caution], valves: Sequence[Valve], where: str
) -> Step:
    step_id = _text(item, "id", where)
    where = f"{where} “{step_id}”"
    codes = _texts(item, "cautions", where)
    for code in codes:
        if code not in cautions:
            raise ValueError(f"{where}: field “cautions” names “{code}”, which does not exist")
    form = _optional(item, "form", where)
    if form != "" and form not in FORMS:
        raise ValueError(f"{where}: field “form” names “{form}”, which does not exist")
    actions = tuple(
        Action(
            _text(action, "valve", f"{where}, action {i + 1}"),
            _text(action, "to", f"{where}, action {i + 1}"),
        )
        for i, action in enumerate(_list(item, "actions", where) if "actions" in item else [])
    )
    settings = item.get("settings", {})
    if not _is_mapping(settings):
        raise ValueError(f"{where}: field “settings” must map valves to how they stand")
    for valve_id, to in [(a.valve, a.to) for a in actions] + list(settings.items()):
        _check_setting(valves, valve_id, to, where)
    do = _texts(item, "do", where)
    if not do:
        raise ValueError(f"{where}: field “do” is empty")
    return Step(
        step_id,
        _one_of(item, "stage", STAGES, where),
        _text(item, "title", where),
        do,
        _text(item, "why", where),
        _text(item, "done_when", where),
        codes,
        form,
        _one_of(item, "page", PAGES, where) if "page" in item else STEP_PAGE,
        dict(settings),
        actions,
    )


def _valve(item: Mapping[str, Any], where: str) -> Valve:
    kind = _one_of(item, "kind", tuple(SETTINGS_OF_KIND), where)
    return Valve(
        _text(item, "id", where),
        _text(item, "title", where),
        kind,
        _one_of(item, "start", SETTINGS_OF_KIND[kind], where),
        _optional(item, "a", where),
        _optional(item, "b", where),
        _texts(item, "a_gates", where) if "a_gates" in item else (),
        _texts(item, "b_gates", where) if "b_gates" in item else (),
        _flag(item, "self_closing", where),
        _flag(item, "core", where),
    )


def _check_joints(valves: Sequence[Valve], volume_ids: Sequence[str], source: str) -> None:
    gates = [valve.id for valve in valves if valve.kind == GATE]
    for valve in valves:
        where = f"{source}, valve “{valve.id}”"
        if valve.kind in (GATE, POSITION):
            continue
        if valve.a not in volume_ids:
            raise ValueError(f"{where}: field “a” names “{valve.a}”, which is no volume")
        if valve.kind == HANDWHEEL and valve.b not in volume_ids:
            raise ValueError(f"{where}: field “b” names “{valve.b}”, which is no volume")
        ports = ("", CYLINDER, SUCTION, LIQUID_LINE, *volume_ids)
        if valve.kind == NUT and valve.b not in ports:
            raise ValueError(
                f"{where}: field “b” names “{valve.b}”, which is neither port nor volume"
            )
        for gate in valve.a_gates + valve.b_gates:
            if gate not in gates:
                raise ValueError(f"{where}: gate “{gate}” does not exist")


def _check_setting(valves: Sequence[Valve], valve_id: str, to: Any, where: str) -> None:
    for valve in valves:
        if valve.id == valve_id:
            if to not in SETTINGS_OF_KIND[valve.kind]:
                raise ValueError(f"{where}: valve “{valve_id}” cannot be “{to}”")
            return
    raise ValueError(f"{where}: valve “{valve_id}” does not exist")


def _check_settings(procedure: Procedure, source: str) -> None:
    """What a step says of its valves must be what its own and earlier actions did."""
    now = {valve.id: valve.start for valve in procedure.valves}
    for step in procedure.steps:
        for action in step.actions:
            now[action.valve] = action.to
        for valve_id, to in step.settings.items():
            if now[valve_id] != to:
                raise ValueError(
                    f"{source}, step “{step.id}”: field “settings” says “{valve_id}” is {to}, "
                    f"but the actions leave it {now[valve_id]}"
                )


def _refuse_doubles(names: Sequence[str], where: str) -> None:
    seen: dict[str, bool] = {}
    for name in names:
        if name in seen:
            raise ValueError(f"{where}: “{name}” is used twice")
        seen[name] = True


def _is_mapping(value: Any) -> bool:
    return isinstance(value, Mapping)


def _list(data: Mapping[str, Any], field: str, where: str) -> list[Mapping[str, Any]]:
    value = data.get(field)
    if not isinstance(value, list):
        raise ValueError(f"{where}: field “{field}” must be a list")
    for item in value:
        if not _is_mapping(item):
            raise ValueError(f"{where}: field “{field}” must hold objects")
    return value


def _text(data: Mapping[str, Any], field: str, where: str) -> str:
    value = data.get(field)
    if not isinstance(value, str) or value == "":
        raise ValueError(f"{where}: field “{field}” must be a text that is not empty")
    return value


def _optional(data: Mapping[str, Any], field: str, where: str) -> str:
    value = data.get(field, "")
    if not isinstance(value, str):
        raise ValueError(f"{where}: field “{field}” must be a text")
    return value


def _texts(data: Mapping[str, Any], field: str, where: str) -> tuple[str, ...]:
    value = data.get(field)
    if not isinstance(value, list) or not all(isinstance(v, str) and v != "" for v in value):
        raise ValueError(f"{where}: field “{field}” must be a list of texts")
    return tuple(value)


def _one_of(data: Mapping[str, Any], field: str, allowed: Sequence[str], where: str) -> str:
    value = _text(data, field, where)
    if value not in allowed:
        raise ValueError(f"{where}: field “{field}” must be one of {', '.join(allowed)}")
    return value


def _flag(data: Mapping[str, Any], field: str, where: str) -> bool:
    value = data.get(field, False)
    if not isinstance(value, bool):
        raise ValueError(f"{where}: field “{field}” must be true or false")
    return value
