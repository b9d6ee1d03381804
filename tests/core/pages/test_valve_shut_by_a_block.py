"""An open valve is to be closed at once as soon as anything bars a new shot: the clock's own time
ran for a state that is over. Common practice, no source: what may not be started does not go on. A
shot that a reason at the decision opened is barred by nothing and keeps its words."""

from typing import Any

import pytest
from strategies import CHECKED_ALWAYS, MACHINE, READING, Book, ready_to_charge, set_up, ulid

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session import gate
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold

SHUT = ("Close the valve now", "0", True, "", "")
"""Word, limit of the alarm, late, what the clock allows, what the scale shows at the end."""


def valve(book: Book, handbook: Handbook) -> dict[str, Any]:
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    page = view(screen, Address("step", book.sid, "shots"))
    assert isinstance(page, Page)
    return dict(page.context["valve"])


def told(book: Book, handbook: Handbook) -> tuple[str, str, bool, str, str]:
    shown = valve(book, handbook)
    return shown["word"], shown["limit"], shown["late"], shown["at_most"], shown["stop"]


def opened() -> Book:
    book = ready_to_charge(Book())
    book.form("shot_open")
    return book


def test_a_healthy_shot_keeps_its_weight_and_its_time(handbook: Handbook) -> None:
    shown = ("Valve is open", "19", False, "0:19 at the latest", "27 lb 7.0 oz")
    assert told(opened(), handbook) == shown


@pytest.mark.parametrize("after_s", [1, 60, 3000])
def test_a_unit_that_runs_again_by_itself_does_not_open_the_shot_again(
    handbook: Handbook, after_s: float
) -> None:
    book = opened()
    book.form("system_stopped", 5)
    assert told(book, handbook) == SHUT
    book.form("system_started", after_s)
    assert told(book, handbook) == SHUT
    book.wait(120)
    assert told(book, handbook) == SHUT
    assert "15 min in all" in valve(book, handbook)["how"]


@pytest.mark.parametrize(
    ("form", "typed"),
    [
        ("preconditions", CHECKED_ALWAYS | {"airflow": "no"}),
        ("preconditions", CHECKED_ALWAYS | {"leak": "leaking"}),
        ("machine", MACHINE | {"compressor": "part", "held": "no"}),
        ("machine", MACHINE | {"mode": "heating", "port": "large_line"}),
        ("decide", {"decision": "leave"}),
    ],
)
def test_what_another_phone_enters_in_mid_shot_closes_it(
    handbook: Handbook, form: str, typed: dict[str, str]
) -> None:
    book = opened()
    book.form(form, 4, **typed)
    assert gate.blocks(fold(book.events, handbook))
    assert told(book, handbook) == SHUT


def test_a_decision_taken_back_in_mid_shot_closes_it(handbook: Handbook) -> None:
    """The advice alone would still add: the decision is made by it."""
    book = ready_to_charge(Book())
    decided = book.events[-1].eid
    book.form("shot_open")
    book.write("event.voided", {"target": decided})
    shown = valve(book, handbook)
    assert told(book, handbook) == SHUT
    assert "decided" in shown["how"]
    assert "Feed" not in shown["how"]


def test_a_stop_tapped_by_mistake_and_undone_leaves_the_shot_as_it_was(handbook: Handbook) -> None:
    book = opened()
    stopped = book.form("system_stopped", 3)
    book.write("event.voided", {"target": stopped.eid}, 2)
    assert told(book, handbook)[:3] == ("Valve is open", "19", False)


def test_a_shot_against_the_advice_by_a_reason_keeps_its_words_until_something_bars_it(
    handbook: Handbook,
) -> None:
    book = set_up(Book())
    # In tolerance: the advice is not to add.
    book.form("reading", **READING | {"liquid_line": "95 °F"})
    book.form("decide", decision="add", reason="asked by the manufacturer")
    book.form("shot_open")
    assert not gate.blocks(fold(book.events, handbook))
    shown = ("Valve is open", "8", False, "0:08 at the latest", "27 lb 7.5 oz")
    assert told(book, handbook) == shown
    book.form("system_stopped", 3)
    book.form("system_started", 3)
    assert told(book, handbook) == SHUT
