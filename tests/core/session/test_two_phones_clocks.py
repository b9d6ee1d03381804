"""Two phones work on one session, and one's clock is slow. By the order of the entries the record
knows that: no wait between them is longer than it was."""

import pytest
from expert import Bench
from hypothesis import given
from hypothesis import strategies as st
from overcharged import RIGHT, SHORT, charging, overcharged, read_twice
from strategies import Book, with_units
from walked import RECOVERY_CYLINDER, did

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.session import gate
from lowside.core.session.clocks import CLOCKS_DIFFER, moments_of
from lowside.core.session.events import CLOCK_DISAGREEMENT_S, age_s, elapsed, in_order
from lowside.core.session.since_read import EMPTIED_IN, FED, RECOVERED, WEIGHED_IN, since_read

MINUTE_S = 60.0


def other_phone(bench: Bench, slow_s: float) -> Book:
    """Its clock is so slow, and it has seen everything so far."""
    book = bench.book
    at = book.at - int(slow_s * 1000)
    return Book(book.sid, "phone-b", "run-b", at, 5_000_000, book.seen)


def writes(bench: Bench, phone: Book, kind: str, after_s: float, **data: str) -> str:
    """An entry of that phone, which the first one sees at once; its eid."""
    event = phone.write(kind, data, after_s)
    if phone is not bench.book:
        bench.book.wait(after_s)
        bench.book.seen = max(bench.book.seen, phone.seen)
        bench.book.events.append(event)
    return event.eid


def shot_by(bench: Bench, phone: Book, after_s: float = 10) -> None:
    """An ounce by the other phone, the valve open for 15 s."""
    eid = writes(bench, phone, "shot.opened", after_s)
    writes(bench, phone, "shot.closed", 15)
    weighed = {"shot": eid, "scale_after": "27.4375", "scale_after_unit": "lb"}
    writes(bench, phone, "shot.weighed", 5, **weighed)


def recovers(bench: Bench, phone: Book) -> None:
    ready = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")
    after = {"rc_after": "27.25 lb", "rc_left": "120 psig", "rc_what": "part"}
    for name, typed in (
        ("recovery_ready", ready),
        ("recovery_cylinder", RECOVERY_CYLINDER),
        ("recovery_contents", {"rc_before": "27 lb", "rc_inside": "empty"}),
        ("recovery_after", after | {"rc_next": "readings"}),
    ):
        writes(bench, phone, FORMS[name].kind, 30, **with_units(name, typed))


@pytest.mark.parametrize(
    ("slow_s", "idle_s"),
    [(0.0, 10.0), (30.0, 10.0), (600.0, 10.0), (600.0, 500.0), (1800.0, 900.0)],
)
def test_a_reading_just_after_a_slow_phones_shot_is_too_soon(
    handbook: Handbook, slow_s: float, idle_s: float
) -> None:
    bench = charging(handbook)
    shot_by(bench, other_phone(bench, slow_s), idle_s)
    bench.book.wait(30)
    did(bench, "reading", **SHORT | {"liquid_line": "103.4 °F", "suction_line": "58 °F"})
    since = bench.state().readings[-1].since_shot_s
    assert since is not None
    assert since <= 45.0
    assert bench.advice().action == "wait"
    assert not bench.form("shot_open", {})
    assert (CLOCKS_DIFFER in bench.state().flags) == (slow_s > 0.0)


@pytest.mark.parametrize(("noted", "idle_s"), [(False, 100.0), (True, 100.0), (True, 700.0)])
def test_no_second_opening_follows_a_slow_phones_before_a_reading(
    handbook: Handbook, noted: bool, idle_s: float
) -> None:
    """How slow it is was seen at its note, if it wrote one. Then it was idle."""
    bench = charging(handbook)
    phone = other_phone(bench, 600.0)
    if noted:
        writes(bench, phone, "note.added", 1, text="x")
        bench.book.wait(240)
        did(bench, "reading", **SHORT)
        phone.wait(250)
        phone.seen = bench.book.seen
    shot_by(bench, phone, idle_s)
    bench.book.wait(5)
    assert bench.advice().action != "add"
    assert not bench.form("shot_open", {})


def test_it_is_read_once_more_and_goes_on(handbook: Handbook) -> None:
    bench = charging(handbook)
    shot_by(bench, other_phone(bench, 600.0))
    read_twice(bench, SHORT | {"liquid_line": "103.4 °F", "suction_line": "55 °F"})
    assert [read.since_shot_s for read in bench.state().readings[1:]] == [
        pytest.approx(5.0, abs=0.01),
        pytest.approx(255.0, abs=0.01),
    ]
    assert bench.advice().action == "add"
    assert bench.form("shot_open", {}), bench.refused


def test_a_shot_begun_on_one_phone_and_ended_on_a_slow_one_has_a_doubtful_time(
    handbook: Handbook,
) -> None:
    bench = charging(handbook)
    phone = other_phone(bench, 600.0)
    writes(bench, phone, "note.added", 1, text="x")
    did(bench, "shot_open")
    phone.wait(30)
    phone.seen = bench.book.seen
    writes(bench, phone, "shot.closed", 5)
    assert bench.state().shots[-1].doubtful_time


@pytest.mark.parametrize("slow_s", [0.0, 1200.0])
def test_a_part_recovered_with_a_slow_phone_has_its_15_minutes(
    handbook: Handbook, slow_s: float
) -> None:
    bench = overcharged(handbook)
    recovers(bench, other_phone(bench, slow_s))
    assert since_read(bench.state()) == RECOVERED
    bench.book.wait(120)
    did(bench, "reading", **RIGHT)
    assert "recovered" in [block.code for block in gate.blocks(bench.state())]
    assert since_read(bench.state()) == ""


def test_what_came_last_goes_by_the_order(handbook: Handbook) -> None:
    bench = charging(handbook)
    phone = other_phone(bench, 1200.0)
    writes(bench, phone, "step.done", 10, step="clear_hoses")
    assert since_read(bench.state()) == EMPTIED_IN
    shot_by(bench, phone)
    assert since_read(bench.state()) == FED
    recovers(bench, phone)
    assert since_read(bench.state()) == RECOVERED
    writes(bench, phone, "weighing.off", 10, charged_off="1", charged_off_unit="lb")
    assert since_read(bench.state()) == WEIGHED_IN
    shot_by(bench, bench.book)
    assert since_read(bench.state()) == FED


def test_the_record_shows_the_time_as_it_was_written(handbook: Handbook) -> None:
    bench = charging(handbook)
    shot_by(bench, other_phone(bench, 600.0))
    state = bench.state()
    assert [one.moment.at for one in state.entries] == [
        one.at for one in in_order(bench.book.events)
    ]
    opened = state.shots[-1].opened
    assert (opened.slow, opened.slow_most) == (590_001, 590_001)


@pytest.mark.parametrize("slow_s", [0.0, CLOCK_DISAGREEMENT_S - 0.1])
def test_a_phone_whose_clock_is_right_changes_nothing(handbook: Handbook, slow_s: float) -> None:
    bench = charging(handbook)
    phone = other_phone(bench, slow_s)
    writes(bench, phone, "note.added", 0.0, text="x")
    assert bench.state().flags == ()
    assert all(one.moment.slow == 0 for one in bench.state().entries)


def test_a_fast_phone_that_reads_just_after_a_shot_waits_too(handbook: Handbook) -> None:
    bench = charging(handbook)
    phone = other_phone(bench, -600.0)
    writes(bench, phone, "note.added", 10, text="x")
    shot_by(bench, bench.book)
    phone.wait(30)
    phone.seen = bench.book.seen
    writes(bench, phone, "reading.taken", 30, **with_units("reading", SHORT))
    since = bench.state().readings[-1].since_shot_s
    assert since is not None
    assert since <= 65.0


def test_one_phone_whose_clock_was_set_back_goes_by_it(handbook: Handbook) -> None:
    bench = charging(handbook)
    phone = other_phone(bench, 600.0)
    phone.dev = bench.book.dev
    writes(bench, phone, "note.added", 10, text="x")
    writes(bench, phone, "note.added", 10, text="x")
    assert bench.state().flags == ()
    assert bench.state().entries[-1].moment.slow == 0


GAPS = st.lists(st.tuples(st.booleans(), st.integers(1, 1200)), min_size=1, max_size=12)


@given(slow_s=st.integers(5, 3600), gaps=GAPS, first=st.integers(1, 2))
def test_no_wait_is_longer_and_no_age_shorter_than_it_was(
    slow_s: int, gaps: list[tuple[bool, int]], first: int
) -> None:
    """Once the record knows that the clock is slow, here by the other phone's first entry."""
    bench = Bench.__new__(Bench)
    bench.book = Book()
    bench.book.write("session.started", {})
    phone = other_phone(bench, slow_s)
    truth = {bench.book.events[0].eid: bench.book.at}
    for ours, gap in [(False, first), *gaps]:
        if ours:
            eid = bench.book.write("note.added", {"text": "x"}, gap).eid
            phone.wait(gap)
            phone.seen = bench.book.seen
        else:
            eid = writes(bench, phone, "note.added", gap, text="x")
        truth[eid] = bench.book.at
    moments = moments_of(in_order(bench.book.events))
    eids = list(truth)
    for i, start in enumerate(eids):
        for end in eids[i + 1 :]:
            passed = (truth[end] - truth[start]) / 1000.0
            found = elapsed(moments[start], moments[end]).seconds
            assert 0.0 <= found <= passed + 0.001
            if moments[start].run == "run-b" or moments[end].run != "run-b":
                assert age_s(moments[start], moments[end]) >= passed - 0.001
