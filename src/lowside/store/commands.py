"""`lowside check-store`, `export`, `backup` and `restore`; each returns the exit code."""

import csv
import io
import json
import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, fields, replace
from datetime import UTC, datetime
from pathlib import Path

from lowside.store.archive import backup, restore
from lowside.store.cells import safe_cell
from lowside.store.check import Findings, check
from lowside.store.choosing import (
    Place,
    check_at,
    is_address,
    open_store,
    open_to_read,
    without_password,
)
from lowside.store.codec import canonical_event
from lowside.store.errors import StoreError
from lowside.store.event_store import EventStore
from lowside.store.index import INDEX_FILE
from lowside.store.moved import why_moved
from lowside.store.outline import Listed, Outline, Outliner

NOT_EXPORTED = ("practice", "session", "derived")
CSV_COLUMNS = (
    "sid",
    *(field.name for field in fields(Outline) if field.name not in NOT_EXPORTED),
    "events",
)
"""Practice sessions are in no export, so no column says whether one is."""


def check_store(
    root: Place, outline: Outliner, rebuild: bool = False, as_json: bool = False
) -> int:
    """Verify a store and say what is wrong with it.

    Args:
        root: the data folder, or the address of a database.
        outline: as for `Store.open`.
        rebuild: first make the index again from the logs. In a folder this needs to be the one
            writer.
        as_json: print one JSON object instead of sentences.

    Returns
        0 when all is well, 1 when something needs a person.
    """
    try:
        if rebuild:
            _rebuild(root, outline)
        findings = _checked(root, outline)
    except StoreError as error:
        print(error, file=sys.stderr)
        return 1
    if as_json:
        print(json.dumps(asdict(findings) | {"rebuilt": rebuild}, ensure_ascii=False))
    else:
        _print(findings, rebuild)
    return 1 if findings.problems else 0


def _checked(root: Place, outline: Outliner) -> Findings:
    if is_address(root):
        return check_at(str(root), outline)
    findings = check(Path(root), outline, say_progress)
    elsewhere = why_moved(Path(root))
    return replace(findings, problems=(elsewhere, *findings.problems)) if elsewhere else findings


def export(
    root: Place,
    outline: Outliner,
    sids: Sequence[str] = (),
    as_csv: bool = False,
    out: Path | None = None,
) -> int:
    """Write sessions as plain events, one JSON object a line, or as one CSV line each.

    Practice sessions are left out, even when `sids` names one.

    Args:
        root: the data folder, or the address of a database; it is only read, so a server may
            run.
        outline: as for `Store.open`.
        sids: only these sessions; all when empty.
        as_csv: the sessions' outlines instead of their events.
        out: the file to write, replaced whole; standard output otherwise.

    Returns
        0 when everything was written. 1 when a session is unknown or practice, when part of the
        store cannot be read (the rest is still written), or when the file cannot be written.
    """
    try:
        with open_to_read(root, outline) as store:
            listed = sorted(store.sessions(practice=False), key=lambda item: item.sid)
            practised = {item.sid for item in store.sessions(practice=True)}
            known = {item.sid for item in listed}
            if not as_csv:  # a cylinder that was registered has a log that is no session
                known |= store.ask(lambda answers: answers.sids_of_arrivals()) - practised
            practice = set(sids) & practised
            unknown = sorted(set(sids) - known - practice)
            wanted = sorted(known & set(sids) if sids else known)
            if as_csv:
                _deliver(_csv_lines([item for item in listed if item.sid in wanted]), out)
            else:
                _deliver(_event_lines(store, wanted), out)
            problems = store.problems()
    except StoreError as error:
        print(error, file=sys.stderr)
        return 1
    except OSError as error:
        print(f"The export could not be written: {error}.", file=sys.stderr)
        return 1
    if not is_address(root) and (elsewhere := why_moved(Path(root))):
        problems.append(elsewhere)
    for sid in unknown:
        print(f"There is no session {sid} in {without_password(root)}.", file=sys.stderr)
    for sid in sorted(practice):
        print(f"{sid} is a practice session; no export holds one.", file=sys.stderr)
    for problem in problems:
        print(problem, file=sys.stderr)
    return 1 if unknown or practice or problems else 0


def back_up(root: Path, out: Path) -> int:
    """Write the data folder into one file and say what is in it; the exit code."""
    try:
        if elsewhere := why_moved(root):
            raise StoreError(elsewhere)
        found = backup(root, out)
    except (StoreError, OSError) as error:
        print(f"Nothing was backed up: {error}", file=sys.stderr)
        return 1
    print(
        f"{out} holds {found.files} files, {found.size} bytes. Keep it where others cannot read it."
    )
    return 0


def bring_back(archive: Path, root: Path, outline: Outliner) -> int:
    """Fill an empty data folder from a backup and check what came back; the exit code."""
    try:
        found = restore(archive, root)
    except (StoreError, OSError) as error:
        print(f"Nothing was restored: {error}", file=sys.stderr)
        return 1
    print(f"{found.files} files are back in {root}.")
    if (root / "people.jsonl").exists():
        print(
            "People and phones are as they were when the backup was made. Whoever was blocked "
            "since is let in again: see lowside people list, and block them again."
        )
    return check_store(root, outline, rebuild=True)


def say_progress(done: int, of: int) -> None:
    """Tell who waits how far the reading is."""
    print(f"Read {done} of {of} sessions.", file=sys.stderr, flush=True)


def _rebuild(root: Place, outline: Outliner) -> None:
    if not (is_address(root) or Path(root).is_dir()):
        raise StoreError(f"There is no data folder {root}.")
    is_there = is_address(root) or (Path(root) / INDEX_FILE).exists()
    with open_store(root, outline, say_progress) as store:
        if is_there:  # else it was made now
            store.rebuild_index()


def _print(findings: Findings, rebuilt: bool) -> None:
    if rebuilt:
        print("The index was made again from the logs.")
    print(
        f"{findings.sessions} sessions, {findings.events} entries, "
        f"{findings.quarantined} set aside."
    )
    for note in findings.notes:
        print(note)
    for problem in findings.problems:
        print(problem)
    if not findings.problems:
        print("Nothing is wrong.")


def _event_lines(store: EventStore, wanted: Sequence[str]) -> Iterator[str]:
    for sid in wanted:
        for event in store.events(sid):
            yield canonical_event(event).decode("utf-8") + "\n"


def _csv_lines(wanted: Sequence[Listed]) -> Iterator[str]:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for item in wanted:
        row = {"sid": item.sid, **asdict(item.outline), "events": item.events}
        row["started"] = _time(item.outline.started)
        row["closed"] = _time(item.outline.closed)
        row["added_kg"] = round(item.outline.added_kg, 4)
        writer.writerow([safe_cell(row[name]) for name in CSV_COLUMNS])
    yield text.getvalue()


LAST_MS = 253_402_300_799_999
"""End of the year 9999: the last that a calendar date can name [ms since 1970-01-01 UTC]."""


def _time(ms: int | None) -> str:
    """UTC, as ISO 8601; empty when unknown."""
    if ms is None:
        return ""
    if ms > LAST_MS:
        return f"{ms} ms"  # past the year 9999: no clock that anybody set says so
    return datetime.fromtimestamp(ms / 1000, UTC).isoformat(timespec="seconds")


def _deliver(lines: Iterator[str], out: Path | None) -> None:
    if out is None:
        for line in lines:
            sys.stdout.write(line)
        sys.stdout.flush()
        return
    # Whole or not at all: a full disk must not leave half a record that looks whole.
    part = out.with_name(out.name + ".part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            file.writelines(lines)
            file.flush()
            os.fsync(file.fileno())
        part.replace(out)
    finally:
        part.unlink(missing_ok=True)
