"""Questions about many sessions, which the index answers without reading one."""

from collections.abc import Iterator

from lowside.store.cylinder_rows import CylinderPage
from lowside.store.event_store import EventStore
from lowside.store.outline import Listed, unit_key
from lowside.store.selection import Place, Selection

AT_ONCE = 500
"""Rows that `every` takes while others wait."""

Unit = tuple[str, str, str, int, int, float, int, int, int]
"""Key, site, label, sessions, those that added, sum added [kg], last begun
[ms since 1970], and its offset from UTC [min]."""


def selected(
    store: EventStore, selection: Selection, kind: str, after: Place | None = None, limit: int = 50
) -> list[tuple[Listed, str]]:
    """Sessions of a selection in its order, each with the value of its derived row.

    Args:
        store: where they are.
        selection: which ones, in which order.
        kind: of the row, whose key is ""; a session without one has the value "".
        after: only what comes after this place in the list.
        limit: at most this many.
    """
    return store.ask(lambda index: index.selected(selection, kind, after, limit))


def every(store: EventStore, selection: Selection, kind: str) -> Iterator[tuple[Listed, str]]:
    """All of a selection, some at a time: an export holds neither memory nor the store."""
    after: Place | None = None
    while True:
        found = selected(store, selection, kind, after, AT_ONCE)
        yield from found
        if len(found) < AT_ONCE:
            return
        after = place_of(found[-1][0])


def place_of(listed: Listed) -> Place:
    """Where a page of a list ends with this session."""
    outline = listed.outline
    key = unit_key(outline.site, outline.unit_label)
    return Place(listed.sid, listed.begun, outline.added_kg, key)


def one(store: EventStore, sid: str) -> Listed | None:
    """The session with this identifier; `None` when there is none."""
    return store.ask(lambda index: index.one(sid))


def place_named(store: EventStore, sid: str) -> Place | None:
    """Where this session is in a list; `None` when there is none."""
    found = one(store, sid)
    return None if found is None else place_of(found)


def counts(store: EventStore, kind: str) -> dict[str, int]:
    """How many derived rows of this kind without a value each key has."""
    return store.ask(lambda index: index.rows.counts(kind))


def of_session(store: EventStore, kind: str, sid: str) -> str:
    """The value of a session's derived row of this kind, "" without one."""
    return store.ask(lambda index: index.rows.of_session(kind, sid))


def begun_between(store: EventStore, kind: str, first: int, before: int) -> list[str]:
    """Values of the derived rows of this kind with the key "", in the order the sessions began.

    Args:
        store: where they are.
        kind: of the rows.
        first: begun then or later by the site's clock, as one at UTC would show it
            [ms since 1970-01-01].
        before: begun before that, the same.
    """
    return store.ask(lambda index: index.rows.begun_between(kind, "", first, before))


def units(store: EventStore, after: str, limit: int, repeated: bool = False) -> list[Unit]:
    """Units by site and label; no practice.

    Args:
        store: where they are.
        after: the key of the last unit of the page before.
        limit: at most this many.
        repeated: only units to which more than one session added.
    """
    return store.ask(lambda index: index.units(after, limit, repeated))


def cylinders(
    store: EventStore, show: str | None, due_by: int, page: int, size: int
) -> CylinderPage:
    """A page of one of the lists of cylinders.

    Args:
        store: where they are.
        show: the list's code; `None` for the cylinders whose test is due.
        due_by: the last month of a test that counts as due [months since year 0].
        page: from 1; the last one when there are fewer.
        size: cylinders on a page.
    """
    return store.ask(lambda index: index.cylinders(show, due_by, page, size))
