"""How long the soak tests go on: short and seeded in `make test`, long in `make soak`."""

import os

LONG = os.environ.get("LOWSIDE_SOAK", "") != ""
SEED = int(os.environ.get("LOWSIDE_SOAK_SEED", "20261128"))


def times(short: int, long: int) -> int:
    """How often to do it."""
    return long if LONG else short
