"""What a follower has received, written so that the store can prove it.

A cursor names the last arrival its owner has received, and the last one there was when it was
given. Each goes with the value of the chain at that arrival: a hash over that arrival and the
chain's value before. So after a restore a number that means another entry now is noticed.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

CHAIN_LENGTH = 16
"""Hex digits of SHA-256: 64 bits, against mixing up, not against malice."""
START = "0"
"""The chain before the first arrival."""
_DIGITS = 15


class Arrivals(Protocol):
    """What proving a cursor needs of an index."""

    epoch: str

    def chain_at(self, n: int) -> str:
        """The chain's value at an arrival, "" when there is no such arrival."""
        ...

    def head(self) -> int:
        """The number of the last arrival, 0 when there is none."""
        ...


@dataclass(frozen=True)
class Place:
    """Where in a first listing its owner is: the last session sent, and how many of its entries."""

    sid: str
    sent: int


@dataclass(frozen=True)
class Cursor:
    """A proven cursor."""

    after: int
    """Number of the last arrival received."""
    place: Place | None = None
    """Set while the sessions a new follower needs are being sent."""


def link(before: str, sid: str, dev: str, seq: int) -> str:
    """The chain's value at the arrival after the one with the value `before`."""
    return links(before, sid, ((dev, seq),))[0]


def links(before: str, sid: str, keys: Iterable[tuple[str, int]]) -> list[str]:
    """The chain's values at these arrivals of one session, after the one with `before`."""
    found = []
    for dev, seq in keys:
        text = f"{before}\n{sid}\n{dev}\n{seq}"
        before = hashlib.sha256(text.encode()).hexdigest()[:CHAIN_LENGTH]
        found.append(before)
    return found


def written(cursor: Cursor, arrivals: Arrivals) -> str:
    """A cursor as text, for now."""
    head = arrivals.head()
    at_head = arrivals.chain_at(head)
    at_after = at_head if cursor.after == head else arrivals.chain_at(cursor.after)
    parts = [arrivals.epoch, str(cursor.after), at_after, str(head), at_head]
    if cursor.place is not None:
        parts += [cursor.place.sid, str(cursor.place.sent)]
    return ":".join(parts)


def proven(text: str, arrivals: Arrivals) -> Cursor | None:
    """The cursor, `None` when this store cannot prove that it gave it and lost nothing since."""
    epoch, *parts = text.split(":")
    if epoch != arrivals.epoch or len(parts) not in (4, 6):
        return None
    numbers = [parts[0], parts[2], *parts[5:]]
    if not all(n.isascii() and n.isdigit() and len(n) <= _DIGITS for n in numbers):
        return None
    after, head = int(parts[0]), int(parts[2])
    if arrivals.chain_at(after) != parts[1]:
        return None
    if (after, parts[1]) != (head, parts[3]) and arrivals.chain_at(head) != parts[3]:
        return None
    return Cursor(after, Place(parts[4], int(parts[5])) if len(parts) == 6 else None)
