"""For programs that watch a server: is it there, can it save, what did it do.

All three are for this machine itself and for devices of the office; see `access.guard`.
"""

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse

from lowside.store import EventStore
from lowside.web.measures import CONTENT_TYPE

router = APIRouter()
MOST_AT_ONCE = 4
"""Questions whether it can save. Our choice."""


@router.get("/health")
async def health() -> PlainTextResponse:
    """The process answers. Restart it when it does not."""
    return PlainTextResponse("ok")


@router.get("/ready")
async def ready(request: Request) -> PlainTextResponse:
    """The store can save too. Send it no phones while it cannot."""
    sentence = await _why_not_ready(request)
    return PlainTextResponse(sentence or "ready", 503 if sentence else 200)


@router.get("/metrics")
async def metrics(request: Request) -> PlainTextResponse:
    """Counts since the start."""
    text = request.app.state.measures.text(await _why_not_ready(request) == "")
    return PlainTextResponse(text, media_type=CONTENT_TYPE)


async def _why_not_ready(request: Request) -> str:
    """Asked in a thread of its own kind: pages that wait for the disk may have all others."""
    store: EventStore = request.app.state.desk.store
    return await to_thread.run_sync(store.why_not_saving, limiter=request.app.state.watchers)
