"""A mistake can be voided, restored and corrected, and the record keeps both."""

import pytest
from hypothesis import given, settings
from strategies import Book, sessions, set_up

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.session.corrections import amend_data, owners, settled
from lowside.core.session.events import DISCARDED, IN_AN_EMPTY_ONE, Event, in_order, writer_of
from lowside.core.session.fold import fold
from lowside.core.session.state import STANDS, VOIDED, State


def start_pounds(state: State) -> float | None:
    return None if state.start_weight is None else round(state.start_weight.kg / POUND_KG, 6)


def written(book: Book, kind: str) -> Event:
    return next(event for event in book.events if event.kind == kind)


def void(book: Book, event: Event) -> Event:
    return book.write("event.voided", {"target": event.eid})


def amend(book: Book, event: Event, **data: str) -> Event:
    return book.write("event.amended", amend_data(event.eid, data))


def test_a_struck_out_entry_is_as_if_never_written_but_stays_readable(handbook: Handbook) -> None:
    book = set_up(Book())
    weight = written(book, "weight.start")
    void(book, weight)
    state = fold(book.events, handbook)
    assert start_pounds(state) is None
    entry = next(e for e in state.entries if e.eid == weight.eid)
    assert entry.status == VOIDED
    assert entry.data == weight.data


def test_an_earlier_value_counts_again_when_the_later_is_struck_out(handbook: Handbook) -> None:
    book = set_up(Book())
    void(book, book.form("start_weight", gross="26 lb"))
    assert start_pounds(fold(book.events, handbook)) == 27.0


@pytest.mark.parametrize(("strikes", "stands"), [(1, False), (2, True), (3, False), (4, True)])
def test_striking_out_a_strike_out_restores(handbook: Handbook, strikes: int, stands: bool) -> None:
    book = set_up(Book())
    target = written(book, "weight.start")
    for _ in range(strikes):
        target = void(book, target)
    assert (start_pounds(fold(book.events, handbook)) == 27.0) is stands


def test_two_strike_outs_of_one_entry_must_both_go_before_it_counts_again(
    handbook: Handbook,
) -> None:
    book = set_up(Book())
    weight = written(book, "weight.start")
    first = void(book, weight)
    second = void(book, weight)
    void(book, first)
    assert start_pounds(fold(book.events, handbook)) is None
    void(book, second)
    assert start_pounds(fold(book.events, handbook)) == 27.0


def test_a_correction_replaces_the_whole_entry_and_the_last_one_counts(
    handbook: Handbook,
) -> None:
    book = set_up(Book())
    weight = written(book, "weight.start")
    amend(book, weight, gross="26", gross_unit="lb")
    last = amend(book, weight, gross="12", gross_unit="kg")
    state = fold(book.events, handbook)
    assert state.start_weight is not None
    assert state.start_weight.kg == 12.0
    entry = next(e for e in state.entries if e.eid == weight.eid)
    assert entry.amended
    assert entry.data == {"gross": "12", "gross_unit": "kg"}
    void(book, last)
    assert start_pounds(fold(book.events, handbook)) == 26.0


def test_a_correction_keeps_the_time_and_place_of_what_it_corrects(handbook: Handbook) -> None:
    book = set_up(Book())
    weight = written(book, "weight.start")
    book.form("start_weight", gross="25 lb")
    amend(book, weight, gross="26", gross_unit="lb")
    state = fold(book.events, handbook)
    assert start_pounds(state) == 25.0


def test_a_correction_of_a_struck_out_entry_does_not_bring_it_back(handbook: Handbook) -> None:
    book = set_up(Book())
    weight = written(book, "weight.start")
    void(book, weight)
    amend(book, weight, gross="26", gross_unit="lb")
    assert start_pounds(fold(book.events, handbook)) is None


@pytest.mark.parametrize("kind", ["event.voided", "event.amended"])
def test_a_correction_of_something_unknown_changes_nothing(handbook: Handbook, kind: str) -> None:
    book = set_up(Book())
    before = fold(book.events, handbook)
    book.write(kind, {"target": "nothing"})
    after = fold(book.events, handbook)
    assert after.start_weight == before.start_weight
    assert len(after.entries) == len(before.entries) + 1
    assert after.entries[-1].status == STANDS


def test_an_entry_that_strikes_itself_out_counts_for_nothing() -> None:
    book = set_up(Book())
    event = book.write("event.voided", {"target": "later"})
    book.events[-1] = Event(**{**vars(event), "data": {"target": event.eid}})
    assert settled(book.events)[0] == {event.eid: event.eid}


@given(sessions())
@settings(max_examples=60)
def test_an_entry_is_struck_out_exactly_when_a_standing_later_strike_out_says_so(
    events: list[Event],
) -> None:
    ordered = in_order(events)
    owned = owners(ordered)
    voided, amended = settled(ordered)
    for at, event in enumerate(ordered):
        strikes = [
            other.eid
            for other in ordered[at + 1 :]
            if other.kind == "event.voided"
            and other.data.get("target") == event.eid
            and other.eid not in voided
            and owned.get(event.eid, writer_of(other.dev)) == writer_of(other.dev)
        ]
        beside = event.kind == DISCARDED and any(
            other.eid not in voided and other.kind not in IN_AN_EMPTY_ONE for other in ordered
        )
        assert (event.eid in voided) == (bool(strikes) or beside)
    for target, data in amended.items():
        standing = [
            other
            for other in ordered
            if other.kind == "event.amended"
            and other.eid not in voided
            and other.data["target"] == target
        ]
        assert {"target": target, **data} == dict(standing[-1].data)
