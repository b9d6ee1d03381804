"""Opening the index, and making it again in place of one that cannot be used."""

import secrets
import sqlite3
from collections.abc import Callable
from pathlib import Path

from lowside.store.index import Index, UnusableIndexError
from lowside.store.outline import RowRules


def open_index(path: Path | None, rules: RowRules) -> Index:
    """The index at `path`, made again when it cannot be used; in memory without a path.

    Raises
        sqlite3.Error: the disk does not let it be written.
    """
    try:
        return Index(path, rules)
    except UnusableIndexError:
        if path is None:
            raise
        # The index is derived from the logs, so nothing is lost with it.
        try:
            remove_index(path)
        except OSError as error:
            raise sqlite3.OperationalError(str(error)) from error
        return Index(path, rules)


def made_again(
    path: Path,
    old: Index,
    fill: Callable[[Index, set[str]], None],
    rules: RowRules,
) -> Index:
    """A new index in place of the old one, which is closed.

    Args:
        fill: indexes every log, given the sessions of which arrivals are known.
    """
    made = path.with_name(path.name + ".new")
    remove_index(made)
    fresh = Index(made, rules)
    fresh.adopt_order(old)
    with fresh.transaction():
        fill(fresh, fresh.sids_of_arrivals())
    fresh.close()
    old.close()
    remove_index(path)
    made.rename(path)
    return Index(path, rules)


def remove_index(path: Path) -> None:
    """Remove the index with the files SQLite keeps beside it; put a folder in its place aside."""
    if path.is_dir():
        path.rename(path.with_name(f"{path.name}.aside-{secrets.token_hex(4)}"))
    for suffix in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
