"""What becomes of an arriving event, given what is stored and what came with it."""

from dataclasses import dataclass
from enum import StrEnum

from lowside.core.session import handover
from lowside.core.session.events import Event, in_order
from lowside.store.codec import BadEvent, canonical_event
from lowside.store.logs import Key, Log, digest_of

SAME_NUMBER = "An entry with this device’s number is stored already, with other content."
SAME_EID = "This entry is stored already, with other content or from a later time."


class Outcome(StrEnum):
    """What became of an event."""

    STORED = handover.STORED
    ALREADY = handover.ALREADY
    QUARANTINED = handover.QUARANTINED
    REFUSED = handover.REFUSED


@dataclass(frozen=True)
class Receipt:
    """The answer to one event. Its sender may forget it after any outcome but REFUSED."""

    outcome: Outcome
    reason: str = ""
    """A sentence; empty when it was simply stored."""


STORED = Receipt(Outcome.STORED)


@dataclass(frozen=True)
class Quarantined:
    """An event that contradicts a stored one, kept for a person to look at."""

    event: Event
    reason: str


def sid_of(event: Event | BadEvent) -> str:
    """The session it is of; "" when it is no event."""
    return event.sid if isinstance(event, Event) else ""


class Pending:
    """The events of one `append` on their way to the disk. Each is judged by those before it."""

    def __init__(self) -> None:
        self.stored: dict[str, list[Event]] = {}
        self.quarantined: dict[str, list[Event]] = {}
        self.by_key: dict[str, dict[Key, Event]] = {}
        self.by_eid: dict[str, dict[str, Event]] = {}
        """Of each session, those to be stored; the first of each act."""
        self._set_aside_now: set[bytes] = set()

    def judge(self, event: Event, log: Log, aside: Log | None) -> Receipt:
        """Decide about a well-formed event, and queue it for writing if needed.

        Args:
            log: its session.
            aside: the quarantine of its session, `None` while there is none.
        """
        key = (event.dev, event.seq)
        by_key = self.by_key.setdefault(event.sid, {})
        by_eid = self.by_eid.setdefault(event.sid, {})
        same_key = log.by_key.get(key) or by_key.get(key)
        if same_key is not None:
            if canonical_event(same_key) == canonical_event(event):
                return Receipt(Outcome.ALREADY)
            return self._set_aside(event, SAME_NUMBER, aside)
        same_eid = log.by_eid.get(event.eid) or by_eid.get(event.eid)
        if same_eid is not None and not _same_act_later(same_eid, event):
            return self._set_aside(event, SAME_EID, aside)
        # One tap that came by two ways is kept twice. Without the second there would be a gap in
        # its device's numbers, and the fold counts an eid once: the earlier in the order. So one
        # from before the stored one is set aside, or it would take its writer, time and place.
        self.stored.setdefault(event.sid, []).append(event)
        by_key[key] = event
        by_eid.setdefault(event.eid, event)
        if same_eid is not None:
            return Receipt(Outcome.ALREADY, "This entry also came by another way.")
        return STORED

    def take_new(self, sid: str, events: list[Event], log: Log) -> bool:
        """Queue a session's well-formed events when none of them, nor anything of their numbers or
        acts, was seen before; whether that was so."""
        keys = {(event.dev, event.seq): event for event in events}
        eids = {event.eid: event for event in events}
        if (
            len(keys) < len(events)
            or len(eids) < len(events)
            or sid in self.stored
            or not log.by_key.keys().isdisjoint(keys)
            or not log.by_eid.keys().isdisjoint(eids)
        ):
            return False
        self.stored[sid], self.by_key[sid], self.by_eid[sid] = events, keys, eids
        return True

    def _set_aside(self, event: Event, reason: str, aside: Log | None) -> Receipt:
        digest = digest_of(event)
        is_known = aside is not None and digest in aside.contents
        if not is_known and digest not in self._set_aside_now:
            self._set_aside_now.add(digest)
            self.quarantined.setdefault(event.sid, []).append(event)
        return Receipt(Outcome.QUARANTINED, reason)


def why_aside(event: Event, log: Log) -> str:
    """Why an event is in quarantine."""
    return SAME_NUMBER if (event.dev, event.seq) in log.by_key else SAME_EID


def _same_act_later(one: Event, other: Event) -> bool:
    return (
        one.kind == other.kind
        and dict(one.data) == dict(other.data)
        and in_order([other, one])[0] is one
    )
