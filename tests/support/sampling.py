"""Some of many cases, chosen so that each part is still there; `make soak` has them all."""

import os
from collections.abc import Sequence
from itertools import product
from typing import Any, TypeVar

T = TypeVar("T")


def all_asked() -> bool:
    """Whether every case is to run: the environment says LOWSIDE_EVERY_CASE=1."""
    return os.environ.get("LOWSIDE_EVERY_CASE") == "1"


def diagonal(*parts: Sequence[Any], one_in: int) -> list[tuple[Any, ...]]:
    """One in so many of the combinations. Each value comes with several of the other parts'."""
    places = product(*(range(len(part)) for part in parts))
    return [
        tuple(part[place] for part, place in zip(parts, at, strict=True))
        for at in places
        if all_asked() or sum(at) % one_in == 0
    ]


def every(one_in: int, cases: Sequence[T], first: int = 0) -> list[T]:
    """Each so-many-th case, from the one with this place on, which may be past `one_in`."""
    return list(cases) if all_asked() else list(cases[first % one_in :: one_in])
