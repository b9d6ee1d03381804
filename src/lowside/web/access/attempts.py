"""How often something may be tried: failures are counted, and too many close the door a while."""

from collections import deque
from threading import Lock

WINDOW_MS = 600_000
"""Ten minutes; tries older than that no longer count."""
MOST_FROM_ONE = 10
"""From one address within the window."""
MOST_FROM_ALL = 40
"""From everywhere within the window. So a guesser with many addresses also keeps others from
pairing for a while; devices that are paired already do not notice."""


class Attempts:
    """Tries of one kind. A try counts when it begins, so that many at once do not slip past."""

    def __init__(self, most_from_one: int = MOST_FROM_ONE, most_from_all: int = MOST_FROM_ALL):
        self._most_from_one = most_from_one
        self._most_from_all = most_from_all
        self._tries: deque[tuple[int, str]] = deque()
        self._guard = Lock()

    def begin(self, peer: str, now_ms: int) -> bool:
        """Count a try from this address; `False` when it may not be made."""
        with self._guard:
            while self._tries and self._tries[0][0] <= now_ms - WINDOW_MS:
                self._tries.popleft()
            from_one = sum(1 for _, other in self._tries if other == peer)
            if len(self._tries) >= self._most_from_all or from_one >= self._most_from_one:
                return False
            self._tries.append((now_ms, peer))
            return True

    def succeeded(self, peer: str) -> None:
        """The last try from this address was no guess."""
        with self._guard:
            for n in range(len(self._tries) - 1, -1, -1):
                if self._tries[n][1] == peer:
                    del self._tries[n]
                    return
