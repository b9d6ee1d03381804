"""An open valve is the first thing on the screen, whatever was ticked before it was opened."""

import pytest
from hose_cases import shipped
from strategies import Book, ready_to_charge, ulid

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold

CURRENT = ("current", "")


def page(book: Book, handbook: Handbook, kind: str, about: str) -> Page:
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    shown = view(screen, Address(kind, book.sid, about))  # type: ignore[arg-type]
    assert isinstance(shown, Page)
    return shown


def opened_after(*done: str) -> Book:
    book = ready_to_charge(Book())
    for step in done:
        book.write("step.done", {"step": step})
    book.form("shot_open")
    return book


@pytest.mark.parametrize(
    "done",
    [
        (),
        ("shots",),
        ("shots", "close_cylinder"),
        ("off_stop", "off_drain", "off_cylinder", "off_recover", "off_hoses"),
        ("rec_ready",),
        ("wi_ready",),
    ],
)
def test_the_session_opens_at_the_valve(handbook: Handbook, done: tuple[str, ...]) -> None:
    book = opened_after(*done)
    book.wait(90)
    shown = page(book, handbook, *CURRENT)
    assert shown.template == "field/shot.html"
    assert shown.context["shot_close"]["action"].endswith("/form/shot_close")
    assert shown.context["valve"]["elapsed"] == 90


@pytest.mark.parametrize(
    ("kind", "about"),
    [
        ("step", "close_cylinder"),
        ("step", "off_stop"),
        ("step", "rec_ready"),
        ("step", "record"),
        ("form", "reading"),
        ("timeline", ""),
        ("ticket", ""),
    ],
)
def test_every_other_page_says_it_first_with_the_way_there(
    handbook: Handbook, kind: str, about: str
) -> None:
    book = opened_after("shots")
    first = page(book, handbook, kind, about).context["alerts_now"][0]
    assert first["text"] == "Close it, then end the shot."
    assert first["href"] == f"/s/{book.sid}"
    book.form("shot_close")
    alerts = page(book, handbook, kind, about).context["alerts_now"]
    assert [one for one in alerts if one["word"] == "Valve is open."] == []


def test_a_shot_after_the_step_was_done_opens_the_step_again(handbook: Handbook) -> None:
    """Its weight is asked for, then the wait and the reading, before the close-out goes on."""
    book = ready_to_charge(Book())
    before = [step.id for step in shipped("hand-valved-three-port").steps]
    for step in before[: before.index("shots") + 1]:
        book.write("step.done", {"step": step})
    assert page(book, handbook, *CURRENT).context["step"]["id"] == "close_cylinder"
    shot = book.form("shot_open").eid
    book.form("shot_close", 15)
    asked = page(book, handbook, *CURRENT).context
    assert asked["page"] == "charge"
    assert asked["weigh"]["shot"] == shot
    book.write("shot.unweighed", {"shot": shot})
    assert page(book, handbook, *CURRENT).context["page"] == "charge"
    book.write("step.done", {"step": "shots"})
    assert page(book, handbook, *CURRENT).context["step"]["id"] == "close_cylinder"
