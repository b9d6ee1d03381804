"""What a follower has received, written so that the store can prove it.

A cursor names the last arrival its owner has received, and the last one there was when it was
given. Each goes with the value of the chain at that arrival: a hash over the run of arrivals that
ends there and the chain's value before. So after a restore a number that means another entry now is
noticed.
"""

import hashlib
from dataclasses import dataclass
from typing import NamedTuple, Protocol

CHAIN_LENGTH = 16
"""Hex digits of SHA-256: 64 bits, against mixing up, not against malice."""
START = "0"
"""The chain before the first arrival."""
_DIGITS = 15


class Run(NamedTuple):
    """Entries of one writer in one session with consecutive numbers, that arrived one after the
    other."""

    sid: str
    dev: str
    seq: int
    """Of the first."""
    entries: int


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


def link(before: str, run: Run) -> str:
    """The chain's value at the last arrival of a run that came after the one with `before`."""
    last = run.seq + run.entries - 1
    numbers = str(run.seq) if run.entries == 1 else f"{run.seq}-{last}"
    text = f"{before}\n{run.sid}\n{run.dev}\n{numbers}"
    return hashlib.sha256(text.encode()).hexdigest()[:CHAIN_LENGTH]


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
