"""Where a shop's own procedures are kept: in a folder, or where several servers share them."""

from pathlib import Path
from typing import Protocol

from lowside.core.handbook.handbook import Handbook
from lowside.procedures.shop import Revision, Shop, TakenError, keep, load_shop, shop_from, text_of
from lowside.store.shared import Shared

_BEGINNING = "procedures/"


class Shelf(Protocol):
    """The revisions of a shop's procedures. None ever changes."""

    def load(self, handbook: Handbook) -> Shop:
        """Read all of them; see `load_shop`."""
        ...

    def keep(self, revision: Revision) -> None:
        """Keep one more.

        Raises
            TakenError: a revision of this number is there already.
            OSError, StoreError: nothing changed.
        """
        ...

    def count(self) -> int | None:
        """How many there are, `None` when nobody but this server adds any."""
        ...


class FolderShelf:
    """In a folder, for one server."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def load(self, handbook: Handbook) -> Shop:
        return load_shop(self._folder, handbook)

    def keep(self, revision: Revision) -> None:
        keep(self._folder, revision)

    def count(self) -> int | None:
        return None


class SharedShelf:
    """For several servers."""

    def __init__(self, shared: Shared) -> None:
        self._shared = shared

    def load(self, handbook: Handbook) -> Shop:
        found = self._shared.papers(_BEGINNING)
        return shop_from(
            (
                (name.removeprefix(_BEGINNING), lambda content=content: content)  # type: ignore[misc]
                for name, content in found.items()
            ),
            handbook,
        )

    def keep(self, revision: Revision) -> None:
        name = _BEGINNING + revision.procedure.id
        if not self._shared.put(name, text_of(revision)):
            raise TakenError(name)

    def count(self) -> int | None:
        return len(self._shared.names(_BEGINNING))
