"""One row for each cylinder in the index: what the office's list of cylinders reads.

The store does not know what it says. It is made from the derived rows of the cylinder's newest uses
and of what the office wrote of it, whenever one of these comes, goes or changes.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from lowside.store.derived_rows import DerivedRows
from lowside.store.engine import Database
from lowside.store.outline import CylinderRow, CylinderRules

SCHEMA = """
CREATE TABLE cylinders (
  key TEXT PRIMARY KEY, last INTEGER NOT NULL, refrigerant TEXT NOT NULL, kind TEXT NOT NULL,
  place TEXT NOT NULL, stock_kg REAL, due INTEGER, shows TEXT NOT NULL, value TEXT NOT NULL
) WITHOUT ROWID;
CREATE INDEX cylinders_by_last ON cylinders (last DESC, key DESC);
"""
COLUMNS = ("key", *CylinderRow._fields)
PUT = f"INSERT INTO cylinders ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"
NOT_MADE = "Cylinder {} is in no list, since its row cannot be made: {!r}."
_STOCK = (
    "SELECT refrigerant, kind, place, sum(stock_kg), count(*) FROM cylinders "
    "WHERE stock_kg IS NOT NULL GROUP BY refrigerant, kind, place ORDER BY refrigerant, kind, place"
)


class NotMadeError(Exception):
    """A cylinder's row cannot be made, so it is in no list. Its sessions are stored."""


class CylinderPage(NamedTuple):
    """A page of the list of cylinders, and what is told above it."""

    counts: Mapping[str, int]
    """How many cylinders are in each list, those of tests due aside."""
    due: int
    """How many tests are due."""
    page: int
    """The page that was found, from 1."""
    is_last: bool
    values: Sequence[str]
    """Of the cylinders on it, those used last first."""
    stock: Sequence[tuple[str, str, str, float, int]]
    """Refrigerant, kind, place, sum [kg] and number of cylinders, in this order."""


def make_again(db: Database, rows: DerivedRows, rules: CylinderRules, keys: Iterable[str]) -> None:
    """Make the rows of these cylinders again.

    Raises
        NotMadeError: one cannot be made. The others are.
    """
    wrong: NotMadeError | None = None
    for key in keys:
        made = None
        try:
            made = row_of(rows, rules, key)
        except NotMadeError as error:
            wrong = error
        db.execute("DELETE FROM cylinders WHERE key = ?", (key,))
        if made is not None:
            db.execute(PUT, (key, *made))
    if wrong is not None:
        raise wrong


def row_of(rows: DerivedRows, rules: CylinderRules, key: str) -> CylinderRow | None:
    """The row of a cylinder as it should be; `None` when nothing uses it.

    Raises
        NotMadeError: it cannot be made.
    """
    uses = rows.values(rules.uses, key, None, "", rules.newest)
    told = rows.values(rules.told, key, None, "", None)
    try:
        made = rules.make(uses[::-1], told[::-1])
    except Exception as error:
        raise NotMadeError(NOT_MADE.format(key.rsplit("\n", maxsplit=1)[-1], error)) from error
    return None if made is None else made._replace(shows=f",{made.shows},")


def page_of(db: Database, show: str | None, due_by: int, page: int, size: int) -> CylinderPage:
    """A page of one of the lists.

    Args:
        show: the list's code; `None` for the cylinders whose test is due.
        due_by: the last month of a test that counts as due [months since year 0].
        page: from 1; the last one when there are fewer.
        size: cylinders on a page.
    """
    counts: Counter[str] = Counter()
    for shows, count in db.execute("SELECT shows, count(*) FROM cylinders GROUP BY shows"):
        counts.update(dict.fromkeys(shows.strip(",").split(","), count))
    (due,) = db.execute("SELECT count(*) FROM cylinders WHERE due <= ?", (due_by,)).fetchone()
    asked, value, total = (
        ("due <= ?", due_by, due)
        if show is None
        else ("instr(shows, ?) > 0", f",{show},", counts[show])
    )
    last = max((total + size - 1) // size, 1)
    page = min(max(page, 1), last)
    found = db.execute(
        f"SELECT value FROM cylinders WHERE {asked} ORDER BY last DESC, key DESC LIMIT ? OFFSET ?",
        (value, size, (page - 1) * size),
    )
    values = [text for (text,) in found]
    stock = db.execute(_STOCK).fetchall()
    return CylinderPage(counts, due, page, page == last, values, stock)
