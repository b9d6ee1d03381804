"""Derived rows in the index: put with their session, and finished by what is beside them.

A row of a chained kind bears on the rows that come next in time under the same key: the cylinder's
next uses, the unit's next top-ups. Whenever such a row comes, goes or changes, the rows of their
sessions are finished again.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from lowside.store.engine import ALL, Database
from lowside.store.outline import NOTHING_BESIDE, Beside, Derived, Outline, RowRules
from lowside.store.searching import rows_for_search
from lowside.store.site_days import of_days

Chained = tuple[str, str, int, str]
"""Kind, key, place in time and sid of a chained row."""

TRIGGERS = {
    "mark_put": "CREATE TRIGGER mark_put AFTER INSERT ON derived WHEN new.value = '' BEGIN "
    "INSERT INTO marks VALUES (new.kind, new.key, 1) ON CONFLICT DO UPDATE SET n = n + 1; END",
    "mark_gone": "CREATE TRIGGER mark_gone AFTER DELETE ON derived WHEN old.value = '' BEGIN "
    "UPDATE marks SET n = n - 1 WHERE kind = old.kind AND key = old.key; END",
}
"""Rows without a value are marks; how many there are of each is counted as they come and go."""
SCHEMA = f"""
CREATE TABLE derived (
  kind TEXT NOT NULL, key TEXT NOT NULL, begun INTEGER NOT NULL, sid TEXT NOT NULL,
  place INTEGER NOT NULL, value TEXT NOT NULL,
  PRIMARY KEY (kind, key, begun, sid, place)
) WITHOUT ROWID;
CREATE INDEX derived_of_session ON derived (sid);
CREATE TABLE aside (sid TEXT PRIMARY KEY, n INTEGER NOT NULL) WITHOUT ROWID;
CREATE TABLE marks (
  kind TEXT NOT NULL, key TEXT NOT NULL, n INTEGER NOT NULL, PRIMARY KEY (kind, key)
) WITHOUT ROWID;
{";".join(TRIGGERS.values())};
"""

_LATEST = 1 << 62
"""A begin that no session has yet [ms]."""
_BEFORE = (
    "SELECT value FROM derived WHERE kind = ? AND key = ? AND (begun, sid) < (?, ?) AND sid != ? "
    "ORDER BY begun DESC, sid DESC, place DESC LIMIT ?"
)
_NEXT = (
    "SELECT sid FROM derived WHERE kind = ? AND key = ? AND (begun, sid) > (?, ?) AND sid != ? "
    "GROUP BY sid ORDER BY min(begun), sid LIMIT ?"
)
_SET_ASIDE = (
    "SELECT coalesce((SELECT n FROM aside WHERE sid = ?1), 0), "
    "coalesce((SELECT damaged FROM sessions WHERE sid = ?1), 0)"
)
_KEYS_IN_ORDER = (
    "WITH RECURSIVE found(key) AS (SELECT min(key) FROM derived WHERE kind = ?1 AND key > ?2 "
    "UNION ALL SELECT (SELECT min(key) FROM derived WHERE kind = ?1 AND key > found.key) "
    "FROM found WHERE found.key IS NOT NULL) "
    "SELECT key FROM found WHERE key IS NOT NULL LIMIT ?3"
)
"""Each key of a kind once: it steps from key to key and does not read the rows between."""
_OF_SESSION = "SELECT kind, key, value, begun FROM derived WHERE sid = ? ORDER BY place"
_BEGUN = "SELECT begun FROM sessions WHERE sid = ?"


def rows_alone(sid: str, outline: Outline, rules: RowRules) -> Sequence[Derived]:
    """A session's rows as they are when nothing is beside it: `put` looks at what is."""
    return rules.finish((*outline.derived, *rows_for_search(sid, outline)), NOTHING_BESIDE)


class DerivedRows:
    """The table of derived rows. The index has the transaction."""

    def __init__(self, db: Database, rules: RowRules) -> None:
        self._db = db
        self._rules = rules
        self._counted: Counter[tuple[str, str]] | None = None

    def put(
        self, sid: str, begun: int, rows: Sequence[Derived], is_new: bool = False
    ) -> Mapping[str, bool]:
        """These rows in place of those the session had, which is in the index already.

        Args:
            rows: as `rows_alone` makes them.
            is_new: it was not there before, so it had none.

        Returns
            The cylinders it has or had rows of, and whether these changed.
        """
        before = [] if is_new else self._forget(sid)  # it may have begun earlier
        finished = self._finished(sid, begun, rows)
        self._write(sid, finished)
        self._finish_next(sid, self._chained(sid, before) | self._chained(sid, finished))
        here, gone = self._of_cylinders(finished), self._of_cylinders(before)
        return {key: here.get(key) != gone.get(key) for key in here | gone}

    def remove(self, sid: str) -> Collection[str]:
        """Forget a session. Returns the cylinders it had rows of."""
        before = self._forget(sid)
        self._finish_next(sid, self._chained(sid, before))
        return self._of_cylinders(before)

    def again(self, sid: str) -> None:
        """Finish a session's rows by what is beside them now."""
        rows = self._of_session(sid)
        if rows:
            (begun,) = self._db.execute(_BEGUN, (sid,)).fetchone()
            finished = self._finished(sid, begun, rows)
            if finished != rows:
                self._forget(sid)
                self._write(sid, finished)

    @contextmanager
    def counted_at_the_end(self) -> Iterator[None]:
        """Count the marks of an empty index here, and not with each of them in the table."""
        counted = self._counted = Counter()
        for name in TRIGGERS:
            self._db.execute(f"DROP TRIGGER {name}")
        try:
            yield
        finally:
            self._counted = None
        self._db.executemany(
            "INSERT INTO marks (kind, key, n) VALUES (?, ?, ?)",
            [(kind, key, n) for (kind, key), n in sorted(counted.items())],
        )
        for text in TRIGGERS.values():
            self._db.execute(text)

    def values(
        self, kind: str, key: str, before: int | None, other_than: str, limit: int | None
    ) -> list[str]:
        """Values of the rows of this kind and key, the newest sessions first."""
        rows = self._db.execute(
            "SELECT value FROM derived WHERE kind = ? AND key = ? AND begun < ? AND sid != ? "
            "ORDER BY begun DESC, sid DESC, place DESC LIMIT ?",
            (
                kind,
                key,
                _LATEST if before is None else before,
                other_than,
                ALL if limit is None else limit,
            ),
        )
        return [value for (value,) in rows]

    def counts(self, kind: str) -> dict[str, int]:
        """How many rows of this kind without a value each key has."""
        rows = self._db.execute("SELECT key, n FROM marks WHERE kind = ? AND n > 0", (kind,))
        return dict(rows.fetchall())

    def of_session(self, kind: str, sid: str) -> str:
        """The value of a session's row of this kind, "" without one."""
        query = "SELECT value FROM derived WHERE sid = ? AND kind = ?"
        row = self._db.execute(query, (sid, kind)).fetchone()
        return "" if row is None else str(row[0])

    def begun_between(self, kind: str, key: str, first: int, before: int) -> list[str]:
        """Values of this kind and key, of sessions begun from `first` on and before `before`
        as `of_days` counts."""
        days = of_days("d", first, before)
        rows = self._db.execute(
            f"SELECT d.value FROM derived d{days.join} WHERE d.kind = ? AND d.key = ? AND "
            + " AND ".join(days.conditions),
            (kind, key, *days.values),
        )
        return [value for (value,) in rows]

    def keys(self, kind: str, after: str, limit: int | None) -> list[str]:
        """Keys of this kind in their order, those after `after`."""
        rows = self._db.execute(_KEYS_IN_ORDER, (kind, after, ALL if limit is None else limit))
        return [key for (key,) in rows]

    def _finished(self, sid: str, begun: int, rows: Sequence[Derived]) -> list[Derived]:
        """As they are kept, each with its place in time."""
        before: dict[tuple[str, str], list[str]] = {}
        for row in self._placed(rows, begun):
            if row.kind in self._rules.chained:
                asked = (row.kind, row.key, row.at, sid, sid, self._rules.reach)
                found = [value for (value,) in self._db.execute(_BEFORE, asked)]
                before[row.kind, row.key] = found
        aside, unread = self._db.execute(_SET_ASIDE, (sid,)).fetchone()
        return self._placed(self._rules.finish(rows, Beside(before, aside, unread)), begun)

    @staticmethod
    def _placed(rows: Sequence[Derived], begun: int) -> list[Derived]:
        return [row if row.at is not None else row._replace(at=begun) for row in rows]

    def _write(self, sid: str, rows: Sequence[Derived]) -> None:
        self._db.executemany(
            "INSERT INTO derived (kind, key, begun, sid, place, value) VALUES (?, ?, ?, ?, ?, ?)",
            [(kind, key, at, sid, place, text) for place, (kind, key, text, at) in enumerate(rows)],
        )
        if self._counted is not None:
            self._counted.update([(row.kind, row.key) for row in rows if row.value == ""])

    def _of_session(self, sid: str) -> list[Derived]:
        return list(map(Derived._make, self._db.execute(_OF_SESSION, (sid,)).fetchall()))

    def _forget(self, sid: str) -> list[Derived]:
        """Delete a session's rows, and return them."""
        rows = self._of_session(sid)
        self._db.execute("DELETE FROM derived WHERE sid = ?", (sid,))
        if self._counted is not None:
            self._counted.subtract([(row.kind, row.key) for row in rows if row.value == ""])
        return rows

    def _chained(self, sid: str, rows: Iterable[Derived]) -> set[Chained]:
        """Where the chained ones of a session's rows are."""
        return {
            (row.kind, row.key, row.at, sid)
            for row in rows
            if row.at is not None and row.kind in self._rules.chained
        }

    def _of_cylinders(self, rows: Iterable[Derived]) -> dict[str, list[Derived]]:
        """The rows that a cylinder's row is made from, by its key."""
        found: dict[str, list[Derived]] = {}
        rules = self._rules.cylinders
        if rules is not None:
            for row in rows:
                if row.kind in (rules.uses, rules.told):
                    found.setdefault(row.key, []).append(row)
        return found

    def _finish_next(self, sid: str, places: set[Chained]) -> None:
        following: set[str] = set()
        for place in places:
            rows = self._db.execute(_NEXT, (*place, sid, self._rules.reach))
            following.update(other for (other,) in rows)
        for each in sorted(following):
            self.again(each)
