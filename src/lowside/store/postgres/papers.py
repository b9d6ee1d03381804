"""What a shop's servers share beside its entries: logs of people, papers that never change, tries.

The parts that give these a meaning are above the store; here they are lines and bytes by name.
"""

from collections.abc import Callable, Mapping, Sequence

from lowside.store.postgres.database import Database

_LINES = "SELECT n, line FROM happenings WHERE log = ? AND n > ? ORDER BY n"


class Papers:
    """Of one shop. Any thread may ask; each raises StoreError when the database does not answer."""

    def __init__(self, database: Database) -> None:
        self._database = database

    # Logs that only grow

    def lines(self, log: str, after: int) -> list[tuple[int, str]]:
        """The lines of this log after number `after`, each with its number; the first is 1."""
        with self._database.reading() as session:
            return session.execute(_LINES, (log, after)).fetchall()

    def write(
        self, log: str, after: int, decide: Callable[[Sequence[tuple[int, str]]], Sequence[str]]
    ) -> None:
        """Append what `decide` makes of the lines after number `after`. No server writes between.

        Whatever `decide` raises is raised here, and nothing is written.
        """
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
        """What was put under this name; `None` while nothing is."""
        with self._database.reading() as session:
            row = session.execute("SELECT content FROM papers WHERE name = ?", (name,)).fetchone()
            return None if row is None else bytes(row[0])

    def papers(self, beginning: str) -> Mapping[str, bytes]:
        """Everything whose name begins so, by name."""
        with self._database.reading() as session:
            rows = session.execute(
                "SELECT name, content FROM papers WHERE left(name, length(?)) = ? ORDER BY name",
                (beginning, beginning),
            )
            return {name: bytes(content) for name, content in rows}

    def put(self, name: str, content: bytes) -> bool:
        """Put a paper under a new name; `False` when something is under it already."""
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
        """Count a try from this address, on whichever server; `False` when it may not be made."""
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
        """The last try from this address was no guess."""
        with self._database.writing() as session:
            session.execute(
                "DELETE FROM tries WHERE n = (SELECT max(n) FROM tries WHERE peer = ?)", (peer,)
            )
