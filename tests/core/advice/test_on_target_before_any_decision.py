"""A unit that is on target at its first readings gets no small shot: nobody decided to add, and the
decision's form takes no “add” without a reason there. An expert leaves it (common practice, no
source). That a unit which is being charged gets it: `test_checked_early.py`."""

import pytest
from expert import Bench
from overcharged import SHORT, measured
from walked import did

from lowside.core.handbook.handbook import Handbook

NEAR_THE_EDGE = SHORT | {"liquid_line": "99 °F", "suction_line": "57 °F"}
"""Just within 10 ± 3 °F of subcooling."""


def again(bench: Bench, seen: dict[str, str]) -> None:
    bench.book.wait(240)
    did(bench, "reading", **seen)


@pytest.mark.parametrize("readings", [1, 2, 3])
def test_the_advice_does_not_ask_for_what_the_decision_refuses(
    handbook: Handbook, readings: int
) -> None:
    bench = measured(handbook, NEAR_THE_EDGE)
    for _ in range(readings - 1):
        again(bench, NEAR_THE_EDGE)
    assert bench.state().readings[-1].assessment.verdict == "on_target"
    assert bench.advice().action != "add"
    assert not bench.form("decide", {"decision": "add"})
    assert bench.form("decide", {"decision": "leave"}), bench.refused
