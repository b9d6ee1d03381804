"""Who may correct what, and by which cylinder.

A cylinder weighs no more after charging than before, and no less than its tare (arithmetic). Each
one by its own weights, and that a `target` in an entry's data protects nothing: our choice.
"""

from strategies import Book, ready_to_charge, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.corrections import amend_data
from lowside.core.session.entry import Accepted, Refused, accept, accept_amendment
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import VOIDED, find_entry


def shot(book: Book) -> None:
    opened = book.form("shot_open").eid
    book.form("shot_close")
    book.write("shot.unweighed", {"shot": opened})


def two_cylinders(tare: str, start: str) -> tuple[Book, Event, Event]:
    """C-1 of 27 lb and a tare of 7 lb gave one shot and weighs 26; C-2 is connected. With both of
    C-1's weights."""
    book = ready_to_charge(Book())
    first = next(event for event in book.events if event.kind == "weight.start")
    shot(book)
    last = book.form("end_weight", gross="26 lb")
    book.form(
        "cylinder",
        cylinder_label="C-2",
        cylinder_refrigerant="R-410A",
        cylinder_tare=tare,
        withdrawal="invert",
    )
    book.form("start_weight", gross=start)
    return book, first, last


def corrected(book: Book, event: Event, gross: str, handbook: Handbook) -> tuple[bool, str]:
    """Whether a weight may become this one, and what is said."""
    form = "start_weight" if event.kind == "weight.start" else "end_weight"
    state = fold(book.events, handbook)
    answer = accept_amendment(state, event.eid, with_units(form, {"gross": gross}), handbook)
    return isinstance(answer, Accepted), getattr(answer, "problems", {}).get("gross", "")


def test_the_first_cylinders_weights_are_corrected_by_its_own(handbook: Handbook) -> None:
    book, start, end = two_cylinders("2 lb", "9 lb")
    assert corrected(book, end, "26.5 lb", handbook) == (True, "")
    assert corrected(book, start, "28 lb", handbook) == (True, "")
    taken, said = corrected(book, start, "6 lb", handbook)
    assert not taken
    assert "(7 lb" in said


def test_the_first_cylinder_does_not_gain_weight_since_the_second_is_heavier(
    handbook: Handbook,
) -> None:
    book, _, end = two_cylinders("7 lb", "30 lb")
    taken, said = corrected(book, end, "29 lb", handbook)
    assert not taken
    assert "More than at the start (27 lb" in said


def test_the_second_cylinders_weights_are_held_to_its_own(handbook: Handbook) -> None:
    """Control."""
    book, _, _ = two_cylinders("7 lb", "9 lb")
    start = book.events[-1]
    shot(book)
    end = book.form("end_weight", gross="8.5 lb")
    assert corrected(book, end, "8.75 lb", handbook) == (True, "")
    taken, said = corrected(book, end, "26.5 lb", handbook)
    assert not taken
    assert "More than at the start (9 lb" in said
    taken, said = corrected(book, start, "6 lb", handbook)
    assert not taken
    assert "(7 lb" in said


def test_an_entry_that_names_the_start_is_voided_and_corrected_like_any_other(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    start = book.events[0]
    weight = book.write("weight.end", {"gross": "20", "gross_unit": "lb", "target": start.eid})
    state = fold(book.events, handbook)
    assert isinstance(accept(state, "void", {"target": weight.eid}, handbook), Accepted)
    book.write("event.amended", amend_data(weight.eid, {"gross": "26", "gross_unit": "lb"}))
    entry = find_entry(fold(book.events), weight.eid)
    assert entry is not None
    assert entry.data["gross"] == "26"
    void = book.write("event.voided", {"target": weight.eid})
    entry = find_entry(fold(book.events), weight.eid)
    assert entry is not None
    assert entry.status == VOIDED
    # Control: the start itself, and a void of it, are nobody's.
    assert isinstance(accept(state, "void", {"target": start.eid}, handbook), Refused)
    book.write("event.voided", {"target": start.eid})
    assert fold(book.events).started is not None
    book.write("event.voided", {"target": void.eid})
    entry = find_entry(fold(book.events), weight.eid)
    assert entry is not None
    assert entry.status != VOIDED
