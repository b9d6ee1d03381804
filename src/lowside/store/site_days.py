"""Days as each site counts them: a session is of the day that its pages show.

A site's clock is what the phone there had when the session began.
"""

from dataclasses import dataclass

ZONE = "zone"
"""Kind of a derived row with the key "": a session's offset from UTC [min]. Without one it is 0."""
WIDEST_MS = 86_400_000
"""An offset is at most a day."""


@dataclass(frozen=True)
class Narrowed:
    """Parts of a query."""

    join: str
    conditions: tuple[str, ...]
    values: tuple[int, ...]


def of_days(table: str, first: int | None, before: int | None) -> Narrowed:
    """Only sessions begun from `first` on and before `before` by their sites' clocks.

    Args:
        table: with their `begun` and `sid`.
        first: moment, as a clock at UTC would show it [ms since 1970-01-01]; `None`: from ever.
        before: the same; `None`: until ever.
    """
    if first is None and before is None:
        return Narrowed("", (), ())
    local = f"{table}.begun + 60000 * CAST(coalesce(z.value, '0') AS INTEGER)"
    conditions: list[str] = []
    values: list[int] = []
    # The first of each two says nothing new, but an index can begin or end there.
    if first is not None:
        conditions += [f"{table}.begun >= ?", f"{local} >= ?"]
        values += [first - WIDEST_MS, first]
    if before is not None:
        conditions += [f"{table}.begun < ?", f"{local} < ?"]
        values += [before + WIDEST_MS, before]
    join = (
        f" LEFT JOIN derived z ON z.kind = '{ZONE}' AND z.key = '' "
        f"AND z.begun = {table}.begun AND z.sid = {table}.sid"
    )
    return Narrowed(join, tuple(conditions), tuple(values))
