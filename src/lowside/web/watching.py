"""For programs that watch a server: is it there, can it save, what did it do.

All three are for this machine itself and for devices of the office; see `access.guard`.
"""

from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse

from lowside.store import StoreError
from lowside.web.measures import CONTENT_TYPE

router = APIRouter()


@router.get("/health")
def health() -> PlainTextResponse:
    """The process answers. Restart it when it does not."""
    return PlainTextResponse("ok")


@router.get("/ready")
def ready(request: Request) -> PlainTextResponse:
    """The store answers too. Send it no phones while it does not."""
    sentence = _why_not_ready(request)
    return PlainTextResponse(sentence or "ready", 503 if sentence else 200)


@router.get("/metrics")
def metrics(request: Request) -> PlainTextResponse:
    """Counts since the start."""
    text = request.app.state.measures.text(_why_not_ready(request) == "")
    return PlainTextResponse(text, media_type=CONTENT_TYPE)


def _why_not_ready(request: Request) -> str:
    try:
        request.app.state.desk.store.last_hlc()
    except StoreError as error:
        return str(error)
    return ""
