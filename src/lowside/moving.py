"""`lowside move-store`: copies a shop from one store to another, either way, and compares them.

It copies what the other store lacks, so it can be stopped and started again. A server may go on
with the store it copies from: run it once more after that server has stopped.
"""

import hashlib
import json
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from lowside.core.session.events import Event
from lowside.core.session.photos import PHOTO_KIND, photo_name
from lowside.outlining import outline
from lowside.procedures.shop import FOLDER
from lowside.store import EventStore, Outcome, Store, StoreError
from lowside.store.choosing import Place, is_address, open_database, open_shared, without_password
from lowside.store.codec import canonical_event, whole_lines
from lowside.store.device import FILE as DEVICE_FILE
from lowside.store.device import keep_name, known_name
from lowside.store.filling import TOLD_EVERY_S, Progress
from lowside.store.lock import writer_pid
from lowside.store.moved import note_moved, why_moved
from lowside.store.sealed import why_unsound
from lowside.store.shared import Shared
from lowside.web.access.kept import KEY_FILE, LOG, PeopleBook, SharedPeople
from lowside.web.access.people import FILE as PEOPLE_FILE
from lowside.web.access.people import Happening, PeopleError, PeopleLog, event_of
from lowside.web.access.secret_file import SecretError, read_secret, write_secret

PAPERS = (KEY_FILE, DEVICE_FILE)
NOTHING = "No entry was copied."
NOT_EMPTY = "{place} has {what} of its own, so it belongs to another shop. " + NOTHING
OTHER_NAME = (
    "{place} has a name of its own as a writer, as after a start of a server before the move. So a "
    "phone may use the old server’s name there. Copy into a new store to keep that name."
)


@dataclass(frozen=True)
class Moved:
    """What was found and done."""

    sessions: int
    entries: int
    copied: int
    """Entries that the other store lacked."""
    set_aside: int
    problems: tuple[str, ...]


class Beside:
    """What a store keeps beside entries, as bytes by name."""

    def __init__(self, place: Place, shared: Shared | None) -> None:
        self._shared = shared
        self._root = Path(place)

    def people(self) -> list[Happening]:
        """Every line of the log of people."""
        if self._shared is not None:
            lines = [line.encode() for _, line in self._shared.lines(LOG, 0)]
        else:
            path = self._root / PEOPLE_FILE
            lines = whole_lines(path.read_bytes())[0] if path.exists() else []
        people: list[Happening] = []
        for number, line in enumerate(lines, start=1):
            try:
                people.append(dict(event_of(line)))  # type: ignore[arg-type]
            except ValueError as error:
                where = "the people in the database" if self._shared else self._root / PEOPLE_FILE
                raise StoreError(f"Line {number} of {where}: {error}. {NOTHING}") from error
        return people

    def book(self) -> PeopleBook:
        return PeopleLog(self._root) if self._shared is None else SharedPeople(self._shared)

    def paper(self, name: str) -> bytes | None:
        """The key, or the name of the server as a writer."""
        if self._shared is not None:
            return self._shared.paper(name)
        if name == DEVICE_FILE:
            return known_name(self._root).encode() or None
        path = self._root / name
        return read_secret(path) if path.exists() else None

    def put(self, name: str, content: bytes) -> None:
        if self._shared is not None:
            self._shared.put(name, content)
        elif name == DEVICE_FILE:
            keep_name(self._root, content.decode())
        else:
            write_secret(self._root / name, content)

    def procedures(self) -> dict[str, bytes]:
        """Every revision by its id."""
        if self._shared is not None:
            found = self._shared.papers(FOLDER + "/")
            return {name.partition("/")[2]: content for name, content in found.items()}
        return {path.stem: path.read_bytes() for path in (self._root / FOLDER).glob("*.json")}

    def put_procedure(self, name: str, content: bytes) -> None:
        if self._shared is not None:
            self._shared.put(f"{FOLDER}/{name}", content)
        else:
            write_secret(self._root / FOLDER / f"{name}.json", content)


def move(source: Place, target: Place, progress: Progress = lambda _done, _of: None) -> Moved:
    """Copy what `target` lacks, then compare every session of `source` with it.

    Args:
        source: a data folder or the address of a database; it is only read.
        target: the same; a folder is made when missing.
        progress: hears how many sessions of how many are compared.

    Raises
        StoreError: one of them cannot be used, or the target belongs to another shop.
    """
    with ExitStack() as stack:
        one, one_beside = stack.enter_context(_opened(source, write=False))
        other, other_beside = stack.enter_context(_opened(target, write=True))
        problems = _move_beside(one_beside, other_beside, target)
        moved = _move_entries(one, other, progress)
        return replace(moved, problems=(*problems, *moved.problems))


@contextmanager
def _opened(place: Place, write: bool) -> Iterator[tuple[EventStore, Beside]]:
    if is_address(place):
        address = str(place)
        with open_database(address, outline, write) as database, open_shared(address) as shared:
            yield database, Beside(place, shared)
    else:
        with Store.open(Path(place), outline, write) as store:
            yield store, Beside(place, None)


def _move_beside(one: Beside, other: Beside, target: Place) -> list[str]:
    """Gives what is no reason to stop."""
    problems = []
    known = other.people()
    people = one.people()
    if people[: len(known)] != known:
        raise StoreError(NOT_EMPTY.format(place=without_password(target), what="people"))
    for name in PAPERS:
        here, there = one.paper(name), other.paper(name)
        if here is None:
            continue
        if there is None:
            other.put(name, here)
        elif there != here and name == KEY_FILE:
            raise StoreError(NOT_EMPTY.format(place=without_password(target), what="a key"))
        elif there != here:
            problems.append(OTHER_NAME.format(place=without_password(target)))
    other.book().write(lambda _roll: people[len(known) :])
    there_already = other.procedures()
    procedures = one.procedures()
    for name, content in sorted(procedures.items()):
        kept = there_already.get(name, b"")
        if why_unsound(kept) != "":
            other.put_procedure(name, content)  # even a damaged one: its number is taken
        elif why_unsound(content) == "" and json.loads(kept) != json.loads(content):
            raise StoreError(
                NOT_EMPTY.format(place=without_password(target), what=f"a procedure {name}")
            )
    for name, kept in sorted(other.procedures().items()):
        if name in procedures and why_unsound(kept) != "":
            problems.append(f"The procedure {name} in the target {why_unsound(kept)}.")
    return problems


def _move_entries(one: EventStore, other: EventStore, progress: Progress) -> Moved:
    sids = sorted(one.ask(lambda answers: answers.sids_of_arrivals()))
    problems: list[str] = []
    entries = copied = 0
    for count, sid in enumerate(sids, start=1):
        events = one.events(sid)
        entries += len(events)
        there = other.events(sid)
        if there[: len(events)] != events:
            receipts = other.append(events)
            copied += sum(1 for each in receipts if each.outcome is Outcome.STORED)
            copied += sum(1 for each in receipts if each.reason and each.outcome is Outcome.ALREADY)
            there = other.events(sid)
        if digest(events) != digest(_those(there, events)):
            problems.append(f"Session {sid} is not the same in both stores.")
        problems += _move_photos(sid, events, one, other)
        progress(count, len(sids))
    rivals = [item.event for item in one.quarantined()]
    if rivals:
        other.append(rivals)
    missing = {canonical_event(event) for event in rivals} - {
        canonical_event(item.event) for item in other.quarantined()
    }
    problems += [f"{len(missing)} entries set aside are not in both stores."] if missing else []
    # Asked last: a database is told of a damaged entry when it is read.
    return Moved(len(sids), entries, copied, len(rivals), (*one.problems(), *problems))


def _move_photos(
    sid: str, events: Sequence[Event], one: EventStore, other: EventStore
) -> Iterator[str]:
    """Those that are here; one that is still on a phone comes to the target from there. Gives the
    problems: a photo's name is the digest of its bytes, so whoever reads it checks it."""
    for event in events:
        name = photo_name(event.data) if event.kind == PHOTO_KIND else ""
        if name == "" or other.photos.read(sid, name) is not None:
            continue
        content = one.photos.read(sid, name)
        if content is not None:
            other.photos.keep(sid, name, content)
            if other.photos.read(sid, name) is None:
                yield f"The photo {name} of session {sid} is damaged in the target."
        elif one.photos.has(sid, name):
            yield f"The photo {name} of session {sid} is damaged, so it was not copied."


def _those(there: Sequence[Event], events: Sequence[Event]) -> list[Event]:
    """Of these, those whose numbers are among `events`; others may have come to the target."""
    numbers = {(event.dev, event.seq) for event in events}
    return [event for event in there if (event.dev, event.seq) in numbers]


def digest(events: Sequence[Event]) -> str:
    """SHA-256 over the entries, whatever order they came in."""
    sha = hashlib.sha256()
    for event in sorted(events, key=lambda one: (one.dev, one.seq)):
        sha.update(canonical_event(event) + b"\n")
    return sha.hexdigest()


def move_store(source: Place, target: Place) -> int:
    """The command; its exit code."""
    told_at = time.monotonic()

    def progress(done: int, of: int) -> None:
        nonlocal told_at
        if time.monotonic() > told_at + TOLD_EVERY_S:
            told_at = time.monotonic()
            print(f"{done} of {of} sessions are compared.", file=sys.stderr, flush=True)

    was_written = _is_written(source)
    try:
        moved = move(source, target, progress)
    except (StoreError, PeopleError, SecretError, OSError, ValueError) as error:
        print(error, file=sys.stderr)
        return 1
    print(
        f"{moved.sessions} sessions with {moved.entries} entries; {moved.copied} entries were "
        f"copied now. {moved.set_aside} entries are set aside."
    )
    for problem in moved.problems:
        print(problem, file=sys.stderr)
    if moved.problems:
        return 1
    print("Every session is the same in both stores.")
    if was_written or _is_written(source):
        print(f"A server still writes to {source}. Stop it, then run this once more.")
        return 0
    return _note_where(source, target)


def _is_written(source: Place) -> bool:
    return not is_address(source) and writer_pid(Path(source)) is not None


def _note_where(source: Place, target: Place) -> int:
    """Nobody is to go on by mistake in a folder whose shop went into a database."""
    folder = Path(target if is_address(source) else source)
    try:
        if is_address(target) and not is_address(source):
            note_moved(folder, without_password(target).partition("?")[0])
        if elsewhere := why_moved(folder):
            print(elsewhere)
    except OSError as error:
        print(f"{folder} could not be told where its shop is: {error}.", file=sys.stderr)
        return 1
    return 0
