"""The store: takes events and gives receipts; gives sessions, lists and later arrivals."""

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import suppress
from itertools import groupby
from pathlib import Path
from threading import Lock, RLock
from typing import Self, TypeVar, cast

from lowside.core.session.events import Event
from lowside.store import durable
from lowside.store.asking import Asking
from lowside.store.codec import BadEvent, are_sound, why_malformed
from lowside.store.errors import NotNowError, ReadOnlyError, StoreError, StoreStoppedError
from lowside.store.filling import Progress, fill, why_gone
from lowside.store.following import Batch, Needed, follow
from lowside.store.index import INDEX_FILE, Index
from lowside.store.journal import trouble_with
from lowside.store.kept import Kept, kept_of
from lowside.store.late_rows import Late, LateRows
from lowside.store.lock import WriterLock
from lowside.store.logs import Log, problems_of_files
from lowside.store.opening import Look, look_through, made_again, open_index
from lowside.store.outline import Outline, Outliner, rules_of, stamp_of
from lowside.store.photo_shelf import FilePhotos, Photos
from lowside.store.settling import Journal
from lowside.store.shop_logs import ShopLogs
from lowside.store.taking_back import Write, others_have
from lowside.store.together import INTERRUPTED, NOT_NOW, STOPPED, Asked, Together
from lowside.store.ulid import is_ulid
from lowside.store.verdicts import STORED, Outcome, Pending, Quarantined, Receipt, sid_of, why_aside

FEW = 4
"""Fewer entries of one session are judged one by one."""

_CLOSED = "The store is closed."
T = TypeVar("T")


class Store(Asking):
    """All events of a shop. Every method may be called from any thread."""

    def __init__(
        self, root: Path, outline: Outliner, lock: WriterLock | None, progress: Progress
    ) -> None:
        """Not for callers: see `open`."""
        self.root = root
        self.photos: Photos = FilePhotos(root)
        self._outline = outline
        self._rules = rules_of(outline)
        self._lock = lock
        self._progress = progress
        self._saving = Lock()
        """Held by whoever writes logs or makes the index again; taken before the guard."""
        self._guard = RLock()
        """Held by whoever uses memory or index; let go by a save that waits for the disk."""
        self._problems: dict[str, list[str]] = {}
        self._stopped = trouble_with(root, lock, self._problems)
        self._logs = ShopLogs(root, lock is not None, lambda: self._stopped == "", self._problems)
        self._undone: Write | None = None
        self._journal = Journal(
            *(root, self._saving, lambda: not (self._undone or self._stopped)),
            *(self._failed, self._problems),
        )
        self._together = Together(self._save)
        self._late = LateRows(self._guard, self._put_rows, self._problems)
        self._latest_hlc = ""
        self._look: Look | None = None
        self._index = self._open_index()
        self._latest_hlc = max(self._latest_hlc, self._index.last_hlc())

    @classmethod
    def open(
        cls,
        root: Path,
        outline: Outliner,
        write: bool = True,
        progress: Progress = lambda _done, _of: None,
    ) -> Self:
        """Open the store at `root`, bringing its index up to date.

        Args:
            root: the data folder; made when missing and `write` is set.
            outline: makes what lists show of a session from its events.
            write: be the one writer. Otherwise nothing on disk is touched, and the store shows
                what is on disk now, also while another process writes.
            progress: hears of the reading while it takes long.

        Raises
            StoreBusyError: another process writes to it.
            StoreError: the folder cannot be read or written.
        """
        try:
            if not write:
                if not root.is_dir():
                    raise StoreError(f"There is no data folder {root}.")
                return cls(root, outline, None, progress)
            durable.make_directories(root)
            with suppress(OSError):  # another owner's folder, or a disk that is read-only
                root.chmod(durable.OWNER_ONLY_FOLDER)
            lock = WriterLock(root)
            try:
                return cls(root, outline, lock, progress)
            except BaseException:
                lock.release()
                raise
        except (OSError, sqlite3.Error) as error:
            raise StoreError(f"The data folder {root} cannot be used: {error}.") from error

    def close(self) -> None:
        """Let another process write. Closing twice is fine. Anything else fails then."""
        self._late.stop()
        self._journal.stop()
        with self._saving, self._guard:
            if self._stopped != _CLOSED:
                self._stopped = _CLOSED
                if self._look is not None:
                    self._look.stop()
                self._index.close()
                if self._lock is not None:
                    self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def outline_by(self, outline: Outliner) -> None:
        """Make outlines with this from now on: another way to the same outline."""
        self._outline = outline

    # Writing

    def append(self, events: Sequence[Event | BadEvent], rows_later: bool = False) -> list[Receipt]:
        """Store events. When this returns, they are on the disk.

        Each event gets a receipt, in order; one that cannot be kept never blocks the rest. Several
        threads' events are saved in one go.

        Args:
            rows_later: let the lists' rows be made a moment later. `ask` makes them first;
                `glance` may not show these events yet. Not for practice, nor for logs that are no
                sessions: followers go by their rows.

        Raises
            ReadOnlyError: the store was opened for reading.
            NotNowError: nothing of it was written; saving goes on when the cause is gone.
            StoreStoppedError: the disk did not confirm a write now or earlier, or the store is
                closed. None of these is acknowledged; sending them again later is always right.
        """
        if not events:
            self._must_write()
            return []
        return self._together.save(events, rows_later)

    def _save(self, group: Sequence[Asked]) -> None:
        """Save for all of these. When one of them fails, the others are still saved."""
        with self._saving:
            self._save_or_say_why(group)

    def _save_or_say_why(self, group: Sequence[Asked]) -> None:
        try:
            with self._guard:
                self._save_at_once(group)
        except NotNowError as error:
            if len(group) > 1:
                for each in group:
                    self._save_or_say_why([each])
            else:
                group[0].error = error
        except StoreError as error:
            for each in group:
                each.error = error

    def _save_at_once(self, group: Sequence[Asked]) -> None:
        self._must_write()
        pending = Pending()
        try:
            self._finish_taking_back()
            verdicts = [self._receipts(one.events, pending) for one in group]
            self._write(pending, all(one.rows_later for one in group))
        except OSError as error:
            raise self._failed(error) from error
        except StoreError:
            raise
        except BaseException:
            # Logs and index may now differ. Only opening again corrects that.
            self._stopped = INTERRUPTED
            raise
        for one, receipts in zip(group, verdicts, strict=True):
            one.receipts = receipts

    def _failed(self, error: OSError) -> StoreError:
        """What to say of this; the store stops when what the disk holds is unknown."""
        if not isinstance(error, durable.UnsureError):
            return NotNowError(NOT_NOW.format(error))
        self._stopped = STOPPED.format(error)
        return StoreStoppedError(self._stopped)

    def _receipts(self, events: Sequence[Event | BadEvent], pending: Pending) -> list[Receipt]:
        receipts: list[Receipt] = []
        for sid, of_session in groupby(events, sid_of):
            run = list(of_session)
            if sid == "" or not self._are_new(sid, cast("list[Event]", run), pending):
                receipts += [self._judge(event, pending) for event in run]
            else:
                receipts += [STORED] * len(run)
        return receipts

    def _are_new(self, sid: str, events: list[Event], pending: Pending) -> bool:
        """Queue these for writing when none of them was ever seen: one by one takes longer."""
        if len(events) < FEW or not are_sound(events):
            return False
        log = self._logs.of(sid)
        return log.torn == b"" and pending.take_new(sid, events, log)

    def _judge(self, event: Event | BadEvent, pending: Pending) -> Receipt:
        reason = event.reason if isinstance(event, BadEvent) else why_malformed(event)
        if isinstance(event, BadEvent) or reason != "":
            return Receipt(Outcome.REFUSED, reason)
        log = self._logs.of(event.sid)
        if log.torn != b"":
            log.mend()
            self._index.put(log, self._kept_of(log), stamp_of(log.path))
            self._late.forget(log.sid)
        return pending.judge(event, log, self._logs.quarantine.get(event.sid))

    def _write(self, pending: Pending, rows_later: bool) -> None:
        """The logs come first and the index last, so the index is never ahead.

        Raises
            durable.UnsureError: what is on the disk is unknown.
            OSError: nothing of it became part of the record.
        """
        self._late.make_room(len(pending.stored))
        write = Write(self._journal, lambda: others_have(self._guard))
        try:
            asides = [
                (self._logs.aside_log(sid), aside) for sid, aside in pending.quarantined.items()
            ]
            wanted = [(self._logs.of(sid), events) for sid, events in pending.stored.items()]
            self._logs.hold([log for log, _ in wanted])
            stamps = write.append([*asides, *wanted])
            for (log, events), stamp in zip(asides, stamps, strict=False):
                log.count_in(events, stamp.size, {}, {})
            del stamps[: len(asides)]
            for (log, events), stamp in zip(wanted, stamps, strict=True):
                sid = log.sid
                log.count_in(events, stamp.size, pending.by_key[sid], pending.by_eid[sid])
            head = self._index.head()
            with self._index.transaction():
                for (log, events), stamp in zip(wanted, stamps, strict=True):
                    self._index.grew(log.sid, events)
                    if not rows_later:
                        self._index.put_rows(log, self._kept_of(log), stamp)
                if pending.quarantined:
                    self._index.note_aside(self._logs.asides())
        except durable.UnsureError:
            raise
        except (OSError, sqlite3.Error) as error:
            self._undone = write
            self._finish_taking_back()
            if isinstance(error, sqlite3.Error):
                raise OSError(f"the index could not be written: {error}") from error
            raise
        self._logs.hold([])
        for (log, events), stamp in zip(wanted, stamps, strict=True):
            self._latest_hlc = max(self._latest_hlc, *(event.hlc for event in events))
            if rows_later:
                self._late.note(log.sid, stamp, head)
            else:
                self._late.forget(log.sid)

    def _put_rows(self, some: Sequence[Late]) -> None:
        with self._index.transaction():
            for sid, stamp in some:
                log = self._logs.of(sid)
                self._index.put_rows(log, self._kept_of(log), stamp)

    def _finish_taking_back(self) -> None:
        if self._undone is not None:
            self._undone.take_back()
            self._logs.hold([])
        self._undone = None

    # Reading

    def events(self, sid: str) -> list[Event]:
        """A session's events in the order they arrived; empty when nothing is known of it."""
        with self._guard:
            return list(self._logs.of(sid).events) if is_ulid(sid) else []

    def next_seq(self, sid: str, dev: str) -> int:
        """The number of this device's next event in this session, from 1.

        Each unreadable line counts as one of its own, so a number is never used twice.
        """
        with self._guard:
            if not is_ulid(sid):
                return 1
            log = self._logs.of(sid)
            own = [event.seq for event in (*log.events, *self._logs.aside(sid)) if event.dev == dev]
            return max(own, default=0) + len(log.damaged) + 1

    def last_hlc(self) -> str:
        """The latest clock value of any event, "" when the store is empty."""
        # Without the guard: a phone's question is judged while another's entries are saved.
        if self._stopped == _CLOSED:
            raise StoreStoppedError(_CLOSED)
        return self._latest_hlc

    def why_not_saving(self) -> str:
        """Why nothing can be saved just now; "" otherwise. Asked without waiting for anyone."""
        return self._stopped or self._together.saves.why_long() or durable.why_shut(self.root)

    def ask(self, question: Callable[[Index], T]) -> T:
        """What the index answers: `lowside.store.lists` has the questions."""
        self._late.catch_up()
        return self.glance(question)

    def glance(self, question: Callable[[Index], T]) -> T:
        """As `ask`, without waiting for rows that are made later."""
        with self._guard:
            return question(self._index)

    def settled(self) -> int:
        """The number of an arrival: `glance` shows everything up to it. Mostly that of the last."""
        self._late.catch_up_few()
        with self._guard:
            return self._late.settled(self._index.head())

    def follow(self, cursor: str, limit: int, needed: Needed) -> Batch:
        """What arrived after `cursor`, no practice. Someone new is sent the sessions `needed`
        first.

        The same for someone who is too far behind. Each piece has at most `limit` events.
        """
        with self._guard:
            return follow(self._index, self._logs.find, self.events, cursor, limit, needed)

    def quarantined(self) -> list[Quarantined]:
        """Every event that contradicts a stored one."""
        with self._guard:
            return [
                Quarantined(event, why_aside(event, self._logs.of(sid)))
                for sid in sorted(self._logs.quarantine)
                for event in self._logs.quarantine[sid].events
            ]

    def problems(self) -> list[str]:
        """What a person should look at, as sentences; empty when all is well."""
        self._late.catch_up()
        with self._guard:
            return [each for each in sum(self._problems.values(), [self._index.problem]) if each]

    # The index

    def rebuild_index(self) -> None:
        """Make the index again from the logs. The order of arrival is taken over from the old one
        where that is sound, so everybody who follows goes on.

        Raises
            ReadOnlyError: the store was opened for reading.
            NotNowError: what was half written cannot be taken back yet.
            StoreStoppedError: a write failed earlier, or the store is closed.
        """
        with self._saving, self._guard:
            self._must_write()
            try:
                self._finish_taking_back()
            except OSError as error:
                raise self._failed(error) from error
            self._logs.clear()
            self._problems.clear()
            self._index = made_again(
                self.root / INDEX_FILE, self._index, self._bring_up_to_date, self._rules
            )
            self._problems |= problems_of_files(self.root)
            self._late.forget_all()

    # The parts

    def _must_write(self) -> None:
        if self._lock is None:
            raise ReadOnlyError(f"{self.root} was opened for reading only.")
        if self._stopped:
            raise StoreStoppedError(self._stopped)

    def _open_index(self) -> Index:
        self._logs.read_quarantine()
        path = None if self._lock is None else self.root / INDEX_FILE
        try:
            index = self._filled_index(path, spills=True)
        except sqlite3.Error as error:
            # A disk that is full, or mounted for reading, still lets the logs be read.
            index = self._filled_index(None, spills=False)
            self._problems["index"] = [
                f"{self.root / INDEX_FILE} cannot be written ({error}). The lists are in memory "
                "until the next start."
            ]
        self._problems |= problems_of_files(self.root)
        self._look = look_through(path, self._problems)
        return index

    def _filled_index(self, path: Path | None, spills: bool) -> Index:
        index = open_index(path, self._rules, spills)
        try:
            with index.transaction():
                self._bring_up_to_date(index, index.sids())
        except BaseException:
            index.close()
            raise
        return index

    def _bring_up_to_date(self, index: Index, known: set[str]) -> None:
        """Index what changed since. `known`: sessions with entries that the index knows."""

        def read(sid: str) -> tuple[Log, Kept]:
            log = self._logs.of(sid)
            return log, self._kept_of(log)

        for sid in fill(
            index, self.root, known, read, self._outline, self._progress, self._logs.asides()
        ):
            self._problems[sid] = [why_gone(self.root, sid)]

    def _kept_of(self, log: Log) -> Kept:
        self._latest_hlc = max(self._latest_hlc, log.last_hlc)  # it may have been mended
        try:
            outline = self._outline(log.events)
        except Exception as error:  # noqa: BLE001  a list must not keep a record from being kept
            self._problems["outline " + log.sid] = [
                f"Session {log.sid} is stored, but its line in the lists could not be made: {error}"
            ]
            outline = Outline()
        return kept_of(log.sid, outline, self._rules)
