"""The hose model on the phone gives the server's answers, to the last bit."""

from typing import Any

import pytest
from hose_cases import panel
from phone_core import Core, exactly

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import SETTINGS_OF_KIND, Action, Procedure
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import DIP_TUBE, INVERT
from lowside.core.hoses.contents import (
    Conditions,
    bare,
    conditions_from,
    usual_conditions,
)
from lowside.core.hoses.drawing import draw
from lowside.core.hoses.run import run, turn
from lowside.procedures import SHIPPED

PRESSURES = (
    (9.0e5, 2.5e6, 1.7e6),
    (6.1e5, 2.0e6, 5.0e5),
    (1.1e6, 3.0e6, 2.3e6),
)


REFRIGERANTS = ("R-410A", "R-22", "R-454B")


def _conditions(
    handbook: Handbook, refrigerant: str, withdrawal: str, pressures: tuple[float, float, float]
) -> Conditions:
    suction, liquid, cylinder = pressures
    made = conditions_from(
        handbook.tables[refrigerant], suction, liquid, cylinder, 101325.0, withdrawal
    )
    assert not isinstance(made, OutOfRange)
    return made


def _where(
    name: str, refrigerant: str, withdrawal: str, pressures: tuple[float, float, float]
) -> dict[str, Any]:
    return {
        "procedure": name,
        "refrigerant": refrigerant,
        "withdrawal": withdrawal,
        "pressures": list(pressures),
    }


@pytest.mark.parametrize("withdrawal", [INVERT, DIP_TUBE])
@pytest.mark.parametrize("name", SHIPPED)
def test_a_whole_procedure_runs_the_same(
    core: Core, handbook: Handbook, name: str, withdrawal: str
) -> None:
    some = slice(None) if core.every == 1 else slice(1)
    for refrigerant, pressures in tuple(zip(REFRIGERANTS, PRESSURES, strict=True))[some]:
        conditions = _conditions(handbook, refrigerant, withdrawal, pressures)
        theirs = core.ask(
            "core", {"ask": "run", **_where(name, refrigerant, withdrawal, pressures)}
        )
        assert theirs == exactly(run(handbook.procedures[name], conditions))


@pytest.mark.parametrize("name", SHIPPED)
def test_every_turning_in_a_long_disorder_ends_the_same_and_is_drawn_the_same(
    core: Core, handbook: Handbook, name: str
) -> None:
    procedure: Procedure = handbook.procedures[name]
    actions: list[Action] = []
    seed = 7
    for _ in range(120):
        seed = (seed * 1103515245 + 12345) % 2147483648
        valve = procedure.valves[seed // 65536 % len(procedure.valves)]
        choices = SETTINGS_OF_KIND[valve.kind]
        actions.append(Action(valve.id, choices[seed // 1024 % len(choices)]))
    conditions = _conditions(handbook, "R-410A", INVERT, PRESSURES[0])
    now = bare(procedure, conditions)
    ours: list[Any] = []
    for action in actions:
        made = turn(procedure, conditions, now, action)
        now = made.after
        picture = draw(procedure, conditions, now, made.flows, {action.valve: ""}, "one")
        ours.append([made, picture])
    theirs = core.ask(
        "core",
        {
            "ask": "turns",
            **_where(name, "R-410A", INVERT, PRESSURES[0]),
            "actions": [[action.valve, action.to] for action in actions],
        },
    )
    assert theirs == exactly(ours)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_panel_is_the_same(core: Core, handbook: Handbook, name: str) -> None:
    usual = usual_conditions(handbook.tables["R-410A"], 101325.0)
    assert not isinstance(usual, OutOfRange)
    procedure = handbook.procedures[name]
    theirs = core.ask("core", {"ask": "panels", "procedure": name, "refrigerant": "R-410A"})
    ours = [panel(procedure, usual, step, "size") for step in procedure.steps]
    assert theirs == exactly(ours)
