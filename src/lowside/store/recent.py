"""The latest arrivals, in memory: whoever follows closely is answered without a question to the
tables."""

from bisect import bisect_left

from lowside.store.answers import Arrival
from lowside.store.cursor import Run, link

KEPT = 8_000
"""Runs; up to twice as many for a moment. Our choice: up to 7 MB."""


class Recent:
    """The end of the order of arrival: numbers without a gap, up to the last one."""

    def __init__(self) -> None:
        self._runs: list[Run] = []
        self._ends: list[int] = []
        """Of each run, the number of its last arrival."""
        self._chains: list[str] = []
        """The chain's values there."""

    @property
    def head(self) -> tuple[int, str] | None:
        """The last arrival's number and the chain's value at it, `None` when it is not known."""
        return (self._ends[-1], self._chains[-1]) if self._ends else None

    def grew(self, last: int, run: Run, chain: str) -> None:
        """This run arrived. Its last entry has the number `last`; there the chain is this."""
        self._runs.append(run)
        self._ends.append(last)
        self._chains.append(chain)
        if len(self._runs) > 2 * KEPT:
            del self._runs[:-KEPT], self._ends[:-KEPT], self._chains[:-KEPT]

    def forget(self) -> None:
        """What is in the tables may differ now."""
        self._runs, self._ends, self._chains = [], [], []

    def chain_at(self, n: int) -> str | None:
        """The chain's value at an arrival, `None` when it is not known here."""
        place = bisect_left(self._ends, n)
        if place == len(self._ends):
            return None
        if self._ends[place] == n:
            return self._chains[place]
        if place == 0:
            return None
        sid, dev, seq, _ = self._runs[place]
        return link(self._chains[place - 1], Run(sid, dev, seq, n - self._ends[place - 1]))

    def after(self, n: int, limit: int) -> list[Arrival] | None:
        """The first so many arrivals after number `n`, `None` when they are not all known here."""
        if not self._runs or not self._ends[0] - self._runs[0].entries <= n <= self._ends[-1]:
            return None
        found: list[Arrival] = []
        place = bisect_left(self._ends, n + 1)
        while len(found) < limit and place < len(self._runs):
            found += arrivals_of(self._runs[place], self._ends[place], n, limit - len(found))
            place += 1
        return found


def arrivals_of(run: Run, last: int, after: int, limit: int) -> list[Arrival]:
    """The first so many of a run's arrivals after a number; `last` is that of the run's last."""
    sid, dev, seq, entries = run
    first = last - entries + 1
    begins = max(first, after + 1)
    ends = min(last + 1, begins + limit)
    return [(n, sid, dev, n - first + seq) for n in range(begins, ends)]
