"""A photo has nothing in its file but the picture, whatever was sent."""

import io

import pytest
from photo_cases import GPS_IFD, as_file, from_a_camera, picture
from PIL import Image

from lowside.core.handbook.photo_form import MOST_BYTES
from lowside.web.photos.picture import made_small, size_of_photo

PLAIN = as_file(picture())
SCRIPT = b"<script>alert(1)</script>"


def test_a_plain_photo_says_its_size() -> None:
    assert size_of_photo(PLAIN) == (64, 48)
    assert size_of_photo(as_file(picture(31, 57), progressive=True)) == (31, 57)
    assert size_of_photo(as_file(picture(90, 90, noise=True), quality=100)) == (90, 90)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff\xd8",
        b"\xff\xd8\xff\xd9",
        b"\xff\xd8\xff\xda\xff\xff",
        PLAIN[:-2],
        PLAIN[: len(PLAIN) // 2],
        PLAIN + SCRIPT,
        PLAIN + b"PK\x03\x04",
        SCRIPT + PLAIN,
        PLAIN + PLAIN,
        as_file(picture(), comment=SCRIPT),
        as_file(picture(), "PNG"),
        as_file(picture(), "GIF"),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        from_a_camera(),
        as_file(picture(), icc_profile=b"x" * 200),
    ],
)
def test_what_has_more_or_less_in_it_is_no_photo(content: bytes) -> None:
    assert size_of_photo(content) is None


def test_no_cut_and_no_flipped_byte_breaks_the_check() -> None:
    for at in range(0, len(PLAIN), 3):
        size_of_photo(PLAIN[:at])
        flipped = PLAIN[:at] + bytes([PLAIN[at] ^ 0xFF]) + PLAIN[at + 1 :]
        size_of_photo(flipped)


def test_a_camera_s_picture_is_upright_small_and_silent() -> None:
    made = made_small(from_a_camera(turned=6))
    assert made is not None
    # Held on its side: 2000 × 1000 turned a quarter is upright.
    assert (made.width, made.height) == (800, 1600)
    assert size_of_photo(made.content) == (800, 1600)
    assert len(made.content) <= MOST_BYTES
    with Image.open(io.BytesIO(made.content)) as opened:
        assert dict(opened.getexif().get_ifd(GPS_IFD)) == {}
        right, left = opened.getpixel((700, 800)), opened.getpixel((100, 800))
    assert isinstance(right, tuple)
    assert isinstance(left, tuple)
    assert right[0] > 200
    assert left[2] > 200
    for secret in (b"CAMERA MAKER", b"script", b"Exif"):
        assert secret not in made.content


def test_a_png_becomes_a_photo_and_noise_becomes_small_enough() -> None:
    made = made_small(as_file(picture(300, 200), "PNG"))
    assert made is not None
    assert (made.width, made.height) == (300, 200)
    noisy = made_small(as_file(picture(1700, 1300, noise=True), quality=95))
    assert noisy is not None
    assert len(noisy.content) <= MOST_BYTES
    assert size_of_photo(noisy.content) == (noisy.width, noisy.height)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not a picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        as_file(picture(), "GIF"),
        as_file(picture(), "TIFF"),
        PLAIN[: len(PLAIN) // 2],
        as_file(Image.new("1", (5000, 4000)), "PNG"),
    ],
)
def test_what_is_no_picture_to_us_is_none(content: bytes) -> None:
    """The last one is small as a file and huge as a picture."""
    assert made_small(content) is None
