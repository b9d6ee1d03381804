"""What the office's pages print of photos: the picture, or that it is still on a phone."""

from typing import Any

from lowside.core.handbook.photo_form import PHOTO_KINDS
from lowside.core.pages import addresses
from lowside.core.pages.wording import day_and_time
from lowside.core.session.photos import Photo
from lowside.web.field.desk import Desk
from lowside.web.office.links import session_href

SHOWN = 24
"""On one page. Our choice: 7 MB at most."""


def photos_context(desk: Desk, found: list[tuple[str, Photo]]) -> dict[str, Any]:
    """These photos, each with its session, the newest first; those beyond `SHOWN` are counted."""
    found.sort(key=lambda each: (each[1].moment.at, each[1].name), reverse=True)
    shown = [_shown(desk, sid, photo) for sid, photo in found[:SHOWN]]
    more = len(found) - len(shown)
    note = f"The newest {SHOWN} of {len(found)}. The others are on their sessions’ pages."
    return {"shown": shown, "note": note if more > 0 else ""}


def _shown(desk: Desk, sid: str, photo: Photo) -> dict[str, Any]:
    words = dict(PHOTO_KINDS).get(photo.shows, photo.shows)
    when = day_and_time(photo.moment)
    return {
        "href": addresses.photo(sid, photo.name),
        "here": desk.store.photos.has(sid, photo.name),
        "alt": f"{words}, {when}",
        "words": words,
        "when": when,
        "size": f"{photo.width} × {photo.height}, {(photo.size + 999) // 1000} KB",
        "session": session_href(sid),
    }
