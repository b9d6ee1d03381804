"""Opens the index, makes it again, and brings it up to date with the logs."""

import secrets
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

from lowside.store.index import Index, UnusableIndexError
from lowside.store.logs import Log, session_files, session_path
from lowside.store.outline import Outline, Outliner, stamp_of
from lowside.store.reader import read_many

Progress = Callable[[int, int], None]
"""Hears how many logs of how many are read."""
TOLD_EVERY_S = 2.0


def fill(
    index: Index,
    root: Path,
    known: set[str],
    read: Callable[[str], tuple[Log, Outline]],
    outline: Outliner,
    progress: Progress,
) -> list[str]:
    """Index what changed since.

    Args:
        known: sessions of which the index knows entries.
        read: reads a log here, and keeps what is wrong with it.
        outline: for other processes, when there is much to read.
        progress: hears of it while it takes long.

    Returns
        The sessions whose logs are gone.
    """
    stamps = index.stamps()
    damaged = set(index.damaged())
    gone = set(known)
    changed = []
    for sid, path in session_files(root):
        gone.discard(sid)
        if stamps.get(sid) != stamp_of(path):
            changed.append((sid, path))
        elif sid in damaged:
            read(sid)
    lost = 0
    told_at = time.monotonic()
    for count, ((sid, path), told) in enumerate(read_many(changed, outline)):
        if told is not None:
            lost += index.put(told, told.outline, told.stamp)
        else:
            log, line = read(sid)
            lost += index.put(log, line, stamp_of(path))
        if time.monotonic() > told_at + TOLD_EVERY_S:
            told_at = time.monotonic()
            progress(count + 1, len(changed))
    for sid in sorted(gone):
        index.remove(sid)
    if lost > 0 or gone:
        # The logs are older than the index. Whoever follows may hold what is lost here.
        index.new_epoch()
    return sorted(gone)


def why_gone(root: Path, sid: str) -> str:
    """A sentence about a session whose log is gone."""
    return (
        f"The log of session {sid} is gone from {session_path(root, sid)}. Put it back from a copy."
    )


def open_index(path: Path | None, spills: bool = False) -> Index:
    """The index at `path`, made again when it cannot be used. Without a path it ends with the
    store; see `Index` for `spills`.

    Raises
        sqlite3.Error: the disk does not let it be written.
    """
    try:
        return Index(path, spills)
    except UnusableIndexError:
        if path is None:
            raise
        # The index is derived from the logs, so nothing is lost with it.
        try:
            remove_index(path)
        except OSError as error:
            raise sqlite3.OperationalError(str(error)) from error
        return Index(path)


def made_again(path: Path, old: Index, fill: Callable[[Index, set[str]], None]) -> Index:
    """A new index in place of the old one, which is closed.

    Args:
        fill: indexes every log, given the sessions of which arrivals are known.
    """
    made = path.with_name(path.name + ".new")
    remove_index(made)
    fresh = Index(made)
    fresh.adopt_order(old)
    with fresh.transaction():
        fill(fresh, fresh.sids_of_arrivals())
    fresh.close()
    old.close()
    remove_index(path)
    made.rename(path)
    return Index(path)


def remove_index(path: Path) -> None:
    """Remove the index with the files SQLite keeps beside it; put a folder in its place aside."""
    if path.is_dir():
        path.rename(path.with_name(f"{path.name}.aside-{secrets.token_hex(4)}"))
    for suffix in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
