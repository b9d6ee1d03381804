"""How the last visit left a unit: what its last reading meant, judged as it would be today."""

from lowside.core.handbook.forms import understand
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import reading_of
from lowside.core.judging.charge import Assessment, assess
from lowside.core.session.last_visit import LastVisit
from lowside.core.session.unit import system_of


def end_of(visit: LastVisit, handbook: Handbook) -> Assessment | None:
    """What the visit's last reading meant; `None` without one, or without its unit or target."""
    elevation = understand("job.set", visit.job).numbers.get("elevation")
    unit = understand("unit.set", visit.unit)
    system = system_of(unit, understand("target.set", visit.target), elevation)
    if visit.reading is None or system is None:
        return None
    read = understand("reading.taken", visit.reading).numbers
    return assess(system, reading_of(read, system.atmosphere_pa), handbook)


def read_then(visit: LastVisit, name: str) -> float | None:
    """What its last reading says in this field, in SI; `None` where it says nothing."""
    if visit.reading is None:
        return None
    one = {part: visit.reading.get(part, "") for part in (name, name + "_unit")}
    return understand("reading.taken", one).numbers.get(name)
