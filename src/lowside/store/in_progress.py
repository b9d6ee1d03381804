"""Saves in progress, for whoever watches a server."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

LONG_S = 10.0
"""A save that takes so long holds up others. Our choice."""
LONG = "A save has gone on for {seconds:.0f} s. Check the disk that it waits for."


class InProgress:
    """When each of them began. Any thread may ask."""

    def __init__(self) -> None:
        self._guard = Lock()
        self._began: dict[object, float] = {}

    @contextmanager
    def one(self) -> Iterator[None]:
        """A save goes on as long as this."""
        one = object()
        with self._guard:
            self._began[one] = time.monotonic()
        try:
            yield
        finally:
            with self._guard:
                del self._began[one]

    def why_long(self) -> str:
        """A sentence while one takes long; "" otherwise."""
        with self._guard:
            first = min(self._began.values(), default=None)
        if first is None:
            return ""
        seconds = time.monotonic() - first
        return LONG.format(seconds=seconds) if seconds >= LONG_S else ""
