"""Every reason not to trust a store on disk."""

import shutil
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from lowside.store.codec import BadLine, unframed, whole_lines
from lowside.store.comparing import differences, gaps
from lowside.store.device import why_damaged
from lowside.store.errors import StoreError
from lowside.store.filling import Progress
from lowside.store.index import INDEX_FILE, Index
from lowside.store.lock import writer_pid
from lowside.store.logs import TORN_SUFFIX, quarantine_files, session_files
from lowside.store.outline import Outliner, RowRules
from lowside.store.photos import has_photo, problems_of_photos
from lowside.store.sealed import why_unsound
from lowside.store.store import Store

PHOTO_ROW = "photos"
"""Kind of a derived row with the key "": a session’s sid and the names of its photos, by spaces."""

CANNOT_BE_USED = "The index cannot be used ({error}). --rebuild makes it again."
SOME = 5
"""Sessions that a note names."""
NOT_COMPARED = "Process {pid} is writing, so the index was not compared."


@dataclass(frozen=True)
class Findings:
    """What a check found. `problems` are faults; `notes` say what was not checked."""

    sessions: int
    events: int
    quarantined: int
    problems: tuple[str, ...]
    notes: tuple[str, ...]


def check(root: Path, outline: Outliner, progress: Progress = lambda _done, _of: None) -> Findings:
    """Read every log and compare the index with a new one. Changes nothing on disk.

    Checks each line's checksum and place, torn ends, whether each device's numbers count from 1
    without a gap, events set aside, and whether the index agrees with the logs.

    Args:
        progress: hears of the reading while it takes long.

    Raises
        StoreError: there is no store, or its files cannot be read.
    """
    if not root.is_dir():
        raise StoreError(f"There is no data folder {root}.")
    try:
        with TemporaryDirectory() as folder:
            copy = _copy_of_index(root / INDEX_FILE, Path(folder))
            with Store.open(root, outline, write=False, progress=progress) as store:
                return _findings(root, copy, store)
    except OSError as error:
        raise StoreError(f"The store at {root} cannot be read: {error}.") from error


def _findings(root: Path, copy: "_Copy", store: Store) -> Findings:
    aside = store.quarantined()
    sids = {sid for sid, _ in session_files(root)}
    problems = store.problems()
    problems += store.ask(lambda index: list(gaps(index, [item.event for item in aside])))
    problems += [
        f"Session {item.event.sid}: entry {item.event.eid} of device {item.event.dev} "
        f"is set aside. {item.reason}"
        for item in aside
    ]
    orphans = {sid for sid, _ in quarantine_files(root)} - sids
    problems += [f"Session {sid} has entries set aside but no log." for sid in sorted(orphans)]
    problems += _small_files(root)
    index_problems, notes = _check_index(root, copy, store)
    problems += index_problems
    named = photos_named(store.derived(PHOTO_ROW, ""))
    problems += problems_of_photos(root, named)
    notes += not_here(named, lambda sid, name: has_photo(root, sid, name))
    # The index was made now, so the number of the last arrival is how many there are.
    events = store.ask(Index.head)
    return Findings(len(sids), events, len(aside), tuple(problems), tuple(notes))


def _small_files(root: Path) -> Iterator[str]:
    """What is wrong with the files that are no logs of sessions and have checksums."""
    damaged = why_damaged(root)
    if damaged != "":
        yield damaged
    for path in sorted((root / "procedures").glob("*.json")):
        unsound = why_unsound(path.read_bytes())
        if unsound != "":
            yield f"{path} {unsound}. Put it back from a copy."
    people = root / "people.jsonl"
    if people.exists():
        lines, torn = whole_lines(people.read_bytes())
        for number, line in enumerate(lines, start=1):
            read = unframed(line)
            if isinstance(read, BadLine):
                yield f"{people}, line {number}: {read.reason}. Nobody but this machine is let in."
        if torn != b"":
            yield (
                f"{people} ends in the middle of a change ({len(torn)} bytes), which does not "
                "count. If you edited the file, block again what should be blocked."
            )
    aside = people.with_name(people.name + TORN_SUFFIX)
    if aside.exists():
        yield (
            f"{aside} holds the end of a change of people that does not count. Look whether it "
            "blocked a phone, then remove the file."
        )


def photos_named(rows: Iterable[str]) -> dict[str, list[str]]:
    """Each session's photos, by what its derived row says."""
    return {row.split()[0]: row.split()[1:] for row in rows}


def not_here(named: Mapping[str, Sequence[str]], has: Callable[[str, str], bool]) -> Iterator[str]:
    """Photos that entries name and that have not come: no fault, a phone may be on its way."""
    missing = [sid for sid, names in named.items() for name in names if not has(sid, name)]
    if missing:
        yield (
            f"{len(missing)} photos are not here: they are still on a phone, or were lost with a "
            f"copy. Sessions: {', '.join(sorted(set(missing))[:SOME])}."
        )


@dataclass(frozen=True)
class _Copy:
    """The index as it was before the logs were read."""

    path: Path
    trouble: str = ""


def _check_index(root: Path, copy: _Copy, store: Store) -> tuple[list[str], list[str]]:
    pid = writer_pid(root)
    trouble = copy.trouble
    if trouble == "":
        try:
            found = store.ask(lambda right: differences(right, copy.path))
        except sqlite3.Error as error:
            trouble = CANNOT_BE_USED.format(error=error)
    if trouble != "":
        # Copied while it was written to, a sound index can look damaged.
        return ([trouble], []) if pid is None else ([], [NOT_COMPARED.format(pid=pid)])
    problems = []
    if pid is not None:
        # Entries may have come since the index was copied, but none may have gone.
        if found.unknown > 0:
            problems.append(
                f"The index knows {found.unknown} entries that the logs do not have. The logs may "
                "be older than the index, as after a restore."
            )
        return problems, [
            f"Process {pid} is writing, so the index was only asked for entries that the logs "
            "lack. Stop it to compare everything."
        ]
    if found.sessions == found.behind > 0 == found.unknown == found.missing:
        return [], [
            f"The server ended before it made the lists of {found.behind} sessions. The next start "
            "makes them."
        ]
    if found.sessions > 0:
        problems.append(
            f"The index says something else than the logs of {found.sessions} sessions "
            f"({', '.join(found.some)} …). --rebuild makes it again."
        )
    if found.unknown > 0 or found.missing > 0:
        problems.append(
            f"The index counts {found.entries} entries, the logs hold "
            f"{found.entries - found.unknown + found.missing}. --rebuild makes it again."
        )
    if found.units > 0:
        problems.append(
            f"The index says something else than its sessions of {found.units} units. --rebuild "
            "makes it again."
        )
    if found.cylinders > 0:
        problems.append(
            f"The index says something else of {found.cylinders} cylinders than their sessions. "
            "--rebuild makes it again."
        )
    if found.marks > 0:
        problems.append(
            f"The index counts {found.marks} texts and flags wrong, so a search or a filter may "
            "miss sessions. --rebuild makes it again."
        )
    return problems, []


def _copy_of_index(path: Path, folder: Path) -> _Copy:
    """SQLite writes beside a file even to read it. A check changes nothing, so it reads a copy."""
    copy = folder / INDEX_FILE
    if not path.exists():
        return _Copy(copy, "The index is missing. The next start makes it again, or use --rebuild.")
    try:
        for suffix in ("", "-wal"):
            original = path.with_name(path.name + suffix)
            if original.exists():
                shutil.copyfile(original, copy.with_name(copy.name + suffix))
        index = Index(copy, RowRules(version=None))  # takes in what is beside the file
        try:
            if not index.is_sound():
                raise sqlite3.DatabaseError("damaged")
        finally:
            index.close()
    except (sqlite3.Error, IsADirectoryError) as error:
        return _Copy(copy, CANNOT_BE_USED.format(error=error))
    return _Copy(copy)
