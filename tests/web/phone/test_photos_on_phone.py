"""A phone makes a photo small by the core's sizes, and leaves nothing in it but the picture."""

import hashlib
from collections.abc import Iterator

import pytest
from phone_core import Node, answering, running_node
from photo_cases import from_a_camera, photo

from lowside.core.handbook.photo_form import MOST_BYTES
from lowside.core.session.photos import ROOM, TOO_FULL, sizes_to_try
from lowside.web.photos.picture import size_of_photo


@pytest.fixture(scope="module")
def node() -> Iterator[Node]:
    with running_node() as node:
        node.load("photos", answering("photos"))
        yield node


@pytest.mark.parametrize("steps", [0, 1, 4, 11])
def test_it_is_made_smaller_until_it_fits(node: Node, steps: int) -> None:
    sizes = [MOST_BYTES + 1] * steps + [MOST_BYTES]
    got = node.ask("photos", {"picture": [4032, 3024], "sizes": sizes, "room": ROOM})
    wanted = sizes_to_try(4032, 3024)[: steps + 1]
    assert got["tried"] == [f"{w}x{h} image/jpeg {q / 100:g}" for w, h, q in wanted]
    content = b"\xff\xd8\xff\xda" + bytes(MOST_BYTES - 4)
    width, height, _ = wanted[-1]
    assert got["typed"] == {
        "photo": hashlib.sha256(content).hexdigest(),
        "photo_bytes": str(MOST_BYTES),
        "photo_width": str(width),
        "photo_height": str(height),
    }
    assert got["size"] == MOST_BYTES


def test_what_never_fits_or_is_no_picture_is_nothing(node: Node) -> None:
    sizes = [MOST_BYTES + 1] * 12
    got = node.ask("photos", {"picture": [4032, 3024], "sizes": sizes, "room": ROOM})
    assert (len(got["tried"]), got["typed"], got["size"]) == (12, {}, 0)
    got = node.ask("photos", {"picture": None, "sizes": [], "room": ROOM})
    assert (got["tried"], got["typed"], got["size"]) == ([], {}, 0)


def test_an_almost_full_phone_keeps_no_photo(node: Node) -> None:
    got = node.ask("photos", {"picture": [40, 30], "sizes": [], "room": ROOM - 1})
    assert (got["tried"], got["typed"], got["size"]) == ([], {"photo": TOO_FULL}, 0)


def test_camera_data_place_and_comments_are_cut_out(node: Node) -> None:
    bare = bytes.fromhex(node.ask("photos", {"bare": from_a_camera(200, 100).hex()}))
    assert size_of_photo(bare) == (200, 100)
    for secret in (b"CAMERA MAKER", b"Exif", b"script"):
        assert secret not in bare
    again = bytes.fromhex(node.ask("photos", {"bare": bare.hex()}))
    assert again == bare


def test_no_cut_file_keeps_the_phone_busy_for_ever(node: Node) -> None:
    content = photo()
    for at in range(0, 200, 7):
        node.ask("photos", {"bare": content[:at].hex()})
