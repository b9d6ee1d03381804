"""Recovery: which cylinder may take it, how much, and what follows for adding."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import Book, ready_to_charge, set_up, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.session import gate
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.fold import fold
from lowside.core.session.recovering import fill_limit, stamped_month
from lowside.core.session.state import State
from lowside.practice.technician import CHECKED

CYLINDER = {
    "rc_water": "47.7 lb",
    "rc_tare": "27 lb",
    "rc_service": "400 psig",
    "rc_date": "06/2024",
    "rc_date_means": "tested",
    "rc_label": "RC-1",
}
CONTENTS = {"rc_before": "37 lb", "rc_inside": "one", "rc_refrigerant": "R-410A"}
AFTER = {"rc_after": "43 lb", "rc_left": "0 psig", "rc_what": "whole", "rc_next": "weigh_in"}


def asked(book: Book, handbook: Handbook, form: str, typed: dict[str, str]) -> Accepted | Refused:
    return accept(fold(book.events, handbook), form, with_units(form, typed), handbook)


def problem(book: Book, handbook: Handbook, form: str, typed: dict[str, str], field: str) -> str:
    outcome = asked(book, handbook, form, typed)
    assert isinstance(outcome, Refused), field
    assert list(outcome.problems) == [field]
    return outcome.problems[field]


def with_cylinder(book: Book, **other: str) -> Book:
    book.form("recovery_cylinder", **(CYLINDER | other))
    return book


def recovered(handbook: Handbook, **after: str) -> State:
    book = with_cylinder(ready_to_charge(Book()))
    book.form("recovery_contents", **CONTENTS)
    book.form("recovery_after", **(AFTER | after))
    return fold(book.events, handbook)


@pytest.mark.parametrize(
    ("refrigerant", "small", "large"), [("R-410A", 17.0, 32.0), ("R-22", 21.0, 39.0)]
)
def test_the_limit_passes_none_of_the_published_cautious_figures(
    handbook: Handbook, refrigerant: str, small: float, large: float
) -> None:
    # READ, trade article: net pounds by density at 130 °F in a 30 lb (WC 26.2 lb) and a 50 lb
    # (WC 47.7 lb) cylinder.
    for water, printed in ((26.2, small), (47.7, large)):
        limit = fill_limit(water * POUND_KG, handbook.tables[refrigerant])
        assert limit is not None
        assert 0.93 * printed < limit.kg / POUND_KG <= printed


def test_no_refrigerant_gets_more_than_any_of_the_four_rules(handbook: Handbook) -> None:
    # READ: 0.80 × WC × specific gravity: 20.2 lb of R-32 in 26.2 lb, 37.7 lb of R-454B in 47.7 lb.
    for name, water, most in (("R-32", 26.2, 20.2), ("R-454B", 47.7, 37.7)):
        limit = fill_limit(water * POUND_KG, handbook.tables[name])
        assert limit is not None
        assert limit.kg / POUND_KG <= most < 0.80 * water
    for table in handbook.tables.values():
        limit = fill_limit(10.0, table)
        assert limit is None or 0.0 < limit.kg <= 8.0
    assert fill_limit(10.0, handbook.tables["R-744"]) is None


def test_a_cylinder_past_its_test_or_too_weak_is_refused(handbook: Handbook) -> None:
    book = set_up(Book())  # 2026-11
    for date, means in (("10/2021", "tested"), ("10/2026", "due")):
        typed = CYLINDER | {"rc_date": date, "rc_date_means": means}
        assert "overdue" in problem(book, handbook, "recovery_cylinder", typed, "rc_date")
    for date, means in (("11/2021", "tested"), ("11/2026", "due"), ("3/30", "due")):
        typed = CYLINDER | {"rc_date": date, "rc_date_means": means}
        assert isinstance(asked(book, handbook, "recovery_cylinder", typed), Accepted)
    weak = CYLINDER | {"rc_service": "260 psig"}
    assert "Too weak" in problem(book, handbook, "recovery_cylinder", weak, "rc_service")


@given(text=st.text(max_size=9))
def test_a_stamped_month_is_read_or_refused(text: str) -> None:
    month = stamped_month(text)
    assert month is None or 1950 * 12 <= month < 2201 * 12


def test_dates_as_stamped() -> None:
    assert stamped_month("06/2024") == stamped_month(" 6-24 ") == 2024 * 12 + 5
    for text in ("", "2024", "13/2024", "0/2024", "6/1/2024", "6.5/2024", "x/y"):
        assert stamped_month(text) is None


def test_only_the_same_refrigerant_and_only_where_there_is_room(handbook: Handbook) -> None:
    book = with_cylinder(set_up(Book()))
    assert isinstance(asked(book, handbook, "recovery_contents", CONTENTS), Accepted)
    for change, field in (
        ({"rc_refrigerant": "R-22"}, "rc_refrigerant"),
        ({"rc_inside": "mixed"}, "rc_inside"),
        ({"rc_inside": "empty"}, "rc_before"),
        ({"rc_before": "20 lb"}, "rc_before"),
        ({"rc_before": "70 lb"}, "rc_before"),
    ):
        problem(book, handbook, "recovery_contents", CONTENTS | change, field)


@given(pounds=st.integers(min_value=3700, max_value=9000))
def test_never_more_than_the_room_left(pounds: int, handbook: Handbook) -> None:
    book = with_cylinder(set_up(Book()))
    book.form("recovery_contents", **CONTENTS)
    limit = fill_limit(47.7 * POUND_KG, handbook.tables["R-410A"])
    assert limit is not None
    typed = AFTER | {"rc_after": f"{pounds / 100} lb"}
    outcome = asked(book, handbook, "recovery_after", typed)
    fits = (pounds / 100 - 27.0) * POUND_KG <= limit.kg + 0.0023
    assert isinstance(outcome, Accepted) == fits
    if isinstance(outcome, Refused):
        assert "Overfilled" in outcome.problems["rc_after"]
        assert "another recovery cylinder" in outcome.problems["rc_after"]


def test_a_whole_charge_is_pulled_to_the_published_level(handbook: Handbook) -> None:
    book = with_cylinder(set_up(Book()))
    book.form("recovery_contents", **CONTENTS)
    typed = AFTER | {"rc_left": "5 psig"}
    assert "0 psig" in problem(book, handbook, "recovery_after", typed, "rc_left")
    part = AFTER | {"rc_left": "118 psig", "rc_what": "part", "rc_next": "readings"}
    part["rc_after"] = "38 lb"
    assert isinstance(asked(book, handbook, "recovery_after", part), Accepted)
    empty = AFTER | {"rc_next": "readings"}
    assert "nothing to read" in problem(book, handbook, "recovery_after", empty, "rc_next")
    medium = set_up(Book())
    medium.form("unit", refrigerant="R-134a", metering="txv", coil="tube_fin", receiver="no")
    with_cylinder(medium)
    medium.form("recovery_contents", **(CONTENTS | {"rc_refrigerant": "R-134a"}))
    assert "-5 psig" in problem(medium, handbook, "recovery_after", AFTER, "rc_left").replace(
        "\u2212", "-"
    )


def test_an_emptied_unit_is_never_added_to_and_old_readings_do_not_count(
    handbook: Handbook,
) -> None:
    state = recovered(handbook)
    assert state.recovered[0].kg == pytest.approx(6 * POUND_KG)
    assert "emptied" in [block.code for block in gate.blocks(state)]
    state = recovered(handbook, rc_what="part", rc_next="readings", rc_left="118 psig")
    assert "recovered" in [block.code for block in gate.blocks(state)]
    assert gate.blocks(fold(ready_to_charge(Book()).events, handbook)) == ()


def test_a_unit_with_mixed_refrigerant_fills_an_empty_cylinder_to_the_lightest(
    handbook: Handbook,
) -> None:
    book = set_up(Book())
    book.form("preconditions", **(CHECKED | {"same_refrigerant": "no"}))
    weak = CYLINDER | {"rc_service": "400 psig"}
    with_cylinder(book, **weak)
    problem(book, handbook, "recovery_contents", CONTENTS, "rc_inside")
    empty = {"rc_before": "27 lb", "rc_inside": "empty"}
    assert isinstance(asked(book, handbook, "recovery_contents", empty), Accepted)


def test_a_flammable_needs_a_machine_and_cylinder_made_for_it(handbook: Handbook) -> None:
    book = set_up(Book())
    book.form("unit", refrigerant="R-454B", metering="txv", coil="tube_fin", receiver="no")
    with_cylinder(book)
    empty = {"rc_before": "27 lb", "rc_inside": "empty"}
    assert "burns" in problem(book, handbook, "recovery_contents", empty, "rc_flammable")
    yes = empty | {"rc_flammable": "yes"}
    assert isinstance(asked(book, handbook, "recovery_contents", yes), Accepted)


def test_sessions_from_before_are_unchanged(handbook: Handbook, tmp_path: Path) -> None:
    state = fold(ready_to_charge(Book()).events, handbook)
    assert state.walk == {}
    assert state.recovered == ()
