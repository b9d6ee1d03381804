"""How every test of something that takes its time waits for it."""

import time
from collections.abc import Callable

WAITS_S = 15.0
"""Patience, not a promise: what has not come by then is taken not to come."""


def until(
    condition: Callable[[], bool],
    what: str,
    pause: Callable[[float], object] = lambda ms: time.sleep(ms / 1000),
) -> None:
    """Ask again and again until it is so; `pause` lets some milliseconds pass."""
    give_up = time.monotonic() + WAITS_S
    while not condition():
        assert time.monotonic() < give_up, f"it did not come to this: {what}"
        pause(20)
