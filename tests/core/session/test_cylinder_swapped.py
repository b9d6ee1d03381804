"""Another cylinder in the middle of charging: each shot counts off the one it came from."""

from cylinder_cases import use_of
from strategies import Book, ready_to_charge, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.cylinders import FOR_CHARGING, uses_of
from lowside.core.session.cylinder import left_in_cylinder, reconcile_session
from lowside.core.session.entry import Accepted, Refused, accept, accept_amendment
from lowside.core.session.fold import fold
from lowside.core.session.ledger import uses_in
from lowside.core.session.state import State, added_kg

SECOND = {
    "cylinder_label": "C-2",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}


def shot(book: Book, after: str) -> None:
    book.form("shot_open")
    opened = book.events[-1].eid
    book.form("shot_close")
    book.write("shot.weighed", {"shot": opened, **with_units("shot_weigh", {"scale_after": after})})


def swapped() -> Book:
    """8 oz from the first cylinder, then 4 oz from the second, which weighs 9 lb."""
    book = ready_to_charge(Book())
    shot(book, "27 lb")
    book.form("cylinder", **SECOND)
    book.form("start_weight", gross="9 lb")
    book.form("tare", scale_mode="gross", scale_reading="9.5 lb", scale_resolution="0.5 oz")
    shot(book, "9.25 lb")
    return book


def pounds(kilograms: float | None) -> float:
    assert kilograms is not None
    return round(kilograms / POUND_KG, 3)


def test_what_is_left_is_counted_off_the_cylinder_that_is_connected(handbook: Handbook) -> None:
    state = fold(swapped().events, handbook)
    assert pounds(added_kg(state)) == 0.75
    assert pounds(left_in_cylinder(state)) == 1.75


def test_its_weights_are_compared_with_its_own_shots(handbook: Handbook) -> None:
    book = swapped()
    book.form("end_weight", gross="8.75 lb")
    state = fold(book.events, handbook)
    found = reconcile_session(state)
    assert not found.disagrees
    assert pounds(dict(found.lines)["Sum of shots, this cylinder"]) == 0.25


def test_the_stock_knows_what_each_of_them_gave(handbook: Handbook) -> None:
    state = fold(swapped().events, handbook)
    before, now = uses_in(state)[:-1], use_of(state)
    assert now is not None
    assert [(one.label, pounds(one.added_kg)) for one in [*before, now]] == [
        ("C-1", 0.5),
        ("C-2", 0.25),
    ]
    assert pounds(before[0].start_kg) == 27.0
    charging = [use for use in uses_of(state) if use.kind == FOR_CHARGING]
    moved = [(use.weighed.label, pounds(use.moved_kg)) for use in charging]
    assert moved == [("C-1", 0.5), ("C-2", 0.25)]


def test_a_cylinder_that_fed_nothing_is_no_use(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("cylinder", **SECOND)
    assert len(uses_in(fold(book.events, handbook))) == 1


def corrected(state: State, handbook: Handbook, **typed: str) -> Accepted | Refused:
    entry = next(one for one in state.entries if one.kind == "cylinder.set")
    data = dict(entry.data) | with_units("cylinder", typed)
    return accept_amendment(state, entry.eid, data, handbook)


def test_a_label_corrected_with_a_tare_above_the_weight_is_refused(handbook: Handbook) -> None:
    state = fold(ready_to_charge(Book()).events, handbook)
    refused = corrected(state, handbook, cylinder_label="C-9", cylinder_tare="28 lb")
    assert isinstance(refused, Refused)
    assert "More than the whole cylinder weighed" in refused.problems["cylinder_tare"]
    right = corrected(state, handbook, cylinder_label="C-9", cylinder_tare="26 lb")
    assert isinstance(right, Accepted)


def test_another_cylinder_may_be_heavier_than_the_one_before_weighed(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.write("step.done", {"step": "clear_hoses"})
    state = fold(book.events, handbook)
    heavy = with_units("cylinder", SECOND | {"cylinder_tare": "28 lb"})
    assert isinstance(accept(state, "cylinder", heavy, handbook), Accepted)
    swapped_state = fold(swapped().events, handbook)
    early = corrected(swapped_state, handbook, cylinder_label="C-9", cylinder_tare="10 lb")
    assert isinstance(early, Accepted), "the first cylinder is not held against the second's weight"
