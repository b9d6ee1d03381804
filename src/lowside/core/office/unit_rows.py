"""What one session says of its unit, for the unit's page: worked out with the session, so that a
unit's page need not read its sessions."""

from dataclasses import dataclass, replace

from lowside.core.judging.charge import Assessment
from lowside.core.office.leak_rate import Addition
from lowside.core.office.service_record import UnitRecord, addition, own_record
from lowside.core.office.visits import Visit, visit_of
from lowside.core.session.amount import amount
from lowside.core.session.photos import Photo, photos_of
from lowside.core.session.state import State
from lowside.core.session.unit_history import UnitUse, unit_use_of


@dataclass(frozen=True)
class AtUnit:
    """One session at a unit."""

    sid: str
    began: int
    """[ms since 1970-01-01 UTC]"""
    use: UnitUse | None
    """What was added is that of the record: by weigh-in, or by the cylinder’s weights where shots
    were not weighed, too."""
    visit: Visit | None
    added: Addition | None
    record: UnitRecord | None
    photos: tuple[Photo, ...]


def at_unit(state: State, last: Assessment | None) -> AtUnit:
    """What this session says.

    Args:
        state: of the session.
        last: what its last reading means.
    """
    use = unit_use_of(state)
    if use is not None:
        found = amount(state)
        use = replace(use, added_kg=found.added_kg, unweighed_shots=found.unknown)
    return AtUnit(
        state.sid,
        state.started.at if state.started is not None else 0,
        use,
        visit_of(state, last),
        addition(state),
        own_record(state),
        tuple(photos_of(state)),
    )
