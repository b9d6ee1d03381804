"""Slips of a finger that no unit and no cylinder explains."""

from strategies import READING, Book, set_up, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.fold import fold


def test_more_than_a_cylinder_of_this_tare_can_hold_is_refused(handbook: Handbook) -> None:
    """Full ones weigh about five times their tare; 270 lb for 27 is a slip. 9 is our choice."""
    book = Book()
    set_up(book)
    state = fold(book.events, handbook)
    for pounds, told in (("63", ""), ("63.1", "More than a cylinder"), ("270", "More than a")):
        found = accept(
            state, "start_weight", with_units("start_weight", {"gross": pounds + " lb"}), handbook
        )
        said = found.problems["gross"] if isinstance(found, Refused) else ""
        assert told in said
        assert (said == "") == (told == "")


def test_a_tolerance_as_wide_as_the_target_is_refused(handbook: Handbook) -> None:
    book = Book()
    set_up(book)
    state = fold(book.events, handbook)
    for tolerance, fits in (("9.9", True), ("10", False), ("15", False)):
        typed = {
            "method": "subcooling",
            "maker_subcooling": "10 °F",
            "maker_tolerance": tolerance + " °F",
        }
        found = accept(state, "target", with_units("target", typed), handbook)
        assert isinstance(found, Accepted) is fits
        assert fits or "maker_tolerance" in found.problems  # type: ignore[union-attr]


def test_a_unit_typed_beside_the_number_is_told_where_it_is(handbook: Handbook) -> None:
    state = fold(set_up(Book()).events, handbook)
    found = accept(
        state,
        "reading",
        with_units("reading", READING) | {"suction_pressure": "124 psig"},
        handbook,
    )
    assert isinstance(found, Refused)
    assert found.problems["suction_pressure"].endswith("Its unit is beside the box.")
