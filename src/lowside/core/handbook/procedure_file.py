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
    Caution,
    Procedure,
    Valve,
)
from lowside.core.handbook.procedure_read import cautions_of, procedure_of, valves_of


def cautions_from(data: Mapping[str, Any], source: str = "cautions") -> dict[str, Caution]:
    """Check cautions and read them, by code, in order.

    Raises
        ValueError: a sentence naming `source`, the caution and the field that is wrong.
    """
    items = _list(data, "cautions", source)
    codes: list[str] = []
    for i, item in enumerate(items):
        where = f"{source}, caution {i + 1}"
        code = _text(item, "code", where)
        if code in codes:
            raise ValueError(f"{where}: code “{code}” is used twice")
        codes.append(code)
        _text(item, "title", where)
        _text(item, "text", where)
        if "classes" in item:
            _texts(item, "classes", where)
        _optional(item, "source", where)
    return cautions_of(items)


def procedure_from(
    data: Mapping[str, Any], cautions: Mapping[str, Caution], source: str = "procedure"
) -> Procedure:
    """Check a procedure and read it.

    Raises
        ValueError: a sentence naming `source`, the step or valve, and the field that is wrong.
    """
    volumes = _list(data, "volumes", source)
    for i, item in enumerate(volumes):
        _check_volume(item, f"{source}, volume {i + 1}")
    volume_ids = _ids(volumes, f"{source}, volumes")
    items = _list(data, "valves", source)
    for i, item in enumerate(items):
        _check_valve(item, f"{source}, valve {i + 1}")
    _ids(items, f"{source}, valves")
    valves = valves_of(items)
    _check_joints(valves, volume_ids, source)
    steps: list[Mapping[str, Any]] = []
    for field, what in (("steps", "step"), ("off_steps", "off step"), ("walk_steps", "walk step")):
        branch = _list(data, field, source) if field == "steps" or field in data else []
        for i, item in enumerate(branch):
            _check_step(item, cautions, valves, f"{source}, {what} {i + 1}")
        steps.extend(branch)
    _ids(steps, f"{source}, steps")
    if not data["steps"]:
        raise ValueError(f"{source}: “steps” is empty")
    for field in ("id", "title", "hardware"):
        _text(data, field, source)
    _flag(data, "retired", source)
    _flag(data, "liquid_port", source)
    procedure = procedure_of(data)
    _check_settings(procedure, source)
    return procedure


def _check_volume(item: Mapping[str, Any], where: str) -> None:
    _text(item, "id", where)
    _text(item, "title", where)
    _one_of(item, "kind", (HOSE, BODY), where)
    _optional(item, "colour", where)


def _check_step(
    item: Mapping[str, Any], cautions: Mapping[str, Caution], valves: Sequence[Valve], where: str
) -> None:
    where = f"{where} “{_text(item, 'id', where)}”"
    for code in _texts(item, "cautions", where):
        if code not in cautions:
            raise ValueError(f"{where}: field “cautions” names “{code}”, which does not exist")
    form = _optional(item, "form", where)
    if form != "" and form not in FORMS:
        raise ValueError(f"{where}: field “form” names “{form}”, which does not exist")
    for i, action in enumerate(_list(item, "actions", where) if "actions" in item else []):
        _check_action(action, valves, where, f"{where}, action {i + 1}")
    given = item.get("settings", {})
    if not isinstance(given, Mapping):
        raise ValueError(f"{where}: field “settings” must map valves to how they are left")
    for valve_id, to in given.items():
        _check_setting(valves, valve_id, to, where)
    if not _texts(item, "do", where):
        raise ValueError(f"{where}: field “do” is empty")
    _one_of(item, "stage", STAGES, where)
    for field in ("title", "why", "done_when"):
        _text(item, field, where)
    if "page" in item:
        _one_of(item, "page", (STEP_PAGE, CHARGE_PAGE), where)
    _optional(item, "withdrawal", where)
    _optional(item, "source", where)


def _check_action(item: Mapping[str, Any], valves: Sequence[Valve], step: str, where: str) -> None:
    valve_id = _text(item, "valve", where)
    only_if = _optional(item, "only_if", where)
    _check_setting(valves, valve_id, _text(item, "to", where), step)
    if only_if != "":
        _check_setting(valves, valve_id, only_if, step)
    _optional(item, "only_if_liquid", where)
    _optional(item, "line", where)


def _check_valve(item: Mapping[str, Any], where: str) -> None:
    kind = _one_of(item, "kind", tuple(SETTINGS_OF_KIND), where)
    _text(item, "id", where)
    _text(item, "title", where)
    for one, settings in SETTINGS_OF_KIND.items():
        if one == kind:
            _one_of(item, "start", settings, where)
    _optional(item, "a", where)
    _optional(item, "b", where)
    for field in ("a_gates", "b_gates"):
        if field in item:
            _texts(item, field, where)
    _flag(item, "self_closing", where)
    _flag(item, "core", where)


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


def _ids(items: Sequence[Mapping[str, Any]], where: str) -> list[str]:
    """The names of these, each once."""
    found: list[str] = []
    for item in items:
        if item["id"] in found:
            raise ValueError(f"{where}: “{item['id']}” is used twice")
        found.append(item["id"])
    return found


def _list(data: Mapping[str, Any], field: str, where: str) -> list[Mapping[str, Any]]:
    value = data.get(field)
    if not isinstance(value, list):
        raise ValueError(f"{where}: field “{field}” must be a list")
    for item in value:
        if not isinstance(item, Mapping):
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


def _flag(data: Mapping[str, Any], field: str, where: str) -> None:
    if not isinstance(data.get(field, False), bool):
        raise ValueError(f"{where}: field “{field}” must be true or false")
