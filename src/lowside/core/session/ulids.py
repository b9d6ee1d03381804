"""ULIDs, the names of logs and events: how one is written, and what is one."""

from collections.abc import Sequence

CROCKFORD_32 = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32, in which the ULID specification writes an id."""

VALUES = {digit: value for value, digit in enumerate(CROCKFORD_32)}

ULID_LENGTH = 26
TIME_LENGTH = 10
"""Characters that tell the time; the others are random."""

END_OF_YEAR_9999_MS = 253_402_300_800_000
"""A later time is refused, because no folder could have its name [ms since 1970-01-01 UTC]."""


def new_ulid(at_ms: int, random: Sequence[int]) -> str:
    """A ULID of this time [ms since 1970-01-01 UTC]; `random` has 16 random bytes."""
    return time_digits(at_ms) + "".join([CROCKFORD_32[byte % 32] for byte in random])


def time_digits(at_ms: int) -> str:
    """A time as a ULID begins with it. The digits are in the order of their characters."""
    characters = ""
    left = at_ms
    for _ in range(TIME_LENGTH):
        characters = CROCKFORD_32[left % 32] + characters
        left = left // 32
    return characters


def is_ulid(text: str) -> bool:
    """Whether `text` may name a log or an event.

    Upper case only: `a` and `A` would name one log in two files.
    """
    return is_spelled(text) and ulid_ms(text) < END_OF_YEAR_9999_MS


def is_spelled(text: str) -> bool:
    """The same, whatever time it tells."""
    return len(text) == ULID_LENGTH and text.strip(CROCKFORD_32) == ""


def ulid_ms(ulid: str) -> int:
    """The time in a ULID [ms since 1970-01-01 UTC]."""
    ms = 0
    for character in ulid[:TIME_LENGTH]:
        ms = ms * 32 + VALUES[character]
    return ms
