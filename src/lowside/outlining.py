"""What lists show of a session. The fold works it out from the session's events."""

from collections.abc import Sequence

from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import State, added_kg
from lowside.store.index import Outline


def outline(events: Sequence[Event]) -> Outline:
    """A session's line in the index. It needs no property tables."""
    return outline_of(fold(events))


def outline_of(state: State) -> Outline:
    """The same of a session that is folded already."""
    job = state.job
    return Outline(
        site=job.site if job is not None else "",
        unit_label=job.unit_label if job is not None else "",
        technician=job.technician if job is not None else "",
        refrigerant=state.unit_texts.get("refrigerant", ""),
        cylinder=state.cylinder.label if state.cylinder is not None else "",
        started=state.started.at if state.started is not None else None,
        closed=state.closed.at if state.closed is not None else None,
        added_kg=added_kg(state),
        practice=state.practice,
    )
