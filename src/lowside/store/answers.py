"""What lists, search and followers ask: one set of questions, whichever engine holds the tables.

The questions are in the SQL that SQLite and PostgreSQL both read. What differs between the two is
in `lowside.store.postgres.database`.
"""

from abc import ABC, abstractmethod
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

from lowside.core.session.listed import begun_ms
from lowside.store import cylinder_rows, searching, unit_rows
from lowside.store.derived_rows import DerivedRows
from lowside.store.engine import ALL, Database
from lowside.store.outline import Derived, Listed, Outline, key_of, unit_key
from lowside.store.searching import texts_of
from lowside.store.selection import Place, Selection, query_of

Arrival = tuple[int, str, str, int]
"""Its number, session, writer, and the writer's number."""
COLUMNS = tuple(field.name for field in fields(Outline) if field.name != "derived")
"""Of an outline, in the table of sessions."""
_LISTED = f"SELECT sid, events, last_hlc, begun, {', '.join(COLUMNS)} FROM sessions s"


def row_of(sid: str, outline: Outline) -> Mapping[str, object]:
    """What the table of sessions keeps of an outline, by column."""
    return {
        "begun": begun_ms(sid, outline.started),
        "words": "\n".join(texts_of(outline)),
        "cylinder_key": key_of(outline.cylinder),
        "unit_key": unit_key(outline.site, outline.unit_label),
        **{name: getattr(outline, name) for name in COLUMNS},
    }


class Answers(ABC):
    """The questions, over one connection. Who holds the connection guards it."""

    epoch: str
    """Of the order of arrival. With another one, everybody who follows begins again."""

    def __init__(self, db: Database, rows: DerivedRows) -> None:
        self._asked = db
        self.rows = rows

    def last_hlc(self) -> str:
        """The latest clock value in the store, "" when it is empty."""
        value: str | None = self._asked.execute("SELECT max(last_hlc) FROM sessions").fetchone()[0]
        return value or ""

    def practice_among(self, sids: Collection[str]) -> set[str]:
        """Those of these sessions whose outlines say so."""
        if not sids:
            return set()
        marks = ", ".join("?" * len(sids))
        query = f"SELECT sid FROM sessions WHERE practice AND sid IN ({marks})"
        return {sid for (sid,) in self._asked.execute(query, tuple(sids))}

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
        search = searching.search(self._asked, words)
        conditions = ["events > 0", "session", *search.conditions]
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
            (*search.values, *(before or ()), _every(limit)),
        )

    def sids_of_unit(self, key: str, other_than: str, limit: int) -> list[str]:
        """Sessions at the unit with this `unit_key`, newest first; no practice."""
        query = (
            "SELECT sid FROM sessions WHERE events > 0 AND session AND NOT practice "
            "AND unit_key = ? AND sid != ? ORDER BY begun DESC, sid DESC LIMIT ?"
        )
        return [sid for (sid,) in self._asked.execute(query, (key, other_than, limit))]

    @abstractmethod
    def arrivals(self, after: int, limit: int, practice: bool | None = None) -> list[Arrival]:
        """The first events that arrived after number `after`.

        Args:
            practice: only those of practice sessions, or none of them.
        """

    @abstractmethod
    def head(self) -> int:
        """The number of the last arrival, 0 when there is none."""

    @abstractmethod
    def chain_at(self, n: int) -> str:
        """The chain's value at an arrival, "" when there is no such arrival."""

    @abstractmethod
    def arrived(self) -> set[tuple[str, str, int]]:
        """Session, writer and number of each event that arrived."""

    def sids_of_arrivals(self) -> set[str]:
        """Every session with an event that arrived."""
        return {sid for (sid,) in self._asked.execute("SELECT DISTINCT sid FROM arrivals")}

    def selected(
        self, selection: Selection, kind: str, after: Place | None, limit: int
    ) -> list[tuple[Listed, str]]:
        """Sessions of a selection in its order, each with the value of its row of this kind."""
        names = ("sid", "events", "last_hlc", "begun", *COLUMNS)
        columns = ", ".join("s." + name for name in names)
        search = searching.search(self._asked, key_of(selection.words).split())
        text, values = query_of(selection, columns, kind, after, limit, search)
        return [
            (Listed(sid, _outline(outline), events, last_hlc, begun), value)
            for sid, events, last_hlc, begun, *outline, value in self._asked.execute(text, values)
        ]

    def one(self, sid: str) -> Listed | None:
        """The session with this identifier."""
        found = self._list(f"{_LISTED} WHERE sid = ?", (sid,))
        return found[0] if found else None

    def units(
        self, after: str, limit: int, repeated: bool
    ) -> list[tuple[str, str, str, int, int, float, int, int, int]]:
        """As `unit_rows.units`."""
        return unit_rows.units(self._asked, after, limit, repeated)

    def cylinders(
        self, show: str | None, due_by: int, page: int, size: int
    ) -> cylinder_rows.CylinderPage:
        """As `cylinder_rows.page_of`."""
        return cylinder_rows.page_of(self._asked, show, due_by, page, size)

    def contents(self) -> tuple[list[Listed], set[tuple[str, str, int]]]:
        """Everything that must equal a rebuilt index. The order of arrival may differ."""
        rows: dict[str, list[Derived]] = {}
        for sid, *row in self._asked.execute(
            "SELECT sid, kind, key, value FROM derived ORDER BY sid, place"
        ):
            rows.setdefault(sid, []).append(Derived(*row))
        listed = self._list(f"{_LISTED} ORDER BY sid", ())
        return [
            replace(one, outline=replace(one.outline, derived=tuple(rows.get(one.sid, ()))))
            for one in listed
        ], self.arrived()

    def _list(self, query: str, values: Sequence[object]) -> list[Listed]:
        return [
            Listed(sid, _outline(outline), events, last_hlc, begun)
            for sid, events, last_hlc, begun, *outline in self._asked.execute(query, tuple(values))
        ]

    def each(self, text: str, values: Sequence[object] = ()) -> Iterator[Any]:
        """For `lowside.store.comparing`: the rows, one by one."""
        return iter(self._asked.execute(text, tuple(values)))

    def query(self, text: str, values: Sequence[object] = ()) -> list[Any]:
        """The same, all at once."""
        return list(self.each(text, values))


def _every(limit: int | None) -> int:
    return ALL if limit is None else limit


def _outline(values: Sequence[object]) -> Outline:
    named = dict(zip(COLUMNS, values, strict=True))
    for name in ("practice", "session"):
        named[name] = bool(named[name])
    return Outline(**named)  # type: ignore[arg-type]  # as `add` wrote them
