"""The derived index: lists, search and the order of arrival. The logs alone can rebuild it."""

import secrets
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from lowside.core.session.events import Event
from lowside.store.logs import Log
from lowside.store.ulid import ulid_ms

INDEX_FILE = "index.sqlite"
FORMAT = "1"


@dataclass(frozen=True)
class Outline:
    """What lists show of a session. The function given at opening makes it."""

    site: str = ""
    unit_label: str = ""
    technician: str = ""
    refrigerant: str = ""
    cylinder: str = ""
    started: int | None = None
    """[ms since 1970-01-01 UTC]"""
    closed: int | None = None
    """[ms since 1970-01-01 UTC]; `None` while the session is open."""
    added_kg: float = 0.0
    practice: bool = False


Outliner = Callable[[Sequence[Event]], Outline]
"""Makes the outline of a session from its events."""


@dataclass(frozen=True)
class Listed:
    """A session in a list."""

    sid: str
    outline: Outline
    events: int
    last_hlc: str


@dataclass(frozen=True)
class Stamp:
    """How a log's file looked when it was indexed. If it looks different now, read it again."""

    size: int
    mtime_ns: int


_COLUMNS = tuple(field.name for field in fields(Outline))

_SCHEMA = f"""
CREATE TABLE facts (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE sessions (
  sid TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
  damaged INTEGER NOT NULL, events INTEGER NOT NULL, last_hlc TEXT NOT NULL,
  begun INTEGER NOT NULL, words TEXT NOT NULL, cylinder_key TEXT NOT NULL, unit_key TEXT NOT NULL,
  {", ".join(_COLUMNS)}
);
CREATE INDEX by_begun ON sessions (begun DESC, sid DESC);
CREATE INDEX by_cylinder ON sessions (cylinder_key);
CREATE INDEX by_unit ON sessions (unit_key);
CREATE TABLE arrivals (
  n INTEGER PRIMARY KEY AUTOINCREMENT, sid TEXT NOT NULL, dev TEXT NOT NULL, seq INTEGER NOT NULL,
  UNIQUE (sid, dev, seq)
);
"""

_LISTED = f"SELECT sid, events, last_hlc, {', '.join(_COLUMNS)} FROM sessions"


class Index:
    """One SQLite file, or one in memory. Not thread-safe: the store's lock guards it.

    Raises
        sqlite3.DatabaseError: the file is damaged or of another format; make it again.
    """

    def __init__(self, path: Path | None) -> None:
        # The connection crosses threads, always under the store's lock.
        self._db = sqlite3.connect(
            ":memory:" if path is None else path, check_same_thread=False, isolation_level=None
        )
        try:
            self._prepare(is_new=path is None or path.stat().st_size == 0)
        except sqlite3.DatabaseError:
            self._db.close()
            raise

    def _prepare(self, is_new: bool) -> None:
        self._db.execute("PRAGMA journal_mode = WAL")
        self._db.execute("PRAGMA synchronous = NORMAL")
        if is_new:
            self._db.executescript("BEGIN;" + _SCHEMA)
            self._db.execute("INSERT INTO facts VALUES ('format', ?)", (FORMAT,))
            self._db.execute("INSERT INTO facts VALUES ('epoch', ?)", (secrets.token_hex(8),))
            self._db.execute("COMMIT")
        if self._db.execute("PRAGMA quick_check").fetchone()[0] != "ok":
            raise sqlite3.DatabaseError("damaged")
        if self._fact("format") != FORMAT:
            raise sqlite3.DatabaseError("of another format")
        self.epoch = self._fact("epoch")

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

    def damaged(self) -> list[str]:
        """Sessions with lines that could not be read."""
        rows = self._db.execute("SELECT sid FROM sessions WHERE damaged > 0 ORDER BY sid")
        return [sid for (sid,) in rows]

    def put(self, log: Log, outline: Outline, stamp: Stamp) -> None:
        """Index a log as it is now. Known events keep their place in the arrivals."""
        known = {
            (dev, seq)
            for dev, seq in self._db.execute(
                "SELECT dev, seq FROM arrivals WHERE sid = ?", (log.sid,)
            )
        }
        for dev, seq in known - log.by_key.keys():
            self._db.execute(
                "DELETE FROM arrivals WHERE sid = ? AND dev = ? AND seq = ?", (log.sid, dev, seq)
            )
        self.add(log, [e for e in log.events if (e.dev, e.seq) not in known], outline, stamp)

    def add(self, log: Log, fresh: Sequence[Event], outline: Outline, stamp: Stamp) -> None:
        """Index a log that grew by `fresh`."""
        self._db.executemany(
            "INSERT OR IGNORE INTO arrivals (sid, dev, seq) VALUES (?, ?, ?)",
            [(event.sid, event.dev, event.seq) for event in fresh],
        )
        row = (
            log.sid,
            stamp.size,
            stamp.mtime_ns,
            len(log.damaged),
            len(log.events),
            max((event.hlc for event in log.events), default=""),
            outline.started if outline.started is not None else ulid_ms(log.sid),
            _words(log.sid, outline),
            key_of(outline.cylinder),
            unit_key(outline.site, outline.unit_label),
            *astuple(outline),
        )
        marks = ", ".join("?" * len(row))
        self._db.execute(f"INSERT OR REPLACE INTO sessions VALUES ({marks})", row)

    def remove(self, sid: str) -> None:
        """Forget a session whose log is gone."""
        self._db.execute("DELETE FROM sessions WHERE sid = ?", (sid,))
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
    ) -> list[Listed]:
        """Sessions that hold every word, newest first."""
        conditions = ["events > 0"] + ["instr(words, ?) > 0"] * len(words)
        if open_only:
            conditions.append("closed IS NULL")
        if closed_only:
            conditions.append("closed IS NOT NULL")
        if practice is not None:
            conditions.append("practice" if practice else "NOT practice")
        return self._list(
            f"{_LISTED} WHERE {' AND '.join(conditions)} ORDER BY begun DESC, sid DESC LIMIT ?",
            (*words, -1 if limit is None else limit),
        )

    def with_cylinder(self, key: str) -> list[Listed]:
        """Sessions that used this cylinder, oldest first; no practice sessions."""
        return self._list(
            f"{_LISTED} WHERE events > 0 AND NOT practice AND cylinder_key = ? ORDER BY begun, sid",
            (key,),
        )

    def with_unit(self, key: str) -> list[Listed]:
        """Sessions at this unit, oldest first; no practice sessions."""
        return self._list(
            f"{_LISTED} WHERE events > 0 AND NOT practice AND unit_key = ? ORDER BY begun, sid",
            (key,),
        )

    def arrivals(self, after: int, limit: int) -> list[tuple[int, str, str, int]]:
        """(number, sid, dev, seq) of the events that arrived after number `after`."""
        rows = self._db.execute(
            "SELECT n, sid, dev, seq FROM arrivals WHERE n > ? ORDER BY n LIMIT ?", (after, limit)
        )
        return rows.fetchall()

    def contents(self) -> tuple[list[Listed], set[tuple[str, str, int]]]:
        """Everything that must equal a rebuilt index. The order of arrival may differ."""
        arrivals = set(self._db.execute("SELECT sid, dev, seq FROM arrivals"))
        return self._list(f"{_LISTED} ORDER BY sid", ()), arrivals

    def _list(self, query: str, values: Sequence[object]) -> list[Listed]:
        return [
            Listed(sid, _outline(outline), events, last_hlc)
            for sid, events, last_hlc, *outline in self._db.execute(query, tuple(values))
        ]

    def _fact(self, name: str) -> str:
        row = self._db.execute("SELECT value FROM facts WHERE name = ?", (name,)).fetchone()
        if row is None:
            raise sqlite3.DatabaseError(f"without its {name}")
        return str(row[0])


def remove_index(path: Path) -> None:
    """Remove the index with the files SQLite keeps beside it."""
    for suffix in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def key_of(label: str) -> str:
    """A name for comparing: spaces and capitals make no difference."""
    return " ".join(label.split()).casefold()


def unit_key(site: str, unit_label: str) -> str:
    """A unit for comparing: a label means something only at its site."""
    return key_of(site) + "\n" + key_of(unit_label)


def _outline(values: Sequence[object]) -> Outline:
    named = dict(zip(_COLUMNS, values, strict=True))
    named["practice"] = bool(named["practice"])
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
