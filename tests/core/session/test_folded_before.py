"""A state is the same whatever was folded before it, and the hoses are followed only when something
about them changed."""

from dataclasses import replace
from functools import partial

from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_sessions import sessions
from strategies import READING, Book, ready_to_charge

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.fold import fold
from lowside.core.session.state import State

JOB = {"site": "Mill Lane", "unit_label": "AC-1", "technician": "I. Varga"}
CYLINDER = {
    "cylinder_label": "C-1",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}


@settings(max_examples=40)
@given(data=st.data())
def test_what_was_folded_before_changes_no_state(data: st.DataObject, handbook: Handbook) -> None:
    """Entries arrive in any order, as from another phone; another session may come between."""
    events = data.draw(sessions(handbook))
    other = data.draw(sessions(handbook))
    arriving = data.draw(st.permutations(events)) if data.draw(st.booleans()) else events
    before: State | None = None
    for session in (arriving[: len(arriving) // 2], arriving[:-1], other, arriving, other):
        state = fold(session, handbook, before)
        assert state == fold(session, handbook)
        before = state


def test_the_hoses_are_followed_again_only_when_something_about_them_changed(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    before = fold(book.events, handbook)
    assert before.hose_runs
    book.write("note.added", {"text": "hot"})
    book.write("shot.opened", {})
    noted = fold(book.events, handbook, before)
    assert noted.hose_runs is before.hose_runs
    assert noted == fold(book.events, handbook)
    for change in (
        partial(book.form, "reading", **READING | {"suction_pressure": "120 psig"}),
        partial(book.form, "cylinder", **CYLINDER, hose_length="3 ft"),
        partial(book.form, "job", **JOB, elevation="5000 ft"),
    ):
        change()
        changed = fold(book.events, handbook, noted)
        assert changed.hose_runs != noted.hose_runs
        assert changed == fold(book.events, handbook)
        noted = changed
    begun = {"procedure": "low-side-only-two-hose"}
    another = [replace(book.events[0], data=begun), *book.events[1:]]
    other_hoses = fold(another, handbook, noted)
    assert other_hoses.hoses_at == noted.hoses_at
    assert other_hoses == fold(another, handbook)
