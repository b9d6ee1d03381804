"""Procedures and cautions from parsed content that was checked: what a phone is sent is.

`procedure_file.py` checks what may have been edited by hand, and then reads it by this.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from lowside.core.handbook.procedure import (
    STEP_PAGE,
    Action,
    Caution,
    Procedure,
    Step,
    Valve,
    Volume,
)


def cautions_of(items: Sequence[Mapping[str, Any]]) -> dict[str, Caution]:
    """Cautions by code, in order."""
    return {
        item["code"]: Caution(
            item["code"],
            item["title"],
            item["text"],
            _texts(item, "classes"),
            item.get("source", ""),
        )
        for item in items
    }


def procedure_of(data: Mapping[str, Any]) -> Procedure:
    """A procedure; what need not be said has its usual value."""
    return Procedure(
        data["id"],
        data["title"],
        data["hardware"],
        tuple(_step(item) for item in _items(data, "steps")),
        tuple(
            Volume(item["id"], item["title"], item["kind"], item.get("colour", ""))
            for item in _items(data, "volumes")
        ),
        valves_of(_items(data, "valves")),
        data.get("retired", False),
        tuple(_step(item) for item in _items(data, "off_steps")),
        tuple(_step(item) for item in _items(data, "walk_steps")),
        data.get("liquid_port", True),
    )


def valves_of(items: Sequence[Mapping[str, Any]]) -> tuple[Valve, ...]:
    """Valves, in order."""
    return tuple(_valve(item) for item in items)


def _step(item: Mapping[str, Any]) -> Step:
    return Step(
        item["id"],
        item["stage"],
        item["title"],
        _texts(item, "do"),
        item["why"],
        item["done_when"],
        _texts(item, "cautions"),
        item.get("form", ""),
        item.get("page", STEP_PAGE),
        item.get("settings", {}),
        tuple(_action(action) for action in _items(item, "actions")),
        item.get("withdrawal", ""),
        item.get("source", ""),
    )


def _action(item: Mapping[str, Any]) -> Action:
    return Action(
        item["valve"],
        item["to"],
        item.get("only_if", ""),
        item.get("only_if_liquid", ""),
        item.get("line", ""),
    )


def _valve(item: Mapping[str, Any]) -> Valve:
    return Valve(
        item["id"],
        item["title"],
        item["kind"],
        item["start"],
        item.get("a", ""),
        item.get("b", ""),
        _texts(item, "a_gates"),
        _texts(item, "b_gates"),
        item.get("self_closing", False),
        item.get("core", False),
    )


def _items(data: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    found: list[Mapping[str, Any]] = data.get(name, [])
    return found


def _texts(data: Mapping[str, Any], name: str) -> tuple[str, ...]:
    found: list[str] = data.get(name, [])
    return tuple(found)
