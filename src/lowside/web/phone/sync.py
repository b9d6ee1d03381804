"""`POST /api/sync`: a phone hands over its events and takes what others wrote.

Asked:    `{"v": 1, "dev": name, "cursor": text, "events": [up to 100], "want": [up to 20 sids],
          "proofs": [one for each of the events, or ""]}`
Answered: `{"v": 1, "verdicts": [{"outcome", "reason"}, …], "events": […], "cursor": text,
          "more": bool, "restarted": bool, "proofs": [one for each of the events]}`

Verdicts come in the order of the events asked about. An event that was stored just now is not sent
back to who sent it. A phone may forget an event's copy after any outcome but `refused`. While it
hands over events, it is told few of others' at a time. `want` names sessions to send whole, beside
what arrived since the cursor; a phone uses it for one it was never sent. `restarted` says that the
server cannot prove it still has all that this phone was told is stored, as after a restore: the
phone hands over again all that it holds. What others wrote goes with the `proofs` it came with, by
which the server knows it again.
A refused question is `{"error": sentence}`.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from itertools import chain, islice
from threading import Lock
from typing import Annotated, Literal

import orjson
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from starlette.requests import Request

from lowside.core.session.events import Event
from lowside.core.session.handover import MOST_EVENTS, MOST_WANTED, VERSION
from lowside.store import EventStore, Outcome, Receipt
from lowside.store.codec import BadEvent, canonical_events, events_from_json
from lowside.store.following import Batch
from lowside.store.quick_json import decoded
from lowside.store.ulid import is_ulid
from lowside.store.verdicts import STORED
from lowside.web.field.desk import Desk
from lowside.web.phone.needed import DAY_MS, NeededByPhones, near
from lowside.web.phone.proofs import LONGEST_PROOF, is_proven, proofs_of

SYNC = "/api/sync"
MOST_AT_ONCE = 500
"""Entries in one answer, those that were asked for by name aside."""
MOST_BESIDE_ENTRIES = 100
"""The same, in the answer to a question that brings entries, beside those. It is what confirms
them, so it must come through a weak signal in time. Our choice: about as long as the longest
question."""
MOST_WANTED_EVENTS = 5_000
"""A session that was asked for is sent whole. After so many entries no further one is begun."""
LARGEST_BODY = 8_000_000
"""[bytes]: 100 of the largest events the store takes, and some."""
LARGE = 1_000_000
"""Larger questions are read one at a time: what is read may take 20 times the room [bytes]."""
LONGEST_CURSOR = 130
LONGEST_NAME = 64
_UNTIL_THEN = (
    "The entry and what follows it in its session stay on the device until then. Save the ticket "
    "to a file for the office. Start a new session for what is left to do."
)
AHEAD = (
    "This device’s clock is or was more than a day ahead of the server’s. Set the clock. "
    + _UNTIL_THEN
)
ORDER_AHEAD = (
    "An entry of this session has a time more than a day ahead of the server’s clock. "
    + _UNTIL_THEN
)
PRACTICE = (
    "Practice is done on the server’s own pages. No device hands over an entry of a practice "
    "session."
)
PRACTICE_KINDS = "practice."
OFFICE = "The office’s entries are written on the server’s own pages. No device hands one over."
OFFICE_KINDS = "office."
"""Comments, sign-offs and service records say who wrote them by who was signed in."""


_one_at_a_time = Lock()


def _sid(text: str) -> str:
    if not is_ulid(text):
        raise ValueError("not a ULID")
    return text


class Question(BaseModel):
    """A well-formed request. Its entries are checked one by one: a bad one blocks no other."""

    model_config = ConfigDict(strict=True, frozen=True)

    v: Literal[1]
    dev: Annotated[str, Field(min_length=1, max_length=LONGEST_NAME)]
    cursor: Annotated[str, Field(max_length=LONGEST_CURSOR)]
    events: Annotated[list[object], Field(max_length=MOST_EVENTS)]
    want: Annotated[list[Annotated[str, AfterValidator(_sid)]], Field(max_length=MOST_WANTED)] = []
    proofs: Annotated[
        list[Annotated[str, Field(max_length=LONGEST_PROOF)]], Field(max_length=MOST_EVENTS)
    ] = []


WRONG: dict[str, str] = {
    "v": f"This server speaks version {VERSION} of sync only. Update the phone.",
    "dev": "The device does not say its name.",
    "cursor": "The cursor is not one this server gave.",
    "events": f"A list of at most {MOST_EVENTS} entries is needed.",
    "proofs": "A proof is not one this server gave.",
    "want": f"At most {MOST_WANTED} sessions can be asked for at once.",
}
"""What a sender is told when this field is not as it must be."""


class BadQuestionError(Exception):
    """The request cannot be answered; the message is the sentence for its sender."""

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


async def body_of(request: Request) -> bytes | None:
    """The body, or `None` as soon as it is longer than `LARGEST_BODY`."""
    parts = []
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > LARGEST_BODY:
            return None
        parts.append(part)
    return b"".join(parts)


def question_from(body: bytes | None) -> Question:
    """Check a request's body.

    Raises
        BadQuestionError: it is too large, not JSON, or not of the shape above.
    """
    if body is None:
        raise BadQuestionError(413, f"At most {LARGEST_BODY} bytes can be sent at once.")
    try:
        with _one_at_a_time if len(body) > LARGE else nullcontext():
            # Whole numbers past 64 bits are in no sound entry.
            asked = decoded(body)
    except (ValueError, RecursionError):
        raise BadQuestionError(400, "This is not JSON.") from None
    try:
        return Question.model_validate(asked)
    except ValidationError as error:
        where = error.errors(include_url=False, include_input=False)[0]["loc"]
        raise BadQuestionError(400, WRONG[str(where[0]) if where else "v"]) from None


@dataclass(frozen=True)
class Asked:
    """A question, and who asks it."""

    question: Question
    person: str
    """Whose phone it is."""
    refused: Callable[[set[str]], Mapping[str, str]]
    """Of these writers' names, those it may not send under, each with the reason."""
    key: bytes
    """Proves entries."""


def answers(desk: Desk, needed: NeededByPhones, asked: Sequence[Asked]) -> "Iterator[Answer]":
    """Store what can be stored of all these, then tell each what arrived since its cursor. An
    answer may hold many entries, so none is made before it is taken.

    Args:
        needed: finds what a new phone is sent.

    Raises
        StoreError, PeopleError: nothing of it is acknowledged; sending it again later is right.
    """
    store = desk.store
    now_ms = desk.clock.now().at
    last = store.last_hlc()
    order_ms = max(now_ms, int(last[:15]) if last else 0)
    judged = [_judged(one, now_ms, order_ms) for one in asked]
    _refuse_lessons(store, judged)
    taken = list(chain.from_iterable(judged))
    # Followers go by the rows of practice, and of logs that are no sessions. The first are written
    # here alone, the others by the office alone.
    rows_later = not any(
        isinstance(event, Event) and event.kind.startswith(OFFICE_KINDS) for event in taken
    )
    receipts = iter(store.append(taken, rows_later))
    for one, events in zip(asked, judged, strict=True):
        yield _told(store, needed, one, events, list(islice(receipts, len(events))), now_ms)


def _judged(asked: Asked, now_ms: int, order_ms: int) -> list[Event | BadEvent]:
    """What was sent: the entries that are taken, and why the others are not. The store is not
    asked: whoever asks it waits for what is being saved.

    Args:
        now_ms: the server's wall clock.
        order_ms: the same, or the latest clock value of any entry here when that is later.
            Whoever writes to its session counts on from it, so it is no sign that a device's own
            clock is wrong.
    """
    found = events_from_json(asked.question.events)
    proven = _proven(found, asked)
    if not _are_usual(found, now_ms + DAY_MS, order_ms + DAY_MS):
        for place, event in enumerate(found):
            if isinstance(event, Event):
                reason = _why_not_now(event, now_ms + DAY_MS, order_ms + DAY_MS)
                if reason == PRACTICE or (reason != "" and place not in proven):
                    found[place] = BadEvent(reason)
    own = {
        event.dev
        for place, event in enumerate(found)
        if isinstance(event, Event) and place not in proven
    }
    names = asked.refused(own) if own else {}
    if names:
        for place, event in enumerate(found):
            if isinstance(event, Event) and event.dev in names and place not in proven:
                found[place] = BadEvent(names[event.dev])
    return found


def _refuse_lessons(store: EventStore, judged: Sequence[list[Event | BadEvent]]) -> None:
    """Take no entry of a practice session, whatever the entry itself says."""
    sids = {event.sid for found in judged for event in found if isinstance(event, Event)}
    lessons = store.practice_among(sids)
    if not lessons:
        return
    for found in judged:
        for place, event in enumerate(found):
            if isinstance(event, Event) and event.sid in lessons:
                found[place] = BadEvent(PRACTICE)


def _proven(events: Sequence[Event | BadEvent], asked: Asked) -> set[int]:
    """Places of entries that this server gave out before. They were judged then, the writer too."""
    return {
        place
        for place, (event, proof) in enumerate(zip(events, asked.question.proofs, strict=False))
        if isinstance(event, Event) and is_proven(event, proof, asked.key)
    }


def _are_usual(found: Sequence[Event | BadEvent], last_at: int, last_order: int) -> bool:
    """Whether `_why_not_now` has nothing against any of these; found for all at once."""
    events = [event for event in found if isinstance(event, Event)]
    return (
        len(events) == len(found) > 0
        and max([event.at for event in events]) <= last_at
        # Clock values begin with 15 digits, so the latest is the largest text.
        and int(max([event.hlc for event in events])[:15]) <= last_order
        and not any(
            kind.startswith((PRACTICE_KINDS, OFFICE_KINDS))
            for kind in {event.kind for event in events}
        )
        and all(event.run != event.sid for event in events)
        and "yes" not in [event.data.get("practice") for event in events]
    )


def _why_not_now(event: Event, last_at: int, last_order: int) -> str:
    """Why an entry is not taken; "" when it is. What this server gave out before is refused for
    practice alone."""
    kind = event.kind
    if (
        kind.startswith(PRACTICE_KINDS)
        or event.run == event.sid
        or event.data.get("practice", "") == "yes"
    ):
        return PRACTICE
    if kind.startswith(OFFICE_KINDS):
        return OFFICE
    if event.at > last_at:
        return AHEAD
    if int(event.hlc[:15]) > last_order:
        # One such event would pull every later clock value of every device ahead with it.
        return ORDER_AHEAD
    return ""


def _told(
    store: EventStore,
    needed: NeededByPhones,
    asked: Asked,
    events: Sequence[Event | BadEvent],
    verdicts: Sequence[Receipt],
    now_ms: int,
) -> "Answer":
    """The answer to someone whose entries got these receipts."""
    question = asked.question
    batch = store.follow(
        question.cursor,
        # Its own, just stored, are among what arrived and are left out below.
        MOST_BESIDE_ENTRIES + len(events) if events else MOST_AT_ONCE,
        lambda lately_ms: needed.sessions(store, now_ms, asked.person, lately_ms),
    )
    sound = [event for event in events if isinstance(event, Event)]
    whole = _whole(store, [*question.want, *near(store, sound)])
    stored = [
        event
        for event, verdict in zip(events, verdicts, strict=True)
        if verdict.outcome is Outcome.STORED and isinstance(event, Event)
    ]
    return Answer(verdicts, [*whole, *_without(batch.events, stored)], batch)


def _without(events: Sequence[Event], others: Sequence[Event]) -> Sequence[Event]:
    sids = {other.sid for other in others}
    if sids.isdisjoint([event.sid for event in events]):
        return events
    keys = {(other.sid, other.dev, other.seq) for other in others}
    return [e for e in events if e.sid not in sids or (e.sid, e.dev, e.seq) not in keys]


@dataclass(frozen=True)
class Answer:
    """What a phone is told."""

    verdicts: Sequence[Receipt]
    events: Sequence[Event]
    batch: Batch

    def written(self, key: bytes) -> bytes:
        """As JSON. An entry's bytes are those the store keeps, so none is written a second time."""
        verdicts = b",".join([_STORED if one is STORED else _verdict(one) for one in self.verdicts])
        told = {
            "v": VERSION,
            "proofs": proofs_of(self.events, key),
            "cursor": self.batch.cursor,
            "more": self.batch.more,
            "restarted": self.batch.restarted,
        }
        events = b",".join(canonical_events(self.events))
        rest = orjson.dumps(told)[1:]
        return b"".join((b'{"events":[', events, b'],"verdicts":[', verdicts, b"],", rest))


def _verdict(receipt: Receipt) -> bytes:
    return orjson.dumps({"outcome": receipt.outcome, "reason": receipt.reason})


_STORED = _verdict(STORED)
"""Of nearly every entry."""


def _whole(store: EventStore, sids: Sequence[str]) -> list[Event]:
    """All entries of these sessions, each once, until there are many; the first in any case."""
    found: list[Event] = []
    for sid in dict.fromkeys(sids):
        if len(found) >= MOST_WANTED_EVENTS:
            break
        found += store.events(sid)
    return found
