"""The register of cylinders: what each holds, how full it may be, what it lost between jobs."""

from dataclasses import replace
from itertools import permutations

import pytest
from cylinder_cases import half_used
from strategies import Book, ready_to_charge, ulid

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.cylinders import (
    ABOUT,
    FOR_CHARGING,
    FOR_RECOVERY,
    LOW_KG,
    MIXTURE,
    Movement,
    Register,
    abouts_of,
    registers,
    stock,
    uses_of,
)
from lowside.core.session.fold import fold
from lowside.core.session.ledger import LOST, NO_END_WEIGHT

RC = {
    "rc_water": "47.7 lb",
    "rc_tare": "27 lb",
    "rc_service": "400 psig",
    "rc_date": "06/2024",
    "rc_date_means": "tested",
    "rc_label": "RC-1",
}


def use(sid: str = "A", minutes: int = 0, **changed: object) -> Movement:
    """The same, as the register keeps it."""
    return Movement(FOR_CHARGING, half_used(sid, minutes, **changed), "I. Varga", 1.0, None, None)


def recovery(handbook: Handbook, number: int = 1, *, what: str = "one", **typed: str) -> Book:
    """A recovery of 6 lb into RC-1, which held 10 lb."""
    book = ready_to_charge(Book(sid=ulid(number)))
    book.form("recovery_cylinder", **(RC | typed))
    inside = {"rc_refrigerant": "R-410A"} if what == "one" else {}
    book.form("recovery_contents", rc_before="37 lb", rc_inside=what, **inside)
    book.form(
        "recovery_after", rc_after="43 lb", rc_left="0 psig", rc_what="part", rc_next="readings"
    )
    return book


def register(handbook: Handbook, *books: Book, kind: str = FOR_RECOVERY) -> Register:
    states = [fold(book.events) for book in books]
    uses = [one for state in states for one in uses_of(state)]
    abouts = [one for state in states for one in abouts_of(state)]
    (found,) = (one for one in registers(uses, abouts, handbook) if one.kind == kind)
    return found


def test_a_ledger_is_in_time_order_whatever_order_it_is_made_from(handbook: Handbook) -> None:
    uses = [
        use("A", 0),
        use("B", 100, start_kg=14.0, end_kg=13.0, label=" c-12"),
        use("C", 200, start_kg=12.0, end_kg=None),
        use("D", 300, start_kg=11.0, end_kg=10.0),
    ]
    for order in permutations(uses):
        (found,) = registers(order, (), handbook)
        assert [line.use.weighed.sid for line in found.lines] == ["A", "B", "C", "D"]
        assert [[w.code for w in line.warnings] for line in found.lines] == [
            [],
            [],
            [LOST],
            [NO_END_WEIGHT],
        ]
        assert found.net_kg == 4.0
        assert not found.warned  # the newest use only misses the weight before it
    assert registers(uses[:3], (), handbook)[0].warned


def test_each_cylinder_has_its_own_ledger_and_the_newest_comes_first(handbook: Handbook) -> None:
    uses = [use("A", 0), use("B", 10, label="C-13", start_kg=9.0), use("C", 20, start_kg=14.0)]
    found = registers(uses, (), handbook)
    assert [(one.label, [line.use.weighed.sid for line in one.lines]) for one in found] == [
        ("C-12", ["A", "C"]),
        ("C-13", ["B"]),
    ]
    assert not any(one.warned for one in found)


def test_a_use_that_cannot_be_placed_in_time_accuses_nobody(handbook: Handbook) -> None:
    (found,) = registers([use("X", started=None, start_kg=2.0), use("A", 0)], (), handbook)
    assert [line.use.weighed.sid for line in found.lines] == ["A", "X"]
    assert found.lines[1].warnings == ()


def test_without_an_end_weight_the_shots_say_what_is_left(handbook: Handbook) -> None:
    (found,) = registers([use(end_kg=None)], (), handbook)
    assert found.net_kg == pytest.approx(8.0)
    assert not found.by_end_weight


@pytest.mark.parametrize(("end_kg", "low"), [(6.0 + LOW_KG - 0.001, True), (6.0 + LOW_KG, False)])
def test_low_stock_begins_below_its_limit(handbook: Handbook, end_kg: float, low: bool) -> None:
    (found,) = registers([use(end_kg=end_kg)], (), handbook)
    assert found.low is low


@pytest.mark.parametrize(
    ("refrigerant", "rule"),
    [
        ("R-32", "liquid density at 130 °F"),
        ("R-454B", "liquid density at 130 °F"),
        ("R-410A", "liquid density at 130 °F"),
    ],
)
def test_the_strictest_rule_is_the_limit(handbook: Handbook, refrigerant: str, rule: str) -> None:
    water = 47.7 * POUND_KG
    one = use(refrigerant=refrigerant, label="RC-1", tare_kg=12.0)
    (found,) = registers([replace(one, kind=FOR_RECOVERY, water_kg=water)], (), handbook)
    assert found.limit is not None
    assert found.limit.rule == rule
    assert found.limit.kg < 0.80 * water
    assert found.room_kg == pytest.approx(found.limit.kg - 2.0)


def test_a_recovery_cylinder_holds_what_was_recovered_into_it(handbook: Handbook) -> None:
    found = register(handbook, recovery(handbook))
    assert found.net_kg == pytest.approx(16.0 * POUND_KG)
    assert found.lines[0].use.moved_kg == pytest.approx(6.0 * POUND_KG)
    assert found.refrigerant == "R-410A"
    assert found.due == 2029 * 12 + 5
    assert not found.low
    # READ, a trade article: 32 lb of R-410A in a 50 lb cylinder, by density at 130 °F.
    assert found.limit is not None
    assert found.limit.kg / POUND_KG <= 32.0


def test_a_mixture_is_held_to_the_lightest_refrigerant(handbook: Handbook) -> None:
    mixed = register(handbook, recovery(handbook, what="mixed"))
    pure = register(handbook, recovery(handbook))
    assert mixed.refrigerant == MIXTURE
    assert mixed.limit is not None
    assert pure.limit is not None
    assert mixed.limit.kg < pure.limit.kg


def test_a_recovery_that_was_voided_is_in_no_cylinder(handbook: Handbook) -> None:
    book = recovery(handbook)
    book.write("event.voided", {"target": book.events[-1].eid})
    assert [one.kind for one in uses_of(fold(book.events))] == [FOR_CHARGING]


def test_a_gap_between_two_recoveries_is_seen(handbook: Handbook) -> None:
    later = recovery(handbook, 2)
    later.wait(86_400)
    second = Book(sid=ulid(3), at=later.at, dev="phone-b")
    ready_to_charge(second)
    second.form("recovery_cylinder", **RC)
    second.form("recovery_contents", rc_before="40 lb", rc_inside="one", rc_refrigerant="R-410A")
    second.form(
        "recovery_after", rc_after="44 lb", rc_left="0 psig", rc_what="part", rc_next="readings"
    )
    found = register(handbook, later, second)
    assert [[w.code for w in line.warnings] for line in found.lines] == [[], [LOST]]


def test_what_the_office_writes_of_a_cylinder_counts(handbook: Handbook) -> None:
    book = recovery(handbook)
    typed = {"label": "rc-1 ", "kind": FOR_RECOVERY, "van": "Van 2", "rc_date": "01/2028"}
    book.write(ABOUT.kind, typed | {"rc_date_means": "due"})
    found = register(handbook, book)
    assert (found.place, found.due, found.gone) == ("Van 2", 2028 * 12, False)
    book.write(ABOUT.kind, {"label": "RC-1", "kind": FOR_RECOVERY, "fate": "returned"})
    assert register(handbook, book).gone
    assert register(handbook, book, kind=FOR_CHARGING).place == ""


def test_stock_is_summed_by_refrigerant_and_van(handbook: Handbook) -> None:
    uses = [use("A", 0), use("B", 10, label="C-13", end_kg=9.0), use("C", 5, label="C-14")]
    uses[2] = replace(uses[2], technician="T. Odell")
    found = stock(registers(uses, (), handbook))
    assert found == [
        ("R-410A", FOR_CHARGING, "With I. Varga", 11.0, 2),
        ("R-410A", FOR_CHARGING, "With T. Odell", 8.0, 1),
    ]


def test_practice_uses_no_cylinder(handbook: Handbook) -> None:
    state = fold(recovery(handbook).events)
    assert uses_of(replace(state, practice=True)) == ()
