"""The derived index: lists, search and the order of arrival. The logs alone can rebuild it."""

import os
import secrets
import sqlite3
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import NamedTuple

from lowside.core.session.events import Event
from lowside.store import cylinder_rows, derived_rows, order, recent, unit_rows
from lowside.store.answers import COLUMNS, Answers, Arrival
from lowside.store.derived_rows import DerivedRows
from lowside.store.durable import OWNER_ONLY
from lowside.store.kept import Kept
from lowside.store.logs import Log
from lowside.store.order import Order
from lowside.store.outline import RowRules, Stamp
from lowside.store.reader import Told

INDEX_FILE = "index.sqlite"
FORMAT = "8"
"""Of the tables below. What the rows say has the version of the code that makes them."""
CHECKED_AT_ONCE = 32_000_000
"""An index of so many bytes is looked through before it is used, in about 0.2 s. A larger one is
looked through beside the work: see `lowside.store.opening`."""
IN_MEMORY_KB = 64_000
"""Of the file, while many sessions are indexed: else each row's page is read and written again."""
USUALLY_KB = 2_000
"""As SQLite has it by itself."""
_NO_DATABASE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class _Later(NamedTuple):
    """Keys of rows that are made when all sessions are there."""

    units: set[str]
    cylinders: set[str]


class UnusableIndexError(sqlite3.DatabaseError):
    """The file is no index of this version. It holds nothing that the logs do not."""


_SCHEMA = f"""
CREATE TABLE facts (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE sessions (
  sid TEXT PRIMARY KEY, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
  damaged INTEGER NOT NULL, events INTEGER NOT NULL, last_hlc TEXT NOT NULL,
  begun INTEGER NOT NULL, words TEXT NOT NULL, cylinder_key TEXT NOT NULL, unit_key TEXT NOT NULL,
  {", ".join(COLUMNS)}
);
-- Each order has the words beside it, so a search does not read the sessions it leaves out.
CREATE INDEX by_begun ON sessions (begun DESC, sid DESC, words);
CREATE INDEX by_cylinder ON sessions (cylinder_key, begun DESC, sid DESC);
CREATE INDEX by_unit ON sessions (unit_key, begun DESC, sid DESC, words);
CREATE INDEX by_added ON sessions (added_kg DESC, begun DESC, sid DESC, words);
CREATE INDEX open_by_begun ON sessions (begun DESC, sid DESC) WHERE closed IS NULL;
CREATE INDEX by_last_hlc ON sessions (last_hlc);
CREATE INDEX by_damage ON sessions (sid) WHERE damaged > 0;
{order.SCHEMA}{derived_rows.SCHEMA}{unit_rows.SCHEMA}{cylinder_rows.SCHEMA}"""


class Index(Answers):
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
        self._later: _Later | None = None
        self.problem = ""
        """A sentence about a row that could not be made."""
        self._followed: dict[str, tuple[bool, bool]] = {}
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
        super().__init__(self._db, DerivedRows(self._db, rules))
        self._order = Order(self._db)
        try:
            self._prepare(path)
        except sqlite3.DatabaseError as error:
            self._db.close()
            if getattr(error, "sqlite_errorcode", 0) & 0xFF in _NO_DATABASE:
                raise UnusableIndexError(*error.args) from error
            raise
        except UnicodeDecodeError as error:
            # A plan of tables that is damaged is told in its own words, which are then no text.
            self._db.close()
            raise UnusableIndexError("damaged") from error

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
            self._db.execute("DELETE FROM cylinders")
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
            self._order.recent.forget()
            self._followed.clear()
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

    def is_sound(self) -> bool:
        """Whether its file is whole: see the function of that name."""
        return is_sound(self._db)

    def put(self, log: Log | Told, kept: Kept, stamp: Stamp) -> int:
        """Index a log as it is now. Known events keep their place in the arrivals.

        Returns
            How many events the index knew and the log lacks.
        """
        known = set(self._order.keys(log.sid))
        keys = log.keys
        lost = known.difference(keys)
        if lost:
            self._order.drop(log.sid, lost)
        self._order.add(log.sid, [key for key in keys if key not in known] if known else keys)
        self.put_rows(log, kept, stamp)
        return len(lost)

    def grew(self, sid: str, fresh: Sequence[Event]) -> None:
        """A log grew by these. Known events keep their place in the arrivals: some arrived before,
        as when a damaged line came again.

        Without `put_rows` after it, the log looks as if it had changed since it was indexed.
        """
        self._order.add(sid, [(event.dev, event.seq) for event in fresh])

    def note_aside(self, counts: Mapping[str, int]) -> None:
        """Note how many entries of each session were set aside."""
        noted = dict(self._db.execute("SELECT sid, n FROM aside").fetchall())
        for sid in sorted(noted.keys() | counts.keys()):
            if noted.get(sid, 0) != counts.get(sid, 0):
                self._db.execute(
                    "INSERT OR REPLACE INTO aside VALUES (?, ?)", (sid, counts.get(sid, 0))
                )
                self.rows.again(sid)

    def put_rows(self, log: Log | Told, kept: Kept, stamp: Stamp) -> None:
        """What lists and pages read of a log as it is now."""
        row = {
            "sid": log.sid,
            "size": stamp.size,
            "mtime_ns": stamp.mtime_ns,
            "damaged": len(log.damaged),
            "events": len(log.keys),
            "last_hlc": log.last_hlc,
            **kept.line,
        }
        self._followed.pop(log.sid, None)
        before = self._unit_keys(log.sid)
        marks = ", ".join("?" * len(row))
        self._db.execute(
            f"INSERT OR REPLACE INTO sessions ({', '.join(row)}) VALUES ({marks})",
            tuple(row.values()),
        )
        begun = int(str(kept.line["begun"]))
        told = self.rows.put(log.sid, begun, kept.rows, is_new=not before)
        self._count_units(before | {str(kept.line["unit_key"])})
        self._make_cylinders({key for key, is_changed in told.items() if is_changed})

    @contextmanager
    def many_at_once(self) -> Iterator[None]:
        """Units are counted once at the end, and not with each of their sessions; so are marks,
        where there were none, and cylinders' rows are made then. Pages of the file that many rows
        go to stay in memory meanwhile."""
        later = self._later = _Later(set(), set())
        is_empty = self._db.execute("SELECT 1 FROM sessions LIMIT 1").fetchone() is None
        self._db.execute(f"PRAGMA cache_size = -{IN_MEMORY_KB}")
        try:
            with self.rows.counted_at_the_end() if is_empty else nullcontext():
                yield
            self._later = None
            self._count_units(later.units)
            self._make_cylinders(later.cylinders)
        finally:
            self._later = None
            self._db.execute(f"PRAGMA cache_size = -{USUALLY_KB}")
            self._db.execute("PRAGMA shrink_memory")

    def _count_units(self, keys: set[str]) -> None:
        if self._later is None:
            unit_rows.count_again(self._db, sorted(keys))
        else:
            self._later.units.update(keys)

    def _make_cylinders(self, keys: Collection[str]) -> None:
        if self._later is not None:
            self._later.cylinders.update(keys)
        elif self._rules.cylinders is not None:
            try:
                cylinder_rows.make_again(self._db, self.rows, self._rules.cylinders, sorted(keys))
            except cylinder_rows.NotMadeError as error:
                self.problem = str(error)

    def _unit_keys(self, sid: str) -> set[str]:
        rows = self._db.execute("SELECT unit_key FROM sessions WHERE sid = ?", (sid,))
        return {key for (key,) in rows}

    def head(self) -> int:
        return self._order.head()

    def chain_at(self, n: int) -> str:
        return self._order.chain_at(n)

    def arrived(self) -> set[tuple[str, str, int]]:
        return self._order.contents()

    def arrivals(self, after: int, limit: int, practice: bool | None = None) -> list[Arrival]:
        rows = self._order.recent.after(after, limit)
        if rows is None:
            return self._order.after(after, limit, practice)
        if practice is None:
            return rows
        found: list[Arrival] = []
        of_sid, is_wanted = "", False
        while rows and len(found) < limit:
            for row in rows:
                if row[1] != of_sid:
                    of_sid = row[1]
                    is_practice, is_session = self._kind_of(of_sid)
                    is_wanted = is_session and is_practice is practice
                if is_wanted:
                    found.append(row)
            rows = self._order.recent.after(rows[-1][0], limit - len(found))
        return found

    def _kind_of(self, sid: str) -> tuple[bool, bool]:
        """Whether it is of practice, and a session at all; as `Answers.arrivals` has it."""
        kind = self._followed.get(sid)
        if kind is None:
            query = "SELECT practice, session FROM sessions WHERE sid = ?"
            practice, session = self._db.execute(query, (sid,)).fetchone() or (False, True)
            kind = self._followed[sid] = (bool(practice), bool(session))
            if len(self._followed) > recent.KEPT:
                self._followed.clear()
        return kind

    def adopt_order(self, old: "Index") -> None:
        """Take over the order of arrival from an index that is being made again.

        Only when its chain holds from the first arrival to the last: otherwise it is damaged, and
        everybody who follows begins again.
        """
        try:
            with self.transaction():
                self._order.adopt(old._db)
                self.epoch = old.epoch
                self._db.execute("UPDATE facts SET value = ? WHERE name = 'epoch'", (self.epoch,))
        except sqlite3.Error:
            self.new_epoch()

    def remove(self, sid: str) -> None:
        """Forget a session whose log is gone."""
        self._followed.pop(sid, None)
        keys = self._unit_keys(sid)
        self._db.execute("DELETE FROM sessions WHERE sid = ?", (sid,))
        cylinders = self.rows.remove(sid)
        self._count_units(keys)
        self._make_cylinders(cylinders)
        self._order.remove(sid)

    def _has_facts(self) -> bool:
        found = self._db.execute("SELECT 1 FROM sqlite_master WHERE name = 'facts'").fetchone()
        return found is not None

    def _fact(self, name: str) -> str:
        row = self._db.execute("SELECT value FROM facts WHERE name = ?", (name,)).fetchone()
        if row is None:
            raise UnusableIndexError(f"without its {name}")
        return str(row[0])


def is_sound(db: sqlite3.Connection) -> bool:
    """Whether SQLite finds its file whole, and each order of a table as the table. It reads all."""
    return bool(db.execute("PRAGMA integrity_check").fetchone()[0] == "ok")
