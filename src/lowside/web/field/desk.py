"""One session's paperwork on the server: events in from forms, states out for pages."""

from collections.abc import Mapping, Sequence
from threading import Lock

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.recording import (
    AlreadyRecorded,
    Part,
    Record,
    Refusal,
    held_against_visits,
    record_form,
    record_start,
)
from lowside.core.session.events import Event, Moment, next_hlc
from lowside.core.session.last_visit import LastVisit
from lowside.core.session.ledger import CylinderUse, label_key, uses_in, weighed_at
from lowside.core.session.state import State
from lowside.outlining import (
    USE,
    USES_READ,
    VISIT,
    outline_of,
    use_from,
    visit_from,
    visit_key,
)
from lowside.store import EventStore, Outcome
from lowside.store.ulid import is_ulid
from lowside.web.clock import Clock
from lowside.web.folding import Folded

VISITS_READ = 2
"""Earlier sessions that a page is given; the core takes the newest that fits."""
LATELY = 20
"""Sessions whose units are offered to choose from."""


class NotStoredError(Exception):
    """The store did not take an event; the message is the sentence for the user."""


class Desk:
    """The only writer of the server's own events."""

    def __init__(self, store: EventStore, handbook: Handbook, clock: Clock, device: str) -> None:
        self.store = store
        self.handbook = handbook
        self.clock = clock
        self.device = device
        self._folded = Folded()
        self._writing = Lock()
        store.outline_by(lambda events: outline_of(self._for_lists(events)))

    def state(self, sid: str) -> State | None:
        """The session as it is now, `None` when nothing is known of it."""
        events = self.store.events(sid)
        return self._judged(events) if events else None

    def states_for_lists(self, sids: list[str]) -> list[State]:
        """These sessions in the same order, without what their readings mean."""
        logs = [self.store.events(sid) for sid in sids]
        return [self._for_lists(events) for events in logs if events]

    def cylinder_uses(self, state: State) -> list[CylinderUse]:
        """The last uses of its cylinder by other sessions before it was weighed here, newest
        first."""
        uses = uses_in(state)
        if not uses:
            return []
        use = uses[-1]
        weighed = weighed_at(use)
        before = None if weighed is None else weighed.at
        rows = self.store.derived(USE, label_key(use.label), before, state.sid, USES_READ)
        return list(map(use_from, rows))

    def visits(self, state: State) -> list[LastVisit]:
        """What the last sessions before this one say of its unit, newest first."""
        if state.job is None or state.started is None:
            return []
        key = visit_key(state.job.site, state.job.unit_label)
        # Of two that began in one moment each is the other's earlier visit.
        rows = self.store.derived(VISIT, key, state.started.at + 1, state.sid, VISITS_READ)
        return list(map(visit_from, rows))

    def visits_lately(self, state: State) -> list[LastVisit]:
        """What the last sessions say of their units, to choose a unit, a cylinder or a scale from.
        Nothing when this session has all of them: then no page offers any."""
        if None not in (state.job, state.cylinder, state.scale):
            return []
        listed = [one.outline for one in self.store.sessions(practice=False, limit=LATELY)]
        keys = dict.fromkeys(visit_key(one.site, one.unit_label) for one in listed)
        rows = [self.store.derived(VISIT, key, None, state.sid, 1) for key in keys]
        return [visit_from(row) for found in rows for row in found]

    def start(self, typed: Mapping[str, str]) -> Record | None:
        """Write a session's first event, once; `None` when the form is not one of ours."""
        first = record_start(typed, self.handbook)
        if first is None:
            return None
        with self._writing:
            if not self.store.events(typed["sid"]):
                self.append(typed["sid"], first.eid, first.kind, first.data)
        return first

    def post(
        self, address: Address, typed: Mapping[str, str]
    ) -> Record | AlreadyRecorded | Refusal | None:
        """Record a posted form; `None` when there is no such session."""
        part: Part | None = Part(address, typed)
        outcome: Record | AlreadyRecorded | Refusal | None = None
        with self._writing:
            while part is not None:
                events = self.store.events(address.sid)
                if not events:
                    return None
                state = self._judged(events)
                needed = held_against_visits(state, part.address.about)
                visits, now = self.visits(state) if needed else [], self.clock.now()
                outcome = record_form(state, part.address, part.sent, self.handbook, now, visits)
                if isinstance(outcome, Record):
                    self.append(address.sid, outcome.eid, outcome.kind, outcome.data)
                part = None if isinstance(outcome, Refusal) else outcome.rest
        return outcome

    def write_once(
        self, sid: str, eid: str, kind: str, data: Mapping[str, str]
    ) -> Mapping[str, str] | None:
        """Write an event of the office's, each form once.

        Returns
            What is written of this form, now or before; `None` when its id is no ULID.
        """
        if not is_ulid(eid):
            return None
        with self._writing:
            for event in self.store.events(sid):
                if event.eid == eid:
                    return event.data
            self.append(sid, eid, kind, data)
        return data

    def _judged(self, events: list[Event]) -> State:
        return self._folded.state(events, self.handbook)

    def _for_lists(self, events: Sequence[Event]) -> State:
        return self._folded.for_lists(events, self.handbook)

    def append(
        self,
        sid: str,
        eid: str,
        kind: str,
        data: Mapping[str, str],
        moment: Moment | None = None,
    ) -> None:
        """Write an event under this server's name.

        Args:
            moment: what the event's clocks say; the server's own without it. Its place in the
                order always comes from the server's clock, and counts on from its own session: a
                device whose clock values run ahead moves no other.

        Raises
            NotStoredError: it is not in the store.
        """
        now = self.clock.now()
        clocks = now if moment is None else moment
        last = max((event.hlc for event in self.store.events(sid)), default="")
        event = Event(
            sid=sid,
            dev=self.device,
            seq=self.store.next_seq(sid, self.device),
            eid=eid,
            hlc=next_hlc(last, now.at),
            at=clocks.at,
            tz=clocks.tz,
            mono=clocks.mono,
            run=clocks.run,
            kind=kind,
            data=data,
        )
        receipt = self.store.append([event])[0]
        if receipt.outcome not in (Outcome.STORED, Outcome.ALREADY):
            raise NotStoredError(receipt.reason)
