"""The derived index: lists, search and the order of arrival. The logs alone can rebuild it."""

import os
import secrets
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from lowside.core.session.events import Event
from lowside.store.cursor import START, link
from lowside.store.durable import OWNER_ONLY
from lowside.store.index_tables import COLUMNS, LISTED, SCHEMA
from lowside.store.logs import Log
from lowside.store.outline import Derived, Listed, Outline, Stamp, key_of, unit_key
from lowside.store.selection import KEYS_IN_ORDER, UNITS_IN_ORDER, Place, Selection, query_of
from lowside.store.ulid import ulid_ms

INDEX_FILE = "index.sqlite"
FORMAT = "3"
NO_UNIT = unit_key("", "")
"""Of a session that names no unit yet."""
_LATEST = 1 << 62
"""A begin that no session has yet [ms]."""
_NO_DATABASE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class UnusableIndexError(sqlite3.DatabaseError):
    """The file is no index of this version. It holds nothing that the logs do not."""


class Index:
    """One SQLite file, or one in memory. Not thread-safe: the store's lock guards it.

    Raises
        UnusableIndexError: the file is damaged or of another format; make it again.
        sqlite3.Error: it cannot be used now, as when the disk is full.
    """

    def __init__(self, path: Path | None) -> None:
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
            ":memory:" if path is None else path, check_same_thread=False, isolation_level=None
        )
        try:
            self._prepare(is_new=path is None or path.stat().st_size == 0)
        except sqlite3.DatabaseError as error:
            self._db.close()
            if getattr(error, "sqlite_errorcode", 0) & 0xFF in _NO_DATABASE:
                raise UnusableIndexError(*error.args) from error
            raise

    def _prepare(self, is_new: bool) -> None:
        self._db.execute("PRAGMA journal_mode = WAL")
        self._db.execute("PRAGMA synchronous = NORMAL")
        if is_new:
            self._db.executescript("BEGIN;" + SCHEMA)
            self._db.execute("INSERT INTO facts VALUES ('format', ?)", (FORMAT,))
            self._db.execute("INSERT INTO facts VALUES ('epoch', ?)", (secrets.token_hex(8),))
            self._db.execute("COMMIT")
        if not self._has_facts() or self._fact("format") != FORMAT:
            raise UnusableIndexError("of another format")
        if self._db.execute("PRAGMA quick_check").fetchone()[0] != "ok":
            raise UnusableIndexError("damaged")
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

    def new_epoch(self) -> None:
        """Let everybody who follows begin again."""
        self.epoch = secrets.token_hex(8)
        self._db.execute("UPDATE facts SET value = ? WHERE name = 'epoch'", (self.epoch,))

    def put(self, log: Log, outline: Outline, stamp: Stamp) -> int:
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
        self._add(log, [e for e in log.events if (e.dev, e.seq) not in known], outline, stamp)
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

    def _add(self, log: Log, fresh: Sequence[Event], outline: Outline, stamp: Stamp) -> None:
        self._add_arrivals(fresh)
        begun = outline.started if outline.started is not None else ulid_ms(log.sid)
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
            unit_key(outline.site, outline.unit_label),
            *(getattr(outline, name) for name in COLUMNS),
        )
        marks = ", ".join("?" * len(row))
        self._db.execute(f"INSERT OR REPLACE INTO sessions VALUES ({marks})", row)
        self._db.execute("DELETE FROM derived WHERE sid = ?", (log.sid,))
        self._db.executemany(
            "INSERT INTO derived (kind, key, begun, sid, place, value) VALUES (?, ?, ?, ?, ?, ?)",
            [
                (one.kind, one.key, begun, log.sid, place, one.value)
                for place, one in enumerate(outline.derived)
            ],
        )

    def _add_arrivals(self, fresh: Sequence[Event]) -> None:
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
        self._db.execute("DELETE FROM sessions WHERE sid = ?", (sid,))
        self._db.execute("DELETE FROM derived WHERE sid = ?", (sid,))
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
        conditions = ["events > 0"] + ["instr(words, ?) > 0"] * len(words)
        if open_only:
            conditions.append("closed IS NULL")
        if closed_only:
            conditions.append("closed IS NOT NULL")
        if practice is not None:
            conditions.append("practice" if practice else "NOT practice")
        if before is not None:
            conditions.append("(begun, sid) < (?, ?)")
        return self._list(
            f"{LISTED} WHERE {' AND '.join(conditions)} ORDER BY begun DESC, sid DESC LIMIT ?",
            (*words, *(before or ()), _every(limit)),
        )

    def with_key(self, column: str, key: str, other_than: str, limit: int | None) -> list[Listed]:
        """Sessions whose "cylinder_key" or "unit_key" is this, newest first; no practice."""
        return self._list(
            f"{LISTED} WHERE events > 0 AND NOT practice AND {column} = ? AND sid != ? "
            "ORDER BY begun DESC, sid DESC LIMIT ?",
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

    def derived(
        self, kind: str, key: str, before: int | None, other_than: str, limit: int | None
    ) -> list[str]:
        """Values of the rows of this kind and key, the newest sessions first."""
        rows = self._db.execute(
            "SELECT value FROM derived WHERE kind = ? AND key = ? AND begun < ? AND sid != ? "
            "ORDER BY begun DESC, sid DESC LIMIT ?",
            (kind, key, _LATEST if before is None else before, other_than, _every(limit)),
        )
        return [value for (value,) in rows]

    def selected(
        self, selection: Selection, kind: str, after: Place | None, limit: int
    ) -> list[tuple[Listed, str]]:
        """Sessions of a selection in its order, each with the value of its row of this kind."""
        names = ("sid", "events", "last_hlc", "begun", *COLUMNS)
        columns = ", ".join("s." + name for name in names)
        text, values = query_of(selection, columns, kind, after, limit)
        return [
            (Listed(sid, _outline(outline), events, last_hlc, begun), value)
            for sid, events, last_hlc, begun, *outline, value in self._db.execute(text, values)
        ]

    def one(self, sid: str) -> Listed | None:
        """The session with this identifier."""
        found = self._list(f"{LISTED} WHERE sid = ?", (sid,))
        return found[0] if found else None

    def counts(self, kind: str) -> dict[str, int]:
        """How many rows of this kind each key has."""
        rows = self._db.execute(
            "SELECT key, count(*) FROM derived WHERE kind = ? GROUP BY key", (kind,)
        )
        return dict(rows.fetchall())

    def keys(self, kind: str, after: str, limit: int | None) -> list[str]:
        """Keys of this kind in their order, those after `after`."""
        rows = self._db.execute(KEYS_IN_ORDER, (kind, after, _every(limit)))
        return [key for (key,) in rows]

    def units(
        self, after: str, limit: int, least_adding: int
    ) -> list[tuple[str, str, str, int, int, float, int]]:
        """Units in the order of site and label: key, site, label, sessions, those that added,
        sum added [kg], last begun [ms]; only those with so many sessions that added."""
        values = (max(after, NO_UNIT), least_adding, limit)
        return self._db.execute(UNITS_IN_ORDER, values).fetchall()

    def contents(self) -> tuple[list[Listed], set[tuple[str, str, int]]]:
        """Everything that must equal a rebuilt index. The order of arrival may differ."""
        arrivals = set(self._db.execute("SELECT sid, dev, seq FROM arrivals"))
        rows: dict[str, list[Derived]] = {}
        for sid, *row in self._db.execute(
            "SELECT sid, kind, key, value FROM derived ORDER BY sid, place"
        ):
            rows.setdefault(sid, []).append(Derived(*row))
        listed = self._list(f"{LISTED} ORDER BY sid", ())
        return [
            replace(one, outline=replace(one.outline, derived=tuple(rows.get(one.sid, ()))))
            for one in listed
        ], arrivals

    def _list(self, query: str, values: Sequence[object]) -> list[Listed]:
        return [
            Listed(sid, _outline(outline), events, last_hlc, begun)
            for sid, events, last_hlc, begun, *outline in self._db.execute(query, tuple(values))
        ]

    def _has_facts(self) -> bool:
        found = self._db.execute("SELECT 1 FROM sqlite_master WHERE name = 'facts'").fetchone()
        return found is not None

    def _fact(self, name: str) -> str:
        row = self._db.execute("SELECT value FROM facts WHERE name = ?", (name,)).fetchone()
        if row is None:
            raise UnusableIndexError(f"without its {name}")
        return str(row[0])


def open_index(path: Path | None) -> Index:
    """The index at `path`, made again when it cannot be used; in memory without a path.

    Raises
        sqlite3.Error: the disk does not let it be written.
    """
    try:
        return Index(path)
    except UnusableIndexError:
        if path is None:
            raise
        # The index is derived from the logs, so nothing is lost with it.
        try:
            remove_index(path)
        except OSError as error:
            raise sqlite3.OperationalError(str(error)) from error
        return Index(path)


def made_again(path: Path, old: Index, fill: Callable[[Index, set[str]], None]) -> Index:
    """A new index in place of the old one, which is closed.

    Args:
        fill: indexes every log, given the sessions of which arrivals are known.
    """
    made = path.with_name(path.name + ".new")
    remove_index(made)
    fresh = Index(made)
    fresh.adopt_order(old)
    with fresh.transaction():
        fill(fresh, fresh.sids_of_arrivals())
    fresh.close()
    old.close()
    remove_index(path)
    made.rename(path)
    return Index(path)


def remove_index(path: Path) -> None:
    """Remove the index with the files SQLite keeps beside it; put a folder in its place aside."""
    if path.is_dir():
        path.rename(path.with_name(f"{path.name}.aside-{secrets.token_hex(4)}"))
    for suffix in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def _every(limit: int | None) -> int:
    return -1 if limit is None else limit


def _outline(values: Sequence[object]) -> Outline:
    named = dict(zip(COLUMNS, values, strict=True))
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
