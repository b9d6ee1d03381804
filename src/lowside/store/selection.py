"""Which sessions a list shows, in which order, and from where on: as one query of the index."""

from dataclasses import dataclass
from typing import Literal

from lowside.store.outline import key_of, unit_key
from lowside.store.searching import Search
from lowside.store.site_days import of_days

Sort = Literal["new", "old", "added", "site"]

NEWEST: Sort = "new"
OLDEST: Sort = "old"
MOST_ADDED: Sort = "added"
BY_SITE: Sort = "site"
SORTS: tuple[Sort, ...] = (NEWEST, OLDEST, MOST_ADDED, BY_SITE)


@dataclass(frozen=True)
class Place:
    """Where a page of a list ended: the last session's sorted values."""

    sid: str
    begun: int
    added_kg: float = 0.0
    unit_key: str = ""


@dataclass(frozen=True)
class Selection:
    """What a list shows; practice sessions are in none."""

    words: str = ""
    """Each must occur in site, unit, technician, refrigerant, cylinder or identifier."""
    kind: str = ""
    """With `key`: only sessions that have a derived row of this kind and key."""
    key: str = ""
    technician: str = ""
    site: str = ""
    unit_label: str = ""
    refrigerant: str = ""
    state: Literal["", "open", "closed"] = ""
    begun_from: int | None = None
    """First moment by the site's clock, as one at UTC would show it [ms since 1970-01-01]."""
    begun_before: int | None = None
    """First moment after the last [ms], the same."""
    sort: Sort = NEWEST


ORDERS: dict[Sort, str] = {
    NEWEST: "{t}.begun DESC, {t}.sid DESC",
    OLDEST: "{t}.begun, {t}.sid",
    MOST_ADDED: "s.added_kg DESC, s.begun DESC, s.sid DESC",
    BY_SITE: "s.unit_key, s.begun DESC, s.sid DESC",
}


def query_of(
    selection: Selection,
    columns: str,
    kind: str,
    after: Place | None,
    limit: int,
    search: Search,
) -> tuple[str, list[object]]:
    """SQL and its values: the columns of sessions `s`, and the value of each one's row of `kind`.

    Args:
        selection: which sessions.
        columns: of the table of sessions, each beginning with `s.`.
        kind: of the derived row whose value comes last, with the key "".
        after: only what comes after this place.
        limit: at most this many.
        search: by the selection's words.
    """
    source, order_by, conditions = "sessions s", "s", ["s.events > 0"]
    values: list[object] = []
    if selection.kind != "" and search.is_narrow:
        source = "sessions s CROSS JOIN derived d ON d.begun = s.begun AND d.sid = s.sid"
        conditions += ["d.kind = ?", "d.key = ?"]
        values += [selection.kind, selection.key]
        order_by = "d"
    elif selection.kind != "":
        # From the rows of that kind and key, which lie in the lists' order.
        source = "derived d CROSS JOIN sessions s ON s.sid = d.sid"
        conditions += ["d.kind = ?", "d.key = ?"]
        values += [selection.kind, selection.key]
        order_by = "d"
    conditions += ["s.session", "NOT s.practice"]
    conditions += search.conditions
    values += search.values
    _narrow(selection, conditions, values)
    days = of_days("s", selection.begun_from, selection.begun_before)
    conditions += days.conditions
    values += days.values
    if after is not None:
        _follow(selection.sort, after, order_by, conditions, values)
    text = (
        f"SELECT {columns}, coalesce(v.value, '') FROM {source} "
        "LEFT JOIN derived v ON v.kind = ? AND v.key = '' AND v.begun = s.begun AND v.sid = s.sid"
        f"{days.join} WHERE {' AND '.join(conditions)} "
        f"ORDER BY {ORDERS[selection.sort].format(t=order_by)} LIMIT ?"
    )
    return text, [kind, *values, limit]


def _narrow(selection: Selection, conditions: list[str], values: list[object]) -> None:
    # A name is among the words, so most sessions of others are left out without being read.
    for word in (
        *key_of(selection.technician).split(),
        *key_of(selection.refrigerant).split(),
    ):
        conditions.append("instr(s.words, ?) > 0")
        values.append(word)
    for column, wanted in (
        ("technician", selection.technician),
        ("refrigerant", selection.refrigerant),
    ):
        if wanted != "":
            conditions.append(f"lower(trim(s.{column})) = ?")
            values.append(_lowered(wanted.strip()))
    if selection.site != "" and selection.unit_label != "":
        conditions.append("s.unit_key = ?")
        values.append(unit_key(selection.site, selection.unit_label))
    elif selection.site != "":
        conditions.append("s.unit_key >= ? AND s.unit_key < ?")
        values += [key_of(selection.site) + "\n", key_of(selection.site) + "\x0b"]
    elif selection.unit_label != "":
        conditions.append("substr(s.unit_key, instr(s.unit_key, ?) + 1) = ?")
        values += ["\n", key_of(selection.unit_label)]
    if selection.state != "":
        conditions.append(
            "s.closed IS NULL" if selection.state == "open" else "s.closed IS NOT NULL"
        )


def _lowered(text: str) -> str:
    """As the tables' `lower` does it: in ASCII only."""
    return "".join(c.lower() if c.isascii() else c for c in text)


def _follow(
    sort: Sort, after: Place, table: str, conditions: list[str], values: list[object]
) -> None:
    if sort == NEWEST:
        conditions.append(f"({table}.begun, {table}.sid) < (?, ?)")
        values += [after.begun, after.sid]
    elif sort == OLDEST:
        conditions.append(f"({table}.begun, {table}.sid) > (?, ?)")
        values += [after.begun, after.sid]
    elif sort == MOST_ADDED:
        conditions.append("(s.added_kg, s.begun, s.sid) < (?, ?, ?)")
        values += [after.added_kg, after.begun, after.sid]
    else:
        # The first condition says nothing new, but an index can begin there.
        conditions.append("s.unit_key >= ?")
        conditions.append("(s.unit_key > ? OR (s.unit_key = ? AND (s.begun, s.sid) < (?, ?)))")
        values += [after.unit_key] * 3 + [after.begun, after.sid]
