"""What the office wrote, and what the law asks, after another cylinder, a late entry or a void.

Sources: a record names the amount that was added (40 CFR 82.157(l)); a cylinder gave what it lost
between two weighings (arithmetic). Who may void whose entry and what a sign-off covers: our choice.
"""

from dataclasses import replace

import pytest
from office_cases import visit
from strategies import Book, ready_to_charge, ulid, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.flags import flags_of
from lowside.core.office.review import COMMENT, SIGN_OFF, covers_now, review_of
from lowside.core.office.service_record import addition
from lowside.core.office.unit_rows import at_unit
from lowside.core.session.amount import amount
from lowside.core.session.corrections import amend_data
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.events import Event, hlc
from lowside.core.session.fold import fold
from lowside.core.session.state import STANDS, VOIDED, find_entry

SERVER = "server.run1"


def shot(book: Book, after: str = "") -> None:
    """One shot, weighed when the scale showed something after it."""
    opened = book.form("shot_open").eid
    book.form("shot_close")
    if after == "":
        book.write("shot.unweighed", {"shot": opened})
    else:
        weighed = with_units("shot_weigh", {"scale_after": after})
        book.write("shot.weighed", {"shot": opened, **weighed})


def second_cylinder(book: Book, start: str = "9 lb") -> None:
    book.form(
        "cylinder",
        cylinder_label="C-2",
        cylinder_refrigerant="R-410A",
        cylinder_tare="7 lb",
        withdrawal="invert",
    )
    book.form("start_weight", gross=start)
    book.form("tare", scale_mode="gross", scale_reading=start, scale_resolution="0.5 oz")


def told(book: Book) -> tuple[float, bool, int]:
    """Pounds added, whether it may be more, and shots that nothing weighed."""
    found = amount(fold(book.events))
    return round(found.added_kg / POUND_KG, 6), found.at_least, found.unknown


def two_cylinders(first: str, first_end: str, second: str, second_end: str) -> Book:
    """A shot from each; "" is not weighed. Bare they were 27 and 9 lb, on the scale 27.5 and 9."""
    book = ready_to_charge(Book())
    shot(book, first)
    if first_end != "":
        book.form("end_weight", gross=first_end)
    second_cylinder(book)
    shot(book, second)
    if second_end != "":
        book.form("end_weight", gross=second_end)
    return book


@pytest.mark.parametrize(
    ("first", "first_end", "second", "second_end", "pounds", "unknown"),
    [
        # The first weighed, the second by its cylinder: 0.5 + 0.8.
        ("27 lb", "", "", "8.2 lb", 1.3, 0),
        ("27 lb", "26.5 lb", "", "8.2 lb", 1.3, 0),
        # The first by its cylinder, the second weighed: 0.75 + 0.25.
        ("", "26.25 lb", "8.75 lb", "8.75 lb", 1.0, 0),
        ("", "26.25 lb", "", "8.2 lb", 1.55, 0),
        # Nothing tells of the first.
        ("", "", "8.75 lb", "8.75 lb", 0.25, 1),
        ("", "", "", "8.2 lb", 0.8, 1),
        ("", "", "", "", 0.0, 2),
        # Control: all weighed, as before.
        ("27 lb", "26.5 lb", "8.75 lb", "8.75 lb", 0.75, 0),
        ("27 lb", "", "8.75 lb", "", 0.75, 0),
    ],
)
def test_each_cylinder_counts_by_its_own_shots_and_weights(
    first: str, first_end: str, second: str, second_end: str, pounds: float, unknown: int
) -> None:
    book = two_cylinders(first, first_end, second, second_end)
    assert told(book) == (pounds, unknown > 0, unknown)
    state = fold(book.events)
    added = addition(state)
    assert added is not None
    assert added.at_least is (unknown > 0)


def test_a_units_page_counts_the_shots_that_nothing_weighed(handbook: Handbook) -> None:
    """Of two that no scale weighed, one cylinder's weights tell of one."""
    book = two_cylinders("", "", "", "8.2 lb")
    use = at_unit(fold(book.events, handbook), None).use
    assert use is not None
    assert use.unweighed_shots == 1


def test_one_cylinder_counts_as_before() -> None:
    book = ready_to_charge(Book())
    shot(book, "27 lb")
    shot(book)
    assert told(book) == (0.5, True, 1)
    book.form("end_weight", gross="26 lb")
    assert told(book) == (1.0, False, 0)


def test_a_shot_outside_the_two_weighings_is_not_in_them() -> None:
    """Weighed again at the start, or after the end weight one more shot: no difference has it."""
    late_start = ready_to_charge(Book())
    shot(late_start, "27 lb")
    late_start.form("start_weight", gross="26.5 lb")
    shot(late_start)
    late_start.form("end_weight", gross="26 lb")
    assert told(late_start) == (0.5, True, 1)
    after_end = ready_to_charge(Book())
    shot(after_end, "27 lb")
    after_end.form("end_weight", gross="26.5 lb")
    shot(after_end)
    assert told(after_end) == (0.5, True, 1)


def weigh_in(book: Book, pounds: str) -> None:
    """The scale of a weigh-in, which the fold takes without the walk around it."""
    book.write("weighing.off", with_units("charge_off", {"charged_off": f"{pounds} lb"}))


def test_a_weigh_in_beside_two_cylinders_makes_no_weights_certain() -> None:
    """No entry says which cylinder it was from, so the record says “at least”."""
    one = ready_to_charge(Book())
    weigh_in(one, "3")
    shot(one)
    one.form("end_weight", gross="23 lb")
    assert told(one) == (4.0, False, 0)
    two = two_cylinders("", "23 lb", "8.75 lb", "8.75 lb")
    weigh_in(two, "3")
    assert told(two) == (4.25, True, 1)


def signed() -> tuple[Book, Event, Event]:
    """A closed session with the office's comment and sign-off, both written on the server."""
    book = visit(1, "2026-05-10", 3.0)
    phone, book.dev = book.dev, SERVER
    comment = book.write(COMMENT.kind, {"comment": "Call them", "by": "B. Chief"})
    sign_off = book.write(SIGN_OFF.kind, {"signed": "B. Chief"})
    book.dev = phone
    return book, comment, sign_off


def by(book: Book, dev: str, kind: str, data: dict[str, str]) -> Event:
    before, book.dev = book.dev, dev
    event = book.write(kind, data)
    book.dev = before
    return event


def status(book: Book, event: Event) -> str:
    entry = find_entry(fold(book.events), event.eid)
    assert entry is not None
    return entry.status


def test_no_correction_of_the_offices_entries_counts_and_it_stays_to_be_seen(
    handbook: Handbook,
) -> None:
    book, comment, sign_off = signed()
    for dev in ("phone-1", SERVER):
        for target in (comment, sign_off):
            data = {"signed": "A. Owner", "comment": dev}
            by(book, dev, "event.amended", amend_data(target.eid, data))
    state = fold(book.events)
    review = review_of(state)
    assert [one.text for one in review.comments] == ["Call them"]
    assert review.signed is not None
    assert review.signed.signed == "B. Chief"
    assert review.changed_since
    assert len([one for one in state.entries if one.kind == "event.amended"]) == 4
    assert not any(one.amended for one in state.entries)
    assert "conflict" not in [flag.code for flag in flags_of(state, None, handbook)]


def test_only_the_server_voids_and_restores_what_the_office_wrote() -> None:
    book, comment, _ = signed()
    by(book, "phone-1", "event.voided", {"target": comment.eid})
    assert status(book, comment) == STANDS
    again = by(book, "server.run2", "event.voided", {"target": comment.eid})
    assert status(book, comment) == VOIDED
    by(book, "phone-1", "event.voided", {"target": again.eid})
    assert status(book, comment) == VOIDED
    by(book, "server.run3", "event.voided", {"target": again.eid})
    assert status(book, comment) == STANDS


def test_a_void_from_before_the_offices_entry_by_its_clock_does_not_count() -> None:
    book, comment, _ = signed()
    void = by(book, "phone-1", "event.voided", {"target": comment.eid})
    book.events[-1] = replace(void, hlc=hlc(book.events[0].at - 1000, 0))
    assert status(book, comment) == STANDS


def test_nobody_voids_or_corrects_the_start_of_a_session() -> None:
    book, _, _ = signed()
    first = book.events[0]
    for dev in ("phone-1", SERVER):
        by(book, dev, "event.voided", {"target": first.eid})
        by(book, dev, "event.amended", amend_data(first.eid, {"procedure": "other"}))
    state = fold(book.events)
    assert state.started is not None
    assert state.procedure == first.data["procedure"]
    assert addition(state) is not None


def test_the_fields_form_voids_neither_and_other_entries_as_before(handbook: Handbook) -> None:
    book, comment, _ = signed()
    void = by(book, SERVER, "event.voided", {"target": comment.eid})
    weight = next(event for event in book.events if event.kind == "weight.start")
    state = fold(book.events, handbook)
    for target in (book.events[0], book.events[-2], void):
        refused = accept(state, "void", {"target": target.eid}, handbook)
        assert isinstance(refused, Refused)
        assert "cannot be voided here" in refused.message
    assert isinstance(accept(state, "void", {"target": weight.eid}, handbook), Accepted)


def test_a_sign_off_does_not_cover_what_arrives_with_an_earlier_clock() -> None:
    book = visit(1, "2026-05-10", 3.0)
    shot_closed = next(event for event in book.events if event.kind == "shot.closed")
    close = book.events[-1]
    count = covers_now(fold(book.events))
    by(book, SERVER, SIGN_OFF.kind, {"signed": "B. Chief", "entries": count})
    by(book, SERVER, COMMENT.kind, {"comment": "Seen"})
    assert review_of(fold(book.events)).is_signed
    helper = replace(
        shot_closed,
        dev="phone-b",
        seq=1,
        eid=ulid(9, close.at - 1000),
        hlc=hlc(close.at - 1000, 0),
        kind="event.amended",
        data=amend_data(shot_closed.eid, {"scale_after": "128.5", "scale_after_unit": "lb"}),
    )
    state = fold([*book.events, helper])
    assert round(amount(state).added_kg / POUND_KG, 6) == 1.5
    review = review_of(state)
    assert review.changed_since
    assert not review.is_signed


def test_a_sign_off_without_a_number_goes_by_the_order_as_before() -> None:
    book, _, _ = signed()
    assert review_of(fold(book.events)).is_signed
    book.form("note", text="One more thing")
    assert not review_of(fold(book.events)).is_signed


def test_the_offices_own_void_changes_nothing_that_was_signed_off(handbook: Handbook) -> None:
    book = visit(1, "2026-05-10", 3.0)
    comment = by(book, SERVER, COMMENT.kind, {"comment": "Wrong"})
    count = covers_now(fold(book.events))
    by(book, SERVER, SIGN_OFF.kind, {"signed": "B. Chief", "entries": count})
    flags = flags_of(fold(book.events), None, handbook)
    by(book, SERVER, "event.voided", {"target": comment.eid})
    state = fold(book.events)
    assert review_of(state).is_signed
    assert flags_of(state, None, handbook) == flags


def flagged(book: Book, handbook: Handbook) -> list[str]:
    return [flag.code for flag in flags_of(fold(book.events), None, handbook)]


def test_a_session_changed_after_its_sign_off_is_to_be_looked_at(handbook: Handbook) -> None:
    book, _, _ = signed()
    assert "changed" not in flagged(book, handbook)
    book.form("note", text="One more thing")
    assert "changed" in flagged(book, handbook)
    by(book, SERVER, SIGN_OFF.kind, {"signed": "B. Chief"})
    assert "changed" not in flagged(book, handbook)


@pytest.mark.parametrize(
    ("first", "second", "dev", "flag"),
    [
        ("128.5", "129.5", "phone-b", True),
        # Control: they agree, or one hand corrected twice.
        ("128.5", "128.5", "phone-b", False),
        ("128.5", "129.5", "phone-a", False),
    ],
)
def test_two_devices_that_correct_one_entry_differently_are_flagged(
    handbook: Handbook, first: str, second: str, dev: str, flag: bool
) -> None:
    book = visit(1, "2026-05-10", 3.0)
    target = next(event for event in book.events if event.kind == "shot.closed")
    for writer, after in (("phone-a", first), (dev, second)):
        data = {"scale_after": after, "scale_after_unit": "lb"}
        by(book, writer, "event.amended", amend_data(target.eid, data))
    assert ("conflict" in flagged(book, handbook)) is flag
    by(book, "phone-a", "event.voided", {"target": book.events[-1].eid})
    assert "conflict" not in flagged(book, handbook)
