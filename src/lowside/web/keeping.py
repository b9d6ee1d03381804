"""What a server keeps beside entries. Only this module knows that there are two kinds of store."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lowside.procedures.shelf import FolderShelf, SharedShelf, Shelf
from lowside.procedures.shop import FOLDER
from lowside.store.choosing import Place, is_address, open_database, open_store
from lowside.store.device import device_name
from lowside.store.event_store import EventStore
from lowside.store.filling import Progress
from lowside.store.outline import Outliner
from lowside.store.shared import Shared, first_paper
from lowside.web.access.kept import Kept, kept_in, kept_with

_DEVICE = "device"


@dataclass(frozen=True)
class Keeping:
    """People and procedures, and this shop's name as a writer of entries."""

    access: Kept
    shelf: Shelf
    writer: Callable[[Callable[[], str]], str]
    """The name, given what makes a new one."""


def keeping_in(data: Path) -> Keeping:
    """In a folder of one server."""
    return Keeping(kept_in(data), FolderShelf(data / FOLDER), lambda new: device_name(data, new))


def keeping_with(shared: Shared) -> Keeping:
    """Where several servers share it. They write under one name, each run with its own ending."""
    return Keeping(
        kept_with(shared),
        SharedShelf(shared),
        lambda new: first_paper(shared, _DEVICE, lambda: new().encode()).decode(),
    )


def opened(
    place: Place, outline: Outliner, progress: Progress = lambda _done, _of: None
) -> tuple[EventStore, Keeping]:
    """The store at a folder or an address, and what is kept beside it.

    Raises
        StoreError: it cannot be used.
    """
    if is_address(place):
        database = open_database(str(place), outline)
        return database, keeping_with(database.papers)
    return open_store(place, outline, progress), keeping_in(Path(place))
