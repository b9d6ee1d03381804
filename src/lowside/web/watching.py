"""For programs that watch a server: is it there, can it save, what did it do.

All three are for this machine itself and for devices of the office; see `access.guard`.
"""

from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse

from lowside.web.measures import CONTENT_TYPE

router = APIRouter()


@router.get("/health")
def health() -> PlainTextResponse:
    """The process answers. Restart it when it does not."""
    return PlainTextResponse("ok")


@router.get("/ready")
def ready(request: Request) -> PlainTextResponse:
    """The store can save too. Send it no phones while it cannot."""
    sentence = request.app.state.desk.store.why_not_saving()
    return PlainTextResponse(sentence or "ready", 503 if sentence else 200)


@router.get("/metrics")
def metrics(request: Request) -> PlainTextResponse:
    """Counts since the start."""
    can_save = request.app.state.desk.store.why_not_saving() == ""
    text = request.app.state.measures.text(can_save)
    return PlainTextResponse(text, media_type=CONTENT_TYPE)
