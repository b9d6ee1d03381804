"""How long the soak tests go on: short and seeded in `make test`, long in `make soak`.

`LOWSIDE_SOAK` is the share of the long run: 1 is all of it, 0.2 a fifth.
"""

import os

SHARE = float(os.environ.get("LOWSIDE_SOAK") or 0.0)
SEED = int(os.environ.get("LOWSIDE_SOAK_SEED", "20261128"))


def times(short: int, long: int) -> int:
    """How often to do it."""
    return max(short, int(long * SHARE))
