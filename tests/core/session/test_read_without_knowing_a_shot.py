"""Two phones without each other's newest entries: one gives a shot, the other reads. By clocks that
differ the reading comes after the shot, and nobody knows whether it did."""

import pytest
from expert import Bench
from overcharged import SHORT, charging
from strategies import Book
from walked import did

from lowside.core.advice.against import advice_now
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import AMEND, Address
from lowside.core.pages.recording import Record, record_form
from lowside.core.pages.screen import SHOWN
from lowside.core.session.events import Moment
from lowside.core.session.reads import SHOTS_KNOWN

READ = SHORT | {"drier": "same"}


def apart(handbook: Handbook, fast_s: float) -> Bench:
    """Phone B, whose clock is fast, read at 20 s. A gives an ounce at 40 s, and then has both."""
    bench = charging(handbook)
    ours = bench.book
    theirs = Book(ours.sid, "phone-b", "run-b", ours.at + int(fast_s * 1000), 5_000_000, ours.seen)
    other = Bench(handbook, theirs)
    theirs.events.extend(ours.events)
    theirs.wait(10)
    did(other, "reading", **READ)
    read = theirs.events[-1]
    ours.wait(30)
    did(bench, "shot_open")
    ours.wait(15)
    did(bench, "shot_close")
    did(bench, "shot_weigh", scale_after="27.4375 lb")
    ours.events.append(read)
    ours.seen = max(ours.seen, theirs.seen)
    return bench


def at(bench: Bench, phone: str, fast_s: float, later_s: float) -> Moment:
    """This phone's clocks so long after the newest entry."""
    ms = int(later_s * 1000)
    if phone == "a":
        return Moment(bench.book.run, bench.book.mono + ms, bench.book.at + ms, 0)
    return Moment("run-b", 5_100_000 + ms, bench.book.at + ms + int(fast_s * 1000), 0)


@pytest.mark.parametrize("phone", ["a", "b"])
@pytest.mark.parametrize("fast_s", [0.0, 150.0, 480.0, 3600.0])
def test_nothing_is_added_on_it(handbook: Handbook, fast_s: float, phone: str) -> None:
    bench = apart(handbook, fast_s)
    state = bench.state()
    for later_s in (1, 20, 120, 600, 1200):
        now = at(bench, phone, fast_s, later_s)
        if fast_s > 0.0:
            assert advice_now(state, now).action != "add"
        assert not (advice_now(state, now).action == "add" and later_s < 60)


@pytest.mark.parametrize("fast_s", [150.0, 480.0, 3600.0])
def test_its_phone_waits_from_its_own_next_reading(handbook: Handbook, fast_s: float) -> None:
    bench = apart(handbook, fast_s)
    since: list[float | None] = []
    there = Book(
        bench.book.sid,
        "phone-b",
        "run-b",
        bench.book.at + int(fast_s * 1000),
        5_100_000,
        bench.book.seen,
        bench.book.events,
    )
    theirs = Bench(handbook, there)
    for after_s in (20, 240, 600):
        there.wait(after_s - 10)
        did(theirs, "reading", **READ | {"liquid_line": f"103.{len(since)} °F"})
        since.append(theirs.state().readings[-1].since_shot_s)
    assert since == [0.0, 240.0, 840.0]


def test_a_reading_that_knows_the_shot_counts(handbook: Handbook) -> None:
    bench = apart(handbook, 480.0)
    bench.book.wait(900)
    did(bench, "reading", **READ | {"liquid_line": "103.4 °F", "suction_line": "58 °F"})
    assert bench.book.events[-1].data[SHOTS_KNOWN] == "1"
    since = bench.state().readings[-1].since_shot_s
    assert since is not None
    assert since > 900.0
    assert bench.advice().action == "add"


def test_a_shot_that_came_while_the_page_was_open_was_not_known(handbook: Handbook) -> None:
    bench = apart(handbook, 0.0)
    bench.book.wait(900)
    bench.page = {SHOWN: "0"}
    did(bench, "reading", **READ | {"liquid_line": "103.4 °F", "suction_line": "58 °F"})
    assert bench.book.events[-1].data[SHOTS_KNOWN] == "0"
    assert bench.advice().action != "add"
    bench.page = {SHOWN: "1"}
    did(bench, "reading", **READ | {"liquid_line": "103.3 °F", "suction_line": "58 °F"})
    assert bench.book.events[-1].data[SHOTS_KNOWN] == "1"


def test_a_voided_shot_was_known_too(handbook: Handbook) -> None:
    bench = charging(handbook)
    did(bench, "shot_open")
    did(bench, "void", target=bench.book.events[-1].eid)
    bench.book.wait(900)
    did(bench, "reading", **READ)
    assert bench.book.events[-1].data[SHOTS_KNOWN] == "1"
    assert bench.state().readings[-1].since_shot_s is None


def test_a_correction_keeps_what_was_known(handbook: Handbook) -> None:
    bench = apart(handbook, 480.0)
    read = bench.book.events[-1]

    typed = {**read.data, "liquid_line": "103", "eid": "x"}
    address = Address(AMEND, bench.book.sid, read.eid)
    outcome = record_form(bench.state(), address, typed, handbook, bench.now())
    assert isinstance(outcome, Record)
    assert outcome.data[SHOTS_KNOWN] == "0"


def test_only_a_number_of_shots_that_can_be_is_kept(handbook: Handbook) -> None:
    bench = charging(handbook)
    bench.page = {SHOWN: "nobody"}
    did(bench, "reading", **READ)
    assert bench.book.events[-1].data[SHOTS_KNOWN] == "0"
