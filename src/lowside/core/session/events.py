"""The event: the one thing Lowside stores. Everything else is derived from a list of these."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

SCHEMA = 1
"""Version of the event shape written by this program."""


FIRST_KIND = "session.started"
"""Kind of a session's first event. Without it nothing of the session can be shown."""

DISCARDED = "session.discarded"
IN_AN_EMPTY_ONE = (FIRST_KIND, "units.set", DISCARDED)


HIGHEST_COUNT = 999_999
"""The counter of a clock value has six digits; after this one the next is a millisecond later."""


@dataclass(frozen=True)
class Event:
    """One immutable fact in one log (a session, a cylinder, a unit, a person).

    `data` values are strings exactly as typed, each measured value beside the unit shown with it
    (`"suction_pressure": "118"`, `"suction_pressure_unit": "psig"`). The fold parses them.
    """

    sid: str
    """ULID of the log this belongs to."""
    dev: str
    """Device that wrote it."""
    seq: int
    """Contiguous from 1 for each (sid, dev)."""
    eid: str
    """ULID of the event; comes from the form, so a double tap or a re-POST is the same event."""
    hlc: str
    """Hybrid logical clock, fixed width so that text order is time order."""
    at: int
    """Wall clock when it was written [ms since 1970-01-01 UTC]."""
    tz: int
    """Local time offset from UTC at the device [min]."""
    mono: int
    """Monotonic clock within `run` [ms]."""
    run: str
    """One uninterrupted life of the writing program; `mono` only compares within one."""
    kind: str
    data: Mapping[str, str] = field(default_factory=dict)
    schema: int = SCHEMA


@dataclass(frozen=True)
class Moment:
    """A reading of the device's clocks, for durations and for `view`'s "now"."""

    run: str
    mono: int
    at: int
    tz: int = 0
    slow: int = 0
    """By how much the wall clock is slow beside another phone's, at least [ms]."""
    slow_most: int = 0
    gained: int = 0
    """By how much its wall clock gained on the monotonic one later, where it was set forward or the
    phone slept [ms]."""


@dataclass(frozen=True)
class Elapsed:
    """Time between two moments [s]; `doubtful` when the clocks disagree by more than 2 s."""

    seconds: float
    doubtful: bool


CLOCK_DISAGREEMENT_S = 2.0
"""Wall and monotonic clocks further apart than this within one run: the wall clock was set."""


def moment_of(event: Event) -> Moment:
    """The clocks as the event recorded them."""
    return Moment(event.run, event.mono, event.at, event.tz)


def elapsed(start: Moment, end: Moment) -> Elapsed:
    """Time from `start` to `end`: monotonic within one run, wall clock across runs, never more than
    passed where one is known to be slow or to have been set forward in between.

    A wall clock that ran backward across runs gives 0 s, marked doubtful: the truth is unknown and
    a negative wait means nothing.
    """
    wall = (end.at - start.at) / 1000.0
    if start.run == end.run:
        steady = (end.mono - start.mono) / 1000.0
        return Elapsed(steady, abs(wall - steady) > CLOCK_DISAGREEMENT_S)
    slow = end.slow - start.slow_most
    gained = start.gained - end.gained
    if gained > CLOCK_DISAGREEMENT_S * 1000.0 and slow > -gained:
        slow = -gained
    wall = wall + slow / 1000.0
    return Elapsed(wall if wall > 0.0 else 0.0, wall < 0.0 or slow != 0)


def age_s(start: Moment, end: Moment) -> float:
    """How old `start` may be at `end` [s], by the clock that says more. For what must not be too
    old: a sleeping phone stops its monotonic clock (MDN, `performance.now`, “Ticking during sleep”,
    READ in excerpts). A wait goes by `elapsed`, the safe way there."""
    seconds = elapsed(start, end).seconds
    wall = (end.at + end.slow_most - start.at - start.slow) / 1000.0
    return wall if wall > seconds else seconds


def later(one: Moment | None, other: Moment | None) -> Moment | None:
    """The later of two moments by the wall clock; `None` is earlier than any."""
    if one is None or other is None:
        return other if one is None else one
    return other if other.at + other.slow > one.at + one.slow else one


def writer_of(dev: str) -> str:
    """The device that wrote under this name: each run of the server has an ending of its own."""
    parts = dev.split(".")
    return parts[0]


def in_order(events: Iterable[Event]) -> list[Event]:
    """Each event once, ordered everywhere the same: by (hlc, dev, seq)."""
    seen: set[str] = set()
    unique: list[Event] = []
    for event in sorted(events, key=lambda e: (e.hlc, e.dev, e.seq)):
        if event.eid not in seen:
            seen.add(event.eid)
            unique.append(event)
    return unique


def next_hlc(last: str, at: int) -> str:
    """The clock value for a new event written at wall time `at` [ms] after seeing `last`.

    Never goes back even when the wall clock does. `last` is "" for a fresh device.
    """
    last_ms = int(last[:15]) if last else 0
    count = int(last[16:]) if last else 0
    if at > last_ms:
        return hlc(at, 0)
    if count >= HIGHEST_COUNT:
        return hlc(last_ms + 1, 0)
    return hlc(last_ms, count + 1)


def hlc(ms: int, count: int) -> str:
    """Fixed-width text of a hybrid logical clock value; `count` is at most HIGHEST_COUNT."""
    return f"{ms:015d}-{count:06d}"
