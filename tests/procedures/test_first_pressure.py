"""The first pressure that a gauge shows is held against both ends before a nut is loosened: a port
in a vacuum pulls air in, and a liquid pressure there means exchanged ports, or a unit that heats:
the purge would spray liquid. Common practice, no source. And the unit is kept running: READ:
temperature control in its coolest position while charging and for the 15 minutes after
(TM 5-4120-347-14, Charging the refrigeration system, steps o and t)."""

from dataclasses import replace

import pytest
from hose_cases import shipped, usual

from lowside.core.hoses.contents import bare
from lowside.core.hoses.run import run_step
from lowside.procedures import load_procedures

CHECK = "It must show more than 0 psig."


@pytest.mark.parametrize("name", list(load_procedures()))
def test_the_check_names_a_pressure_that_is_too_high_too(name: str) -> None:
    checks = [line for step in shipped(name).steps for line in step.do if CHECK in line]
    assert len(checks) == 1
    assert "Liquid pressure? Wrong port, or it heats: loosen nothing" in checks[0]
    assert "close out with the unit off" in checks[0]


@pytest.mark.parametrize("name", ["hand-valved-three-port", "plain-three-port"])
def test_with_the_ports_exchanged_the_purge_would_spray(name: str) -> None:
    """In the hose model, so the check is worth its line; with the ports right it does not."""
    right = shipped(name)
    swap = {"suction": "liquid_line", "liquid_line": "suction"}
    exchanged = replace(
        right,
        valves=tuple(replace(valve, b=swap.get(valve.b, valve.b)) for valve in right.valves),
    )
    for procedure, sprays in ((right, False), (exchanged, True)):
        conditions = usual()
        hoses = bare(procedure, conditions)
        said: list[str] = []
        for step in procedure.steps:
            made = run_step(procedure, conditions, hoses, step)
            said += [one.code for turned in made.turns for one in turned.hazards]
            hoses = made.after
            if step.id == "purge_low":
                break
        assert ("liquid_out" in said) == sprays


@pytest.mark.parametrize("name", list(load_procedures()))
def test_the_thermostat_keeps_it_running(name: str) -> None:
    (step,) = [one for one in shipped(name).steps if one.id == "preconditions"]
    assert any(line.startswith("Set the thermostat as low as it goes. ") for line in step.do)
