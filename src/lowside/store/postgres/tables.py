"""The derived tables and the order of arrival, written in the transaction that stores entries."""

from collections.abc import Sequence

from lowside.core.session.events import Event
from lowside.store import unit_rows
from lowside.store.answers import Answers, row_of
from lowside.store.cursor import link
from lowside.store.derived_rows import DerivedRows
from lowside.store.outline import Outline, RowRules
from lowside.store.postgres.database import Session
from lowside.store.searching import rows_for_search


class Tables(Answers):
    """The questions, and what is written, in one transaction."""

    def __init__(self, session: Session, rules: RowRules) -> None:
        super().__init__(session, DerivedRows(session, rules))
        self._session = session
        self._epoch = ""

    @property
    def epoch(self) -> str:  # type: ignore[override]  # only read here
        if self._epoch == "":
            self._epoch = self._session.execute("SELECT epoch FROM shops").fetchone()[0]
        return self._epoch

    def hold_shop(self) -> tuple[int, str]:
        """Let nobody else of this shop write derived rows or arrivals before this commits.

        So whatever a snapshot sees of the arrivals begins at the first and has no gap: who follows
        skips nothing.

        Returns
            The number and the chain of the last arrival.
        """
        row = self._session.execute("SELECT arrived, chain FROM shops FOR UPDATE").fetchone()
        return row[0], row[1]

    def arrive(self, last: tuple[int, str], fresh: Sequence[Event]) -> None:
        """Number these entries after the last arrival; the shop is held."""
        n, chain = last
        rows = []
        for n, event in enumerate(fresh, start=n + 1):  # noqa: B020  it counts on
            chain = link(chain, event.sid, event.dev, event.seq)
            rows.append((n, event.sid, event.dev, event.seq, chain))
        self._session.executemany(
            "INSERT INTO arrivals (n, sid, dev, seq, chain) VALUES (?, ?, ?, ?, ?)", rows
        )
        self._session.execute("UPDATE shops SET arrived = ?, chain = ?", (n, chain))

    def put(self, sid: str, events: Sequence[Event], damaged: int, outline: Outline) -> None:
        """A session's line in the lists and its rows, from all its entries; the shop is held."""
        kept = row_of(sid, outline)
        row = {
            "sid": sid,
            "damaged": damaged,
            "events": len(events),
            "last_hlc": max((event.hlc for event in events), default=""),
            **kept,
        }
        before = self._session.execute("SELECT unit_key FROM sessions WHERE sid = ?", (sid,))
        keys = {key for (key,) in before} | {str(kept["unit_key"])}
        marks = ", ".join("?" * len(row))
        changed = ", ".join(f"{name} = excluded.{name}" for name in row if name != "sid")
        self._session.execute(
            f"INSERT INTO sessions ({', '.join(row)}) VALUES ({marks}) "
            f"ON CONFLICT (shop, sid) DO UPDATE SET {changed}",
            tuple(row.values()),
        )
        rows = (*outline.derived, *rows_for_search(sid, outline))
        self.rows.put(sid, int(str(kept["begun"])), rows)
        unit_rows.count_again(self._session, sorted(keys))

    def note_aside(self, sid: str, count: int) -> None:
        """Note how many entries of a session were set aside; the shop is held."""
        self._session.execute(
            "INSERT INTO aside (sid, n) VALUES (?, ?) "
            "ON CONFLICT (shop, sid) DO UPDATE SET n = excluded.n",
            (sid, count),
        )
        self.rows.again(sid)
