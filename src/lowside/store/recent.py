"""The latest arrivals, in memory: whoever follows closely is answered without a question to the
tables."""

from collections.abc import Sequence

from lowside.store.answers import Arrival
from lowside.store.logs import Key

KEPT = 8_000
"""Arrivals; up to twice as many for a moment. Our choice: sixteen answers' worth, about 2 MB."""


class Recent:
    """The end of the order of arrival: numbers without a gap, up to the last one."""

    def __init__(self) -> None:
        self._rows: list[Arrival] = []
        self._chains: list[str] = []

    @property
    def head(self) -> tuple[int, str] | None:
        """The last arrival's number and the chain's value at it, `None` when it is not known."""
        return (self._rows[-1][0], self._chains[-1]) if self._rows else None

    def grew(self, last: int, sid: str, keys: Sequence[Key], chains: Sequence[str]) -> None:
        """These arrived; the last of them has the number `last`."""
        first = last - len(keys) + 1
        if self._rows and self._rows[-1][0] != first - 1:
            self.forget()
        self._rows += [(n, sid, dev, seq) for n, (dev, seq) in enumerate(keys, first)]
        self._chains += chains
        if len(self._rows) > 2 * KEPT:
            del self._rows[:-KEPT], self._chains[:-KEPT]

    def forget(self) -> None:
        """What is in the tables may differ now."""
        self._rows, self._chains = [], []

    def chain_at(self, n: int) -> str | None:
        """The chain's value at an arrival, `None` when it is not known here."""
        place = self._place(n)
        return None if place is None else self._chains[place]

    def after(self, n: int, limit: int) -> list[Arrival] | None:
        """The first so many arrivals after number `n`, `None` when they are not all known here."""
        place = -1 if self._rows and n == self._rows[0][0] - 1 else self._place(n)
        return None if place is None else self._rows[place + 1 : place + 1 + limit]

    def _place(self, n: int) -> int | None:
        if not self._rows or not self._rows[0][0] <= n <= self._rows[-1][0]:
            return None
        return n - self._rows[0][0]
