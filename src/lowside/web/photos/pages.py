"""Photos by address: a phone sends one, a page shows one, a form without a script attaches one.

Which photos there are is said by the sessions' entries alone. A phone sends `POST
/api/photo/SID/NAME` with the bytes as `image/jpeg`, after the entry that names it, and is answered
`{"stored": NAME}` once it is on the disk, or `{"error": sentence}`. Sending it again is the same.
"""

import asyncio
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.responses import JSONResponse, Response

from lowside.core.session.entry import Accepted, accept
from lowside.core.session.photos import Photo, named_photos, photo_texts, photos_of
from lowside.store import StoreError
from lowside.store.photos import BadPhotoError
from lowside.store.ulid import is_ulid
from lowside.web.field.desk import Desk, NotStoredError
from lowside.web.field.pages import MAX_FIELD_BYTES, TheDesk, not_found, record
from lowside.web.photos.picture import Picture, made_small, size_of_photo

MAX_FIELDS = 20
KEPT_FOR_S = 86_400
"""A browser need not ask again for so long: a photo under a name never changes."""
NOT_NAMED = "No entry of this session names this photo. The entry goes first."
NOT_A_PHOTO = "This is not the photo that its entry names: a JPEG of that size, nothing else in it."
NOT_JPEG = "A photo is sent as image/jpeg."

router = APIRouter()
_one_at_a_time = ThreadPoolExecutor(1, "picture")
"""A picture that is being made smaller takes memory. A thread of its own, so that no page waits."""


@dataclass(frozen=True)
class Sent:
    """A posted form with a picture."""

    typed: Mapping[str, str]
    content: bytes


async def sent_form(request: Request) -> Sent:
    """Every text field and the picture. What an entry says of the picture is worked out here."""
    async with request.form(
        max_files=1, max_fields=MAX_FIELDS, max_part_size=MAX_FIELD_BYTES
    ) as form:
        typed = {name: text for name, text in form.items() if isinstance(text, str)}
        files = [each for each in form.values() if isinstance(each, UploadFile)]
        content = await files[0].read() if files else b""
    own = {name: text for name, text in typed.items() if name in ("eid", "step", "back")}
    return Sent(own | {"photo_kind": typed.get("photo_kind", "")}, content)


@router.post("/api/photo/{sid}/{name}")
async def take_photo(request: Request, desk: TheDesk, sid: str, name: str) -> Response:
    if request.headers.get("content-type", "") != "image/jpeg":
        return _refused(415, NOT_JPEG)
    content = await request.body()
    return await asyncio.to_thread(_take, desk, sid, name, content)


def _take(desk: Desk, sid: str, name: str, content: bytes) -> Response:
    photo = _named(desk, sid, name)
    if photo is None:
        return _refused(404, NOT_NAMED)
    same = len(content) == photo.size and size_of_photo(content) == (photo.width, photo.height)
    if not same:
        return _refused(422, NOT_A_PHOTO)
    try:
        desk.store.photos.keep(sid, name, content)
    except BadPhotoError as error:
        return _refused(422, str(error))
    except StoreError as error:
        return _refused(503, f"The server could not save the photo just now. {error}")
    return JSONResponse({"stored": name})


@router.get("/photo/{sid}/{name}.jpg")
def show_photo(desk: TheDesk, sid: str, name: str) -> Response:
    state = desk.state(sid)
    if state is None or name not in [photo.name for photo in photos_of(state)]:
        return not_found("There is no such photo.")
    content = desk.store.photos.read(sid, name)
    if content is None:
        return not_found("This photo is not here yet. It is still on the phone that took it.")
    headers = {
        "Cache-Control": f"private, max-age={KEPT_FOR_S}",
        "Content-Disposition": f'inline; filename="{name[:12]}.jpg"',
    }
    return Response(content, media_type="image/jpeg", headers=headers)


@router.post("/s/{sid}/form/photo")
async def attach_photo(
    request: Request, desk: TheDesk, sid: str, sent: Annotated[Sent, Depends(sent_form)]
) -> Response:
    """A phone with its offline copy never asks this. The picture is kept before its entry."""
    loop = asyncio.get_running_loop()
    picture = await loop.run_in_executor(_one_at_a_time, made_small, sent.content)
    return await run_in_threadpool(_attached, request, desk, sid, sent.typed, picture)


def _attached(
    request: Request, desk: Desk, sid: str, sent: Mapping[str, str], picture: Picture | None
) -> Response:
    typed = dict(sent)
    if picture is not None:
        size = len(picture.content)
        typed |= photo_texts(picture.name, size, picture.width, picture.height)
        _keep_if_taken(desk, sid, typed, picture)
    return record(request, desk, typed)


def _keep_if_taken(desk: Desk, sid: str, typed: Mapping[str, str], picture: Picture) -> None:
    state = desk.state(sid)
    if state is None or not is_ulid(typed.get("eid", "")):
        return
    if not isinstance(accept(state, "photo", typed, desk.handbook), Accepted):
        return
    try:
        desk.store.photos.keep(sid, picture.name, picture.content)
    except StoreError as error:
        raise NotStoredError(
            f"The photo could not be saved. {error} Go on without it, or attach it again later."
        ) from error


def _named(desk: Desk, sid: str, name: str) -> Photo | None:
    state = desk.state(sid)
    return None if state is None or state.practice else named_photos(state).get(name)


def _refused(status: int, sentence: str) -> Response:
    return JSONResponse({"error": sentence}, status)
