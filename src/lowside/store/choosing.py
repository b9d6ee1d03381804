"""Opens the store that a folder or an address names."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from lowside.store.check import Findings
from lowside.store.errors import StoreError
from lowside.store.event_store import EventStore
from lowside.store.filling import Progress
from lowside.store.outline import Outliner
from lowside.store.shared import Shared
from lowside.store.store import Store

if TYPE_CHECKING:
    from lowside.store.postgres.store import PostgresStore

Place = str | Path
"""A data folder, or the address of a database."""
MORE_PACKAGES = "A store in a database needs more packages: pip install 'lowside[postgres]'."
_BEGINNINGS = ("postgresql://", "postgres://")


def is_address(place: Place) -> bool:
    """Whether this names a database and no folder."""
    return isinstance(place, str) and place.startswith(_BEGINNINGS)


def without_password(place: Place) -> str:
    """A place as people are shown it."""
    text = str(place)
    return text.partition("://")[2].rpartition("@")[2] if is_address(place) else text


def open_store(
    place: Place, outline: Outliner, progress: Progress = lambda _done, _of: None
) -> EventStore:
    """The store there, open for writing.

    Raises
        StoreError: it cannot be used; the message says what to do.
    """
    if is_address(place):
        return open_database(str(place), outline)
    return Store.open(Path(place), outline, progress=progress)


def open_database(address: str, outline: Outliner, write: bool = True) -> "PostgresStore":
    """The store in the database at this address; see `PostgresStore.open`.

    Raises
        StoreError: it cannot be used; the message says what to do.
    """
    try:
        from lowside.store.postgres.store import PostgresStore  # noqa: PLC0415  an extra brings it
    except ImportError as error:
        raise StoreError(MORE_PACKAGES) from error
    return PostgresStore.open(address, outline, write)


def check_at(
    address: str, outline: Outliner, progress: Progress = lambda _done, _of: None
) -> Findings:
    """As `lowside.store.postgres.checking.check_database`."""
    try:
        from lowside.store.postgres.checking import check_database  # noqa: PLC0415  an extra
    except ImportError as error:
        raise StoreError(MORE_PACKAGES) from error
    return check_database(address, outline, progress)


@contextmanager
def open_to_read(place: Place, outline: Outliner) -> Iterator[EventStore]:
    """The store there. Files are read beside the server that writes them.

    Raises
        StoreError: it cannot be used; the message says what to do.
    """
    if is_address(place):
        with open_database(str(place), outline, write=False) as database:
            yield database
    else:
        with Store.open(Path(place), outline, write=False) as store:
            yield store


@contextmanager
def open_shared(address: str) -> Iterator[Shared]:
    """What the servers of the shop at this address share beside its entries.

    Raises
        StoreError: it cannot be used; the message says what to do.
    """
    try:
        from lowside.store.postgres.papers import open_papers  # noqa: PLC0415  an extra brings it
    except ImportError as error:
        raise StoreError(MORE_PACKAGES) from error
    with open_papers(address) as papers:
        yield papers


def make_ready(address: str, shards: Sequence[str], shop: str, role: str) -> list[str]:
    """As `lowside.store.postgres.migrating.prepare`, or with shards as `spreading.spread`."""
    try:
        from lowside.store.postgres.migrating import prepare  # noqa: PLC0415  an extra brings it
        from lowside.store.postgres.spreading import spread  # noqa: PLC0415
    except ImportError as error:
        raise StoreError(MORE_PACKAGES) from error
    return spread(address, shards, shop, role) if shards else prepare(address, shop, role)
