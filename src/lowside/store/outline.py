"""What the index keeps of a session beside its place: its line in lists, and derived rows."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from lowside.core.session import listed
from lowside.core.session.events import Event


class Derived(NamedTuple):
    """One row worked out from a session, so that a page need not read the session for it.

    The store does not know what a kind means. It finds rows by kind and key, newest first.
    """

    kind: str
    key: str
    value: str
    """As the code that makes the row writes and reads it."""
    at: int | None = None
    """Its place in time [ms since 1970-01-01 UTC]; `None`: where its session begins."""


@dataclass(frozen=True)
class Outline:
    """What lists show of a session. The function given at opening makes it."""

    site: str = ""
    unit_label: str = ""
    technician: str = ""
    refrigerant: str = ""
    cylinder: str = ""
    started: int | None = None
    """[ms since 1970-01-01 UTC]"""
    closed: int | None = None
    """[ms since 1970-01-01 UTC]; `None` while the session is open."""
    added_kg: float = 0.0
    practice: bool = False
    session: bool = True
    """Not so for a log that only has rows, as of a cylinder in stock: it is in no list."""
    derived: tuple[Derived, ...] = ()
    """Empty in lists: a row is asked for by its kind and key."""


Outliner = Callable[[Sequence[Event]], Outline]
"""Makes the outline of a session from its events."""


@dataclass(frozen=True)
class Beside:
    """What bears on a session's rows and is not in its own entries."""

    before: Mapping[tuple[str, str], Sequence[str]]
    """By kind and key: the values of the last rows of other sessions before this session's last
    one, the newest first."""
    aside: int
    """Entries set aside because they contradict stored ones."""
    unread: int
    """Lines of its log that cannot be read."""


def _as_they_are(rows: Sequence[Derived], _beside: Beside) -> Sequence[Derived]:
    return rows


class CylinderRow(NamedTuple):
    """What the index keeps of a cylinder beside its key."""

    last: int
    """When it was used last [ms since 1970-01-01 UTC]."""
    refrigerant: str
    kind: str
    place: str
    stock_kg: float | None
    """What it adds to the stock; `None` when it is in none."""
    due: int | None
    """Last month in which it may be filled [months since year 0]; `None` when that is over."""
    shows: str
    """The codes of the lists it is in, with commas between."""
    value: str
    """As the code that makes the row writes and reads it."""


@dataclass(frozen=True)
class CylinderRules:
    """How a cylinder's row is made from derived rows of its key."""

    uses: str
    """Their kind."""
    newest: int
    """How many of them, each of a use."""
    told: str
    """Kind of the rows with what the office wrote of it. All of them count."""
    make: Callable[[Sequence[str], Sequence[str]], CylinderRow | None]
    """Makes it from the values of both, the oldest first; `None` without a use."""


@dataclass(frozen=True)
class RowRules:
    """How rows of several sessions depend on each other."""

    chained: tuple[str, ...] = ()
    """Kinds whose rows bear on those of the same key that come next in time: see `reach`."""
    finish: Callable[[Sequence[Derived], Beside], Sequence[Derived]] = _as_they_are
    """A session's rows as they are kept. Given rows that it finished itself, it finishes them
    again: nothing of what was beside them then may remain."""
    version: str | None = ""
    """Of everything the rows are worked out by: rows made by another version are made again.
    `None` takes those of any."""
    cylinders: CylinderRules | None = None
    """Without them there is no list of cylinders."""
    reach: int = 1
    """On how many rows, next in time, a chained one bears."""


STORE_ROWS = "words 2, cylinders 1"
"""Of the rows that the store itself adds: see `lowside.store.searching`."""


@dataclass(frozen=True)
class RuledOutliner:
    """An outliner whose rows follow rules of their own."""

    make: Outliner
    rules: Callable[[], RowRules]

    def __call__(self, events: Sequence[Event]) -> Outline:
        return self.make(events)


def rules_of(outline: Outliner) -> RowRules:
    """The rules of an outliner's rows; none of its own for a plain function."""
    rules = outline.rules() if isinstance(outline, RuledOutliner) else RowRules()
    version = None if rules.version is None else f"{rules.version} {STORE_ROWS}"
    return replace(rules, version=version)


NOTHING_BESIDE = Beside({}, 0, 0)


@dataclass(frozen=True)
class Listed:
    """A session in a list."""

    sid: str
    outline: Outline
    events: int
    last_hlc: str
    begun: int = 0
    """Start, or the time in its identifier [ms since 1970-01-01 UTC]; lists are in this order."""


def is_abandoned(one: Listed, now_ms: int) -> bool:
    """Whether it was begun and left without an entry. Such a one is in the office's list only."""
    return listed.is_abandoned(one.events, one.outline.closed is not None, one.begun, now_ms)


class Stamp(NamedTuple):
    """How a log's file looked when it was indexed. If it looks different now, read it again."""

    size: int
    mtime_ns: int


def stamp_of(path: Path) -> Stamp:
    """How a file looks now."""
    status = path.stat()
    return Stamp(status.st_size, status.st_mtime_ns)


def key_of(label: str) -> str:
    """A name for comparing: spaces and capitals make no difference.

    A NUL counts as a space: SQLite's functions end a text there, and PostgreSQL has none.
    """
    return " ".join(label.replace("\0", " ").split()).casefold()


def unit_key(site: str, unit_label: str) -> str:
    """A unit for comparing: a label means something only at its site."""
    return key_of(site) + "\n" + key_of(unit_label)
