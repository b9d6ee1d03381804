"""Pictures for tests, made here, and the entries that name them."""

import hashlib
import io
import random
from collections.abc import Mapping

import httpx
from PIL import Image

NORTH, EAST = 41.5, -93.6
PLACE = {1: "N", 2: (NORTH, 0.0, 0.0), 3: "W", 4: (-EAST, 0.0, 0.0)}
GPS_IFD = 0x8825
ORIENTATION = 0x0112


def picture(width: int = 64, height: int = 48, noise: bool = False) -> Image.Image:
    """Red above, blue below, so that a turned one shows; or noise, which nothing makes small."""
    if noise:
        bytes_of = random.Random(width * height).randbytes(width * height * 3)
        return Image.frombytes("RGB", (width, height), bytes_of)
    made = Image.new("RGB", (width, height), "red")
    made.paste("blue", (0, height // 2, width, height))
    return made


def as_file(image: Image.Image, kind: str = "JPEG", **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **more)  # type: ignore[arg-type]
    return out.getvalue()


def from_a_camera(width: int = 2000, height: int = 1000, turned: int = 6) -> bytes:
    """With the place, a comment and the way it was held, as a camera writes them."""
    image = picture(width, height)
    exif = Image.Exif()
    exif[ORIENTATION] = turned
    exif[GPS_IFD] = PLACE
    exif[0x010F] = "A CAMERA MAKER"
    return as_file(image, exif=exif, comment=b"<script>alert(1)</script>")


def photo(number: int = 0) -> bytes:
    """A photo as a phone sends it: nothing in it but the picture."""
    return as_file(picture(64 + number, 48))


def facts_of(content: bytes, **other: str) -> dict[str, str]:
    """What an entry says of a photo."""
    with Image.open(io.BytesIO(content)) as opened:
        width, height = opened.size
    return {
        "photo": hashlib.sha256(content).hexdigest(),
        "photo_kind": "nameplate",
        "photo_bytes": str(len(content)),
        "photo_width": str(width),
        "photo_height": str(height),
        **other,
    }


def multipart(typed: Mapping[str, str], content: bytes, name: str = "x.jpg") -> tuple[bytes, str]:
    """The body of a form with a file, and its content type."""
    files = {"photo": (name, content, "image/jpeg")}
    request = httpx.Request("POST", "http://localhost/", data=dict(typed), files=files)
    return request.read(), request.headers["content-type"]
