"""ULIDs as names of logs and events: checked before one becomes part of a file's name."""

import re
from collections.abc import Sequence
from datetime import date
from functools import cache

from lowside.core.session.events import CROCKFORD_32

LENGTH = 26
_TIME_CHARACTERS = 10
_END_OF_YEAR_9999_MS = 253_402_300_800_000
_ULID = re.compile(f"[{CROCKFORD_32}]{{{LENGTH}}}")
_ULIDS = re.compile(f"([{CROCKFORD_32}]{{{LENGTH}}}\n)*")
_BASE_32 = str.maketrans(CROCKFORD_32, "0123456789abcdefghijklmnopqrstuv")


def _digits(ms: int) -> str:
    """A time as a ULID begins with it. The digits are in the order of their characters."""
    return "".join(
        CROCKFORD_32[ms >> 5 * place & 31] for place in reversed(range(_TIME_CHARACTERS))
    )


_TOO_LATE = _digits(_END_OF_YEAR_9999_MS)
"""The first time that is refused."""


def ulid_ms(text: str) -> int | None:
    """Time in a ULID [ms since 1970-01-01 UTC]; `None` when `text` is not a ULID.

    Upper case only: `a` and `A` would name one log in two files. A time past the year 9999 is
    refused too, because no folder could have its name.
    """
    if _ULID.fullmatch(text) is None:
        return None
    ms = int(text[:_TIME_CHARACTERS].translate(_BASE_32), 32)
    return ms if ms < _END_OF_YEAR_9999_MS else None


def is_ulid(text: str) -> bool:
    """Whether `text` may name a log or an event."""
    return _ULID.fullmatch(text) is not None and text < _TOO_LATE


def is_of_year(text: str, year: str) -> bool:
    """Whether `text` is a ULID of this year in UTC, as its folder is named. No time is worked out:
    a start asks this of every log."""
    first, after = _ends_of(year)
    return first <= text < after and _ULID.fullmatch(text) is not None


@cache
def _ends_of(year: str) -> tuple[str, str]:
    """What the first ULID of a year and the first one after it begin with."""
    if not (year.isascii() and year.isdecimal() and 1970 <= int(year) <= 9999):
        return "", ""
    if str(int(year)) != year:
        return "", ""
    days = [date(int(year), 1, 1), date(int(year), 12, 31)]
    first, last = [(day - date(1970, 1, 1)).days * 86_400_000 for day in days]
    return _digits(first), _digits(last + 86_400_000)


def are_ulids(texts: Sequence[str]) -> bool:
    """Whether each of these is one; asked of all at once it takes a quarter of the time.

    Raises
        TypeError: one of them is no text.
    """
    # A text of another length could hold two with a line feed between them.
    return (
        all(len(text) == LENGTH for text in texts)
        and _ULIDS.fullmatch("\n".join(texts) + "\n") is not None
        and max(texts) < _TOO_LATE
    )
