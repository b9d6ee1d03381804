"""One shot's way from its start to its weight, and which shot an entry is about."""

from collections.abc import Sequence
from dataclasses import replace

from lowside.core.session.events import Moment, elapsed
from lowside.core.session.state import ScaleSetting, Shot, taken_out


def started(eid: str, opened: Moment, before_kg: float | None) -> Shot:
    """A shot whose valve was just opened; `before_kg` is what the scale showed [kg]."""
    return Shot(eid, opened, None, "", None, False, None, before_kg, False)


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
    )


def weighed(shot: Shot, after_kg: float | None, scale: ScaleSetting | None) -> Shot:
    """The shot with what the scale showed after it [kg]; `None`: it was not read."""
    return replace(shot, amount_kg=_amount(shot, after_kg, scale), weight_asked=False)


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
