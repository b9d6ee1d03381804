"""One shot's way from its start to its weight, and which shot an entry is about."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from lowside.core.session.events import Moment, elapsed
from lowside.core.session.state import ScaleSetting, Shot, taken_out

PLANNED = ("planned", "planned_unit", "planned_time", "planned_time_unit")
"""What a shot's start says of the advice it was started on. No page asks it and nobody types it."""


def started(eid: str, opened: Moment, before_kg: float | None, said: Mapping[str, float]) -> Shot:
    """A shot whose valve was just opened; `before_kg` is what the scale showed [kg], `said` the
    numbers of its entry."""
    return Shot(
        eid,
        opened,
        None,
        "",
        None,
        False,
        None,
        before_kg,
        planned_kg=said.get("planned"),
        planned_s=said.get("planned_time"),
    )


def ended(
    shot: Shot, closed: Moment, close_eid: str, after_kg: float | None, scale: ScaleSetting | None
) -> Shot:
    """The shot closed. `close_eid` is "" when no entry says so; `after_kg` [kg] came with older
    entries."""
    time = elapsed(shot.opened, closed)
    return replace(
        shot,
        closed=closed,
        close_eid=close_eid,
        open_s=time.seconds,
        doubtful_time=time.doubtful,
        amount_kg=_amount(shot, after_kg, scale),
        weight_asked=close_eid != "" and after_kg is None,
        step_kg=_step(scale),
    )


def timed(shot: Shot, open_s: float | None) -> Shot:
    """The shot with the time that a correction gives it [s]; `None`: the taps were right."""
    return shot if open_s is None else replace(shot, open_s=open_s, doubtful_time=False)


def weighed(shot: Shot, after_kg: float | None, scale: ScaleSetting | None) -> Shot:
    """The shot with what the scale showed after it [kg]; `None`: it was not read."""
    amount = _amount(shot, after_kg, scale)
    return replace(shot, amount_kg=amount, weight_asked=False, step_kg=_step(scale))


def place_of_closed(shots: Sequence[Shot], eid: str) -> int | None:
    """Where the closed shot with this eid is in the list."""
    for i in range(len(shots)):
        if shots[i].eid == eid and shots[i].closed is not None:
            return i
    return None


def _step(scale: ScaleSetting | None) -> float | None:
    return None if scale is None else scale.resolution_kg


def _amount(shot: Shot, after_kg: float | None, scale: ScaleSetting | None) -> float | None:
    if after_kg is None or shot.before_kg is None or scale is None:
        return None
    return taken_out(scale.mode, shot.before_kg, after_kg)
