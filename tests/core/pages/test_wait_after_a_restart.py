"""After a restart, or a change of how it runs, the page counts the time to the next reading from
there, before one is taken that does not count. READ: 15 minutes (25TPB7 p. 10)."""

from typing import Any

from strategies import CHECKED_ALWAYS, READING, Book, ready_to_charge, set_up, ulid

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold


def context(book: Book, handbook: Handbook, step: str) -> dict[str, Any]:
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    page = view(screen, Address("step", book.sid, step))
    assert isinstance(page, Page)
    return dict(page.context)


def shot_and_restart(book: Book) -> Book:
    """A shot, a stop two minutes after it, a restart ten minutes later, and three minutes on."""
    ready_to_charge(book)
    opened = book.form("shot_open").eid
    book.form("shot_close", 10)
    book.write("shot.weighed", {"shot": opened, "scale_after": "27.45", "scale_after_unit": "lb"})
    book.form("system_stopped", 120)
    book.form("system_started", 600)
    book.wait(180)
    return book


def test_the_charging_page_counts_from_the_restart_not_from_the_shot(handbook: Handbook) -> None:
    book = shot_and_restart(Book())
    clock = context(book, handbook, "shots")["clock"]
    assert (clock["label"], clock["text"]) == ("Next reading in", "12:00")
    # A reading that comes too early does not end the wait.
    book.form("reading", 60, **READING)
    shown = context(book, handbook, "shots")
    assert shown["clock"]["text"] == "11:00"
    why = "No reading counts until the unit has settled as it runs now."
    assert [one["text"] for one in shown["step_alerts"]] == [why]
    assert shown["advice"]["reason"] == ""
    book.wait(660)
    assert context(book, handbook, "shots")["advice"]["action"] == "read"


def test_before_the_baseline_the_wait_is_beside_the_form(handbook: Handbook) -> None:
    book = set_up(Book())
    assert context(book, handbook, "baseline")["wait"] is None
    book.form("system_stopped")
    book.form("system_started", 300)
    book.wait(60)
    for step in ("tare", "baseline"):
        wait = context(book, handbook, step)["wait"]
        assert wait is not None
        assert (wait["text"], wait["over"]) == ("14:00", False)
    book.wait(900)
    assert context(book, handbook, "baseline")["wait"]["over"]


def test_a_unit_that_kept_running_counts_from_the_shot_as_before(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    opened = book.form("shot_open").eid
    book.form("shot_close", 10)
    book.write("shot.weighed", {"shot": opened, "scale_after": "27.45", "scale_after_unit": "lb"})
    clock = context(book, handbook, "shots")["clock"]
    advice = context(book, handbook, "shots")["advice"]["action"]
    assert (advice, clock["label"]) == ("wait", "Next reading in")
    assert clock["elapsed"] == 10


def test_steady_running_that_is_counted_is_counted_beside_the_form_as_before(
    handbook: Handbook,
) -> None:
    book = set_up(Book())
    book.form("preconditions", **CHECKED_ALWAYS | {"steady": "counted"})
    assert context(book, handbook, "baseline")["wait"] is not None
