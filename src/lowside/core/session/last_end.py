"""How the last visit left a unit: what its last reading meant, judged as it would be today."""

from collections.abc import Mapping

from lowside.core.handbook.fields import Field
from lowside.core.handbook.forms import READING_FIELDS, understand
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import reading_of
from lowside.core.judging.charge import Assessment, assess
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import show
from lowside.core.session.last_visit import LastVisit
from lowside.core.session.unit import system_of

ALIKE = "alike"
"""The field that says that the gauges were read again, and show the same."""

LEAST_ALIKE = 3
"""One or two boxes are alike by chance. From so many on the gauges are read again. Our choice."""


def end_of(visit: LastVisit, shown: UnitChoice, handbook: Handbook) -> Assessment | None:
    """What the visit's last reading meant; `None` without one, or without its unit or target."""
    elevation = understand("job.set", visit.job).numbers.get("elevation")
    unit = understand("unit.set", visit.unit)
    system = system_of(unit, understand("target.set", visit.target), elevation, shown)
    if visit.reading is None or system is None:
        return None
    read = understand("reading.taken", visit.reading).numbers
    return assess(system, reading_of(read, system.atmosphere_pa), handbook)


def read_then(reading: Mapping[str, str] | None, name: str) -> float | None:
    """What a reading says in this field, in SI; `None` where it says nothing."""
    if reading is None:
        return None
    one = {part: reading.get(part, "") for part in (name, name + "_unit")}
    return understand("reading.taken", one).numbers.get(name)


def text_then(reading: Mapping[str, str] | None, field: Field, unit: str) -> str:
    """The same as it is typed in this unit; "" where it says nothing."""
    then = read_then(reading, field.name)
    if reading is None or then is None or field.quantity == "":
        return ""
    if reading.get(field.name + "_unit", "") == unit:
        return reading[field.name]
    return show(field.quantity, then, unit)


def all_as_then(reading: Mapping[str, str] | None, typed: Mapping[str, str]) -> bool:
    """Whether what is typed has in every box what an old reading had, to the last digit."""
    now = understand("reading.taken", typed).numbers
    for field in READING_FIELDS:
        if field.name in now:
            unit = typed.get(field.name + "_unit", "")
            said = {field.name: text_then(reading, field, unit), field.name + "_unit": unit}
            then = understand("reading.taken", said).numbers.get(field.name)
            if then is None or then != now[field.name]:
                return False
    return len(now) >= LEAST_ALIKE
