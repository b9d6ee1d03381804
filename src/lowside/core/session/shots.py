"""One shot's way from its start to its weight, and which shot an entry is about."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.events import Moment, elapsed
from lowside.core.session.ledger import ROUNDING_KG, STEPS_ALLOWED
from lowside.core.session.state import ScaleSetting, Shot, taken_out

PLANNED = ("planned", "planned_unit", "planned_time", "planned_time_unit")
"""What a shot's start says of the advice it was started on. No page asks it and nobody types it."""
DRIFT_KG = 0.5 * OUNCE_KG
"""By so much a scale may drift or its hose pull while the valve is closed [kg], or by
`STEPS_ALLOWED` of its steps where that is more. Our choice."""


def started(eid: str, opened: Moment, scale_kg: float | None, said: Mapping[str, float]) -> Shot:
    """A shot whose valve was just opened; `scale_kg` is what the scale showed last [kg], `said` the
    numbers of its entry."""
    return Shot(
        eid,
        opened,
        None,
        None,
        False,
        None,
        said.get("scale_before", scale_kg),
        planned_kg=said.get("planned"),
        planned_s=said.get("planned_time"),
    )


def ended(shot: Shot, closed: Moment, open_s: float | None, asked: bool) -> Shot:
    """The shot closed. `open_s` is the time that a correction gives it [s]; `None`: the taps were
    right. `asked`: its weight is."""
    time = elapsed(shot.opened, closed)
    return replace(
        shot,
        closed=closed,
        open_s=time.seconds if open_s is None else open_s,
        doubtful_time=time.doubtful and open_s is None,
        weight_asked=asked,
    )


def weighed(shot: Shot, after_kg: float | None, scale: ScaleSetting | None) -> Shot:
    """The shot with what the scale showed after it [kg]; `None`: it was not read."""
    amount = _amount(shot, after_kg, scale)
    step = None if scale is None else scale.resolution_kg
    return replace(shot, amount_kg=amount, weight_asked=False, step_kg=step)


def fell_closed(
    scale: ScaleSetting | None, last_kg: float | None, shown_kg: float | None
) -> float | None:
    """How much left the cylinder since the scale showed `last_kg`, though the valve was closed
    [kg]; `None` when it was nothing, or nobody can know."""
    if scale is None or last_kg is None or shown_kg is None:
        return None
    fell = taken_out(scale.mode, last_kg, shown_kg)
    most = max(DRIFT_KG, STEPS_ALLOWED * scale.resolution_kg)
    return fell if fell > most + ROUNDING_KG else None


def passed(
    shots: Sequence[Shot], scale: ScaleSetting | None, last_kg: float | None, shown_kg: float | None
) -> bool:
    """Whether so much left the cylinder after these shots, and may be inside: then no reading
    before it counts. Our choice."""
    closed = len(shots) > 0 and not is_open(shots)
    return closed and fell_closed(scale, last_kg, shown_kg) is not None


def is_open(shots: Sequence[Shot]) -> bool:
    """Whether the valve of the last of these shots is open."""
    return len(shots) > 0 and shots[len(shots) - 1].closed is None


def place_of_closed(shots: Sequence[Shot], eid: str) -> int | None:
    """Where the closed shot with this eid is in the list."""
    for i in range(len(shots)):
        if shots[i].eid == eid and shots[i].closed is not None:
            return i
    return None


def _amount(shot: Shot, after_kg: float | None, scale: ScaleSetting | None) -> float | None:
    if after_kg is None or shot.before_kg is None or scale is None:
        return None
    return taken_out(scale.mode, shot.before_kg, after_kg)
