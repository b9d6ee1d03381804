"""Works out once what the readings of a session say: whoever charges looks at the advice several
times between two readings, and it is two thirds of the work each time."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache

from lowside.core.advice import outlook
from lowside.core.advice.response import Learned, Observation, Subject, learn

LAST = 4
"""Sets of readings that are remembered: the next look is at the same or at one more. Our choice."""


@contextmanager
def learned_once() -> Iterator[None]:
    """Within this the advice remembers what it learned from the same readings of the same unit. Not
    for a program with threads: it changes the advice's module."""

    @lru_cache(LAST)
    def once(subject: Subject, seen: tuple[Observation, ...]) -> Learned | None:
        return learn(subject, seen)

    def remembered(subject: Subject, observations: Sequence[Observation]) -> Learned | None:
        return once(subject, tuple(observations))

    names = vars(outlook)
    before = names["learn"]
    names["learn"] = remembered
    try:
        yield
    finally:
        names["learn"] = before
