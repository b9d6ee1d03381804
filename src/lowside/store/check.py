"""Every reason not to trust a store on disk."""

import json
import shutil
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from lowside.store.codec import BadLine, unframed
from lowside.store.device import why_damaged
from lowside.store.errors import StoreError
from lowside.store.index import INDEX_FILE, Index
from lowside.store.lock import writer_pid
from lowside.store.logs import (
    Log,
    quarantine_files,
    quarantine_path,
    read_log,
    session_files,
)
from lowside.store.outline import Listed, Outliner, RowRules
from lowside.store.sealed import is_sound
from lowside.store.store import Store

NOT_COMPARED = "Process {pid} is writing, so the index was not compared."


@dataclass(frozen=True)
class Findings:
    """What a check found. `problems` are faults; `notes` say what was not checked."""

    sessions: int
    events: int
    quarantined: int
    problems: tuple[str, ...]
    notes: tuple[str, ...]


def check(root: Path, outline: Outliner) -> Findings:
    """Read every log and compare the index with a new one. Changes nothing on disk.

    Checks each line's checksum and place, torn ends, whether each device's numbers count from 1
    without a gap, events set aside, and whether the index agrees with the logs.

    Raises
        StoreError: there is no store, or its files cannot be read.
    """
    try:
        copy = _copy_of_index(root / INDEX_FILE) if root.is_dir() else _Copy()
        with Store.open(root, outline, write=False) as store:
            problems = store.problems()
            aside = store.quarantined()
            events = 0
            sessions = 0
            for sid, path in session_files(root):
                log = read_log(path, sid)
                sessions += 1
                events += len(log.events)
                problems.extend(_gaps(root, log))
            problems.extend(
                f"Session {item.event.sid}: entry {item.event.eid} of device {item.event.dev} "
                f"is set aside. {item.reason}"
                for item in aside
            )
            orphans = {sid for sid, _ in quarantine_files(root)} - {
                sid for sid, _ in session_files(root)
            }
            problems.extend(
                f"Session {sid} has entries set aside but no log." for sid in sorted(orphans)
            )
            problems.extend(_small_files(root))
            index_problems, notes = _check_index(root, copy, store)
            problems.extend(index_problems)
    except OSError as error:
        raise StoreError(f"The store at {root} cannot be read: {error}.") from error
    return Findings(sessions, events, len(aside), tuple(problems), tuple(notes))


def _gaps(root: Path, log: Log) -> Iterator[str]:
    numbers: dict[str, set[int]] = {}
    aside = read_log(quarantine_path(root, log.sid), log.sid, repeats=True)
    for event in (*log.events, *aside.events):
        numbers.setdefault(event.dev, set()).add(event.seq)
    for dev, found in sorted(numbers.items()):
        missing = max(found) - len(found)
        if missing > 0:
            first = next(n for n in range(1, max(found)) if n not in found)
            yield (
                f"Session {log.sid}: {missing} entries of device {dev} are missing, the first is "
                f"number {first}. The device may still have them."
            )


def _small_files(root: Path) -> Iterator[str]:
    """What is wrong with the files that are no logs of sessions and have checksums."""
    damaged = why_damaged(root)
    if damaged != "":
        yield damaged
    for path in sorted((root / "procedures").glob("*.json")):
        try:
            content = json.loads(path.read_bytes())
        except (ValueError, RecursionError):
            yield f"{path} is not JSON, so it was damaged. Put it back from a copy."
            continue
        if not isinstance(content, dict) or not is_sound(content):
            yield f"{path} was changed or damaged. It is not offered. Put it back from a copy."
    people = root / "people.jsonl"
    if people.exists():
        for number, line in enumerate(people.read_bytes().split(b"\n")[:-1], start=1):
            read = unframed(line)
            if isinstance(read, BadLine):
                yield f"{people}, line {number}: {read.reason}. Nobody but this machine is let in."


@dataclass(frozen=True)
class _Copy:
    """What the index said before the logs were read."""

    trouble: str = ""
    listed: tuple[Listed, ...] = ()
    arrivals: frozenset[tuple[str, str, int]] = frozenset()


def _check_index(root: Path, copy: _Copy, store: Store) -> tuple[list[str], list[str]]:
    pid = writer_pid(root)
    if copy.trouble != "":
        # Copied while it was written to, a sound index can look damaged.
        return ([copy.trouble], []) if pid is None else ([], [NOT_COMPARED.format(pid=pid)])
    right, right_arrivals = store.ask(Index.contents)
    problems = []
    if pid is not None:
        # Entries may have come since the index was read, but none may have gone.
        missing = copy.arrivals - right_arrivals
        if missing:
            problems.append(
                f"The index knows {len(missing)} entries that the logs do not have. The logs may "
                "be older than the index, as after a restore."
            )
        return problems, [
            f"Process {pid} is writing, so the index was only asked for entries that the logs "
            "lack. Stop it to compare everything."
        ]
    if list(copy.listed) != right:
        listed = {one.sid: one for one in copy.listed}
        found = {one.sid: one for one in right}
        wrong = {sid for sid in listed.keys() | found.keys() if listed.get(sid) != found.get(sid)}
        problems.append(
            f"The index says something else than the logs of {len(wrong)} sessions "
            f"({', '.join(sorted(wrong)[:3])} …). --rebuild makes it again."
        )
    if copy.arrivals != right_arrivals:
        problems.append(
            f"The index counts {len(copy.arrivals)} entries, the logs hold {len(right_arrivals)}. "
            "--rebuild makes it again."
        )
    return problems, []


def _copy_of_index(path: Path) -> _Copy:
    """SQLite writes beside a file even to read it. A check changes nothing, so it reads a copy."""
    if not path.exists():
        return _Copy("The index is missing. The next start makes it again, or use --rebuild.")
    try:
        with TemporaryDirectory() as folder:
            copy = Path(folder) / INDEX_FILE
            for suffix in ("", "-wal"):
                original = path.with_name(path.name + suffix)
                if original.exists():
                    shutil.copyfile(original, copy.with_name(copy.name + suffix))
            index = Index(copy, RowRules(version=None))
            try:
                listed, arrivals = index.contents()
            finally:
                index.close()
    except (sqlite3.Error, IsADirectoryError) as error:
        return _Copy(f"The index cannot be used ({error}). --rebuild makes it again.")
    return _Copy("", tuple(listed), frozenset(arrivals))
