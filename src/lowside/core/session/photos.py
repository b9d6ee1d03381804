"""Photos of a session: which may be attached, how they are made smaller, what is known of each.

An entry names a photo by the SHA-256 of its bytes. The picture itself comes after the entry, so a
record knows of a photo that is still on the phone.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from lowside.core.handbook.photo_form import LONGEST_SIDE, MOST_BYTES, PHOTO
from lowside.core.session.events import Moment
from lowside.core.session.state import STANDS, Entry, State

PHOTO_KIND = PHOTO.kind
"""Kind of the event that attaches one."""

MOST_PHOTOS = 30
"""Of one session, the voided ones counted. Our choice: 9 MB at most."""

SIDES = (LONGEST_SIDE, 1200, 900, 600)
QUALITIES = (85, 70, 55)
"""What is tried until a photo is small enough [pixels, % of JPEG quality]. Our choice. At the last
of them even noise is."""

ROOM = 4_000_000
"""What must be free on a phone before it keeps a photo [bytes]. Our choice."""

TOO_FULL = "full"
"""What a phone sends for the photo's name when there is less."""

UNSAID = "other"
"""What a photo shows when nobody said it."""

NAME_LENGTH = 64
NUMBER_LENGTH = 7


@dataclass(frozen=True)
class Photo:
    """What an entry says of its photo."""

    moment: Moment
    shows: str
    """`nameplate`, `gauges` or `other`."""
    name: str
    """SHA-256 of its bytes, in hexadecimal."""
    size: int
    """[bytes]"""
    width: int
    """[pixels]"""
    height: int
    """[pixels]"""


def sizes_to_try(width: int, height: int) -> list[tuple[int, int, int]]:
    """Ways to make a picture of this size [pixels] smaller, the best first, none larger.

    Returns
        Width and height [pixels] with the quality [% of JPEG quality].
    """
    longest = max(width, height)
    found: list[tuple[int, int, int]] = []
    for side in SIDES:
        to = min(side, longest)
        for quality in QUALITIES:
            found.append((max(width * to // longest, 1), max(height * to // longest, 1), quality))
    return found


def photo_texts(name: str, size: int, width: int, height: int) -> dict[str, str]:
    """What an entry keeps of a photo; `_photo_of` reads it."""
    return {
        "photo": name,
        "photo_bytes": str(size),
        "photo_width": str(width),
        "photo_height": str(height),
    }


def photo_name(data: Mapping[str, str]) -> str:
    """The name of the photo these texts name, "" when it can be none of ours."""
    name = data.get("photo", "")
    return name if len(name) == NAME_LENGTH and name.strip("0123456789abcdef") == "" else ""


def check_photo(state: State, typed: Mapping[str, str], problems: dict[str, str]) -> str:
    """Why this photo cannot be attached to the session now."""
    taken = [entry.data.get("photo", "") for entry in state.entries if entry.kind == PHOTO_KIND]
    if state.practice or len(taken) >= MOST_PHOTOS:
        return "This session keeps no more photos."
    if typed.get("photo", "") == TOO_FULL:
        problems["photo"] = "This phone is almost full: the photo was not kept. Entries still are."
    elif photo_name(typed) == "":
        problems["photo"] = (
            "No picture could be read, so none is attached. Choose a JPEG or PNG, or go on without."
        )
    elif typed["photo"] in taken:
        problems["photo"] = "This photo was attached before."
    return ""


def named_photos(state: State) -> dict[str, Photo]:
    """Every photo that an entry names, voided or not, by its name: no more than a session keeps."""
    found: dict[str, Photo] = {}
    for entry in _with_photos(state):
        photo = _photo_of(entry)
        if photo is not None and len(found) < MOST_PHOTOS:
            found.setdefault(photo.name, photo)
    return found


def photos_of(state: State) -> list[Photo]:
    """The photos to be seen: those of entries that are not voided, oldest first, each once."""
    seen: dict[str, Photo] = {}
    for entry in _with_photos(state):
        photo = _photo_of(entry) if entry.status == STANDS else None
        if photo is not None:
            seen.setdefault(photo.name, photo)
    return [seen[name] for name in named_photos(state) if name in seen]


def _with_photos(state: State) -> list[Entry]:
    return [entry for entry in state.entries if entry.kind == PHOTO_KIND]


def _photo_of(entry: Entry) -> Photo | None:
    name = photo_name(entry.data)
    size = _whole(entry.data.get("photo_bytes", ""), MOST_BYTES)
    width = _whole(entry.data.get("photo_width", ""), LONGEST_SIDE)
    height = _whole(entry.data.get("photo_height", ""), LONGEST_SIDE)
    if name == "" or 0 in (size, width, height):
        return None
    shows = entry.data.get("photo_kind", UNSAID)
    return Photo(entry.moment, shows, name, size, width, height)


def _whole(text: str, most: int) -> int:
    """A whole number from 1 to `most`; 0 for any other text."""
    if text == "" or len(text) > NUMBER_LENGTH or text.strip("0123456789") != "":
        return 0
    return int(text) if int(text) <= most else 0
