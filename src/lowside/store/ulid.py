"""ULIDs as names of logs and events: checked before one becomes part of a file's name."""

from lowside.core.session.events import CROCKFORD_32

LENGTH = 26
_TIME_CHARACTERS = 10
_END_OF_YEAR_9999_MS = 253_402_300_800_000


def ulid_ms(text: str) -> int | None:
    """Time in a ULID [ms since 1970-01-01 UTC]; `None` when `text` is not a ULID.

    Upper case only: `a` and `A` would name one log in two files. A time past the year 9999 is
    refused too, because no folder could have its name.
    """
    if len(text) != LENGTH or any(character not in CROCKFORD_32 for character in text):
        return None
    ms = 0
    for character in text[:_TIME_CHARACTERS]:
        ms = ms * 32 + CROCKFORD_32.index(character)
    return ms if ms < _END_OF_YEAR_9999_MS else None


def is_ulid(text: str) -> bool:
    """Whether `text` may name a log or an event."""
    return ulid_ms(text) is not None
