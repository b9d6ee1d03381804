"""The derived tables and the order of arrival, written in the transaction that stores entries."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from lowside.core.session.events import Event
from lowside.store import cylinder_rows, unit_rows
from lowside.store.answers import Answers, Arrival, row_of
from lowside.store.cursor import START, Run, link
from lowside.store.derived_rows import DerivedRows
from lowside.store.outline import Outline, RowRules
from lowside.store.postgres.database import Session
from lowside.store.searching import rows_for_search


class Tables(Answers):
    """The questions, and what is written, in one transaction."""

    def __init__(self, session: Session, rules: RowRules) -> None:
        super().__init__(session, DerivedRows(session, rules))
        self._session = session
        self._rules = rules
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
            chain = link(chain, Run(event.sid, event.dev, event.seq, 1))
            rows.append((n, event.sid, event.dev, event.seq, chain))
        self._session.executemany(
            "INSERT INTO arrivals (n, sid, dev, seq, chain) VALUES (?, ?, ?, ?, ?)", rows
        )
        self._session.execute("UPDATE shops SET arrived = ?, chain = ?", (n, chain))

    def arrivals(self, after: int, limit: int, practice: bool | None = None) -> list[Arrival]:
        """As there, without joining: the sessions may be on other servers than the arrivals."""
        found: list[Arrival] = []
        while True:
            rows = self._session.execute(
                "SELECT n, sid, dev, seq FROM arrivals WHERE n > ? ORDER BY n LIMIT ?",
                (after, limit),
            ).fetchall()
            found += rows if practice is None else self._of_kind(rows, practice)
            if len(rows) < limit or len(found) >= limit:
                return found[:limit]
            after = rows[-1][0]

    def _of_kind(self, rows: Sequence[Arrival], practice: bool) -> Iterator[Arrival]:
        sids = sorted({sid for _, sid, _, _ in rows})
        ask = "SELECT sid, practice, session FROM sessions WHERE sid = ANY(?)"
        kinds = {sid: kind for sid, *kind in self._session.execute(ask, (sids,))}
        for row in rows:
            is_practice, is_session = kinds.get(row[1], (False, True))
            if is_session and is_practice == practice:
                yield row

    def head(self) -> int:
        found: int | None = self._session.execute("SELECT max(n) FROM arrivals").fetchone()[0]
        return found or 0

    def chain_at(self, n: int) -> str:
        if n == 0:
            return START
        row = self._session.execute("SELECT chain FROM arrivals WHERE n = ?", (n,)).fetchone()
        return "" if row is None else str(row[0])

    def arrived(self) -> set[tuple[str, str, int]]:
        return set(self._session.execute("SELECT sid, dev, seq FROM arrivals"))

    def not_arrived(self, sid: str, events: Sequence[Event]) -> list[Event]:
        """Those of a session's entries that its shard has and the front does not know of.

        Each shard commits by itself and the front commits last. When the front could not, nothing
        was acknowledged, but a shard may have it.
        """
        if not self._session.is_spread:
            return []
        ask = "SELECT dev, seq FROM arrivals WHERE sid = ?"
        arrived = set(self._session.execute(ask, (sid,)))
        return [event for event in events if (event.dev, event.seq) not in arrived]

    def put(
        self, sid: str, events: Sequence[Event], damaged: int, outline: Outline
    ) -> Mapping[str, bool]:
        """A session's line in the lists and its rows, from all its entries; the shop is held.

        Returns
            Its cylinders, and whether it says something else of them than before.
        """
        kept = row_of(sid, outline)
        row: dict[str, object] = {
            "sid": sid,
            "damaged": damaged,
            "events": len(events),
            "last_hlc": max((event.hlc for event in events), default=""),
            **kept,
        }
        ask = "SELECT unit_key FROM sessions WHERE sid = ?"
        before = {key for (key,) in self._session.execute(ask, (sid,))}
        keys = before | {str(kept["unit_key"])}
        if before:
            del row["sid"]
            changed = ", ".join(f"{name} = ?" for name in row)
            text = f"UPDATE sessions SET {changed} WHERE sid = ?"
            self._session.execute(text, (*row.values(), sid))
        else:
            marks = ", ".join("?" * len(row))
            text = f"INSERT INTO sessions ({', '.join(row)}) VALUES ({marks})"
            self._session.execute(text, tuple(row.values()))
        rows = (*outline.derived, *rows_for_search(sid, outline))
        told = self.rows.put(sid, int(str(kept["begun"])), rows)
        unit_rows.count_again(self._session, sorted(keys))
        return told

    def make_cylinders(self, keys: Iterable[str]) -> None:
        """The rows of these cylinders; the shop is held.

        Raises
            NotMadeError: one cannot be made.
        """
        if self._rules.cylinders is not None:
            rules = self._rules.cylinders
            cylinder_rows.make_again(self._session, self.rows, rules, sorted(keys))

    def forget_unused_cylinders(self) -> None:
        """Those that no session names; the shop is held."""
        if self._rules.cylinders is not None:
            used = set(self.rows.keys(self._rules.cylinders.uses, "", None))
            there = {key for (key,) in self._session.execute("SELECT key FROM cylinders")}
            self.make_cylinders(there - used)

    def note_aside(self, sid: str, count: int) -> None:
        """Note how many entries of a session were set aside; the shop is held."""
        self._session.execute("DELETE FROM aside WHERE sid = ?", (sid,))
        self._session.execute("INSERT INTO aside (sid, n) VALUES (?, ?)", (sid, count))
        self.rows.again(sid)
