"""Opening the index, and making it again in place of one that cannot be used."""

import secrets
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Thread

from lowside.store.index import CHECKED_AT_ONCE, Index, UnusableIndexError, is_sound
from lowside.store.outline import RowRules

DAMAGED = ".damaged"
"""Ends the name of the file that says so of the index beside it."""


class Look:
    """Looks a large index through while it is used already: a start does not wait for it."""

    def __init__(self, path: Path, problems: dict[str, list[str]]) -> None:
        self._path = path
        self._problems = problems
        self._db = sqlite3.connect(path, check_same_thread=False)
        self._thread = Thread(target=self._look, daemon=True)
        self._thread.start()

    def _look(self) -> None:
        with suppress(sqlite3.OperationalError):  # interrupted
            try:
                sound = is_sound(self._db)
            except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
                if isinstance(error, sqlite3.OperationalError):
                    raise
                sound = False
            if not sound:
                with suppress(OSError):
                    _mark(self._path).touch()
                self._problems["index"] = [
                    f"{self._path} is damaged. No entry is lost: restart Lowside, and it is made "
                    "again from the logs."
                ]

    def stop(self) -> None:
        """Wait until it has stopped."""
        self._db.interrupt()
        self._thread.join()
        self._db.close()


def look_through(path: Path | None, problems: dict[str, list[str]]) -> Look | None:
    """Begin to look an index through that is too large to be looked through at its opening.

    Args:
        path: of the index; `None` for one in memory.
        problems: gets a sentence when the index is damaged.
    """
    if path is None or path.stat().st_size <= CHECKED_AT_ONCE:
        return None
    return Look(path, problems)


def _mark(path: Path) -> Path:
    return path.with_name(path.name + DAMAGED)


def open_index(path: Path | None, rules: RowRules, spills: bool = False) -> Index:
    """The index at `path`, made again when it cannot be used; see `Index` for the rest.

    Raises
        sqlite3.Error: the disk does not let it be written.
    """
    try:
        if path is not None and _mark(path).exists():
            raise UnusableIndexError("found to be damaged")
        return Index(path, rules, spills)
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
        fill: indexes every log, given the sessions whose arrivals are known.
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
    for suffix in ("", "-wal", "-shm", "-journal", DAMAGED):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
