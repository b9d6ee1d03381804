"""A proxy's short trouble holds photos up until the next sync, and no longer.

All of it is our choice, no source. RFC 9110 15.5.14 says what 413 is: this content is too large.
"""

from collections.abc import Iterator

import pytest
from phone_core import Node, answering, running_node


@pytest.fixture
def node() -> Iterator[Node]:
    with running_node() as node:
        node.load("photos", answering("photos"))
        yield node


@pytest.mark.parametrize("status", [200, 401, 403, 429, 502, 503, 504])
def test_a_page_of_a_proxy_ends_the_round_and_the_next_one_sends_all(
    node: Node, status: int
) -> None:
    answers = {"a": (status, "<html>Wait</html>")}
    got = node.ask("photos", {"waiting": ["a", "b", "c"], "answers": answers})
    assert got == {"tried": ["a"], "left": ["a", "b", "c"], "why": ""}
    got = node.ask("photos", {"waiting": ["a", "b", "c"], "answers": {}})
    assert got == {"tried": ["a", "b", "c"], "left": [], "why": ""}


@pytest.mark.parametrize(
    ("status", "text", "why"),
    [
        (413, "<html>Too large</html>", "The server answered 413."),
        (500, "Internal Server Error", "The server answered 500."),
        (422, '{"error": "This is not the photo."}', "This is not the photo."),
        (503, '{"error": "No room."}', "No room."),
    ],
)
def test_what_is_said_of_one_photo_holds_up_no_other(
    node: Node, status: int, text: str, why: str
) -> None:
    answers = {"a": (status, text)}
    got = node.ask("photos", {"waiting": ["a", "b"], "answers": answers})
    assert got == {"tried": ["a", "b"], "left": ["a"], "why": why}
    got = node.ask("photos", {"waiting": ["a"], "answers": {}})
    assert got == {"tried": [], "left": ["a"], "why": why}, "not again for ten minutes"
