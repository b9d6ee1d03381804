"""Compares an index with one made from the logs, and finds the gaps of a store.

SQLite does it on the disk. The entries of a large store do not fit into memory twice.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

from lowside.core.session.events import Event
from lowside.store.index import Index
from lowside.store.outline import Outline

_ARRIVALS = "sid, dev, seq"
_DERIVED = "sid, place, kind, key, begun, value"
_SESSIONS = ", ".join(
    ["sid", "events", "last_hlc", "begun"]
    + [field.name for field in fields(Outline) if field.name != "derived"]
)


@dataclass(frozen=True)
class Differences:
    """Of an index from one that was made from the logs."""

    sessions: int
    """How many say something else."""
    behind: int
    """How many of these it was not told of yet: the next start does that."""
    some: tuple[str, ...]
    """The first of them."""
    entries: int
    """How many entries it counts."""
    unknown: int
    """How many of them the logs do not have."""
    missing: int
    """How many of the logs' entries it does not count."""


def differences(right: Index, other: Path) -> Differences:
    """What the index in the file `other` says that is not as in `right`.

    Raises
        sqlite3.Error: it cannot be read.
    """
    right.query("ATTACH ? AS other", [str(other)])
    try:
        wrong = " UNION ".join(
            f"SELECT sid FROM ({_without(columns, table, *sides)})"
            for columns, table in ((_SESSIONS, "sessions"), (_DERIVED, "derived"))
            for sides in (("main", "other"), ("other", "main"))
        )
        counts = right.query(f"SELECT count(*) FROM ({wrong})")
        behind = right.query(
            f"SELECT count(*) FROM ({wrong}) JOIN main.sessions AS ours USING (sid) "
            "LEFT JOIN other.sessions AS its USING (sid) "
            "WHERE (ours.size, ours.mtime_ns) IS NOT (its.size, its.mtime_ns)"
        )
        some = right.query(f"{wrong} ORDER BY sid LIMIT 3")
        entries, unknown, missing = (
            right.query(f"SELECT count(*) FROM ({query})")[0][0]
            for query in (
                "SELECT 1 FROM other.arrivals",
                _without(_ARRIVALS, "arrivals", "other", "main"),
                _without(_ARRIVALS, "arrivals", "main", "other"),
            )
        )
        return Differences(
            counts[0][0],
            behind[0][0],
            tuple(sid for (sid,) in some),
            entries,
            unknown,
            missing,
        )
    finally:
        right.query("DETACH other")


def _without(columns: str, table: str, one: str, other: str) -> str:
    return f"SELECT {columns} FROM {one}.{table} EXCEPT SELECT {columns} FROM {other}.{table}"


def gaps(index: Index, aside: Sequence[Event]) -> Iterator[str]:
    """A sentence for each device whose numbers in a session do not count from 1 without a gap.

    Args:
        aside: entries that are not in the logs and count all the same.
    """
    also: dict[str, list[Event]] = {}
    for event in aside:
        also.setdefault(event.sid, []).append(event)
    doubtful = index.query("SELECT sid FROM arrivals GROUP BY sid, dev HAVING max(seq) > count(*)")
    for sid in sorted({sid for (sid,) in doubtful} | also.keys()):
        numbers: dict[str, set[int]] = {}
        for dev, seq in index.query("SELECT dev, seq FROM arrivals WHERE sid = ?", [sid]):
            numbers.setdefault(dev, set()).add(seq)
        for event in also.get(sid, []):
            numbers.setdefault(event.dev, set()).add(event.seq)
        for dev, found in sorted(numbers.items()):
            lacking = max(found) - len(found)
            if lacking > 0:
                first = next(n for n in range(1, max(found)) if n not in found)
                yield (
                    f"Session {sid}: {lacking} entries of device {dev} are missing, the first is "
                    f"number {first}. The device may still have them."
                )
