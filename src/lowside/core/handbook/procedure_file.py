"""Reads procedures and cautions from the parsed content of their files.

A shop may copy and edit these files, so a bad one is refused with a sentence that names file, step
and field.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.procedure import (
    BODY,
    CHARGE_PAGE,
    CYLINDER,
    GATE,
    HANDWHEEL,
    HOSE,
    LIQUID_LINE,
    NUT,
    POSITION,
    RECOVERY,
    SETTINGS_OF_KIND,
    STAGES,
    STEP_PAGE,
    SUCTION,
    Action,
    Caution,
    Procedure,
    Stage,
    Step,
    StepPage,
    Valve,
    ValveKind,
    ValveSetting,
    Volume,
    VolumeKind,
)


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
            _optional(item, "source", where),
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
            _volume_kind(item, f"{source}, volume {i + 1}"),
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
    off_steps = tuple(
        _step(item, cautions, valves, f"{source}, off step {i + 1}")
        for i, item in enumerate(_list(data, "off_steps", source) if "off_steps" in data else [])
    )
    walk_steps = tuple(
        _step(item, cautions, valves, f"{source}, walk step {i + 1}")
        for i, item in enumerate(_list(data, "walk_steps", source) if "walk_steps" in data else [])
    )
    _refuse_doubles([step.id for step in steps + off_steps + walk_steps], f"{source}, steps")
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
        off_steps,
        walk_steps,
        _flag(data, "liquid_port", source, True),
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
        _action(action, valves, where, f"{where}, action {i + 1}")
        for i, action in enumerate(_list(item, "actions", where) if "actions" in item else [])
    )
    given = item.get("settings", {})
    if not _is_mapping(given):
        raise ValueError(f"{where}: field “settings” must map valves to how they are left")
    settings: dict[str, ValveSetting] = {}
    for valve_id, to in given.items():
        settings[valve_id] = _setting(valves, valve_id, to, where)
    do = _texts(item, "do", where)
    if not do:
        raise ValueError(f"{where}: field “do” is empty")
    return Step(
        step_id,
        _stage(item, where),
        _text(item, "title", where),
        do,
        _text(item, "why", where),
        _text(item, "done_when", where),
        codes,
        form,
        _page(item, where) if "page" in item else STEP_PAGE,
        settings,
        actions,
        _optional(item, "withdrawal", where),
        _optional(item, "source", where),
    )


def _action(item: Mapping[str, Any], valves: Sequence[Valve], step: str, where: str) -> Action:
    valve_id = _text(item, "valve", where)
    only_if = _optional(item, "only_if", where)
    return Action(
        valve_id,
        _setting(valves, valve_id, _text(item, "to", where), step),
        _setting(valves, valve_id, only_if, step) if only_if != "" else "",
        _optional(item, "only_if_liquid", where),
        _optional(item, "line", where),
    )


def _valve(item: Mapping[str, Any], where: str) -> Valve:
    kind = _valve_kind(item, where)
    return Valve(
        _text(item, "id", where),
        _text(item, "title", where),
        kind,
        _start(item, kind, where),
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
        ports = ("", CYLINDER, SUCTION, LIQUID_LINE, RECOVERY, *volume_ids)
        if valve.kind == NUT and valve.b not in ports:
            raise ValueError(
                f"{where}: field “b” names “{valve.b}”, which is neither port nor volume"
            )
        for gate in valve.a_gates + valve.b_gates:
            if gate not in gates:
                raise ValueError(f"{where}: gate “{gate}” does not exist")


def _setting(valves: Sequence[Valve], valve_id: str, to: Any, where: str) -> ValveSetting:
    for valve in valves:
        if valve.id == valve_id:
            for setting in SETTINGS_OF_KIND[valve.kind]:
                if setting == to:
                    return setting
            raise ValueError(f"{where}: valve “{valve_id}” cannot be “{to}”")
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


def _stage(data: Mapping[str, Any], where: str) -> Stage:
    value = _text(data, "stage", where)
    for stage in STAGES:
        if stage == value:
            return stage
    raise ValueError(_not_one_of("stage", STAGES, where))


def _page(data: Mapping[str, Any], where: str) -> StepPage:
    value = _text(data, "page", where)
    for page in (STEP_PAGE, CHARGE_PAGE):
        if page == value:
            return page
    raise ValueError(_not_one_of("page", (STEP_PAGE, CHARGE_PAGE), where))


def _volume_kind(data: Mapping[str, Any], where: str) -> VolumeKind:
    value = _text(data, "kind", where)
    for kind in (HOSE, BODY):
        if kind == value:
            return kind
    raise ValueError(_not_one_of("kind", (HOSE, BODY), where))


def _valve_kind(data: Mapping[str, Any], where: str) -> ValveKind:
    value = _text(data, "kind", where)
    for kind in SETTINGS_OF_KIND:
        if kind == value:
            return kind
    raise ValueError(_not_one_of("kind", tuple(SETTINGS_OF_KIND), where))


def _start(data: Mapping[str, Any], kind: ValveKind, where: str) -> ValveSetting:
    value = _text(data, "start", where)
    for setting in SETTINGS_OF_KIND[kind]:
        if setting == value:
            return setting
    raise ValueError(_not_one_of("start", SETTINGS_OF_KIND[kind], where))


def _not_one_of(field: str, allowed: Sequence[str], where: str) -> str:
    return f"{where}: field “{field}” must be one of {', '.join(allowed)}"


def _flag(data: Mapping[str, Any], field: str, where: str, usual: bool = False) -> bool:
    value = data.get(field, usual)
    if not isinstance(value, bool):
        raise ValueError(f"{where}: field “{field}” must be true or false")
    return value
