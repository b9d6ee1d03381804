"""The derived index: lists, search and the order of arrival. The logs alone can rebuild it."""

import os
import secrets
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from lowside.core.session.events import Event
from lowside.store import derived_rows, unit_rows
from lowside.store.cursor import START, link
from lowside.store.derived_rows import DerivedRows
from lowside.store.durable import OWNER_ONLY
from lowside.store.logs import Log
from lowside.store.outline import Derived, Listed, Outline, RowRules, Stamp, key_of, unit_key
from lowside.store.reader import Mark, Told
from lowside.store.selection import Place, Selection, query_of
from lowside.store.ulid import ulid_ms

INDEX_FILE = "index.sqlite"
FORMAT = "6"
"""Of the tables below. What the rows say has a version of its own, that of their maker."""
CHECKED_AT_ONCE = 32_000_000
"""An index of so many bytes is looked through before it is used, in about 0.1 s. A larger one is
looked through beside the work: see `lowside.store.opening`."""
_NO_DATABASE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class UnusableIndexError(sqlite3.DatabaseError):
    """The file is no index of this version. It holds nothing that the logs do not."""


_COLUMNS = tuple(field.name for field in fields(Outline) if field.name != "derived")

_SCHEMA = f"""
CREATE TABLE facts (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE sessions (
  sid TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
  damaged INTEGER NOT NULL, events INTEGER NOT NULL, last_hlc TEXT NOT NULL,
  begun INTEGER NOT NULL, words TEXT NOT NULL, cylinder_key TEXT NOT NULL, unit_key TEXT NOT NULL,
  {", ".join(_COLUMNS)}
);
-- Each order has the words beside it, so a search does not read the sessions it leaves out.
CREATE INDEX by_begun ON sessions (begun DESC, sid DESC, words);
CREATE INDEX by_cylinder ON sessions (cylinder_key, begun DESC, sid DESC);
CREATE INDEX by_unit ON sessions (unit_key, begun DESC, sid DESC, words);
CREATE INDEX by_added ON sessions (added_kg DESC, begun DESC, sid DESC, words);
CREATE INDEX open_by_begun ON sessions (begun DESC, sid DESC) WHERE closed IS NULL;
CREATE INDEX by_last_hlc ON sessions (last_hlc);
CREATE INDEX by_damage ON sessions (sid) WHERE damaged > 0;
CREATE TABLE arrivals (
  n INTEGER PRIMARY KEY AUTOINCREMENT, sid TEXT NOT NULL, dev TEXT NOT NULL, seq INTEGER NOT NULL,
  chain TEXT NOT NULL,
  UNIQUE (sid, dev, seq)
);
{derived_rows.SCHEMA}{unit_rows.SCHEMA}"""

_LISTED = f"SELECT sid, events, last_hlc, begun, {', '.join(_COLUMNS)} FROM sessions"


class Index:
    """One SQLite file, or one in memory. Not thread-safe: the store's lock guards it.

    Raises
        UnusableIndexError: the file is damaged or of another format; make it again.
        sqlite3.Error: it cannot be used now, as when the disk is full.
    """

    def __init__(self, path: Path | None, rules: RowRules, spills: bool = False) -> None:
        """
        Args:
            path: of the file; without one the index ends with its connection.
            rules: of the derived rows.
            spills: let one without a path take room on the disk, and not only memory.
        """
        self._rules = rules
        if path is not None and path.exists() and not path.is_file():
            raise UnusableIndexError("not a file")
        if path is not None:
            # SQLite gives the files beside it the same mode.
            try:
                os.close(os.open(path, os.O_RDWR | os.O_CREAT, OWNER_ONLY))
            except OSError as error:
                raise sqlite3.OperationalError(str(error)) from error
        # The connection crosses threads, always under the store's lock.
        self._db = sqlite3.connect(
            path if path is not None else "" if spills else ":memory:",
            check_same_thread=False,
            isolation_level=None,
        )
        self.rows = DerivedRows(self._db, rules)
        try:
            self._prepare(path)
        except sqlite3.DatabaseError as error:
            self._db.close()
            if getattr(error, "sqlite_errorcode", 0) & 0xFF in _NO_DATABASE:
                raise UnusableIndexError(*error.args) from error
            raise

    def _prepare(self, path: Path | None) -> None:
        is_new = path is None or path.stat().st_size == 0
        self._db.execute("PRAGMA journal_mode = WAL")
        self._db.execute("PRAGMA synchronous = NORMAL")
        if is_new:
            self._db.executescript("BEGIN;" + _SCHEMA)
            self._db.execute("INSERT INTO facts VALUES ('format', ?)", (FORMAT,))
            self._db.execute("INSERT INTO facts VALUES ('epoch', ?)", (secrets.token_hex(8),))
            self._db.execute("INSERT INTO facts VALUES ('rules', ?)", (self._rules.version or "",))
            self._db.execute("COMMIT")
        if not self._has_facts() or self._fact("format") != FORMAT:
            raise UnusableIndexError("of another format")
        if (path is None or path.stat().st_size <= CHECKED_AT_ONCE) and not is_sound(self._db):
            raise UnusableIndexError("damaged")
        self.epoch = self._fact("epoch")
        if self._rules.version not in (None, self._fact("rules")):
            self._forget_rows()

    def _forget_rows(self) -> None:
        """What other rules made is made again from the logs. The order of arrival stays."""
        with self.transaction():
            self._db.execute("DELETE FROM derived")
            self._db.execute("UPDATE sessions SET size = -1")
            version = self._rules.version
            self._db.execute("UPDATE facts SET value = ? WHERE name = 'rules'", (version,))

    def close(self) -> None:
        self._db.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Everything done inside is kept, or nothing."""
        self._db.execute("BEGIN")
        try:
            yield
            self._db.execute("COMMIT")
        except BaseException:
            if self._db.in_transaction:  # SQLite ends one by itself when the disk is full
                self._db.execute("ROLLBACK")
            raise

    def stamps(self) -> dict[str, Stamp]:
        """sid -> how its file looked."""
        rows = self._db.execute("SELECT sid, size, mtime_ns FROM sessions")
        return {sid: Stamp(size, mtime_ns) for sid, size, mtime_ns in rows}

    def sids(self) -> set[str]:
        """Every session it knows."""
        return {sid for (sid,) in self._db.execute("SELECT sid FROM sessions")}

    def damaged(self) -> list[str]:
        """Sessions with lines that could not be read."""
        rows = self._db.execute("SELECT sid FROM sessions WHERE damaged > 0 ORDER BY sid")
        return [sid for (sid,) in rows]

    def new_epoch(self) -> None:
        """Let everybody who follows begin again."""
        self.epoch = secrets.token_hex(8)
        self._db.execute("UPDATE facts SET value = ? WHERE name = 'epoch'", (self.epoch,))

    def put(self, log: Log | Told, outline: Outline, stamp: Stamp) -> int:
        """Index a log as it is now. Known events keep their place in the arrivals.

        Returns
            How many events the index knew and the log lacks.
        """
        known = {
            (dev, seq)
            for dev, seq in self._db.execute(
                "SELECT dev, seq FROM arrivals WHERE sid = ?", (log.sid,)
            )
        }
        lost = known - log.by_key.keys()
        for dev, seq in lost:
            self._db.execute(
                "DELETE FROM arrivals WHERE sid = ? AND dev = ? AND seq = ?", (log.sid, dev, seq)
            )
        fresh = [event for event in log.events if (event.dev, event.seq) not in known]
        self._add(log, fresh, outline, stamp)
        return len(lost)

    def add(self, log: Log, fresh: Sequence[Event], outline: Outline, stamp: Stamp) -> None:
        """Index a log that grew by `fresh`. Known events keep their place in the arrivals."""
        question = "SELECT 1 FROM arrivals WHERE sid = ? AND dev = ? AND seq = ?"
        unknown = [
            event
            for event in fresh
            if self._db.execute(question, (event.sid, event.dev, event.seq)).fetchone() is None
        ]
        self._add(log, unknown, outline, stamp)

    def note_aside(self, counts: Mapping[str, int]) -> None:
        """Note how many entries of each session were set aside."""
        noted = dict(self._db.execute("SELECT sid, n FROM aside").fetchall())
        for sid in sorted(noted.keys() | counts.keys()):
            if noted.get(sid, 0) != counts.get(sid, 0):
                self._db.execute(
                    "INSERT OR REPLACE INTO aside VALUES (?, ?)", (sid, counts.get(sid, 0))
                )
                self.rows.again(sid)

    def _add(
        self, log: Log | Told, fresh: Sequence[Event | Mark], outline: Outline, stamp: Stamp
    ) -> None:
        self._add_arrivals(fresh)
        begun = outline.started if outline.started is not None else ulid_ms(log.sid) or 0
        key = unit_key(outline.site, outline.unit_label)
        row = (
            log.sid,
            stamp.size,
            stamp.mtime_ns,
            len(log.damaged),
            len(log.events),
            max((event.hlc for event in log.events), default=""),
            begun,
            _words(log.sid, outline),
            key_of(outline.cylinder),
            key,
            *(getattr(outline, name) for name in _COLUMNS),
        )
        before = self._unit_keys(log.sid)
        marks = ", ".join("?" * len(row))
        self._db.execute(f"INSERT OR REPLACE INTO sessions VALUES ({marks})", row)
        self.rows.put(log.sid, begun, outline.derived, is_new=not before)
        unit_rows.count_again(self._db, before | {key})

    def _unit_keys(self, sid: str) -> set[str]:
        rows = self._db.execute("SELECT unit_key FROM sessions WHERE sid = ?", (sid,))
        return {key for (key,) in rows}

    def _add_arrivals(self, fresh: Sequence[Event | Mark]) -> None:
        chain = self.chain_at(self.head())
        rows = []
        for event in fresh:
            chain = link(chain, event.sid, event.dev, event.seq)
            rows.append((event.sid, event.dev, event.seq, chain))
        self._db.executemany(
            "INSERT INTO arrivals (sid, dev, seq, chain) VALUES (?, ?, ?, ?)", rows
        )

    def adopt_order(self, old: "Index") -> None:
        """Take over the order of arrival from an index that is being made again.

        Only when its chain holds from the first arrival to the last: otherwise it is damaged, and
        everybody who follows begins again.
        """
        chain = START
        try:
            with self.transaction():
                rows = old._db.execute("SELECT n, sid, dev, seq, chain FROM arrivals ORDER BY n")
                for n, sid, dev, seq, following in rows:
                    chain = link(chain, sid, dev, seq)
                    if chain != following:
                        raise UnusableIndexError("its chain is broken")
                    self._db.execute(
                        "INSERT INTO arrivals VALUES (?, ?, ?, ?, ?)", (n, sid, dev, seq, chain)
                    )
                self.epoch = old.epoch
                self._db.execute("UPDATE facts SET value = ? WHERE name = 'epoch'", (self.epoch,))
        except sqlite3.Error:
            self.new_epoch()

    def sids_of_arrivals(self) -> set[str]:
        """Every session of which an event arrived."""
        return {sid for (sid,) in self._db.execute("SELECT DISTINCT sid FROM arrivals")}

    def remove(self, sid: str) -> None:
        """Forget a session whose log is gone."""
        keys = self._unit_keys(sid)
        self._db.execute("DELETE FROM sessions WHERE sid = ?", (sid,))
        self.rows.remove(sid)
        unit_rows.count_again(self._db, keys)
        self._db.execute("DELETE FROM arrivals WHERE sid = ?", (sid,))

    def last_hlc(self) -> str:
        """The latest clock value in the store, "" when it is empty."""
        value: str | None = self._db.execute("SELECT max(last_hlc) FROM sessions").fetchone()[0]
        return value or ""

    def is_practice(self, sid: str) -> bool:
        """Whether this session's outline says so."""
        row = self._db.execute("SELECT practice FROM sessions WHERE sid = ?", (sid,)).fetchone()
        return row is not None and bool(row[0])

    def listed(
        self,
        words: Sequence[str],
        open_only: bool,
        closed_only: bool,
        practice: bool | None,
        limit: int | None,
        before: tuple[int, str] | None = None,
    ) -> list[Listed]:
        """Sessions that hold every word, newest first."""
        conditions = ["events > 0", "session"] + ["instr(words, ?) > 0"] * len(words)
        if open_only:
            conditions.append("closed IS NULL")
        if closed_only:
            conditions.append("closed IS NOT NULL")
        if practice is not None:
            conditions.append("practice" if practice else "NOT practice")
        if before is not None:
            conditions.append("(begun, sid) < (?, ?)")
        return self._list(
            f"{_LISTED} WHERE {' AND '.join(conditions)} ORDER BY begun DESC, sid DESC LIMIT ?",
            (*words, *(before or ()), _every(limit)),
        )

    def with_key(self, column: str, key: str, other_than: str, limit: int | None) -> list[Listed]:
        """Sessions whose "cylinder_key" or "unit_key" is this, newest first; no practice."""
        return self._list(
            f"{_LISTED} WHERE events > 0 AND session AND NOT practice AND {column} = ? "
            "AND sid != ? ORDER BY begun DESC, sid DESC LIMIT ?",
            (key, other_than, _every(limit)),
        )

    def arrivals(
        self, after: int, limit: int, practice: bool | None = None
    ) -> list[tuple[int, str, str, int]]:
        """(number, sid, dev, seq) of the events that arrived after number `after`.

        Args:
            practice: only those of practice sessions, or none of them.
        """
        only = ""
        if practice is not None:
            only = f"AND {'' if practice else 'NOT '}coalesce(practice, 0)"
            only += " AND coalesce(session, 1)"
        rows = self._db.execute(
            "SELECT n, sid, dev, seq FROM arrivals LEFT JOIN sessions USING (sid) "
            f"WHERE n > ? {only} ORDER BY n LIMIT ?",
            (after, limit),
        )
        return rows.fetchall()

    def head(self) -> int:
        """The number of the last arrival, 0 when there is none."""
        found: int | None = self._db.execute("SELECT max(n) FROM arrivals").fetchone()[0]
        return found or 0

    def chain_at(self, n: int) -> str:
        """The chain's value at an arrival, "" when there is no such arrival."""
        if n == 0:
            return START
        row = self._db.execute("SELECT chain FROM arrivals WHERE n = ?", (n,)).fetchone()
        return "" if row is None else str(row[0])

    def selected(
        self, selection: Selection, kind: str, after: Place | None, limit: int
    ) -> list[tuple[Listed, str]]:
        """Sessions of a selection in its order, each with the value of its row of this kind."""
        names = ("sid", "events", "last_hlc", "begun", *_COLUMNS)
        columns = ", ".join("s." + name for name in names)
        text, values = query_of(selection, columns, kind, after, limit)
        return [
            (Listed(sid, _outline(outline), events, last_hlc, begun), value)
            for sid, events, last_hlc, begun, *outline, value in self._db.execute(text, values)
        ]

    def one(self, sid: str) -> Listed | None:
        """The session with this identifier."""
        found = self._list(f"{_LISTED} WHERE sid = ?", (sid,))
        return found[0] if found else None

    def units(
        self, after: str, limit: int, repeated: bool
    ) -> list[tuple[str, str, str, int, int, float, int]]:
        """As `unit_rows.units`."""
        return unit_rows.units(self._db, after, limit, repeated)

    def contents(self) -> tuple[list[Listed], set[tuple[str, str, int]]]:
        """Everything that must equal a rebuilt index. The order of arrival may differ."""
        arrivals = set(self._db.execute("SELECT sid, dev, seq FROM arrivals"))
        rows: dict[str, list[Derived]] = {}
        for sid, *row in self._db.execute(
            "SELECT sid, kind, key, value FROM derived ORDER BY sid, place"
        ):
            rows.setdefault(sid, []).append(Derived(*row))
        listed = self._list(f"{_LISTED} ORDER BY sid", ())
        return [
            replace(one, outline=replace(one.outline, derived=tuple(rows.get(one.sid, ()))))
            for one in listed
        ], arrivals

    def _list(self, query: str, values: Sequence[object]) -> list[Listed]:
        return [
            Listed(sid, _outline(outline), events, last_hlc, begun)
            for sid, events, last_hlc, begun, *outline in self._db.execute(query, tuple(values))
        ]

    def query(self, text: str, values: Sequence[object] = ()) -> list[Any]:
        """For `lowside.store.comparing`."""
        return self._db.execute(text, tuple(values)).fetchall()

    def _has_facts(self) -> bool:
        found = self._db.execute("SELECT 1 FROM sqlite_master WHERE name = 'facts'").fetchone()
        return found is not None

    def _fact(self, name: str) -> str:
        row = self._db.execute("SELECT value FROM facts WHERE name = ?", (name,)).fetchone()
        if row is None:
            raise UnusableIndexError(f"without its {name}")
        return str(row[0])


def is_sound(db: sqlite3.Connection) -> bool:
    """Whether SQLite finds its file whole. It reads all of it."""
    return bool(db.execute("PRAGMA quick_check").fetchone()[0] == "ok")


def _every(limit: int | None) -> int:
    return -1 if limit is None else limit


def _outline(values: Sequence[object]) -> Outline:
    named = dict(zip(_COLUMNS, values, strict=True))
    for name in ("practice", "session"):
        named[name] = bool(named[name])
    return Outline(**named)  # type: ignore[arg-type]  # as `add` wrote them


def _words(sid: str, outline: Outline) -> str:
    texts = (
        outline.site,
        outline.unit_label,
        outline.technician,
        outline.refrigerant,
        outline.cylinder,
        sid,
    )
    return "\n".join(key_of(text) for text in texts)
