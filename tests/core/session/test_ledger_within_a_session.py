"""Within a session the log's order counts, and a start weight taken again is a correction or not.

A cylinder gains no weight and loses no more than it fed (arithmetic). A device's clock may be set
while it is used, and two phones differ: common practice, no source. How much more than it fed a
cylinder may lose before its first weight is taken for a slip is our choice.
"""

from dataclasses import replace

import pytest
from test_ledger_by_weighing import Job, of_register, said, truthful, whole
from walked import did, evacuated, recover, to_vacuum

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.cylinders import FOR_CHARGING, Movement, register_of
from lowside.core.session import weighing
from lowside.core.session.entry import Accepted, Refused, accept_amendment
from lowside.core.session.ledger import (
    GAINED,
    LOST,
    NO_END_WEIGHT,
    between,
    last_use,
    uses_in,
)

HOUR_MS = 3_600_000


def before() -> Job:
    """Ended at 27 lb, the day's first."""
    return whole(1, (1, 1, 2), "28 lb", "27 lb")


@pytest.mark.parametrize("slip", ["25 lb", "29 lb"])
def test_a_first_weight_that_cannot_be_true_is_replaced(slip: str) -> None:
    job = Job(2, 8).cylinder().start(slip).shot("24.9 lb" if slip == "25 lb" else "28.9 lb")
    job.until(9).form("start_weight", gross="27 lb")
    assert said(job, before()) == []
    job.form("start_weight", gross="26 lb")
    assert said(job, before()) == [LOST]


def test_one_weighed_again_is_held_to_its_first_weight() -> None:
    """Nothing to see for a pound by the shots, for what the hoses hold, or where a shot was not
    weighed; and a loss before the first weighing is said whatever came after."""
    for start, codes in (("27 lb", []), ("26.5 lb", [LOST]), ("27.5 lb", [GAINED])):
        gross = float(start.split(" ")[0])
        for again in (gross - 1.0, gross - 1.1):
            job = Job(2, 8).cylinder().start(start).shot(f"{gross - 1} lb").until(9)
            assert said(job.start(f"{again} lb"), before()) == codes
            job.shot(f"{again - 1} lb").until(10).start(f"{again - 1} lb")
            assert said(job, before()) == codes
        job = Job(2, 8).cylinder().start(start).form("shot_open").form("shot_close").until(9)
        assert said(job.start("24 lb"), before()) == codes


def test_a_shot_weighed_after_the_second_weighing_still_explains_it() -> None:
    job = Job(2, 8).cylinder().start("27 lb").form("shot_open").form("shot_close")
    opened = job.book.events[-2].eid
    job.until(9).form("start_weight", gross="25 lb")
    data = {"shot": opened, "scale_after": "25", "scale_after_unit": "lb"}
    job.book.write("shot.weighed", data, 1)
    assert said(job, before()) == []


def test_another_job_between_two_weighings_is_after_the_first() -> None:
    """27 lb at 8, 26.9 by another job at 10, weighed again at 12: it began at 8."""
    job = Job(2, 8).cylinder().start("27 lb").until(9.5)
    other = whole(3, (8.5, 8.5, 9), "27 lb", "26.5 lb")
    job.shot("26.4 lb").until(12).start("26.4 lb")
    assert said(job, other, before()) == []
    use = uses_in(job.state)[0]
    assert use.started is not None
    assert use.started.at < uses_in(other.state)[0].started.at  # type: ignore[union-attr]


def set_clock(job: Job, hours: float) -> Job:
    """The wall clock only: the program runs on, and the log's order with it."""
    job.book.at += int(hours * HOUR_MS)
    return job


@pytest.mark.parametrize("hours", [-1.0, -0.05, 1.0])
def test_a_clock_set_between_the_last_shot_and_the_end_weight(
    hours: float, handbook: Handbook
) -> None:
    job = set_clock(Job(2, 8).cylinder().start("27 lb").shot("26 lb"), hours).end("26 lb")
    assert [use.end_kg for use in uses_in(job.state)] == [pytest.approx(26.0 * POUND_KG)]
    after = whole(3, (15, 15, 16), "25 lb", "24 lb")
    assert said(after, job) == [LOST]
    assert of_register(handbook, before(), job, after)[after.book.sid] == [LOST]


def test_a_clock_set_back_does_not_make_a_later_shot_an_earlier_one() -> None:
    """Fed, weighed in or weighed before again after its end weight: it has none yet."""
    after = whole(3, (15, 15, 16), "25 lb", "24 lb")
    for again in ("shot", "lot", "start"):
        for hours in (-1.0, 0.0, 1.0):
            job = set_clock(Job(2, 8).cylinder().start("27 lb").shot("26 lb").end("26 lb"), hours)
            if again == "shot":
                job.shot("25 lb")
            elif again == "lot":
                job.weigh_in("charged_off", "1")
            else:
                job.form("start_weight", gross="26 lb")
            assert said(after, job) == [NO_END_WEIGHT], (again, hours)
            job.end("26 lb")
            assert said(after, job) == [LOST]


def test_the_cylinder_before_keeps_its_end_weight_while_the_next_one_feeds() -> None:
    job = set_clock(Job(2, 8).cylinder().start("27 lb").shot("26 lb"), -1.0).end("26 lb")
    job.cylinder("C-2").start("20 lb").shot("19 lb")
    ends = [use.end_kg for use in uses_in(job.state)]
    assert ends == [pytest.approx(26.0 * POUND_KG), None]


def test_a_shot_voided_after_the_end_weight_leaves_it() -> None:
    job = Job(2, 8).cylinder().start("27 lb").shot("26 lb").end("26 lb").form("shot_open")
    assert uses_in(job.state)[0].end_kg is None
    job.book.write("event.voided", {"target": job.book.events[-1].eid}, 1)
    assert uses_in(job.state)[0].end_kg == pytest.approx(26.0 * POUND_KG)


def test_weighed_again_between_two_lots_agrees(handbook: Handbook) -> None:
    """27 lb, 60 oz in, weighed again, 36 oz in, 21 lb: 96 oz by both."""
    bench = evacuated(handbook)
    did(bench, "charge_off", charged_off="60 oz")
    did(bench, "start_weight", gross="23.25 lb")
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest="36 oz")
    did(bench, "end_weight", gross="21 lb")
    assert weighing.by_weights_kg(bench.state()) == pytest.approx(6.0 * POUND_KG)
    assert weighing.difference(bench.state()) == ""
    did(bench, "end_weight", gross="20 lb")
    assert "lost 7 lb" in weighing.difference(bench.state())


def test_weighed_again_after_a_slip_counts_from_there(handbook: Handbook) -> None:
    """The control: 25 lb was typed for 27, and 27 is its weight before the first lot."""
    bench = evacuated(handbook)
    did(bench, "start_weight", gross="25 lb")
    did(bench, "charge_off", charged_off="60 oz")
    did(bench, "start_weight", gross="27 lb")
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest="36 oz")
    did(bench, "end_weight", gross="21 lb")
    assert weighing.difference(bench.state()) == ""


def test_what_was_recovered_since_is_not_held_against_the_new_lots(handbook: Handbook) -> None:
    """The control: 3 lb in and out again, then weighed again at 24 lb, 6 lb in, 18 lb."""
    bench = evacuated(handbook)
    did(bench, "charge_off", charged_off="48 oz")
    recover(bench, "whole", "30 lb", "weigh_in")
    to_vacuum(bench, gross="24 lb")
    did(bench, "charge_off", charged_off="80 oz")
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest="16 oz")
    did(bench, "end_weight", gross="18 lb")
    assert weighing.by_weights_kg(bench.state()) == pytest.approx(6.0 * POUND_KG)
    assert weighing.difference(bench.state()) == ""


def test_a_correction_that_makes_a_recovery_readable_is_taken(handbook: Handbook) -> None:
    """And one to less than nothing is not."""
    bench = evacuated(handbook)
    recover(bench, "part", "28 lb", "readings")
    place = next(i for i, e in enumerate(bench.book.events) if e.kind == "recovery.weighed")
    typed = bench.book.events[place].data
    bench.book.events[place] = replace(bench.book.events[place], data={**typed, "rc_after": "much"})
    state = bench.state()
    assert state.recovered == ()
    assert isinstance(accept_amendment(state, state.entries[place].eid, typed, handbook), Accepted)
    less = {**typed, "rc_after": "26"}
    assert isinstance(accept_amendment(state, state.entries[place].eid, less, handbook), Refused)


@pytest.mark.parametrize("leaks", [False, True])
def test_the_register_and_the_session_hold_a_use_against_the_same_one(
    leaks: bool, handbook: Handbook
) -> None:
    """The register goes through a cylinder's uses once, a session looks for one: the same rule."""
    for seed in range(200):
        uses, _ = truthful(seed, leaks)
        moved = [Movement(FOR_CHARGING, use, "", use.added_kg, None, None) for use in uses]
        register = register_of(moved, (), handbook)
        assert register is not None
        for line in register.lines:
            use = line.use.weighed
            last = last_use(uses, "C-1", use.started)
            assert line.warnings == (() if last is None else between(last, use))
