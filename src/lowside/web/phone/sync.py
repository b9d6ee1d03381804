"""`POST /api/sync`: a phone hands over its events and takes what others wrote.

Asked:    `{"v": 1, "dev": name, "cursor": text, "events": [up to 100], "want": [up to 20 sids],
          "proofs": [one for each of the events, or ""]}`
Answered: `{"v": 1, "verdicts": [{"outcome", "reason"}, …], "events": […], "cursor": text,
          "more": bool, "restarted": bool, "proofs": [one for each of the events]}`

Verdicts come in the order of the events asked about. An event that was stored just now is not sent
back to who sent it. A phone may forget an event's copy after any
outcome but `refused`. `want` names sessions to send whole, beside what arrived since the cursor;
a phone uses it for one it was never sent. `restarted` says that the server cannot prove it still
has all that this phone was told is stored, as after a restore: the phone hands over again all that
it holds. What others wrote goes with the `proofs` it came with, by which the server knows it again.
A refused question is `{"error": sentence}`.
"""

import asyncio
import json
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from itertools import zip_longest
from threading import Lock
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from lowside.core.session.events import Event
from lowside.store import EventStore, Outcome, Receipt, StoreError
from lowside.store.codec import BadEvent, canonical_event, event_from_json
from lowside.store.following import Batch
from lowside.store.ulid import is_ulid
from lowside.web.access.guard import visitor_of
from lowside.web.access.people import PeopleError
from lowside.web.access.sign_in import pairing_of
from lowside.web.access.writers import names_refused
from lowside.web.field.desk import Desk
from lowside.web.phone.needed import DAY_MS, near, needed_sessions
from lowside.web.phone.proofs import LONGEST_PROOF, is_proven, proof_of

SYNC = "/api/sync"
THREADS = 16
"""Requests answered at one time; those that save at one time share a save. Our choice."""
VERSION = 1
MOST_EVENTS = 100
"""Events in one question."""
MOST_AT_ONCE = 500
"""Entries in one answer, those that were asked for by name aside."""
MOST_WANTED = 20
"""Sessions in one question."""
MOST_WANTED_EVENTS = 5_000
"""A session that was asked for is sent whole. After so many entries no further one is begun."""
LARGEST_BODY = 8_000_000
"""[bytes]: 100 of the largest events the store takes, and some."""
LARGE = 1_000_000
"""Larger questions are read one at a time: what is read may take 20 times the room [bytes]."""
LONGEST_CURSOR = 130
LONGEST_NAME = 64
AHEAD = (
    "This device’s clock is more than a day ahead of the server’s. Set the clock. The entry "
    "stays on the device until then."
)
ORDER_AHEAD = (
    "The entry’s place in the order of entries is more than a day ahead of the server’s clock. It "
    "stays on the device until then."
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


class Straight:
    """The application with a shorter way to sync: phones ask this far more often than all else."""

    def __init__(self, app: ASGIApp, threads: ThreadPoolExecutor) -> None:
        self._app = app
        self._threads = threads

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"] != SYNC or scope["method"] != "POST":
            await self._app(scope, receive, send)
            return
        request = Request(scope, receive)
        body = await body_of(request)
        loop = asyncio.get_running_loop()
        response = await loop.run_in_executor(self._threads, _answered, request, body)
        await response(scope, receive, send)


def _answered(request: Request, body: bytes | None) -> Response:
    desk: Desk = request.app.state.desk
    try:
        question = question_from(body)
        visitor = visitor_of(request)

        def refused(names: set[str]) -> dict[str, str]:
            return names_refused(pairing_of(request), visitor, names, desk.device)

        key = pairing_of(request).key_for_proofs()
        found = answer(desk, question, visitor.name, refused, key)
        request.app.state.measures.entries(each.outcome for each in found.verdicts)
        return Response(found.written(key), media_type="application/json")
    except BadQuestionError as error:
        return JSONResponse({"error": str(error)}, error.status)
    except (StoreError, PeopleError) as error:
        return JSONResponse({"error": str(error)}, 503)


def question_from(body: bytes | None) -> Question:
    """Check a request's body.

    Raises
        BadQuestionError: it is too large, not JSON, or not of the shape above.
    """
    if body is None:
        raise BadQuestionError(413, f"At most {LARGEST_BODY} bytes can be sent at once.")
    try:
        with _one_at_a_time if len(body) > LARGE else nullcontext():
            asked = json.loads(body)
    except (ValueError, RecursionError):
        raise BadQuestionError(400, "This is not JSON.") from None
    try:
        return Question.model_validate(asked)
    except ValidationError as error:
        where = error.errors(include_url=False, include_input=False)[0]["loc"]
        raise BadQuestionError(400, WRONG[str(where[0]) if where else "v"]) from None


def answer(
    desk: Desk,
    question: Question,
    person: str,
    refused: Callable[[set[str]], Mapping[str, str]],
    key: bytes,
) -> "Answer":
    """Store what can be stored, then tell what arrived since the cursor.

    Args:
        person: whose phone it is.
        refused: of these writers' names, those it may not send under, each with the reason.
        key: proves entries.

    Raises
        StoreError: nothing of it is acknowledged; sending it again later is right.
    """
    store = desk.store
    now_ms = desk.clock.now().at
    last = store.last_hlc()
    order_ms = max(now_ms, int(last[:15]) if last else 0)
    entries = [
        _checked(each, proof, key, now_ms, order_ms)
        for each, proof in zip_longest(question.events, question.proofs, fillvalue="")
    ][: len(question.events)]
    events = [each.event for each in entries if isinstance(each.event, Event)]
    lessons = {sid for sid in {each.sid for each in events} if store.is_practice(sid)}
    own = {e.event.dev for e in entries if isinstance(e.event, Event) and not e.is_proven}
    names = refused(own) if own else {}

    def judged(each: Entry) -> Event | BadEvent:
        event = each.event
        if isinstance(event, Event) and event.sid in lessons:
            return BadEvent(PRACTICE)
        if isinstance(event, Event) and event.dev in names and not each.is_proven:
            return BadEvent(names[event.dev])
        return event

    # Followers go by the rows of practice, and of logs that are no sessions. The first are written
    # here alone, the others by the office alone.
    rows_later = not any(event.kind.startswith(OFFICE_KINDS) for event in events)
    verdicts = store.append(list(map(judged, entries)), rows_later)
    batch = store.follow(
        question.cursor, MOST_AT_ONCE, lambda: needed_sessions(store, now_ms, person)
    )
    own_now = {
        (each.event.sid, each.event.dev, each.event.seq)
        for each, verdict in zip(entries, verdicts, strict=True)
        if isinstance(each.event, Event) and verdict.outcome is Outcome.STORED
    }
    fresh = (e for e in batch.events if (e.sid, e.dev, e.seq) not in own_now)
    sent = (*_whole(store, [*question.want, *near(store, events)]), *fresh)
    return Answer(verdicts, sent, batch)


@dataclass(frozen=True)
class Answer:
    """What a phone is told."""

    verdicts: Sequence[Receipt]
    events: Sequence[Event]
    batch: Batch

    def written(self, key: bytes) -> bytes:
        """As JSON. An entry's bytes are those the store keeps, so none is written a second time."""
        verdicts = [{"outcome": one.outcome.value, "reason": one.reason} for one in self.verdicts]
        told = {
            "v": VERSION,
            "verdicts": verdicts,
            "proofs": [proof_of(event, key) for event in self.events],
            "cursor": self.batch.cursor,
            "more": self.batch.more,
            "restarted": self.batch.restarted,
        }
        events = b",".join(map(canonical_event, self.events))
        return b'{"events":[' + events + b"]," + json.dumps(told).encode()[1:]


def _whole(store: EventStore, sids: Sequence[str]) -> list[Event]:
    """All entries of these sessions, each once, until there are many; the first in any case."""
    found: list[Event] = []
    for sid in dict.fromkeys(sids):
        if len(found) >= MOST_WANTED_EVENTS:
            break
        found += store.events(sid)
    return found


@dataclass(frozen=True)
class Entry:
    """What a phone sent as one entry."""

    event: Event | BadEvent
    """The entry, or why it is not taken."""
    is_proven: bool = False
    """This server gave it out before. So it was judged then, and its writer too."""


def _checked(obj: object, proof: str, key: bytes, now_ms: int, order_ms: int) -> Entry:
    """What was sent, checked.

    Args:
        proof, key: see `lowside.web.phone.proofs`.
        now_ms: the server's wall clock.
        order_ms: the same, or the latest clock value of any entry here when that is later.
            Every device counts on from it, so it is no sign that a device's own clock is wrong.
    """
    event = event_from_json(obj)
    if isinstance(event, BadEvent):
        return Entry(event)
    if event.kind.startswith(PRACTICE_KINDS) or event.run == event.sid or _is_lesson(event):
        return Entry(BadEvent(PRACTICE))
    if is_proven(event, proof, key):
        return Entry(event, is_proven=True)
    if event.kind.startswith(OFFICE_KINDS):
        return Entry(BadEvent(OFFICE))
    if event.at > now_ms + DAY_MS:
        return Entry(BadEvent(AHEAD))
    if int(event.hlc[:15]) > order_ms + DAY_MS:
        # One such event would pull every later clock value of every device ahead with it.
        return Entry(BadEvent(ORDER_AHEAD))
    return Entry(event)


def _is_lesson(event: Event) -> bool:
    return event.data.get("practice", "") == "yes"
