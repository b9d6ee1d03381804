"""One row for each unit in the index: how often it was visited, and what was added to it."""

import sqlite3
from collections.abc import Iterable

from lowside.store.outline import unit_key

SCHEMA = """
CREATE TABLE units (
  unit_key TEXT PRIMARY KEY, site TEXT NOT NULL, unit_label TEXT NOT NULL,
  sessions INTEGER NOT NULL, adding INTEGER NOT NULL, added_kg REAL NOT NULL, last INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX topped_up_again ON units (unit_key) WHERE adding > 1;
"""
NO_UNIT = unit_key("", "")
"""Of a session that names no unit yet."""
_MADE = (
    "INSERT INTO units SELECT unit_key, site, unit_label, count(*), sum(added_kg > 0.000001), "
    "sum(added_kg), max(begun) FROM sessions WHERE unit_key = ? AND events > 0 AND NOT practice "
    "GROUP BY unit_key"
)
"""SQLite takes the names from the row with the highest `begun`: the newest session's."""


def count_again(db: sqlite3.Connection, keys: Iterable[str]) -> None:
    """Make the rows of these units again from their sessions."""
    for key in keys:
        db.execute("DELETE FROM units WHERE unit_key = ?", (key,))
        if key != NO_UNIT:
            db.execute(_MADE, (key,))


def units(
    db: sqlite3.Connection, after: str, limit: int, repeated: bool
) -> list[tuple[str, str, str, int, int, float, int]]:
    """Units in the order of site and label: key, site, label, sessions, those that added, sum
    added [kg], last begun [ms]; or only those to which more than one session added."""
    again = "AND adding > 1" if repeated else ""
    return db.execute(
        f"SELECT * FROM units WHERE unit_key > ? {again} ORDER BY unit_key LIMIT ?",
        (after, limit),
    ).fetchall()
