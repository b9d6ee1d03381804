"""The order of arrival in the index's file.

A phone mostly hands over entries with consecutive numbers. So a row is a run of them, and not one
entry: a save of many entries writes few rows. In the middle of a run the chain's value is that of a
run which ends there.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from typing import Any

from lowside.store.answers import Arrival
from lowside.store.cursor import START, Run, link
from lowside.store.logs import Key
from lowside.store.recent import Recent, arrivals_of

MOST_ENTRIES = 1_000_000
"""Of a run; a longer one is two. Our choice: in a damaged table it could be any number."""
SCHEMA = f"""
-- n is the number of the run's last arrival; seq its writer's number of the first. What is in an
-- order of its own is looked through when the file is opened, so every figure is in one.
CREATE TABLE arrivals (
  n INTEGER PRIMARY KEY AUTOINCREMENT, sid TEXT NOT NULL, dev TEXT NOT NULL, seq INTEGER NOT NULL,
  entries INTEGER NOT NULL CHECK (entries BETWEEN 1 AND {MOST_ENTRIES}), chain TEXT NOT NULL,
  UNIQUE (sid, dev, seq, entries)
);
"""


class Order:
    """It is in a connection's table, and its end in memory as well."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self.recent = Recent()

    def head(self) -> int:
        """As `Answers.head`."""
        known = self.recent.head
        if known is not None:
            return known[0]
        found: int | None = self._db.execute("SELECT max(n) FROM arrivals").fetchone()[0]
        return found or 0

    def chain_at(self, n: int) -> str:
        """As `Answers.chain_at`."""
        known = self.recent.chain_at(n)
        if known is not None:
            return known
        if n == 0:
            return START
        row = self._db.execute(
            "SELECT n, sid, dev, seq, entries, chain FROM arrivals WHERE n >= ? ORDER BY n LIMIT 1",
            (n,),
        ).fetchone()
        if row is None:
            return ""
        last, sid, dev, seq, entries, chain = row
        before = last - entries
        if n <= before:
            return ""
        if n == last:
            return str(chain)
        return link(self._chain_before(before + 1), Run(sid, dev, seq, n - before))

    def _chain_before(self, n: int) -> str:
        row = self._db.execute(
            "SELECT chain FROM arrivals WHERE n < ? ORDER BY n DESC LIMIT 1", (n,)
        ).fetchone()
        return START if row is None else str(row[0])

    def add(self, sid: str, keys: Sequence[Key]) -> None:
        """These entries of a session arrived, in this order. Those that arrived before keep their
        place."""
        runs = list(runs_of(sid, keys))
        if any(map(self._is_known, runs)):
            known = set(self.keys(sid))
            runs = list(runs_of(sid, [key for key in keys if key not in known]))
        if not runs:
            return
        last, chain = self.recent.head or self._end()
        for run in runs:
            last += run.entries
            chain = link(chain, run)
            self._db.execute("INSERT INTO arrivals VALUES (?, ?, ?, ?, ?, ?)", (last, *run, chain))
            self.recent.grew(last, run, chain)

    def _is_known(self, run: Run) -> bool:
        """Whether one of these arrived before. Runs of a writer have no number twice, so it is in
        the last one that begins before these end."""
        row = self._db.execute(
            "SELECT seq + entries FROM arrivals WHERE sid = ? AND dev = ? AND seq < ? "
            "ORDER BY seq DESC LIMIT 1",
            (run.sid, run.dev, run.seq + run.entries),
        ).fetchone()
        return row is not None and row[0] > run.seq

    def _end(self) -> tuple[int, str]:
        """The last number that was ever given, and the chain's value at the last arrival."""
        row = self._db.execute("SELECT seq FROM sqlite_sequence WHERE name = 'arrivals'").fetchone()
        last = 0 if row is None else int(row[0])
        return last, self._chain_before(last + 1)

    def keys(self, sid: str) -> Iterator[Key]:
        """Of a session's entries that arrived."""
        ask = "SELECT dev, seq, entries FROM arrivals WHERE sid = ?"
        return keys_of(self._db.execute(ask, (sid,)))

    def drop(self, sid: str, lost: AbstractSet[Key]) -> None:
        """These entries of a session never arrived; the others keep their place."""
        self.recent.forget()
        ask = "SELECT n, dev, seq, entries FROM arrivals WHERE sid = ?"
        for last, dev, seq, entries in self._db.execute(ask, (sid,)).fetchall():
            of_run = [*keys_of([(dev, seq, entries)])]
            if lost.isdisjoint(of_run):
                continue
            before = last - entries
            kept = next(count for count, key in enumerate(of_run) if key in lost)
            left = [
                (n, sid, *key, 1, self.chain_at(n))
                for n, key in enumerate(of_run[kept:], before + kept + 1)
                if key not in lost
            ]
            if kept > 0:  # its chain goes on being that of what came before
                left.append((before + kept, sid, dev, seq, kept, self.chain_at(before + kept)))
            self._db.execute("DELETE FROM arrivals WHERE n = ?", (last,))
            self._db.executemany("INSERT INTO arrivals VALUES (?, ?, ?, ?, ?, ?)", left)

    def remove(self, sid: str) -> None:
        """No entry of this session ever arrived."""
        self.recent.forget()
        self._db.execute("DELETE FROM arrivals WHERE sid = ?", (sid,))

    def after(self, n: int, limit: int, practice: bool | None) -> list[Arrival]:
        """As `Answers.arrivals`, by the tables."""
        only = ""
        if practice is not None:
            only = f"AND {'' if practice else 'NOT '}coalesce(practice, FALSE)"
            only += " AND coalesce(session, TRUE)"
        rows = self._db.execute(
            "SELECT n, sid, dev, seq, entries FROM arrivals LEFT JOIN sessions USING (sid) "
            f"WHERE n > ? {only} ORDER BY n LIMIT ?",
            (n, limit),
        )
        found: list[Arrival] = []
        for last, *run in rows:
            found += arrivals_of(Run(*run), last, n, limit - len(found))
            if len(found) == limit:
                break
        return found

    def adopt(self, old: sqlite3.Connection) -> None:
        """Take over the order of another connection.

        Raises
            sqlite3.Error: it cannot be read, or its chain does not hold from the first arrival to
                the last. Some of it may be here then.
        """
        self.recent.forget()
        before, chain = 0, START
        ask = "SELECT n, sid, dev, seq, entries, chain FROM arrivals ORDER BY n"
        for last, sid, dev, seq, entries, following in old.execute(ask):
            run = Run(sid, dev, seq, entries)
            chain = link(chain, run)
            if chain != following or last - entries < before:
                raise sqlite3.DatabaseError("the order of arrival is broken")
            before = last
            self._db.execute("INSERT INTO arrivals VALUES (?, ?, ?, ?, ?, ?)", (last, *run, chain))

    def contents(self) -> set[tuple[str, str, int]]:
        """Session, writer and number of each entry that arrived."""
        rows = self._db.execute("SELECT sid, dev, seq, entries FROM arrivals")
        return {(sid, *key) for sid, *stretch in rows for key in keys_of([stretch])}


def keys_of(stretches: Iterable[Sequence[Any]]) -> Iterator[Key]:
    """Writer and number of each entry of these: writer, number of the first, and how many."""
    for dev, seq, entries in stretches:
        for number in range(seq, seq + entries):
            yield dev, number


def runs_of(sid: str, keys: Sequence[Key]) -> Iterator[Run]:
    """These entries of a session, as runs."""
    first = 0
    while first < len(keys):
        dev, seq = keys[first]
        end = first + 1
        most = min(len(keys), first + MOST_ENTRIES)
        while end < most and keys[end] == (dev, seq + end - first):
            end += 1
        yield Run(sid, dev, seq, end - first)
        first = end
