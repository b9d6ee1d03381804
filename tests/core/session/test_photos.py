"""Which photos a session takes, and which of them are seen."""

import hashlib
from dataclasses import replace

import pytest
from strategies import Book, ulid

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.photos import (
    MOST_PHOTOS,
    TOO_FULL,
    named_photos,
    photos_of,
    sizes_to_try,
)
from lowside.core.session.state import State


def typed(number: int = 0, **other: str) -> dict[str, str]:
    name = hashlib.sha256(str(number).encode()).hexdigest()
    facts = {"photo_bytes": "240123", "photo_width": "1600", "photo_height": "1200"}
    return {"photo": name, "photo_kind": "gauges", **facts, **other}


def session(*photos: dict[str, str], practice: bool = False) -> tuple[list[Event], State]:
    book = Book(sid=ulid(1))
    book.write("session.started", {"procedure": "", **({"practice": "yes"} if practice else {})})
    for data in photos:
        book.write("photo.taken", data)
    return list(book.events), fold(book.events)


def test_a_photo_becomes_an_entry_that_names_it(handbook: Handbook) -> None:
    _, state = session()
    accepted = accept(state, "photo", typed(eid="x", step=""), handbook)
    assert accepted == Accepted("photo.taken", typed())


def test_a_photo_of_nobody_said_what_is_kept(handbook: Handbook) -> None:
    _, state = session()
    accepted = accept(state, "photo", typed(photo_kind=""), handbook)
    assert isinstance(accepted, Accepted)
    assert "photo_kind" not in accepted.data
    _, with_it = session(dict(accepted.data))
    assert [photo.shows for photo in photos_of(with_it)] == ["other"]


@pytest.mark.parametrize(
    ("sent", "field", "words"),
    [
        ({"photo": "", "photo_kind": "other"}, "photo", "No picture could be read"),
        ({"photo_kind": "other"}, "photo", "No picture could be read"),
        (typed(photo="../../etc/passwd"), "photo", "No picture could be read"),
        (typed(photo="A" * 64), "photo", "No picture could be read"),
        (typed(photo=TOO_FULL), "photo", "almost full"),
        (typed(photo_kind="<b>"), "photo_kind", "Choose one"),
        (typed(7), "photo", "attached before"),
    ],
)
def test_what_is_no_photo_is_refused_beside_its_field(
    handbook: Handbook, sent: dict[str, str], field: str, words: str
) -> None:
    _, state = session(typed(7))
    refused = accept(state, "photo", sent, handbook)
    assert isinstance(refused, Refused)
    assert words in refused.problems[field]


def test_a_session_keeps_so_many_and_a_practice_session_none(handbook: Handbook) -> None:
    _, full = session(*(typed(n) for n in range(MOST_PHOTOS)))
    _, almost = session(*(typed(n) for n in range(MOST_PHOTOS - 1)))
    _, practice = session(practice=True)
    for state in (full, practice):
        refused = accept(state, "photo", typed(99), handbook)
        assert isinstance(refused, Refused)
        assert refused.message == "This session keeps no more photos."
    assert isinstance(accept(almost, "photo", typed(99), handbook), Accepted)
    _, over = session(*(typed(n) for n in range(MOST_PHOTOS + 5)))
    assert len(named_photos(over)) == len(photos_of(over)) == MOST_PHOTOS


def test_a_closed_session_still_takes_one(handbook: Handbook) -> None:
    _, state = session()
    closed = replace(state, closed=state.started)
    assert isinstance(accept(closed, "photo", typed(), handbook), Accepted)


def test_a_voided_photo_is_named_and_not_seen() -> None:
    book = Book(sid=ulid(1))
    book.write("session.started", {"procedure": ""})
    for number in (1, 2):
        book.write("photo.taken", typed(number))
    book.write("event.voided", {"target": book.events[1].eid})
    state = fold(book.events)
    assert [photo.name for photo in photos_of(state)] == [typed(2)["photo"]]
    assert list(named_photos(state)) == [typed(1)["photo"], typed(2)["photo"]]
    book.write("event.voided", {"target": book.events[3].eid})
    assert len(photos_of(fold(book.events))) == 2


@pytest.mark.parametrize(
    "facts",
    [
        {"photo_bytes": "300001"},
        {"photo_bytes": "0"},
        {"photo_bytes": "-1"},
        {"photo_bytes": "1e3"},
        {"photo_bytes": "9" * 400},
        {"photo_width": "1601"},
        {"photo_height": ""},
        {"photo": "x" * 64},
    ],
)
def test_an_entry_of_a_photo_that_cannot_be_names_none(facts: dict[str, str]) -> None:
    _, state = session(typed(1, **facts))
    assert (named_photos(state), photos_of(state)) == ({}, [])


@pytest.mark.parametrize(
    ("width", "height"), [(4032, 3024), (3024, 4032), (1600, 1200), (640, 480), (1, 1), (20_000, 3)]
)
def test_what_is_tried_keeps_the_shape_and_gets_smaller(width: int, height: int) -> None:
    sizes = sizes_to_try(width, height)
    assert sizes[0][:2] == (
        (width, height)
        if max(width, height) <= 1600
        else (
            max(width * 1600 // max(width, height), 1),
            max(height * 1600 // max(width, height), 1),
        )
    )
    assert all(1 <= across <= width and 1 <= down <= height for across, down, _ in sizes)
    assert max(sizes[-1][:2]) == min(600, max(width, height))
    areas = [across * down for across, down, _ in sizes]
    assert areas == sorted(areas, reverse=True)
    assert {quality for _, _, quality in sizes} == {85, 70, 55}
