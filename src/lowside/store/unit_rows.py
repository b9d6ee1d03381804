"""One row for each unit in the index: how often it was visited, and what was added to it."""

from collections.abc import Iterable

from lowside.store.engine import Database
from lowside.store.outline import unit_key
from lowside.store.site_days import ZONE

SCHEMA = """
CREATE TABLE units (
  unit_key TEXT PRIMARY KEY, site TEXT NOT NULL, unit_label TEXT NOT NULL,
  sessions INTEGER NOT NULL, adding INTEGER NOT NULL, added_kg REAL NOT NULL, last INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX topped_up_again ON units (unit_key) WHERE adding > 1;
"""
NO_UNIT = unit_key("", "")
"""Of a session that names no unit yet."""
UNWEIGHED = "unweighed"
"""Kind of a derived row without a value, by the unit's key: the session added an unknown amount."""
_COLUMNS = "unit_key, site, unit_label, sessions, adding, added_kg, last"
_OF_UNIT = "FROM sessions WHERE unit_key = ?1 AND events > 0 AND NOT practice"
_NEWEST = f"{_OF_UNIT} ORDER BY begun DESC, sid DESC LIMIT 1"
_NOT_WEIGHED = f"sid IN (SELECT d.sid FROM derived d WHERE d.kind = '{UNWEIGHED}' AND d.key = ?1)"
_MADE = (
    f"INSERT INTO units ({_COLUMNS}) SELECT unit_key, (SELECT site {_NEWEST}), "
    f"(SELECT unit_label {_NEWEST}), count(*), "
    f"sum(CASE WHEN added_kg > 0.000001 OR {_NOT_WEIGHED} THEN 1 ELSE 0 END), "
    f"sum(added_kg), max(begun) {_OF_UNIT} GROUP BY unit_key"
)
"""The names are those of the newest session."""
_ZONE = (
    "coalesce((SELECT CAST(z.value AS INTEGER) FROM sessions s "
    f"JOIN derived z ON z.kind = '{ZONE}' AND z.key = '' AND z.begun = s.begun AND z.sid = s.sid "
    "WHERE s.unit_key = units.unit_key AND s.begun = units.last AND s.events > 0 "
    "AND NOT s.practice ORDER BY s.sid DESC LIMIT 1), 0)"
)
_UNKNOWN = f"coalesce((SELECT n FROM marks WHERE kind = '{UNWEIGHED}' AND key = unit_key), 0)"


def count_again(db: Database, keys: Iterable[str]) -> None:
    """Make the rows of these units again from their sessions."""
    for key in keys:
        db.execute("DELETE FROM units WHERE unit_key = ?", (key,))
        if key != NO_UNIT:
            db.execute(_MADE, (key,))


def units(
    db: Database, after: str, limit: int, repeated: bool
) -> list[tuple[str, str, str, int, int, float, int, int, int]]:
    """Units in the order of site and label: key, site, label, sessions, those that added, sum
    added [kg], last begun [ms], the site's offset from UTC then [min] and in how many sessions an
    amount is unknown; or only those to which more than one session added."""
    again = "AND adding > 1" if repeated else ""
    return db.execute(
        f"SELECT {_COLUMNS}, {_ZONE}, {_UNKNOWN} FROM units WHERE unit_key > ? {again} "
        "ORDER BY unit_key LIMIT ?",
        (after, limit),
    ).fetchall()
