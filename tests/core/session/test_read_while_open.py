"""Two phones at one unit: one reads the gauges while the other’s valve is open. And forms of
what is done with the valve closed."""

import pytest
from strategies import READING, Book, ready_to_charge
from walked import READY

from lowside.core.advice import ground
from lowside.core.advice.outlook import outlook_of
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.entry import Refused, accept
from lowside.core.session.fold import fold


def test_a_reading_while_another_phones_valve_is_open_is_not_settled(handbook: Handbook) -> None:
    """The gauges show the liquid that goes in. Nothing is learned from it, or based on it."""
    book = ready_to_charge(Book())
    first = fold(book.events, handbook).readings[-1]
    book.form("shot_open", scale_before="27.5 lb")
    book.form("reading", 5, **READING)
    book.form("shot_close", 10, scale_after="27.4 lb")
    state = fold(book.events, handbook)
    taken = state.readings[-1]
    assert (taken.shots_before, taken.since_shot_s) == (0, 0.0)
    assert ground.basis(state) == first
    outlook = outlook_of(state, first)
    assert outlook is not None
    assert len(outlook.observations) == 1
    book.form("shot_open")
    book.form("reading", 300, **READING)
    assert fold(book.events, handbook).readings[-1].since_shot_s == 0.0


@pytest.mark.parametrize(
    ("form", "typed"),
    [
        ("shot_open", {}),
        ("done", {"step": "shots"}),
        ("reading", READING),
        ("final_reading", READING),
        ("end_weight", {"gross": "26", "gross_unit": "lb"}),
        ("record", {"signed_by": "T", "caps_checked": "yes"}),
        ("recovery_ready", READY),
        ("weigh_ready", READY),
    ],
)
def test_nothing_is_entered_that_asks_for_a_closed_valve(
    handbook: Handbook, form: str, typed: dict[str, str]
) -> None:
    """Three of them were taken before: the end weight and both walks."""
    book = ready_to_charge(Book())
    book.form("shot_open", scale_before="27.5 lb")
    found = accept(fold(book.events, handbook), form, typed, handbook)
    assert isinstance(found, Refused)
    assert found.message == "A shot is still open. Close the valve and end that shot first."
    book.form("shot_close", 10, scale_after="27.4 lb")
    found = accept(fold(book.events, handbook), form, typed, handbook)
    assert "shot is still open" not in (found.message if isinstance(found, Refused) else "")
