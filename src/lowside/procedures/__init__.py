"""The shipped procedures and cautions, read from the data files beside this module.

A step `{"shared": "job"}` is taken from `shared-steps.json`. Fields beside it replace its own. Of a
shared step of the close-out with the unit off, the moves of valves this hardware lacks are left
out.
"""

import json
from pathlib import Path
from typing import Any

from lowside.core.handbook.procedure import Caution, Procedure
from lowside.core.handbook.procedure_file import cautions_from, procedure_from
from lowside.procedures.lines import with_lines

FOLDER = Path(__file__).parent
CAUTIONS_FILE = "cautions.json"
SHARED_FILE = "shared-steps.json"
WALKS_FILE = "walk-steps.json"
"""Recovery and weigh-in, the same for all hoses."""

SHIPPED = (
    "hand-valved-three-port",
    "hand-valved-four-port",
    "self-closing-three-port",
    "self-closing-four-port",
    "plain-three-port",
    "low-side-only-two-hose",
    "one-charging-hose",
    "no-liquid-port-two-hose",
)
"""The order of the list that a technician chooses from."""


def load_cautions() -> dict[str, Caution]:
    """Every caution by code.

    Raises
        ValueError: the file is not as it should be; the message names the place.
    """
    return cautions_from(_read(FOLDER / CAUTIONS_FILE), CAUTIONS_FILE)


def load_procedures() -> dict[str, Procedure]:
    """Every shipped procedure by id, in the order a technician chooses from.

    Raises
        ValueError: a file is not as it should be; the message names file, step and field.
    """
    cautions = load_cautions()
    shared = {step["id"]: step for step in _read(FOLDER / SHARED_FILE)["steps"]}
    walks = _read(FOLDER / WALKS_FILE)["steps"]
    procedures: dict[str, Procedure] = {}
    for name in SHIPPED:
        path = FOLDER / (name + ".json")
        whole = {**_with_shared(_read(path), shared, path.name), "walk_steps": walks}
        procedure = with_lines(procedure_from(whole, cautions, path.name))
        if procedure.id != path.stem:
            raise ValueError(f"{path.name}: field “id” must be the file’s name, “{path.stem}”")
        procedures[procedure.id] = procedure
    return procedures


def _with_shared(
    data: dict[str, Any], shared: dict[str, dict[str, Any]], source: str
) -> dict[str, Any]:
    steps = _filled(data.get("steps", []), shared, f"{source}, step")
    own = {valve.get("id") for valve in data.get("valves", [])}
    off = [
        _fitting(step, own) for step in _filled(data.get("off_steps", []), shared, f"{source}, off")
    ]
    return {**data, "steps": steps, "off_steps": off}


def _fitting(step: dict[str, Any], valves: set[str]) -> dict[str, Any]:
    return {
        **step,
        "actions": [action for action in step["actions"] if action["valve"] in valves],
        "settings": {name: to for name, to in step["settings"].items() if name in valves},
    }


def _filled(steps: list[Any], shared: dict[str, dict[str, Any]], where: str) -> list[Any]:
    """Shared steps put in; `where` begins the sentence about one that is not there."""
    found: list[Any] = []
    for i, step in enumerate(steps):
        name = step.get("shared") if isinstance(step, dict) else None
        if name is None:
            found.append(step)
        elif name in shared:
            own = {field: value for field, value in step.items() if field != "shared"}
            found.append({**shared[name], **own})
        else:
            raise ValueError(f"{where} {i + 1}: field “shared” names no step, “{name}”")
    return found


def _read(path: Path) -> dict[str, Any]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except json.JSONDecodeError as error:
        raise ValueError(f"{path.name}: not JSON, line {error.lineno}: {error.msg}") from error
    if not isinstance(data, dict):
        raise ValueError(f"{path.name}: must be one object")
    return data
