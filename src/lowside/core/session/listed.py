"""What lists need to know of a session: when it began, and whether it is to be shown."""

from lowside.core.session.ulids import is_ulid, ulid_ms

CLOSED_ON_HOME = 5
"""Closed sessions on the first page. Our choice."""

ABANDONED_MS = 7 * 86_400_000
"""A session that has only its start is put aside after a week. Our choice."""


def begun_ms(sid: str, started_ms: int | None) -> int:
    """Its start, or the time in its identifier [ms since 1970-01-01 UTC]; lists are in this
    order."""
    if started_ms is not None:
        return started_ms
    return ulid_ms(sid) if is_ulid(sid) else 0


def is_abandoned(events: int, closed: bool, begun: int, now_ms: int) -> bool:
    """Whether it was begun and left without an entry. Such a one is in the office's list only.

    Args:
        events: how many it has, its start counted.
        begun: what `begun_ms` gives.
        now_ms: the wall clock of whoever shows the list.
    """
    return events <= 1 and not closed and begun < now_ms - ABANDONED_MS
