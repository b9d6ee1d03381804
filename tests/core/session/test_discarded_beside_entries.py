"""“Discard” puts aside a session with nothing in it. Another phone may have entries in it that this
one does not know: then nothing is put aside, whichever entry came first.
"""

from itertools import permutations

import pytest
from strategies import PROCEDURE, Book, ready_to_charge
from walked import FRESH

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.view import home
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import STANDS, VOIDED, State, is_empty
from lowside.outlining import outline_of

UNITS = {"pressure": "kPa", "temperature": "°C", "mass": "kg", "length": "m"}
SIGNED = {"signed_by": "A", "caps_checked": "yes"}


def beside(own: Book, first: Event) -> Book:
    """The other phone, which has the first entry only."""
    other = Book(own.sid, "phone-b", "run-b", first.at, 5_000_000, first.hlc)
    other.events = []
    return other


def in_all_orders(events: list[Event], handbook: Handbook) -> State:
    """The state, the same in whatever order the entries arrive."""
    found = [fold(order, handbook) for order in permutations(events)]
    assert all(one == found[0] for one in found)
    return found[0]


def titles(state: State, handbook: Handbook) -> tuple[int, int]:
    shown = home([state], handbook, FRESH).context
    return len(shown["open"]), len(shown["closed"])


def discards(state: State) -> list[str]:
    return [one.status for one in state.entries if one.kind == "session.discarded"]


@pytest.mark.parametrize("discarded_s", [5, 25, 95])
@pytest.mark.parametrize("entries", range(4))
def test_it_counts_only_where_nothing_else_was_entered(
    handbook: Handbook, discarded_s: float, entries: int
) -> None:
    own = Book()
    first = own.write("session.started", {"procedure": PROCEDURE})
    other = beside(own, first)
    other.write("units.set", UNITS, 2)
    other.write("session.discarded", {}, discarded_s - 2)
    job = {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}
    for form, typed in (("job", job), ("note", {"text": "x"}), ("system_stopped", {}))[:entries]:
        own.form(form, 20, **typed)
    state = in_all_orders([*own.events, *other.events], handbook)
    assert state.discarded is (entries == 0)
    assert (state.closed is not None) is (entries == 0)
    assert discards(state) == [STANDS if entries == 0 else VOIDED]
    assert titles(state, handbook) == ((0, 0) if entries == 0 else (1, 0))
    assert (outline_of(state).closed is not None) is (entries == 0)
    assert state.units.pressure == "kPa"


def test_the_job_goes_on_with_its_valve_and_its_signature(handbook: Handbook) -> None:
    own = ready_to_charge(Book())
    other = beside(own, own.events[0])
    assert is_empty(fold(own.events[:1], handbook))
    other.write("session.discarded", {}, 60)
    own.form("shot_open")
    state = fold([*own.events, *other.events], handbook)
    assert isinstance(accept(state, "shot_close", {}, handbook), Accepted)
    assert isinstance(accept(state, "discard", {}, handbook), Refused)
    own.form("shot_close")
    own.write("session.closed", SIGNED)
    late = beside(own, own.events[-1])
    late.write("session.discarded", {}, 60)
    for more in (other.events, late.events):
        closed = fold([*own.events, *more], handbook)
        assert closed.signed_by == "A"
        assert not closed.discarded
        assert titles(closed, handbook) == (0, 1)


def test_units_and_the_offices_word_leave_it_put_aside(handbook: Handbook) -> None:
    own = Book()
    own.write("session.started", {"procedure": PROCEDURE})
    own.write("session.discarded")
    own.write("units.set", UNITS)
    own.write("office.comment", {"text": "Why?"})
    assert in_all_orders(own.events, handbook).discarded


def test_an_entry_that_was_voided_is_none(handbook: Handbook) -> None:
    """But whoever voids and restores has been at work."""
    own = Book()
    own.write("session.started", {"procedure": PROCEDURE})
    discard = own.write("session.discarded")
    void = own.write("event.voided", {"target": discard.eid})
    assert fold(own.events, handbook).closed is None
    own.write("event.voided", {"target": void.eid})
    assert in_all_orders(own.events, handbook).closed is None
