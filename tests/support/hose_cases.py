"""Conditions and shipped procedures that the tests of the hose model share."""

from functools import cache

from lowside.core.handbook.procedure import Procedure
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import INVERT, Withdrawal
from lowside.core.hoses.contents import Conditions, usual_conditions
from lowside.procedures import load_procedures
from lowside.thermo.tables import load_properties

REFRIGERANTS = ("R-22", "R-32", "R-134a", "R-290", "R-407C", "R-410A", "R-454B")


@cache
def usual(refrigerant: str = "R-410A", withdrawal: Withdrawal = INVERT) -> Conditions:
    """A unit in mild weather at sea level."""
    found = usual_conditions(load_properties().tables[refrigerant], 101325.0, withdrawal)
    assert not isinstance(found, OutOfRange)
    return found


@cache
def shipped(name: str) -> Procedure:
    return load_procedures()[name]
