"""An opening in the last seconds of a wait counts as what the page says when the wait is over."""

from expert import Bench
from overcharged import charging, shot

from lowside.core.advice.advice import ADD, READ
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.block import WAIT
from lowside.practice.asked import NEARLY_DUE_S, Asked, asked_before, is_far_over


def just_before(bench: Bench, due: str) -> Asked:
    """Shots as advised, up to two seconds before the wait that ends in `due` is over."""
    before = 27.5
    for _ in range(30):
        advice = bench.advice()
        if advice.action == WAIT:
            wait_s = advice.wait_s or 0.0
            bench.book.wait(wait_s - 2.0)
            asked = asked_before(bench.book.events, bench.book.mono / 1000.0, bench.handbook)
            bench.book.wait(2.0)
            if bench.advice().action == due:
                return asked
        assert bench.advice().action == ADD
        before = before - (bench.advice().amount_kg or 0.0) / OUNCE_KG / 16.0
        shot(bench, 15, f"{before:.4f} lb")
    raise AssertionError(f"no wait ended in {due}")


def test_before_a_reading_is_due_the_valve_stays_closed(handbook: Handbook) -> None:
    asked = just_before(charging(handbook), READ)
    assert asked.advice is not None
    assert asked.advice.action == WAIT
    assert not asked.leaves


def test_before_the_next_shot_of_a_batch_the_opening_is_that_shot(handbook: Handbook) -> None:
    """No more than it, though: far over it is far over."""
    bench = charging(handbook)
    asked = just_before(bench, ADD)
    amount_kg = bench.advice().amount_kg
    assert asked.leaves
    assert asked.advice is not None
    assert asked.advice.amount_kg == amount_kg
    assert amount_kg is not None
    assert not is_far_over(asked, amount_kg)
    assert is_far_over(asked, 3.0 * amount_kg)


def test_earlier_in_the_pause_nothing_is_left_to_the_technician(handbook: Handbook) -> None:
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    bench.book.wait((bench.advice().wait_s or 0.0) - NEARLY_DUE_S - 1.0)
    assert not asked_before(bench.book.events, bench.book.mono / 1000.0, handbook).leaves
