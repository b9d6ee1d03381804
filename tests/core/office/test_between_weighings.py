"""A weigh-in outside the two weighings; units chosen after a sign-off; voids that do not count.

Sources: a record names the amount that was added (40 CFR 82.157(l)); a cylinder gave what it lost
between two weighings (arithmetic). What a sign-off covers and who may void: our choice.
"""

import pytest
from office_cases import visit
from strategies import Book, ready_to_charge, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.flags import flags_of
from lowside.core.office.review import (
    COMMENT,
    SIGN_OFF,
    covers_now,
    offices_own,
    review_of,
)
from lowside.core.session.amount import amount
from lowside.core.session.fold import fold

SERVER = "server.run1"


def shot(book: Book) -> None:
    opened = book.form("shot_open").eid
    book.form("shot_close")
    book.write("shot.unweighed", {"shot": opened})


def weigh_in(book: Book, form: str = "charge_off") -> None:
    """5 lb by the scale of a weigh-in, without the walk around it."""
    name = {"charge_off": "charged_off", "charge_rest": "charged_rest"}[form]
    kind = {"charge_off": "weighing.off", "charge_rest": "weighing.rest"}[form]
    book.write(kind, with_units(form, {name: "5 lb"}))


def told(book: Book) -> tuple[float, bool]:
    found = amount(fold(book.events))
    return round(found.added_kg / POUND_KG, 6), found.at_least


@pytest.mark.parametrize("form", ["charge_off", "charge_rest"])
def test_a_weigh_in_outside_the_two_weighings_makes_it_at_least(form: str) -> None:
    """6 lb went in; the two weighings have 1 lb of it."""
    before = ready_to_charge(Book())
    weigh_in(before, form)
    before.form("start_weight", gross="22 lb")
    shot(before)
    before.form("end_weight", gross="21 lb")
    assert told(before) == (5.0, True)
    after = ready_to_charge(Book())
    shot(after)
    after.form("end_weight", gross="26 lb")
    weigh_in(after, form)
    assert told(after) == (5.0, True)


@pytest.mark.parametrize("form", ["charge_off", "charge_rest"])
def test_a_weigh_in_between_them_is_exact_as_before(form: str) -> None:
    for first in (shot, lambda book: weigh_in(book, form)):
        book = ready_to_charge(Book())
        first(book)
        if first is shot:
            weigh_in(book, form)
        else:
            shot(book)
        book.form("end_weight", gross="21 lb")
        assert told(book) == (6.0, False)


def test_a_weigh_in_that_was_voided_makes_nothing_uncertain() -> None:
    book = ready_to_charge(Book())
    shot(book)
    book.form("end_weight", gross="26 lb")
    weigh_in(book)
    book.write("event.voided", {"target": book.events[-1].eid})
    assert told(book) == (1.0, False)


def by_the_office(book: Book, kind: str, data: dict[str, str]) -> str:
    before, book.dev = book.dev, SERVER
    eid = book.write(kind, data).eid
    book.dev = before
    return eid


def signed(with_number: bool) -> Book:
    book = visit(1, "2026-05-10", 3.0)
    number = {"entries": covers_now(fold(book.events))} if with_number else {}
    by_the_office(book, SIGN_OFF.kind, {"signed": "B. Chief"} | number)
    return book


@pytest.mark.parametrize("with_number", [True, False])
def test_units_chosen_later_change_nothing_that_was_signed_off(
    handbook: Handbook, with_number: bool
) -> None:
    book = signed(with_number)
    book.form("units", pressure="kPa", temperature="°C", mass="kg", length="m")
    state = fold(book.events)
    assert review_of(state).is_signed
    assert not {"changed", "late"} & {flag.code for flag in flags_of(state, None, handbook)}
    # Control.
    book.form("note", text="One more thing")
    state = fold(book.events)
    assert not review_of(state).is_signed
    assert {"changed", "late"} <= {flag.code for flag in flags_of(state, None, handbook)}


def test_the_office_restores_only_what_it_voided_itself() -> None:
    book = visit(1, "2026-05-10", 3.0)
    comment = by_the_office(book, COMMENT.kind, {"comment": "Call them"})
    foreign = book.write("event.voided", {"target": comment}).eid
    own = by_the_office(book, "event.voided", {"target": comment})
    assert offices_own(fold(book.events), SERVER) == {comment, own}
    assert foreign not in offices_own(fold(book.events), "server.run2")
