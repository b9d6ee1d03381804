"""What a shop's servers share beside its entries, in the database: see `lowside.store.shared`."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from lowside.store.postgres.database import Database

_LINES = "SELECT n, line FROM happenings WHERE log = ? AND n > ? ORDER BY n"
_BEGINNING = "WHERE name >= ? AND name < ? ORDER BY name"
_LAST = "\U0010ffff"
"""After every character of a name."""


@contextmanager
def open_papers(address: str) -> "Iterator[Papers]":
    """Those of the shop that this address's role serves, for a command that needs no entries."""
    database = Database(address)
    try:
        yield Papers(database)
    finally:
        database.close()


class Papers:
    """Of the shop that the database's role serves."""

    def __init__(self, database: Database) -> None:
        self._database = database

    # Logs that only grow

    def lines(self, log: str, after: int) -> list[tuple[int, str]]:
        with self._database.reading() as session:
            return session.execute(_LINES, (log, after)).fetchall()

    def write(
        self, log: str, after: int, decide: Callable[[Sequence[tuple[int, str]]], Sequence[str]]
    ) -> None:
        with self._database.writing() as session:
            session.lock(self._database.shop, [f"log {log}"])
            known = session.execute(_LINES, (log, after)).fetchall()
            last = known[-1][0] if known else after
            session.executemany(
                "INSERT INTO happenings (log, n, line) VALUES (?, ?, ?)",
                [(log, n, line) for n, line in enumerate(decide(known), start=last + 1)],
            )

    # Papers that never change

    def paper(self, name: str) -> bytes | None:
        with self._database.reading() as session:
            row = session.execute("SELECT content FROM papers WHERE name = ?", (name,)).fetchone()
            return None if row is None else bytes(row[0])

    def papers(self, beginning: str) -> Mapping[str, bytes]:
        with self._database.reading() as session:
            rows = session.execute(
                f"SELECT name, content FROM papers {_BEGINNING}", (beginning, beginning + _LAST)
            )
            return {name: bytes(content) for name, content in rows}

    def names(self, beginning: str) -> list[str]:
        with self._database.reading() as session:
            rows = session.execute(
                f"SELECT name FROM papers {_BEGINNING}", (beginning, beginning + _LAST)
            )
            return [name for (name,) in rows]

    def put(self, name: str, content: bytes) -> bool:
        with self._database.writing() as session:
            done = session.execute(
                "INSERT INTO papers (name, content) VALUES (?, ?) ON CONFLICT DO NOTHING "
                "RETURNING name",
                (name, content),
            )
            return done.fetchone() is not None

    # Tries

    def begin_try(
        self, peer: str, now_ms: int, window_ms: int, most_from_one: int, most_from_all: int
    ) -> bool:
        with self._database.writing() as session:
            session.lock(self._database.shop, ["tries"])
            session.execute("DELETE FROM tries WHERE at <= ?", (now_ms - window_ms,))
            rows = session.execute("SELECT peer FROM tries").fetchall()
            from_one = sum(1 for (other,) in rows if other == peer)
            if len(rows) >= most_from_all or from_one >= most_from_one:
                return False
            session.execute("INSERT INTO tries (at, peer) VALUES (?, ?)", (now_ms, peer))
            return True

    def forget_try(self, peer: str) -> None:
        with self._database.writing() as session:
            session.execute(
                "DELETE FROM tries WHERE n = (SELECT max(n) FROM tries WHERE peer = ?)", (peer,)
            )
