"""Practice sessions on the server: the same forms and record, on a lesson's clock."""

from collections.abc import Mapping
from threading import RLock

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.recording import (
    AlreadyRecorded,
    Part,
    Record,
    Refusal,
    record_form,
    record_start,
)
from lowside.core.session.events import Event, Moment
from lowside.core.session.state import State
from lowside.practice.asked import with_recovery
from lowside.practice.debrief import has_surplus_only
from lowside.practice.hooked_up import Gauges
from lowside.practice.lessons import lesson_by_id, seed_from, setting
from lowside.practice.pace import (
    PACE,
    PACES,
    RECOVERY,
    TRUE_PACE,
    USUAL_PACE,
    VALVE,
    on_lessons_clock,
    pace_now,
    practice_moment,
    practice_s,
    recovery_now,
    recovery_said,
    valve_now,
)
from lowside.practice.score import GUESS, guess_of
from lowside.practice.sessions import PracticeSession, rebuild
from lowside.web.clock import new_ulid
from lowside.web.field.desk import Desk, NotStoredError
from lowside.web.folding import Folded

MOST_KEPT = 20


class PracticeDesk:
    """Writes practice sessions and runs their units; what it keeps in memory can be rebuilt."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lock = RLock()
        self._kept: dict[str, PracticeSession] = {}
        self._folded = Folded()

    @property
    def handbook(self) -> Handbook:
        return self._desk.handbook

    def events(self, sid: str) -> list[Event]:
        """The session's entries; empty when there is no such practice session."""
        return on_lessons_clock(self._desk.store.events(sid))

    def finished(self, limit: int) -> set[str]:
        """The lessons that were closed lately."""
        listed = self._desk.store.sessions(practice=True, closed_only=True, limit=limit)
        found = [self.events(each.sid) for each in listed]
        return {events[0].data.get("lesson", "") for events in found if events}

    def begun(self, limit: int) -> list[list[Event]]:
        """The entries of the lessons begun lately, newest first."""
        listed = self._desk.store.sessions(practice=True, limit=limit)
        return [events for each in listed if (events := self.events(each.sid))]

    def state(self, events: list[Event]) -> State:
        return with_recovery(self._folded.state(events, self.handbook), events)

    def now(self, sid: str, events: list[Event]) -> Moment:
        """The lesson's clock."""
        return practice_moment(sid, events, self._desk.clock.now())

    def real_now(self) -> Moment:
        return self._desk.clock.now()

    def start(self, typed: Mapping[str, str]) -> str | None:
        """Begin a lesson, once; its sid, or `None` when the form does not say which
        or no unit of that number suits the lesson."""
        lesson = lesson_by_id(typed.get("lesson", ""))
        seed = seed_from(typed.get("seed", ""))
        first = record_start(typed, self.handbook)
        if lesson is None or first is None or seed is None:
            return None
        sid = typed["sid"]
        try:
            setting(lesson, seed)
        except LookupError:
            return None
        with self._lock:
            if not self._desk.store.events(sid):
                now = self.real_now()
                more = {"practice": "yes", "lesson": lesson.id, "seed": str(seed)}
                more["wall"] = str(now.at)
                moment = practice_moment(sid, [], now)
                self._desk.append(sid, first.eid, first.kind, {**first.data, **more}, moment)
        return sid

    def post(
        self, address: Address, typed: Mapping[str, str]
    ) -> Record | AlreadyRecorded | Refusal | None:
        """Record a posted form; `None` when there is no such session.

        While a shot is open the lesson's clock runs true, so that hands learn real seconds.
        """
        part: Part | None = Part(address, typed)
        outcome: Record | AlreadyRecorded | Refusal | None = None
        with self._lock:
            while part is not None:
                events = self.events(address.sid)
                if not events:
                    return None
                now = self.real_now()
                moment = practice_moment(address.sid, events, now)
                outcome = record_form(
                    self.state(events), part.address, part.sent, self.handbook, moment
                )
                if isinstance(outcome, Record):
                    self._desk.append(address.sid, outcome.eid, outcome.kind, outcome.data, moment)
                    if outcome.kind == "shot.opened":
                        self.set_pace(address.sid, TRUE_PACE)
                    elif outcome.kind == "shot.closed":
                        self.set_pace(address.sid, USUAL_PACE)
                part = None if isinstance(outcome, Refusal) else outcome.rest
        return outcome

    def turn(self, sid: str, to: str) -> bool:
        """Turn the low handwheel; `False` without such a session. Turning it again is nothing."""
        with self._lock:
            events = self.events(sid)
            if events and valve_now(events) != to:
                self._say(sid, VALVE, {"valve": to}, events)
        return bool(events)

    def recover(self, sid: str, to: str) -> bool:
        """Start or stop the recovery machine; as `turn`."""
        with self._lock:
            events = self.events(sid)
            if events and recovery_now(events) != to:
                lesson = lesson_by_id(events[0].data.get("lesson", ""))
                surplus = lesson is not None and has_surplus_only(lesson)
                said = recovery_said(to, self.state(events).running, surplus)
                self._say(sid, RECOVERY, said, events)
        return bool(events)

    def guess(self, sid: str, what: str) -> bool:
        """Keep what the apprentice thinks it is, the first time; as `turn`."""
        with self._lock:
            events = self.events(sid)
            if events and guess_of(events) == "":
                self._say(sid, GUESS, {"guess": what}, events)
        return bool(events)

    def set_pace(self, sid: str, pace: int) -> bool:
        """Let the lesson's clock run at one of `PACES`."""
        with self._lock:
            events = self.events(sid)
            if events and pace in PACES:
                self._say(sid, PACE, {"pace": str(pace)}, events)
        return bool(events)

    def running(self, sid: str, events: list[Event]) -> tuple[PracticeSession, Gauges, float]:
        """The session's unit now, what the instruments show, and the practice time [s]."""
        with self._lock:
            session = self._kept.get(sid)
            if session is None or session.events_seen > len(events):
                session = rebuild(events, self.handbook)
                if session is None:
                    raise NotStoredError("This lesson is not one this version has.")
                while len(self._kept) >= MOST_KEPT:
                    self._kept.pop(next(iter(self._kept)))
                self._kept[sid] = session
            session.follow(events)
            time_s = practice_s(events, self.real_now().at)
            return session, session.look_at(time_s), time_s

    def pace(self, events: list[Event]) -> int:
        return pace_now(events)

    def _say(self, sid: str, kind: str, data: dict[str, str], events: list[Event]) -> None:
        now = self.real_now()
        data["wall"] = str(now.at)
        self._desk.append(sid, new_ulid(now.at), kind, data, practice_moment(sid, events, now))
