"""What the index keeps of a session, worked out but for what is beside it.

Making it takes longer than writing it down, so a start without an index has it made by several
processes (`lowside.store.reader`).
"""

from collections.abc import Mapping
from dataclasses import dataclass

from lowside.store.answers import row_of
from lowside.store.derived_rows import rows_alone
from lowside.store.outline import Derived, Outline, RowRules


@dataclass(frozen=True)
class Kept:
    """A session's line in the table of sessions, and its derived rows."""

    line: Mapping[str, object]
    """By column; those of its log are not in it."""
    rows: tuple[Derived, ...]


def kept_of(sid: str, outline: Outline, rules: RowRules) -> Kept:
    """What is kept of a session with this outline."""
    return Kept(row_of(sid, outline), tuple(rows_alone(sid, outline, rules)))
