"""What the servers of one shop share beside its entries, when a store lets several serve it.

`lowside.store.postgres.papers` is one. A store in files has one server, which keeps files.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Protocol


class Shared(Protocol):
    """Lines and bytes by name. Each may raise StoreError; any thread may ask."""

    def lines(self, log: str, after: int) -> list[tuple[int, str]]:
        """The lines of this log after number `after`, each with its number; the first is 1."""
        ...

    def write(
        self, log: str, after: int, decide: Callable[[Sequence[tuple[int, str]]], Sequence[str]]
    ) -> None:
        """Append what `decide` makes of the lines after number `after`. No server writes between.

        Whatever `decide` raises is raised here, and nothing is written.
        """
        ...

    def paper(self, name: str) -> bytes | None:
        """What was put under this name; `None` while nothing is."""
        ...

    def papers(self, beginning: str) -> Mapping[str, bytes]:
        """Everything whose name begins so, by name."""
        ...

    def names(self, beginning: str) -> list[str]:
        """The names that begin so."""
        ...

    def put(self, name: str, content: bytes) -> bool:
        """Put a paper under a new name; `False` when something is under it already."""
        ...

    def begin_try(
        self, peer: str, now_ms: int, window_ms: int, most_from_one: int, most_from_all: int
    ) -> bool:
        """Count a try from this address, on whichever server; `False` when it may not be made."""
        ...

    def forget_try(self, peer: str) -> None:
        """The last try from this address was no guess."""
        ...


def first_paper(shared: Shared, name: str, make: Callable[[], bytes]) -> bytes:
    """The paper of this name, made when nobody made it yet: the first one made is everybody's."""
    found = shared.paper(name)
    while found is None:
        shared.put(name, make())
        found = shared.paper(name)
    return found
