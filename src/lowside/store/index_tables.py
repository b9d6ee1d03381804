"""The tables of the derived index."""

from dataclasses import fields

from lowside.store.outline import Outline

COLUMNS = tuple(field.name for field in fields(Outline) if field.name != "derived")

SCHEMA = f"""
CREATE TABLE facts (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE sessions (
  sid TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
  damaged INTEGER NOT NULL, events INTEGER NOT NULL, last_hlc TEXT NOT NULL,
  begun INTEGER NOT NULL, words TEXT NOT NULL, cylinder_key TEXT NOT NULL, unit_key TEXT NOT NULL,
  {", ".join(COLUMNS)}
);
CREATE INDEX by_begun ON sessions (begun DESC, sid DESC);
CREATE INDEX by_cylinder ON sessions (cylinder_key, begun DESC, sid DESC);
CREATE INDEX by_unit ON sessions (unit_key, begun DESC, sid DESC);
CREATE INDEX by_added ON sessions (added_kg DESC, begun DESC, sid DESC);
CREATE INDEX open_by_begun ON sessions (begun DESC, sid DESC) WHERE closed IS NULL;
CREATE INDEX by_last_hlc ON sessions (last_hlc);
CREATE INDEX by_damage ON sessions (sid) WHERE damaged > 0;
CREATE TABLE derived (
  kind TEXT NOT NULL, key TEXT NOT NULL, begun INTEGER NOT NULL, sid TEXT NOT NULL,
  place INTEGER NOT NULL, value TEXT NOT NULL,
  PRIMARY KEY (kind, key, begun, sid, place)
) WITHOUT ROWID;
CREATE INDEX derived_of_session ON derived (sid);
CREATE TABLE arrivals (
  n INTEGER PRIMARY KEY AUTOINCREMENT, sid TEXT NOT NULL, dev TEXT NOT NULL, seq INTEGER NOT NULL,
  chain TEXT NOT NULL,
  UNIQUE (sid, dev, seq)
);
"""

LISTED = f"SELECT sid, events, last_hlc, begun, {', '.join(COLUMNS)} FROM sessions"
