"""The journal: what a save of several logs is confirmed with.

To wait for the disk for each of many files takes longer than everything else about a save. So the
new lines of several logs go to one file first, and the disk is waited for once. Their logs grow
right after; the disk is waited for later, for many at one time, and then the file is removed
(`lowside.store.settling`). What a log lost in a power cut is put back from the journal at the next
start, before the log is read.
"""

import json
import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from lowside.store import durable
from lowside.store.codec import BadLine, canonical, framed, unframed
from lowside.store.lock import writer_pid
from lowside.store.logs import (
    JOURNAL,
    SUFFIX,
    TORN_SUFFIX,
    quarantine_path,
    session_path,
)

LACKING = (
    "{} logs lack entries that are safe in {}, as after a power cut. Start Lowside: it puts them "
    "into their logs."
)
NOT_PUT_BACK = (
    "Entries in {} could not be put into their logs ({}). Nothing is saved, and what is shown may "
    "lack them, until you restart Lowside. Check the disk first."
)


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


def journal_files(root: Path) -> list[tuple[int, Path]]:
    """Every file of the journal with its number, the first one first."""
    names = (path.name.removesuffix(SUFFIX) for path in (root / JOURNAL).glob("*" + SUFFIX))
    numbers = sorted(int(name) for name in names if name.isdecimal())
    return [(number, journal_path(root, number)) for number in numbers]


def put_back(root: Path) -> None:
    """Put into the logs what they lack of the journal, and remove it. Only the writer may.

    What is in a log already is written again: the disk may have failed to keep it, and a second
    `fsync` of what was not written again proves nothing. A file whose end is cut short, or that
    speaks of a log which is not as it was, is kept aside for a person to look at.

    Raises
        OSError: the disk refused or did not confirm. The journal is as it was.
    """
    for _, path in journal_files(root):
        pieces, is_whole = _read(path, root)
        for piece in pieces:
            is_whole = _put(piece) and is_whole
        durable.sync_files({piece.path for piece in pieces if piece.path.exists()})
        if is_whole:
            path.unlink()
        else:
            path.replace(_free(path.with_name(path.name + TORN_SUFFIX)))
        durable.sync_directory(path.parent)


def lacking(root: Path) -> int:
    """How many logs lack lines that the journal holds, as after a power cut. Writes nothing."""
    found: set[Path] = set()
    for _, path in journal_files(root):
        with suppress(FileNotFoundError):  # a writer starts at this moment
            found.update(p.path for p in _read(path, root)[0] if _there(p) != p.lines)
    return len(found)


def trouble_with(root: Path, is_writer: bool, problems: dict[str, list[str]]) -> str:
    """Put back what the logs lack, as the writer; a sentence when they lack something then.

    Args:
        problems: gets the sentence too.
    """
    trouble = ""
    if is_writer:
        try:
            put_back(root)
        except OSError as error:
            trouble = NOT_PUT_BACK.format(root / JOURNAL, error)
    elif writer_pid(root) is None and (logs := lacking(root)) > 0:
        trouble = LACKING.format(logs, root / JOURNAL)
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
    """Write this piece to its log, unless the log ends before its place. Something else in that
    place is kept beside the log. Returns whether it was written."""
    path, at, lines = piece.path, piece.at, piece.lines
    there = _there(piece)
    if there is None:
        return False
    durable.make_directories(path.parent)
    if not lines.startswith(there):
        aside = path.with_name(path.name + TORN_SUFFIX)
        durable.append(aside, there + b"\n", aside.stat().st_size if aside.exists() else 0)
    durable.overwrite(path, lines, at)
    return True


def _there(piece: Piece) -> bytes | None:
    """What the log has where this piece belongs; `None` when it does not reach so far."""
    try:
        with piece.path.open("rb") as file:
            before = file.seek(0, os.SEEK_END)
            file.seek(piece.at)
            return file.read(len(piece.lines)) if before >= piece.at else None
    except FileNotFoundError:
        return b"" if piece.at == 0 else None


def _free(path: Path) -> Path:
    """This path, or one like it that nothing has."""
    count = 1
    free = path
    while free.exists():
        count += 1
        free = path.with_name(f"{count}-{path.name}")
    return free
