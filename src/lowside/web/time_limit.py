"""A request is answered within a time, whatever becomes of the work behind it."""

import asyncio

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LONGEST_REQUEST_S = 60.0
"""Our choice. A phone gives up after 30 s."""

TOO_LONG = "This took too long, so it was given up. If it was an entry, send it again."


class TimeLimit:
    """The application with a time limit for each request.

    A thread cannot be stopped from outside. So its work goes on, and what it says is dropped.
    """

    def __init__(self, app: ASGIApp, seconds: float = LONGEST_REQUEST_S) -> None:
        self._app = app
        self._seconds = seconds
        self._given_up: set[asyncio.Task[None]] = set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        answer = _Answer(send)
        work = asyncio.ensure_future(self._work(scope, receive, answer))
        try:
            done, _ = await asyncio.wait({work}, timeout=self._seconds)
        except asyncio.CancelledError:
            work.cancel()
            raise
        if done:
            work.result()
            return
        self._given_up.add(work)
        work.add_done_callback(self._forget)
        answer.is_given_up = True
        if not answer.has_begun:
            await PlainTextResponse(TOO_LONG, 503)(scope, receive, send)

    async def _work(self, scope: Scope, receive: Receive, answer: "_Answer") -> None:
        await self._app(scope, receive, answer.send)

    def _forget(self, work: "asyncio.Task[None]") -> None:
        self._given_up.discard(work)
        if not work.cancelled():
            work.exception()  # the asker is gone; nobody else may hear of it


class _Answer:
    """What the application says, until it is given up."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self.has_begun = False
        self.is_given_up = False

    async def send(self, message: Message) -> None:
        if not self.is_given_up:
            self.has_begun = True
            await self._send(message)
