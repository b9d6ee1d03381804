"""The straight way of a phone's question: it is answered with those that wait beside it.

A thread takes all questions that wait. What they bring is saved in one go, so many phones cost the
disk little more than one. While one thread waits for the disk, the next reads what comes after.
"""

import asyncio
from collections.abc import Sequence
from contextlib import suppress
from queue import Empty, SimpleQueue
from threading import Lock, Thread

from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import Receive, Scope, Send

from lowside.store import StoreError
from lowside.web.access.guard import visitor_of
from lowside.web.access.people import PeopleError
from lowside.web.access.sign_in import pairing_of
from lowside.web.access.writers import names_refused
from lowside.web.field.desk import Desk
from lowside.web.phone.needed import NeededByPhones
from lowside.web.phone.sync import Asked, BadQuestionError, answers, body_of, question_from
from lowside.web.time_limit import LONGEST_REQUEST_S, TOO_LONG

THREADS = 2
"""One waits for the disk and one reads. More take turns on the same processor. Our choice."""
IDLE_S = 10.0
"""A thread that is not needed for so long ends. Our choice."""
MOST_TOGETHER = 32
"""Questions answered in one go."""
LARGE_TOGETHER = 256_000
"""After so much no further question is taken with those before [bytes]. Our choice: it is about a
hundred entries of each of ten phones."""


class _Waiting:
    """A question, and the place for its answer."""

    def __init__(self, request: Request, body: bytes | None) -> None:
        self.request = request
        self.body = body
        self.loop = asyncio.get_running_loop()
        self.told: asyncio.Future[Response] = self.loop.create_future()

    def tell(self, found: Response | Exception) -> None:
        if self.told.done():  # the time was over, or the phone is gone
            return
        if isinstance(found, Response):
            self.told.set_result(found)
        else:
            self.told.set_exception(found)


class Straight:
    """Answers phones' questions, each within a time."""

    def __init__(self, seconds: float = LONGEST_REQUEST_S) -> None:
        self._seconds = seconds
        self._guard = Lock()
        self._waiting: SimpleQueue[_Waiting] = SimpleQueue()
        self._threads = 0
        self._needed = NeededByPhones()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope, receive)
        waiting = _Waiting(request, await body_of(request))
        with self._guard:
            self._waiting.put(waiting)
            is_enough = self._threads == THREADS
            self._threads += not is_enough
        if not is_enough:
            Thread(target=self._work, name="sync", daemon=True).start()
        response: Response
        try:
            async with asyncio.timeout(self._seconds):
                response = await waiting.told
        except TimeoutError:  # its thread goes on, and what it says is dropped
            response = PlainTextResponse(TOO_LONG, 503)
        await response(scope, receive, send)

    def _work(self) -> None:
        """Answer until nobody has asked for a while."""
        while True:
            try:
                first = self._waiting.get(timeout=IDLE_S)
            except Empty:
                with self._guard:
                    if self._waiting.empty():
                        self._threads -= 1
                        return
                continue
            some = self._with_others(first)
            for one, found in zip(some, _answered(some, self._needed), strict=True):
                with suppress(RuntimeError):  # the server has ended meanwhile
                    one.loop.call_soon_threadsafe(one.tell, found)

    def _with_others(self, first: _Waiting) -> list[_Waiting]:
        """This one and those who wait beside it."""
        some = [first]
        size = len(first.body or b"")
        with suppress(Empty):
            while len(some) < MOST_TOGETHER and size < LARGE_TOGETHER:
                some.append(self._waiting.get_nowait())
                size += len(some[-1].body or b"")
        return some


def _answered(some: Sequence[_Waiting], needed: NeededByPhones) -> list[Response | Exception]:
    """The answers to these questions. When one of them fails, they are answered one by one: the
    others still get their answer, and what is saved already is found to be there."""
    try:
        return [*_answered_together(some, needed)]
    except Exception as error:  # noqa: BLE001  it is raised where the question came in
        if len(some) > 1:
            return [found for one in some for found in _answered([one], needed)]
        if isinstance(error, StoreError | PeopleError):
            return [JSONResponse({"error": str(error)}, 503)]
        return [error]


def _answered_together(some: Sequence[_Waiting], needed: NeededByPhones) -> list[Response]:
    state = some[0].request.app.state
    desk: Desk = state.desk
    key = pairing_of(some[0].request).key_for_proofs()
    found: list[Response | Asked] = [_asked(one, desk, key) for one in some]
    asked = [one for one in found if isinstance(one, Asked)]
    told = answers(desk, needed, asked)
    responses: list[Response] = []
    outcomes: list[str] = []
    for one in found:
        if isinstance(one, Response):
            responses.append(one)
        else:
            answer = next(told)
            outcomes += [each.outcome for each in answer.verdicts]
            responses.append(Response(answer.written(key), media_type="application/json"))
    state.measures.entries(outcomes)  # once, when all were answered
    return responses


def _asked(one: _Waiting, desk: Desk, key: bytes) -> Response | Asked:
    try:
        question = question_from(one.body)
    except BadQuestionError as error:
        return JSONResponse({"error": str(error)}, error.status)
    request = one.request
    visitor = visitor_of(request)
    return Asked(
        question,
        visitor.name,
        lambda names: names_refused(pairing_of(request), visitor, names, desk.device),
        key,
    )
