"""A unit across visits: what its last reading showed each time, beside the weather of that day."""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.judging.charge import Assessment
from lowside.core.office.dates import local_day
from lowside.core.session.state import State, latest_reading

SIMILAR_K = 10.0 * 5.0 / 9.0
"""Outdoor air within 10 °F of the newest visit's is similar weather. Our choice."""


@dataclass(frozen=True)
class Visit:
    """One session's last reading, on its day; `None` where it was not taken or cannot be judged."""

    sid: str
    day: int
    outdoor_k: float | None
    superheat_k: float | None
    subcooling_k: float | None
    approach_k: float | None
    """Liquid line − outdoor air [K]."""
    similar: bool
    """In weather like the newest visit's."""


def side_by_side(visits: Sequence[Visit]) -> tuple[Visit, ...]:
    """A unit's visits, the oldest first, with those in weather like the newest one's marked."""
    found = sorted(visits, key=lambda one: (one.day, one.sid))
    newest = found[-1].outdoor_k if found else None
    return tuple(
        Visit(
            one.sid,
            one.day,
            one.outdoor_k,
            one.superheat_k,
            one.subcooling_k,
            one.approach_k,
            newest is not None
            and one.outdoor_k is not None
            and abs(one.outdoor_k - newest) <= SIMILAR_K,
        )
        for one in found
    )


def visit_of(state: State, last: Assessment | None) -> Visit | None:
    """A session's last reading; `None` without one.

    Args:
        state: of the session.
        last: what that reading means; `None` when it cannot be judged.
    """
    latest = latest_reading(state)
    if latest is None or state.started is None:
        return None
    reading = latest.reading
    superheat: float | None = None
    subcooling: float | None = None
    if last is not None:
        superheat = _number(last.measured.superheat_k)
        subcooling = _number(last.measured.subcooling_k)
    approach: float | None = None
    if reading.liquid_line_k is not None and reading.outdoor_dry_bulb_k is not None:
        approach = reading.liquid_line_k - reading.outdoor_dry_bulb_k
    return Visit(
        state.sid,
        local_day(latest.moment),
        reading.outdoor_dry_bulb_k,
        superheat,
        subcooling,
        approach,
        False,
    )


def _number(value: object) -> float | None:
    return value if isinstance(value, float) else None
