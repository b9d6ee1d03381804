"""Two phones at one unit: one reads the gauges while the other’s valve is open."""

from strategies import READING, Book, ready_to_charge

from lowside.core.advice import ground
from lowside.core.advice.outlook import outlook_of
from lowside.core.handbook.handbook import Handbook
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
