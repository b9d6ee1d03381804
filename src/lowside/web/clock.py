"""The server's clocks and identifiers: the only place the web side asks the machine for them."""

import secrets
import time

from lowside.core.session import ulids
from lowside.core.session.events import Moment


def new_ulid(at_ms: int) -> str:
    """A ULID of this time [ms since 1970-01-01 UTC]."""
    return ulids.new_ulid(at_ms, secrets.token_bytes(16))


class Clock:
    """One uninterrupted run of this server."""

    def __init__(self) -> None:
        self.run = new_ulid(_wall_ms())

    def now(self) -> Moment:
        """Both clocks at once, with the machine's offset from UTC [min]."""
        at = _wall_ms()
        minutes = time.localtime(at / 1000.0).tm_gmtoff // 60
        return Moment(run=self.run, mono=time.monotonic_ns() // 1_000_000, at=at, tz=minutes)


def _wall_ms() -> int:
    return time.time_ns() // 1_000_000
