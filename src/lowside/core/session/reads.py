"""A reading as its event tells it, and how long after a shot it came, also on another phone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.handbook.system import Reading, System, reading_of
from lowside.core.session.events import Event, Moment, elapsed, writer_of
from lowside.core.session.state import READING_KINDS, Entry, Shot

SHOTS_KNOWN = "shots_known"
"""In a reading: how many shots had been begun by all that its page knew."""


@dataclass(frozen=True)
class Read:
    """`done`: the steps before it; judged by the last unit."""

    eid: str
    moment: Moment
    numbers: Mapping[str, float]
    drier: str
    final: bool
    shots_before: int
    since_shot_s: float | None
    running: bool
    done: tuple[str, ...]
    apart: bool
    """See `state.Taken`."""

    def reading(self, unit: System | None) -> Reading:
        """What it read at the unit's site; nothing while that is not known."""
        if unit is None:
            return Reading()
        return reading_of(self.numbers, unit.atmosphere_pa, self.drier)


def begun(entries: Sequence[Entry]) -> int:
    """How many shots were begun, those voided later too."""
    return len([entry for entry in entries if entry.kind == "shot.opened"])


def seconds_since(shots: Sequence[Shot], moment: Moment, waits: Moment | None) -> float | None:
    """Since the last shot was closed [s], or since `waits`; 0 while a valve is open, which another
    phone may not know: its gauges show the liquid going in. `None` before the first."""
    if not shots:
        return None
    closed = shots[len(shots) - 1].closed
    return 0.0 if closed is None else elapsed(closed if waits is None else waits, moment).seconds


def waits_from(
    entries: Sequence[Entry], event: Event, data: Mapping[str, str], moment: Moment
) -> Moment | None:
    """From when this reading's phone counts since the last shot; `None`: from the shot.

    A reading that did not know a shot may have come before it, by a clock that is ahead: nobody
    can say. From then on its phone counts from its own first reading that knew all shots.
    """
    shots = str(begun(entries))
    if data.get(SHOTS_KNOWN, shots) != shots:
        return moment
    apart = False
    first: Moment | None = None
    for entry in entries:
        if entry.kind == "shot.opened":
            apart = False
            first = None
        elif entry.kind in READING_KINDS and writer_of(entry.dev) == writer_of(event.dev):
            if entry.data.get(SHOTS_KNOWN, shots) != shots:
                apart = True
                first = None
            elif apart and first is None:
                first = entry.moment
    return moment if apart and first is None else first
