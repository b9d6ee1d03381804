"""After a part was recovered the unit runs, is read, and that reading is the result: what was taken
out lowers the charge, and the session goes on at the charging page.

15 minutes as for any reading (25TPB7 p. 10, READ); that it is read at all: common practice, no
source.
"""

from typing import Any

import pytest
from expert import Bench
from overcharged import OVER, RIGHT, measured, overcharged, step_done
from strategies import PROCEDURE
from walked import did, page_at

from lowside.core.advice import ground
from lowside.core.advice.advice import READ
from lowside.core.advice.outlook import outlook_of
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.pages.addresses import STEP
from lowside.core.session import gate
from lowside.core.session.block import NO_LIQUID, WAIT
from lowside.core.session.walk import step_now

READY = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")
SMALL = {
    "rc_water": "26.2 lb",
    "rc_tare": "17 lb",
    "rc_service": "400 psig",
    "rc_date": "06/2024",
    "rc_date_means": "tested",
    "rc_label": "RC-1",
}


def hoses_off(bench: Bench) -> Bench:
    """With the unit off."""
    for step in bench.handbook.procedures[PROCEDURE].off_steps:
        step_done(bench.book, step.id)
    return bench


def part_out(bench: Bench) -> Bench:
    """Four ounces are recovered, and the readings go on."""
    did(bench, "recovery_ready", **READY)
    step_done(bench.book, "rec_ready")
    did(bench, "recovery_cylinder", **SMALL)
    step_done(bench.book, "rec_cylinder")
    did(bench, "recovery_contents", rc_before="17 lb", rc_inside="empty")
    step_done(bench.book, "rec_contents")
    step_done(bench.book, "rec_run")
    weighed = {"rc_after": "17.25 lb", "rc_left": "120 psig"}
    did(bench, "recovery_after", **weighed, rc_what="part", rc_next="readings")
    bench.book.write("step.done", {"step": "rec_after"}, 1)
    return bench


def all_done_up_to(bench: Bench, last: str) -> None:
    """The forms of the bench mark no step."""
    for step in bench.handbook.procedures[PROCEDURE].steps:
        bench.book.write("step.done", {"step": step.id}, 1)
        if step.id == last:
            break


def at(bench: Bench) -> str:
    step = step_now(bench.handbook.procedures[PROCEDURE], bench.state())
    return "" if step is None else step.id


def page(bench: Bench) -> dict[str, Any]:
    return page_at(bench, STEP, "shots").context


def asks_for_a_recovery(bench: Bench) -> bool:
    shown = page(bench)
    told = [*shown["findings_now"], *shown["alerts_now"], *shown["step_alerts"]]
    return any("Recover some" in one["text"] for one in told)


def test_the_session_goes_on_at_the_charging_page(handbook: Handbook) -> None:
    bench = overcharged(handbook)
    all_done_up_to(bench, "shots")
    part_out(hoses_off(bench))
    assert at(bench) == "shots"
    bench.book.wait(1000)
    did(bench, "reading", **RIGHT)
    assert at(bench) == "shots", "its result is seen there"
    step_done(bench.book, "shots")
    assert at(bench) == "caps"


def test_the_control_one_never_read_goes_on_where_it_was(handbook: Handbook) -> None:
    bench = measured(handbook, OVER)
    all_done_up_to(bench, "tare")
    part_out(bench)
    assert at(bench) == "baseline"


@pytest.mark.parametrize(
    ("waited", "action", "left"),
    [(0, WAIT, 900), (600, WAIT, 300), (880, WAIT, 20), (901, READ, 0)],
)
def test_its_run_is_counted_down(handbook: Handbook, waited: int, action: str, left: int) -> None:
    bench = part_out(hoses_off(overcharged(handbook)))
    bench.book.wait(waited)
    assert bench.advice().action == action
    clock = page(bench)["clock"]
    assert (clock is None) == (action == READ) or clock["wait"] == "0"
    if action == WAIT:
        assert (clock["label"], clock["elapsed"]) == ("Next reading in", 0)
        assert float(clock["wait"]) == pytest.approx(left, abs=11)
        assert page(bench)["advice"]["how"] == "Let it settle. Read when the time is up."
    else:
        assert page(bench)["reading"] is not None


def test_the_reading_before_it_no_longer_asks_for_a_recovery(handbook: Handbook) -> None:
    bench = overcharged(handbook)
    assert asks_for_a_recovery(bench)
    part_out(hoses_off(bench))
    assert not asks_for_a_recovery(bench)
    assert page(bench)["reading_line"].endswith(", before some was recovered.")


def test_what_was_taken_out_is_in_the_estimate(handbook: Handbook) -> None:
    bench = part_out(hoses_off(overcharged(handbook)))
    bench.book.wait(1000)
    did(bench, "reading", **(OVER | {"liquid_line": "95 °F"}))
    state = bench.state()
    basis = ground.basis(state)
    assert basis is not None
    outlook = outlook_of(state, basis)
    assert outlook is not None
    added = [one.added_kg / OUNCE_KG for one in outlook.observations]
    assert added == pytest.approx([0.0, 1.0, 1.0, -3.0])
    assert outlook.readings_here == 1
    said = " ".join(bench.advice().reasons)
    assert "no charge was taken out" not in said
    bench.book.wait(240)
    did(bench, "reading", **(OVER | {"liquid_line": "95 °F"}))
    assert "no charge was taken out" not in " ".join(bench.advice().reasons)


def test_the_control_without_a_recovery_it_went_the_wrong_way(handbook: Handbook) -> None:
    bench = overcharged(handbook)
    bench.book.wait(1000)
    did(bench, "reading", **(OVER | {"liquid_line": "96.5 °F"}))
    bench.book.wait(240)
    did(bench, "reading", **(OVER | {"liquid_line": "96.5 °F"}))
    assert "no charge was taken out" in " ".join(bench.advice().reasons)


def test_nothing_is_added_by_hoses_that_came_off_for_it(handbook: Handbook) -> None:
    """No close-out step was ticked: that they are off is said before the recovery machine runs. Air
    in a hose must not go in: common practice, no source."""
    bench = part_out(overcharged(handbook))
    bench.book.wait(1000)
    short = OVER | {"liquid_line": "112 °F"}
    for _ in range(3):
        did(bench, "reading", **short)
        bench.book.wait(240)
    assert bench.advice().action != "add"
    codes = [block.code for block in gate.blocks(bench.state())]
    assert "hoses_off" in codes
    assert gate.at_valves(bench.state()).endswith(NO_LIQUID)
    assert bench.state().readings[-1].hoses_kg == 0.0
    assert not bench.form("shot_open", {})
    step_done(bench.book, "liquid")
    assert "hoses_off" not in [block.code for block in gate.blocks(bench.state())]
