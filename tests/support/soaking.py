"""How long the soak tests go on: short and seeded in `make test`, long in `make soak`.

`LOWSIDE_SOAK` is the share of the long run: 1 is all of it, 0.2 a fifth.
"""

import os
import resource
from collections.abc import Iterator
from contextlib import contextmanager

SHARE = float(os.environ.get("LOWSIDE_SOAK") or 0.0)
SEED = int(os.environ.get("LOWSIDE_SOAK_SEED", "20261128"))

NASTY = [
    "", " ", "\x00", "\ud7ff", "\u202e", "'\"><script>", "=1+1", "{{7*7}}", "%00", "../../x",
    "9" * 400, "-1", "1e308", "NaN", "118", "0x10", "١٢", "5,280", "−5", "🔧" * 50, "a" * 3000,
    "\r\n",
]  # fmt: skip
"""What no hand types."""


def times(short: int, long: int) -> int:
    """How often to do it."""
    return max(short, int(long * SHARE))


@contextmanager
def limited(kind: int, value: int) -> Iterator[None]:
    """Let this process have no more of something, such as `resource.RLIMIT_FSIZE`."""
    soft, hard = resource.getrlimit(kind)
    resource.setrlimit(kind, (value, hard))
    try:
        yield
    finally:
        resource.setrlimit(kind, (soft, hard))
