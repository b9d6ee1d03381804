"""The latest arrivals, in memory: whoever follows closely is answered without a question to the
tables."""

from bisect import bisect_left

from lowside.store.answers import Arrival
from lowside.store.cursor import Run, link

KEPT = 8_000
"""Arrivals; up to twice as many for a moment. Our choice: sixteen answers' worth, about 2 MB."""


class Recent:
    """The end of the order of arrival: numbers without a gap, up to the last one."""

    def __init__(self) -> None:
        self._rows: list[Arrival] = []
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
        first = last - run.entries + 1
        sid, dev, seq, _ = run
        self._rows += [(n, sid, dev, n - first + seq) for n in range(first, last + 1)]
        self._ends.append(last)
        self._chains.append(chain)
        if len(self._rows) > 2 * KEPT:
            del self._rows[:-KEPT]
            unknown = bisect_left(self._ends, self._rows[0][0])
            del self._ends[:unknown], self._chains[:unknown]

    def forget(self) -> None:
        """What is in the tables may differ now."""
        self._rows, self._ends, self._chains = [], [], []

    def chain_at(self, n: int) -> str | None:
        """The chain's value at an arrival, `None` when it is not known here."""
        place = bisect_left(self._ends, n)
        if place == len(self._ends) or n < self._rows[0][0]:
            return None
        if self._ends[place] == n:
            return self._chains[place]
        if place == 0:
            return None
        before = self._ends[place - 1]
        _, sid, dev, seq = self._rows[before + 1 - self._rows[0][0]]
        return link(self._chains[place - 1], Run(sid, dev, seq, n - before))

    def after(self, n: int, limit: int) -> list[Arrival] | None:
        """The first so many arrivals after number `n`, `None` when they are not all known here."""
        if not self._rows or not self._rows[0][0] - 1 <= n <= self._rows[-1][0]:
            return None
        place = n - self._rows[0][0] + 1
        return self._rows[place : place + limit]
