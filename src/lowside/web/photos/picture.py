"""What is a photo here, byte by byte, and how a picture from anywhere is made one.

A photo is a JPEG with nothing in the file but the picture: no camera data, no place, no comment,
nothing behind its end. So it cannot be another kind of file as well, and it tells nobody where it
was taken.
"""

import hashlib
import io
from dataclasses import dataclass

from lowside.core.handbook.photo_form import LONGEST_SIDE, MOST_BYTES
from lowside.core.session.photos import sizes_to_try

MOST_PIXELS = {"JPEG": 64_000_000, "PNG": 16_000_000}
"""Our choice. A JPEG is read at a fraction of its size; a PNG is read whole, 4 bytes a pixel."""

_START, _END = b"\xff\xd8", b"\xff\xd9"
_SOF = (0xC0, 0xC1, 0xC2)
_SCAN, _JFIF = 0xDA, 0xE0
_NEEDED = (0xC4, 0xDB, 0xDD, _JFIF, _SCAN, *_SOF)
"""Segments that draw the picture: tables, restart interval, density, scan, frame."""
_JFIF_LENGTH = 14
"""Without a thumbnail, which could show what the picture does not [bytes]."""


@dataclass(frozen=True)
class Picture:
    """A photo ready to be kept."""

    content: bytes
    width: int
    """[pixels]"""
    height: int
    """[pixels]"""

    @property
    def name(self) -> str:
        return hashlib.sha256(self.content).hexdigest()


def size_of_photo(content: bytes) -> tuple[int, int] | None:
    """Width and height [pixels], `None` when this is not a JPEG with nothing but the picture."""
    if content[:2] != _START:
        return None
    size: tuple[int, int] | None = None
    at = 2
    while content[at : at + 2] != _END:
        marker, length = _segment_at(content, at)
        body = content[at + 4 : at + 2 + length]
        if marker not in _NEEDED or len(body) != length - 2:
            return None
        if marker == _JFIF and (len(body) != _JFIF_LENGTH or body[:5] != b"JFIF\0"):
            return None
        if marker in _SOF:
            if size is not None or len(body) < 6:
                return None
            size = int.from_bytes(body[3:5], "big"), int.from_bytes(body[1:3], "big")
        at += 2 + length
        if marker == _SCAN:
            at = _after_scan(content, at)
    return size if at + 2 == len(content) else None


def _segment_at(content: bytes, at: int) -> tuple[int, int]:
    """A segment's marker and its length with the two bytes that say it; (0, 0) where none is."""
    head = content[at : at + 4]
    if len(head) < 4 or head[0] != 0xFF:
        return 0, 0
    return head[1], int.from_bytes(head[2:], "big")


def _after_scan(content: bytes, at: int) -> int:
    """Where the next segment begins: within a scan 0xFF is followed by 0 or is a restart."""
    while True:
        at = content.find(b"\xff", at)
        if at < 0:
            return len(content)
        following = content[at + 1 : at + 2]
        if following != b"\0" and not b"\xd0" <= following <= b"\xd7":
            return at
        at += 2


def made_small(content: bytes) -> Picture | None:
    """A JPEG or PNG made a photo; `None` when it is no picture that can be read safely.

    A phone does the same itself. This is for a browser that runs no script of ours.
    """
    from PIL import Image, ImageOps  # noqa: PLC0415 - so that a start does not wait for it

    try:
        with Image.open(io.BytesIO(content), formats=tuple(MOST_PIXELS)) as opened:
            if opened.width * opened.height > MOST_PIXELS[str(opened.format)]:
                return None
            opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            upright = ImageOps.exif_transpose(opened).convert("RGB")
        for width, height, quality in sizes_to_try(upright.width, upright.height):
            # Pasted into a new one: a resized picture carries the file's comments on.
            bare = Image.new("RGB", (width, height))
            bare.paste(upright.resize((width, height), reducing_gap=2.0))
            written = io.BytesIO()
            bare.save(written, "JPEG", quality=quality, optimize=True)
            if len(written.getvalue()) <= MOST_BYTES:
                return Picture(written.getvalue(), width, height)
    except Exception:  # noqa: BLE001  however a decoder fails, the file is then no picture to us
        return None
    return None
