"""The register of cylinders: what each holds, how full it may be, what it lost between jobs."""

from collections.abc import Sequence
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
    GONE,
    IN_USE,
    LOW_KG,
    LOW_STOCK,
    MISFIT,
    MIXTURE,
    NO_ROOM,
    RECOVERING,
    About,
    Movement,
    Register,
    abouts_of,
    on_hand,
    register_of,
    shows_of,
    stock_kg,
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
    kept = [one for one in uses if one.kind == kind]
    return known(kept, [one for one in abouts if one.kind == kind], handbook)


def known(uses: Sequence[Movement], abouts: Sequence[About], handbook: Handbook) -> Register:
    found = register_of(uses, abouts, handbook)
    assert found is not None
    return found


def test_a_ledger_is_in_time_order_whatever_order_it_is_made_from(handbook: Handbook) -> None:
    uses = [
        use("A", 0),
        use("B", 100, start_kg=14.0, end_kg=13.0, label=" c-12"),
        use("C", 200, start_kg=12.0, end_kg=None),
        use("D", 300, start_kg=11.0, end_kg=10.0),
    ]
    for order in permutations(uses):
        found = known(order, (), handbook)
        assert [line.use.weighed.sid for line in found.lines] == ["A", "B", "C", "D"]
        assert [[w.code for w in line.warnings] for line in found.lines] == [
            [],
            [],
            [LOST],
            [NO_END_WEIGHT],
        ]
        assert found.net_kg == 4.0
        assert not found.warned  # the newest use only misses the weight before it
    assert known(uses[:3], (), handbook).warned


def test_a_use_that_cannot_be_placed_in_time_accuses_nobody(handbook: Handbook) -> None:
    found = known([use("X", started=None, start_kg=2.0), use("A", 0)], (), handbook)
    assert [line.use.weighed.sid for line in found.lines] == ["A", "X"]
    assert found.lines[1].warnings == ()


def test_without_an_end_weight_the_shots_say_what_is_left(handbook: Handbook) -> None:
    found = known([use(end_kg=None)], (), handbook)
    assert found.net_kg == pytest.approx(8.0)
    assert not found.by_end_weight


@pytest.mark.parametrize(("end_kg", "low"), [(6.0 + LOW_KG - 0.001, True), (6.0 + LOW_KG, False)])
def test_low_stock_begins_below_its_limit(handbook: Handbook, end_kg: float, low: bool) -> None:
    found = known([use(end_kg=end_kg)], (), handbook)
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
    found = known([replace(one, kind=FOR_RECOVERY, water_kg=water)], (), handbook)
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


def test_a_list_has_the_cylinders_it_names(handbook: Handbook) -> None:
    """And a cylinder that is gone is in no other."""
    low = on_hand(known([use(end_kg=6.1)], (), handbook))
    assert shows_of(low) == (IN_USE, LOW_STOCK)
    lost = on_hand(known([use("A"), use("B", 100, start_kg=10.0)], (), handbook))
    assert shows_of(lost) == (IN_USE, MISFIT)
    one = use(label="RC-1", tare_kg=12.0, end_kg=40.0)
    full = known([replace(one, kind=FOR_RECOVERY, water_kg=21.6)], (), handbook)
    assert shows_of(on_hand(full)) == (IN_USE, NO_ROOM, RECOVERING)
    assert shows_of(replace(on_hand(full), room_kg=0.01)) == (IN_USE, RECOVERING)
    assert shows_of(replace(on_hand(full), gone=True)) == (GONE,)


def test_stock_is_what_is_there_and_known(handbook: Handbook) -> None:
    one = on_hand(known([use()], (), handbook))
    assert stock_kg(one) == pytest.approx(8.0)
    assert stock_kg(replace(one, net_kg=-0.1)) == 0.0
    assert stock_kg(replace(one, net_kg=None)) is None
    assert stock_kg(replace(one, gone=True)) is None


def test_practice_uses_no_cylinder(handbook: Handbook) -> None:
    state = fold(recovery(handbook).events)
    assert uses_of(replace(state, practice=True)) == ()
