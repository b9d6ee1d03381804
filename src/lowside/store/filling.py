"""Brings an index up to date with the logs."""

import time
from collections.abc import Callable, Mapping
from pathlib import Path

from lowside.store.index import Index
from lowside.store.kept import Kept
from lowside.store.logs import Log, session_path, stamped_files
from lowside.store.outline import Outliner, stamp_of
from lowside.store.reader import read_many

Progress = Callable[[int, int], None]
"""Hears how many logs of how many are read."""
TOLD_EVERY_S = 2.0


def fill(  # noqa: PLR0913, PLR0917 - the store’s own parts, handed in once
    index: Index,
    root: Path,
    known: set[str],
    read: Callable[[str], tuple[Log, Kept]],
    outline: Outliner,
    progress: Progress,
    asides: Mapping[str, int],
) -> list[str]:
    """Index what changed since.

    Args:
        known: sessions with entries that the index knows.
        read: reads a log here, and keeps what is wrong with it.
        outline: for other processes, when there is much to read.
        progress: hears of it while it takes long.
        asides: how many entries of a session were set aside.

    Returns
        The sessions whose logs are gone, and had something in them.
    """
    stamps = index.stamps()
    damaged = set(index.damaged())
    gone = set(known)
    changed = []
    for sid, file, stamp in stamped_files(root):
        gone.discard(sid)
        if stamps.get(sid) != stamp:
            changed.append((sid, Path(file)))
        elif sid in damaged:
            read(sid)
    lost = 0
    told_at = time.monotonic()
    with index.many_at_once():
        for count, ((sid, path), told) in enumerate(read_many(changed, outline)):
            if told is not None:
                lost += index.put(told, told.kept, told.stamp)
            else:
                log, kept = read(sid)
                lost += index.put(log, kept, stamp_of(path))
            if time.monotonic() > told_at + TOLD_EVERY_S:
                told_at = time.monotonic()
                progress(count + 1, len(changed))
    index.note_aside(asides)
    for sid in sorted(gone):
        index.remove(sid)
    if lost > 0 or gone:
        # The logs are older than the index. Whoever follows may hold what is lost here.
        index.new_epoch()
    # A log that was empty held nothing, and a save that was taken back removes it.
    return [sid for sid in sorted(gone) if sid not in stamps or stamps[sid].size > 0]


def why_gone(root: Path, sid: str) -> str:
    """A sentence about a session whose log is gone."""
    return (
        f"The log of session {sid} is gone from {session_path(root, sid)}. Put it back from a copy."
    )
