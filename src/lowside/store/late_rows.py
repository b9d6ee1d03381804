"""Sessions whose entries are saved and whose rows are made a moment later.

A phone that sends entry by entry would have its session worked out for each. So the rows are made
once for several entries: when somebody asks for a list, or a moment after the first of them. Until
then the index says that the session's log has changed. So a start after a kill makes them too.
"""

import time
from collections.abc import Callable
from threading import Condition, Thread

MOST_LATE = 256
"""Sessions; then the oldest is made before the next entry is saved. Our choice: whoever asks for a
list waits for all of them, half a second or so."""
LATER_S = 1.0
"""How long the rows of an entry wait for further entries. Our choice."""


class RowsLater:
    """A thread that lets rows be made a moment after it was told of the first."""

    def __init__(self, make: Callable[[], bool]) -> None:
        """
        Args:
            make: makes the rows of some sessions; whether there are more.
        """
        self._make = make
        self._changed = Condition()
        self._is_wanted = False
        self._is_over = False
        self._thread: Thread | None = None

    def want(self) -> None:
        """There are rows to make."""
        with self._changed:
            if self._is_wanted or self._is_over:
                return
            self._is_wanted = True
            if self._thread is None:
                self._thread = Thread(target=self._run, name="rows", daemon=True)
                self._thread.start()
            self._changed.notify()

    def stop(self) -> None:
        """Make no more. It waits for those under way, so nobody may hold what they need."""
        with self._changed:
            self._is_over = True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._is_wanted or self._is_over)
                self._changed.wait_for(lambda: self._is_over, LATER_S)
                self._is_wanted = False
                if self._is_over:
                    return
            while not self._is_over and self._make():
                time.sleep(0)  # others come in between
