"""The journal: what a save of several logs is confirmed with.

To wait for the disk for each of many files takes longer than everything else about a save. So the
new lines of several logs go to one file first, and the disk is waited for once. Their logs grow
right after; the disk is waited for later, for many at one time, and then the file is removed
(`lowside.store.settling`). What a log lost in a power cut is put back from the journal at the next
start, before the log is read.
"""

import json
import os
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from lowside.store import durable
from lowside.store.codec import BadLine, canonical, framed, unframed
from lowside.store.lock import WriterLock
from lowside.store.logs import (
    JOURNAL,
    SUFFIX,
    TORN_SUFFIX,
    is_journal,
    quarantine_path,
    session_path,
)

LACKING = (
    "Some logs lack entries that are safe in {}, as after a power cut. Start Lowside: it puts them "
    "into their logs."
)
NOT_PUT_BACK = (
    "Entries in {} could not be put into their logs ({}). Until you restart Lowside, saving is off "
    "and what is shown may lack them. Check the disk first."
)
TRIES = 5
BETWEEN_S = 0.2
"""A save that goes on at this moment is in its logs sooner. Our choice."""


class Piece(NamedTuple):
    """What one save adds to one log."""

    path: Path
    sid: str
    is_aside: bool
    """Whether the log is one of those in quarantine."""
    at: int
    """Size of the log before [bytes]."""
    lines: bytes


def written(pieces: Sequence[Piece]) -> bytes:
    """A save, as it is in the journal: a line that says which logs grow, then the lines of each."""
    logs = [[one.sid, one.is_aside, one.at, len(one.lines)] for one in pieces]
    head = framed(canonical({"logs": logs}))
    return head + b"".join([one.lines for one in pieces])


def journal_path(root: Path, number: int) -> Path:
    return root / JOURNAL / f"{number}{SUFFIX}"


def journal_files(root: Path) -> list[Path]:
    """Every file of the journal, the first one first. Raises OSError."""
    try:
        names = [entry.name for entry in os.scandir(root / JOURNAL)]
    except FileNotFoundError:
        return []
    return sorted((root / JOURNAL / name for name in names if is_journal(name)), key=_number)


def _number(path: Path) -> int:
    return int(path.name.removesuffix(SUFFIX))


def put_back(root: Path) -> None:
    """Put into the logs what they lack of the journal, and remove it. Only the writer may.

    What is in a log already is written again: the disk may have failed to keep it, and a second
    `fsync` of what was not written again proves nothing. A file whose end is cut short, or that
    speaks of a log which is not as it was, is kept aside for a person to look at.

    Raises
        OSError: the disk refused or did not confirm. The journal is as it was.
    """
    for path in journal_files(root):
        pieces, is_whole = _read(path, root)
        put = [piece.path for piece in pieces if _put(piece)]
        durable.sync_files(set(put))
        if is_whole and len(put) == len(pieces):
            durable.remove(path)
        else:
            path.replace(_free(path.with_name(path.name + TORN_SUFFIX)))
            durable.sync_directory(path.parent)


def why_lacking(root: Path) -> str:
    """A sentence when logs lack lines that the journal holds, as after a power cut; "" when none
    does. Writes nothing. Raises OSError."""
    for tried in range(TRIES):
        if tried > 0:
            time.sleep(BETWEEN_S)
        if not _is_any_lacking(root):
            return ""
    return LACKING.format(root / JOURNAL)


def _is_any_lacking(root: Path) -> bool:
    for path in journal_files(root):
        with suppress(FileNotFoundError):  # it was settled at this moment
            if any(not _is_there(piece) for piece in _read(path, root)[0]):
                return True
    return False


def trouble_with(root: Path, lock: WriterLock | None, problems: dict[str, list[str]]) -> str:
    """Put back what the logs lack, as the writer; a sentence when they lack something then.

    What a writer that was killed left in the logs may not be on the disk yet. After this it is.

    Args:
        lock: the writer's; `None` for a reader.
        problems: gets the sentence too.
    """
    trouble = ""
    if lock is None:
        trouble = why_lacking(root)
    else:
        if lock.was_killed:
            durable.sync_everything()
        try:
            put_back(root)
        except OSError as error:
            trouble = NOT_PUT_BACK.format(root / JOURNAL, error)
    if trouble != "":
        problems[JOURNAL] = [trouble]
    return trouble


def _read(path: Path, root: Path) -> tuple[list[Piece], bool]:
    """The saves in this file up to the first that is not whole, and whether all are.

    One that is not whole was never acknowledged: the disk confirms one after the other.
    """
    content = path.read_bytes()
    found: list[Piece] = []
    start = 0
    while start < len(content):
        saved = _save_at(content, start, root)
        if saved is None:
            return found, False
        pieces, start = saved
        found += pieces
    return found, True


def _save_at(content: bytes, start: int, root: Path) -> tuple[list[Piece], int] | None:
    """The save that begins there and where it ends; `None` when it is not whole."""
    end = content.find(b"\n", start)
    head = unframed(content[start:end])
    if end < 0 or isinstance(head, BadLine):
        return None
    pieces = []
    start = end + 1
    for sid, is_aside, at, length in json.loads(head)["logs"]:
        path = quarantine_path(root, sid) if is_aside else session_path(root, sid)
        pieces.append(Piece(path, sid, is_aside, at, content[start : start + length]))
        start += length
    whole = start <= len(content) and all(_is_sound(piece.lines) for piece in pieces)
    return (pieces, start) if whole else None


def _is_sound(lines: bytes) -> bool:
    return all(isinstance(unframed(line), bytes) for line in lines.split(b"\n")[:-1])


def _put(piece: Piece) -> bool:
    """Write this piece to its log, unless the log ends before its place, has another sound line
    there, or cannot be opened. Returns whether it was written."""
    try:
        there = _there(piece)
        if there is None or _is_taken(there, piece.lines):
            return False
        durable.make_directories(piece.path.parent)
        durable.overwrite(piece.path, piece.lines, piece.at)
    except (IsADirectoryError, NotADirectoryError, PermissionError):
        return False  # it is one log's trouble; the others are put back
    return True


def _is_taken(there: bytes, lines: bytes) -> bool:
    """Whether the first line there that is not the same is sound, so it is somebody's entry."""
    for ours, theirs in zip(lines.split(b"\n")[:-1], there.split(b"\n")[:-1], strict=False):
        if ours != theirs:
            return isinstance(unframed(theirs), bytes)
    return False


def _is_there(piece: Piece) -> bool:
    there = _there(piece)
    return there is not None and there.startswith(piece.lines)


def _there(piece: Piece) -> bytes | None:
    """What the log has from this piece's place on; `None` when it does not reach so far."""
    try:
        content = piece.path.read_bytes()
    except FileNotFoundError:
        content = b""
    return content[piece.at :] if len(content) >= piece.at else None


def _free(path: Path) -> Path:
    """This path, or one like it that nothing has."""
    count = 1
    free = path
    while free.exists():
        count += 1
        free = path.with_name(f"{count}-{path.name}")
    return free
