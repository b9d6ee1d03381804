"""Compares an index with one made from the logs, and finds the gaps of a store.

SQLite does it on the disk. The entries of a large store do not fit into memory twice.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from lowside.core.session.events import Event
from lowside.store.index import Index
from lowside.store.order import keys_of
from lowside.store.outline import Outline

_ARRIVED = (
    "SELECT 0, sid, dev, seq, entries FROM main.arrivals UNION ALL "
    "SELECT 1, sid, dev, seq, entries FROM other.arrivals ORDER BY sid, dev, seq"
)
"""Runs of both, those of a session after each other. Both tables have an index in this order."""
_DERIVED = "sid, place, kind, key, begun, value"
_UNITS = "unit_key, site, unit_label, sessions, adding, last"
_SAME_SUM_KG = 1e-6
"""Sums in another order, or by another SQLite, differ in their last bits."""
_FIND = {"sessions": "sid", "derived": "kind, key, begun, sid, place"}
"""By what a row of a table is found at once."""
_SESSIONS = ", ".join(
    ["sid", "events", "last_hlc", "begun"]
    + [field.name for field in fields(Outline) if field.name != "derived"]
)


_Stretch = tuple[str, int, int]
"""A writer, its number of the first entry, and how many."""


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
    units: int = 0
    """Of how many units it counts something else; looked at when nothing else differs."""
    marks: int = 0
    """The same of texts and flags."""
    cylinders: int = 0
    """The same of cylinders."""


def differences(right: Index, other: Path) -> Differences:
    """What the index in the file `other` says that is not as in `right`.

    Raises
        sqlite3.Error: it cannot be read.
    """
    right.query("ATTACH ? AS other", [str(other)])
    try:
        entries, unknown, missing = _of_arrivals(right)
        columns = (("sessions", _SESSIONS), ("derived", _DERIVED))
        if all(_is_same(right, table, named) for table, named in columns):
            counts = _of_counts(right)
            return Differences(0, 0, (), entries, unknown, missing, *counts)
        wrong = " UNION ".join(
            f"SELECT sid FROM ({_without(named, table, *sides)})"
            for table, named in columns
            for sides in (("main", "other"), ("other", "main"))
        )
        behind = (
            f"({wrong}) JOIN main.sessions AS ours USING (sid) "
            "LEFT JOIN other.sessions AS its USING (sid) "
            "WHERE (ours.size, ours.mtime_ns) IS NOT (its.size, its.mtime_ns)"
        )
        return Differences(
            _count(right, f"({wrong})"),
            _count(right, behind),
            tuple(sid for (sid,) in right.query(f"{wrong} ORDER BY sid LIMIT 3")),
            entries,
            unknown,
            missing,
        )
    finally:
        right.query("DETACH other")


def _of_arrivals(right: Index) -> tuple[int, int, int]:
    """How many entries the other index counts, how many more, and how many it lacks."""
    entries = right.query("SELECT coalesce(sum(entries), 0) FROM other.arrivals")[0][0]
    more = less = 0
    for _, of_session in groupby(right.each(_ARRIVED), itemgetter(1)):
        sides: tuple[list[_Stretch], list[_Stretch]] = ([], [])
        for side, _, dev, seq, many in of_session:
            sides[side].append((dev, seq, many))
        if sides[0] != sides[1]:
            here, there = (set(keys_of(side)) for side in sides)
            more += len(there - here)
            less += len(here - there)
    return entries, more, less


def _of_counts(right: Index) -> tuple[int, int, int]:
    """Of how many units, of how many texts and flags, and of how many cylinders the other index
    says something else.

    They follow from the other tables, so this is worth asking when those are the same.
    """
    units = " UNION ".join(
        (
            f"SELECT unit_key FROM ({_without(_UNITS, 'units', 'main', 'other')})",
            f"SELECT unit_key FROM ({_without(_UNITS, 'units', 'other', 'main')})",
            "SELECT unit_key FROM main.units AS ours JOIN other.units AS its USING (unit_key) "
            f"WHERE abs(ours.added_kg - its.added_kg) > {_SAME_SUM_KG}",
        )
    )
    marks = " UNION ".join(
        f"SELECT kind, key FROM (SELECT * FROM {one}.marks WHERE n > 0 "
        f"EXCEPT SELECT * FROM {other}.marks WHERE n > 0)"
        for one, other in (("main", "other"), ("other", "main"))
    )
    cylinders = " UNION ".join(
        f"SELECT key FROM ({_without('*', 'cylinders', *sides)})"
        for sides in (("main", "other"), ("other", "main"))
    )
    return _count(right, f"({units})"), _count(right, f"({marks})"), _count(right, f"({cylinders})")


def _is_same(right: Index, table: str, columns: str) -> bool:
    """Whether both have the same rows: each finds its own in the other. To sort both for that
    takes five times as long."""
    ours, its = (
        ", ".join(f"{side}.{name.strip()}" for name in columns.split(","))
        for side in ("ours", "its")
    )
    found = _count(
        right,
        f"main.{table} AS ours JOIN other.{table} AS its USING ({_FIND[table]}) "
        f"WHERE ({ours}) IS ({its})",
    )
    return found == _count(right, f"main.{table}") == _count(right, f"other.{table}")


def _count(right: Index, rows: str) -> int:
    return int(right.query(f"SELECT count(*) FROM {rows}")[0][0])


def _without(columns: str, table: str, one: str, other: str) -> str:
    return f"SELECT {columns} FROM {one}.{table} EXCEPT SELECT {columns} FROM {other}.{table}"


def gaps(index: Index, aside: Sequence[Event]) -> Iterator[str]:
    """A sentence for each device whose numbers in a session do not count from 1 without a gap.

    Args:
        aside: entries that are not in the logs but count.
    """
    also: dict[str, list[Event]] = {}
    for event in aside:
        also.setdefault(event.sid, []).append(event)
    doubtful = index.query(
        "SELECT sid FROM arrivals GROUP BY sid, dev HAVING max(seq + entries - 1) > sum(entries)"
    )
    for sid in sorted({sid for (sid,) in doubtful} | also.keys()):
        numbers: dict[str, set[int]] = {}
        rows = index.query("SELECT dev, seq, entries FROM arrivals WHERE sid = ?", [sid])
        for dev, seq in keys_of(rows):
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
