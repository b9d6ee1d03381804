"""The handbook as the phone loads it: one JSON text, read by `static/js/library.js`."""

import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from importlib.resources import files
from typing import Any

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Step
from lowside.core.handbook.saturation import RULE_COLUMNS
from lowside.thermo.tables import properties_json

CHART_PARTS = ("name", "unit", "row_values", "column_values", "values")


def for_phone(handbook: Handbook) -> Handbook:
    """The handbook without what no page of a phone asks for: where its words and facts are from,
    what the office's rules ask of a refrigerant, a blend's shares and glide, the properties that
    simulated units have, and a procedure's line in the shop's list."""
    bare = {
        name: replace(
            one,
            composition="",
            components=tuple(replace(part, mass_percent=0.0) for part in one.components),
            gwp=None,
            gwp_basis="",
            glide_k=0.0,
            note="",
            sources=(),
        )
        for name, one in handbook.refrigerants.items()
    }
    tables = {
        name: replace(table, columns={column: table.columns[column] for column in RULE_COLUMNS})
        for name, table in handbook.tables.items()
    }
    procedures = {
        name: replace(
            one,
            hardware="",
            steps=_bare(one.steps),
            off_steps=_bare(one.off_steps),
            walk_steps=_bare(one.walk_steps),
        )
        for name, one in handbook.procedures.items()
    }
    cautions = {code: replace(one, source="") for code, one in handbook.cautions.items()}
    charts = {name: replace(chart, source="") for name, chart in handbook.charts.items()}
    return replace(
        handbook,
        refrigerants=bare,
        tables=tables,
        charts=charts,
        procedures=procedures,
        cautions=cautions,
    )


def _bare(steps: Sequence[Step]) -> tuple[Step, ...]:
    return tuple(replace(step, source="") for step in steps)


def phone_handbook(handbook: Handbook) -> bytes:
    """Property tables, refrigerants, charts, procedures and cautions as UTF-8 JSON.

    Refrigerants, steps and cautions are sent as columns, name -> the values of all: alike beside
    alike gets shorter when it is compressed. So the texts come first, behind the program's.

    Raises
        OSError: the tables are not built and the cache cannot be written.
    """
    handbook = for_phone(handbook)
    charts = json.loads(files("lowside").joinpath("data", "charts.json").read_text("utf-8"))
    steps: list[dict[str, Any]] = []
    procedures = [_by_place(asdict(one), steps) for one in handbook.procedures.values()]
    content = {
        "cautions": _columns([asdict(caution) for caution in handbook.cautions.values()]),
        "steps": _columns(steps),
        "procedures": procedures,
        "refrigerants": _columns([asdict(one) for one in handbook.refrigerants.values()]),
        "charts": {name: _chart(chart) for name, chart in charts.items()},
        "properties": json.loads(properties_json()),
    }
    return json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()


def _columns(rows: list[dict[str, Any]]) -> dict[str, list[Any]]:
    return {name: [row[name] for row in rows] for name in rows[0]}


def _chart(chart: dict[str, Any]) -> dict[str, Any]:
    """What `chart_from` reads, without the words on its source, rows and columns."""
    return {name: chart[name] for name in CHART_PARTS} | {"source": ""}


def _by_place(procedure: dict[str, Any], steps: list[dict[str, Any]]) -> dict[str, Any]:
    """The procedure with each step named by its place in `steps`: many steps are in all of them.
    What a valve or an action need not say is left out."""
    procedure["valves"] = [_said(valve) for valve in procedure["valves"]]
    for branch in ("steps", "off_steps", "walk_steps"):
        places = []
        for step in procedure[branch]:
            step["actions"] = [_said(action) for action in step["actions"]]
            if step not in steps:
                steps.append(step)
            places.append(steps.index(step))
        procedure[branch] = places
    return procedure


def _said(item: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in item.items() if value not in ("", (), False)}
