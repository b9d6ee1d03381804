"""Conditions and shipped procedures that the tests of the hose model share."""

from functools import cache
from typing import Any

from lowside.core.handbook.procedure import Procedure, Step
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import INVERT, Withdrawal
from lowside.core.hoses.contents import Conditions, Hoses, usual_conditions
from lowside.core.hoses.run import StepRun, follow, run
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.pages.hoses import at_step, hoses_of_step, with_hoses
from lowside.procedures import load_procedures
from lowside.thermo.tables import load_properties

REFRIGERANTS = ("R-22", "R-32", "R-134a", "R-290", "R-407C", "R-410A", "R-454B")


@cache
def usual(refrigerant: str = "R-410A", withdrawal: Withdrawal = INVERT) -> Conditions:
    """A unit in mild weather at sea level."""
    found = usual_conditions(load_properties().tables[refrigerant], 101325.0, withdrawal)
    assert not isinstance(found, OutOfRange)
    return found


def liquid_by_hose(procedure: Procedure, hoses: Hoses) -> dict[str, float]:
    """Liquid refrigerant [kg] held in each hose and chamber now, by its id; vapor not counted."""
    return {volume.id: hoses.contents[volume.id].liquid_kg for volume in procedure.volumes}


@cache
def shipped(name: str) -> Procedure:
    return load_procedures()[name]


def panel(
    procedure: Procedure, conditions: Conditions, step: Step, size: str = ""
) -> dict[str, Any] | None:
    """The hoses of a step as its page gets them; `None` before any hose is on."""
    if not with_hoses(procedure, step):
        return None
    at = at_step(procedure, conditions, step, follow(procedure, conditions), {})
    return hoses_of_step(at, size, UnitChoice())


def through(procedure: Procedure, conditions: Conditions, step_id: str) -> list[StepRun]:
    """The run up to a step, this one included."""
    runs = run(procedure, conditions)
    return list(runs[: [made.step_id for made in runs].index(step_id) + 1])
