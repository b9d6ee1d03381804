"""The store in a database: the same receipts, lists and followers, for many servers at once."""

from collections.abc import Callable, Mapping, Sequence
from typing import Self, TypeVar

from lowside.core.session.events import Event
from lowside.store.answers import Answers, Arrival
from lowside.store.asking import Asking
from lowside.store.codec import BadEvent, why_malformed
from lowside.store.cylinder_rows import NotMadeError
from lowside.store.errors import StoreError, StoreStoppedError
from lowside.store.following import Batch, Find, Needed, follow
from lowside.store.in_progress import InProgress
from lowside.store.logs import Log, digest_of
from lowside.store.outline import Outline, Outliner, rules_of
from lowside.store.photo_shelf import Photos, SharedPhotos
from lowside.store.postgres.database import CLOSED, Database, Session
from lowside.store.postgres.papers import Papers
from lowside.store.postgres.read_logs import (
    Key,
    ReadLogs,
    View,
    aside_log,
    body_and_sum,
    named,
)
from lowside.store.postgres.tables import Tables
from lowside.store.ulid import is_ulid
from lowside.store.verdicts import Outcome, Pending, Quarantined, Receipt, why_aside

T = TypeVar("T")

READ_AT_ONCE = 100
"""Entries, as many as an answer to a phone has."""
READ_ONLY = (
    "The database can only be read, as a standby can. Nothing is saved until it is the main one."
)
_PUT = "INSERT INTO events (sid, dev, seq, place, body, sum) VALUES (?, ?, ?, ?, ?, ?)"
_PUT_ASIDE = (
    "INSERT INTO set_aside (sid, digest, body, sum) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING"
)


class PostgresStore(Asking):
    """All events of a shop; `lowside.store.event_store` says what each method does."""

    def __init__(self, database: Database, outline: Outliner) -> None:
        """Not for callers: see `open`."""
        self._database = database
        self._saves = InProgress()
        self._outline = outline
        self._rules = rules_of(outline)
        self._logs = ReadLogs()
        self._problems: dict[str, list[str]] = {}
        self._is_closed = False
        self.papers = Papers(database)
        self.photos: Photos = SharedPhotos(self.papers)
        """What the shop's servers share beside its entries."""

    @classmethod
    def open(cls, address: str, outline: Outliner, write: bool = True) -> Self:
        """Open the store of the shop that the address's role serves.

        Args:
            address: of the database, as postgresql://role@host/name.
            outline: makes what lists show of a session from its events.
            write: may make rows again that other rules made. Otherwise they are left as they are.

        Raises
            StoreError: it cannot be used; the message says what to do.
        """
        database = Database(address)
        try:
            store = cls(database, outline)
            if write:
                store._follow_rules()
            return store
        except BaseException:
            database.close()
            raise

    def close(self) -> None:
        self._is_closed = True
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def outline_by(self, outline: Outliner) -> None:
        self._outline = outline

    # Writing

    def append(self, events: Sequence[Event | BadEvent], rows_later: bool = False) -> list[Receipt]:
        if self._is_closed:
            raise StoreStoppedError(CLOSED)
        reasons = [e.reason if isinstance(e, BadEvent) else why_malformed(e) for e in events]
        sids = {
            event.sid
            for event, reason in zip(events, reasons, strict=True)
            if isinstance(event, Event) and reason == ""
        }
        if not sids:
            return [Receipt(Outcome.REFUSED, reason) for reason in reasons]
        with self._saves.one(), self._database.writing() as session:
            session.hold_sessions(self._database.shop, sorted(sids))
            views = {sid: self._view(session, sid) for sid in sids}
            asides = {sid: self._aside(session, sid) for sid in sids}
            pending = Pending()
            receipts = [
                pending.judge(event, views[event.sid].log, asides[event.sid])
                if isinstance(event, Event) and reason == ""
                else Receipt(Outcome.REFUSED, reason)
                for event, reason in zip(events, reasons, strict=True)
            ]
            self._write(session, pending, views)
        return receipts

    def _write(self, session: Session, pending: Pending, views: dict[str, View]) -> None:
        tables = Tables(session, self._rules)
        late = {sid: tables.not_arrived(sid, view.events) for sid, view in views.items()}
        stored = {sid: fresh for sid, fresh in pending.stored.items() if fresh or late[sid]}
        stored |= {sid: [] for sid, events in late.items() if events and sid not in stored}
        aside = {sid: rivals for sid, rivals in pending.quarantined.items() if rivals}
        if not stored and not aside:
            return
        rows = []
        outlines = {}
        for sid, fresh in stored.items():
            first = views[sid].read + 1
            for place, event in enumerate(fresh, start=first):
                rows.append((sid, event.dev, event.seq, place, *body_and_sum(event)))
            # The fold is the longest part, so the shop is not yet held for it.
            outlines[sid] = self._outline_of(sid, [*views[sid].events, *fresh])
        session.executemany(_PUT, rows)
        rivals = []
        for sid, events in aside.items():
            for event in events:
                body, checked = body_and_sum(event)
                rivals.append((sid, digest_of(event).hex(), body, checked))
        session.executemany(_PUT_ASIDE, rivals)
        last = tables.hold_shop()
        tables.arrive(
            last, [event for sid, fresh in stored.items() for event in (*late[sid], *fresh)]
        )
        for sid, fresh in stored.items():
            view = views[sid]
            self._take_up(tables, sid, view, late[sid])
            told = tables.put(sid, [*view.events, *fresh], len(view.log.damaged), outlines[sid])
            # What only the shard had looks as it did, but the front does not know of it.
            self._make_cylinders(tables, told, anew=bool(late[sid]))
        for sid in aside:
            tables.note_aside(sid, len(self._aside(session, sid).events))

    def _make_cylinders(self, tables: Tables, told: Mapping[str, bool], anew: bool) -> None:
        """A list must not keep a record from being kept."""
        try:
            tables.make_cylinders(key for key, is_changed in told.items() if is_changed or anew)
        except NotMadeError as error:
            self._problems["cylinders"] = [str(error)]

    def _take_up(self, tables: Tables, sid: str, view: View, late: Sequence[Event]) -> None:
        """First the line and rows of what had arrived: what is beside it is made by both."""
        arrived = [event for event in view.events if event not in late]
        if late and arrived:
            outline = self._outline_of(sid, arrived)
            tables.put(sid, arrived, len(view.log.damaged), outline)

    # Reading

    def events(self, sid: str) -> list[Event]:
        if not is_ulid(sid):
            return []
        with self._database.reading() as session:
            return self._view(session, sid).events

    def next_seq(self, sid: str, dev: str) -> int:
        if not is_ulid(sid):
            return 1
        with self._database.reading() as session:
            view = self._view(session, sid)
            kept = [*view.events, *self._aside(session, sid).events]
            own = [event.seq for event in kept if event.dev == dev]
            return max(own, default=0) + len(view.log.damaged) + 1

    def last_hlc(self) -> str:
        return self.ask(lambda tables: tables.last_hlc())

    def why_not_saving(self) -> str:
        try:
            with self._database.writing() as session:
                (read_only,) = session.execute("SHOW transaction_read_only").fetchone()
        except StoreError as error:
            return str(error)
        return READ_ONLY if read_only == "on" else self._saves.why_long()

    def ask(self, question: Callable[[Answers], T]) -> T:
        with self._database.reading() as session:
            return question(Tables(session, self._rules))

    def settled(self) -> int:
        return self.ask(lambda tables: tables.head())

    def follow(self, cursor: str, limit: int, needed: Needed) -> Batch:
        with self._database.reading() as session:
            tables = Tables(session, self._rules)
            return follow(tables, self._finding(session), self.events, cursor, limit, needed)

    def quarantined(self) -> list[Quarantined]:
        with self._database.reading() as session:
            found = session.execute("SELECT DISTINCT sid FROM set_aside ORDER BY sid").fetchall()
            return [
                Quarantined(event, why_aside(event, self._view(session, sid).log))
                for (sid,) in found
                for event in self._aside(session, sid).events
            ]

    def problems(self) -> list[str]:
        return [sentence for found in self._problems.copy().values() for sentence in found]

    # What is derived

    def rebuild_index(self) -> None:
        """Session by session: others go on meanwhile, and see the old line or the new one."""
        with self._database.reading() as session:
            session.take_time()
            sids = session.execute("SELECT DISTINCT sid FROM events ORDER BY sid").fetchall()
        for (sid,) in sids:
            with self._database.writing() as session:
                session.hold_sessions(self._database.shop, [sid])
                view = self._view(session, sid)
                outline = self._outline_of(sid, view.events)
                tables = Tables(session, self._rules)
                late = tables.not_arrived(sid, view.events)
                tables.arrive(tables.hold_shop(), late)
                self._take_up(tables, sid, view, late)
                told = tables.put(sid, view.events, len(view.log.damaged), outline)
                self._make_cylinders(tables, told, anew=True)
                tables.note_aside(sid, len(self._aside(session, sid).events))
        with self._database.writing() as session:
            tables = Tables(session, self._rules)
            tables.hold_shop()
            tables.forget_unused_cylinders()

    def _follow_rules(self) -> None:
        """Rows that other rules made are made again, as `Store` does at its start."""
        version = self._rules.version
        with self._database.reading() as session:
            (made_by,) = session.execute("SELECT rules FROM shops").fetchone()
        if version is None or version == made_by:
            return
        self.rebuild_index()
        with self._database.writing() as session:
            session.execute("UPDATE shops SET rules = ?", (version,))

    # The parts

    def _view(self, session: Session, sid: str) -> View:
        view = self._logs.view(session, sid)
        if view.log.damaged:
            self._problems["log " + sid] = list(view.log.damaged)
        return view

    def _aside(self, session: Session, sid: str) -> Log:
        log = aside_log(session, sid)
        if log.damaged:
            self._problems["aside " + sid] = list(log.damaged)
        return log

    def _finding(self, session: Session) -> Find:
        """What gives the entries that arrived."""
        views: dict[str, View] = {}

        def found(key: Key) -> Event | None:
            sid, dev, seq = key
            if sid not in views:
                views[sid] = self._view(session, sid)
            return views[sid].log.by_key.get((dev, seq))

        def find(arrivals: Sequence[Arrival]) -> list[Event]:
            keys = [(sid, dev, seq) for _, sid, dev, seq in arrivals]
            read: dict[Key, Event] = {}
            for first in range(0, 0 if session.is_spread else len(keys), READ_AT_ONCE):
                read |= named(session, keys[first : first + READ_AT_ONCE])
            return [event for key in keys if (event := read.get(key) or found(key)) is not None]

        return find

    def _outline_of(self, sid: str, events: Sequence[Event]) -> Outline:
        try:
            return self._outline(events)
        except Exception as error:  # noqa: BLE001  a list must not keep a record from being kept
            self._problems["outline " + sid] = [
                f"Session {sid} is stored, but its line in the lists could not be made: {error}"
            ]
            return Outline()
