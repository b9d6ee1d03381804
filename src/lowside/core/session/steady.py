"""Has the unit run long enough to be judged: by the technician's word, or by the countdown."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.machine import IS_HELD, Machine
from lowside.core.numbers.arithmetic import floored
from lowside.core.numbers.unit_choice import label
from lowside.core.session.block import WAIT, WEIGH_IN, Block
from lowside.core.session.events import Moment, age_s, elapsed, later
from lowside.core.session.state import READING_KINDS, STANDS, Entry, State, latest_reading

SETTLES_S = 900.0
"""Run before a reading counts. READ: 15 min (25TPB7 p. 10, RA3.2 2008); others ask for 5 to 20."""

BREAK_S = 4.0 * 3600.0
"""After nothing was entered for so long, what was true before is of another time of day: no key
offers an old reading, one like it in every box is asked back, and the steady running is asked
again. Our choice: more than a lunch, less than a night."""

COUNTED = "counted"
"""The answer that leaves it to the countdown. One tap says no more while that still runs: it was
begun by the answers “Unit type and mode”, and only the technician knows what ran before them."""


CURED = (
    ("airflow", "no"),
    ("outdoor_coil", "no"),
    ("leak", "leaking"),
    ("steady", "no"),
    ("same_refrigerant", "no"),
)
"""A check, and the answer after which no reading before counts: it ends only when the running
unit changes, or when it is known what is inside."""
ONLY_NEWER = ("steady", "same_refrigerant")
"""Those after which a reading must only be newer: “steady” says that it has run so long already,
and what is inside needs no settling."""


def cured(
    since: Moment | None,
    before: Mapping[str, str],
    checks: Fields,
    moment: Moment,
    target: Fields | None,
) -> Moment | None:
    """Since when the unit runs as it does now, once the checks are answered anew.

    Args:
        target: with how long it runs by its instructions before a reading counts.
    """
    for name, bad in CURED:
        if before.get(name, "") == bad and checks.texts.get(name, "") != bad:
            ran = 0.0
            if name in ONLY_NEWER:
                wait_s = None if target is None else target.numbers.get("papers_wait")
                ran = SETTLES_S if wait_s is None else min(wait_s, SETTLES_S)
            ran_ms = floored(ran * 1000.0)
            return later(since, replace(moment, mono=moment.mono - ran_ms, at=moment.at - ran_ms))
    return since


def was_read(entries: Sequence[Entry]) -> bool:
    """Whether there was a reading, also one that was voided."""
    return any(entry.kind in READING_KINDS for entry in entries)


def runs_otherwise(before: Machine | None, now: Machine | None) -> bool:
    """Whether the machine runs another way than was said before; or is held once more: the mode
    that holds it was started again. What kind of unit it is changes nothing."""
    if before is None or now is None:
        return False
    return replace(now, kind=before.kind) != before or now.held == IS_HELD


def settles_s(state: State) -> float:
    """How long the unit runs before a reading counts [s]: as instructed, else as published."""
    if state.system is None or state.system.papers_wait_s is None:
        return SETTLES_S
    return state.system.papers_wait_s


def counted_from(state: State) -> Moment | None:
    """Since when it is known to run as it does now; `None` before anybody said how."""
    return later(state.machine_at, state.changed_at)


def by_the_record(state: State, now: Moment) -> Moment:
    """`now` with what its wall clock gained since this run's newest entry. All waits go by it."""
    for back in range(len(state.entries)):
        one = state.entries[len(state.entries) - 1 - back].moment
        if one.run == now.run:
            gained = one.gained + now.mono - one.mono - (now.at - one.at)
            return replace(now, gained=gained)
    return now


def still_counts(state: State, now: Moment) -> bool:
    """Whether the countdown beside the question is not over."""
    since = counted_from(state)
    return since is None or elapsed(since, now).seconds < settles_s(state)


def settles_from(state: State) -> Moment | None:
    """Since when it settles; `None` by the technician's word, with nothing changed since."""
    counted = state.checks.get("steady", "") == COUNTED
    return counted_from(state) if counted else state.changed_at


def still_settles_s(state: State, now: Moment) -> float:
    """How long it still settles [s]; 0 or less when it has."""
    since = settles_from(state)
    return 0.0 if since is None else settles_s(state) - elapsed(since, now).seconds


def has_settled(state: State, moment: Moment | None) -> bool:
    """Whether the unit had run long enough then as it runs now; `None` is before any moment."""
    if moment is None:
        return settles_from(state) is None
    return still_settles_s(state, moment) <= 0.0


def unread_since(state: State) -> Moment | None:
    """When the last part was recovered; `None` once the unit was read that had settled since."""
    if not state.recovered:
        return None
    last = state.recovered[len(state.recovered) - 1].moment
    latest = latest_reading(state)
    read = latest is not None and elapsed(last, latest.moment).seconds >= SETTLES_S
    return None if read else last


def after_a_break(state: State, now: Moment | None = None) -> bool:
    """Whether a break came after the checks were answered last, the one up to `now` with it."""
    found = False
    before: Moment | None = None
    for entry in state.entries:
        if entry.status == STANDS:
            broken = before is not None and age_s(before, entry.moment) > BREAK_S
            found = entry.kind != "checks.answered" and (found or broken)
            before = entry.moment
    if before is None or now is None:
        return found
    return found or age_s(before, now) > BREAK_S


def steady_blocks(state: State) -> list[Block]:
    """What speaks against a reading of a unit that had not settled as it runs now."""
    answer = state.checks.get("steady", "")
    why, cure, form = "", "Let it run, then answer the checks again.", "preconditions"
    latest = latest_reading(state)
    if answer == "no":
        why = "The unit has not run steadily for 15 minutes."
    elif answer != "" and after_a_break(state):
        why = "The checks were answered hours ago."
    else:
        settles = settles_s(state)
        form = "reading"
        cure = f"Let it run {label('duration', settles, state.units)} in all, then take a reading."
        if state.changed_at is None:
            cure = cure + " Or say at the checks that it ran before you came."
        read = None if latest is None else latest.moment
        waits = latest is not None or state.changed_at is not None
        if waits and state.running and not has_settled(state, read):
            why = "No reading counts until the unit has settled as it runs now."
    return [] if why == "" else [Block("steady", why, cure, WAIT, form)]


def recovered_blocks(state: State) -> list[Block]:
    """What a recovery forbids: an empty unit is never topped up, and old readings do not count."""
    if "recovery.ready" in state.walk:
        return [
            Block(
                "recovery_begun",
                "A recovery was begun and is not finished.",
                "Weigh the recovery cylinder, or void the entry on the timeline.",
                WAIT,
            )
        ]
    if not state.recovered:
        return []
    if len([one for one in state.recovered if one.whole]) > 0:
        return [
            Block(
                "emptied",
                "The whole charge was recovered. An empty unit is never charged by readings.",
                "Find and repair the leak, evacuate, and weigh in the whole charge.",
                WEIGH_IN,
            )
        ]
    if unread_since(state) is None:
        return []
    return [
        Block(
            "recovered",
            "Refrigerant was recovered and the unit has not been read since.",
            "Let it run 15 minutes, then take a reading.",
            WAIT,
        )
    ]
