"""ULIDs as names of logs and events: checked before one becomes part of a file's name."""

from collections.abc import Sequence
from datetime import date
from functools import cache

from lowside.core.session import ulids
from lowside.core.session.ulids import (
    CROCKFORD_32,
    ULID_LENGTH,
    is_spelled,
    is_ulid,
    time_digits,
)

__all__ = ["are_ulids", "is_of_year", "is_ulid", "ulid_ms"]


def ulid_ms(text: str) -> int | None:
    """Time in a ULID [ms since 1970-01-01 UTC]; `None` when `text` is not a ULID."""
    return ulids.ulid_ms(text) if is_ulid(text) else None


def is_of_year(text: str, year: str) -> bool:
    """Whether `text` is a ULID of this year in UTC, as its folder is named. No time is worked out:
    a start asks this of every log."""
    first, after = _ends_of(year)
    return first <= text < after and is_spelled(text)


@cache
def _ends_of(year: str) -> tuple[str, str]:
    """What the first ULID of a year and the first one after it begin with."""
    if not (year.isascii() and year.isdecimal() and 1970 <= int(year) <= 9999):
        return "", ""
    if str(int(year)) != year:
        return "", ""
    days = [date(int(year), 1, 1), date(int(year), 12, 31)]
    first, last = [(day - date(1970, 1, 1)).days * 86_400_000 for day in days]
    return time_digits(first), time_digits(last + 86_400_000)


def are_ulids(texts: Sequence[str]) -> bool:
    """Whether each of these is one; asked of all at once it takes less time.

    Raises
        TypeError: one of them is no text.
    """
    return (
        all(len(text) == ULID_LENGTH for text in texts)
        and "".join(texts).strip(CROCKFORD_32) == ""
        and is_ulid(max(texts))
    )
