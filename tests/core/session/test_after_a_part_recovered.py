"""After a part was recovered the unit is locked out until somebody says that it runs again. Then it
is read, and that reading is the result: what was read before is in no estimate, and the session
goes on at the charging page.

15 minutes of running as for any reading (25TPB7 p. 10, READ); that it is read at all: common
practice, no source.
"""

from typing import Any

import pytest
from expert import Bench
from overcharged import OVER, RIGHT, measured, overcharged, step_done
from strategies import PROCEDURE, with_units
from walked import did, page_at, recover

from lowside.core.advice import ground
from lowside.core.advice.advice import READ
from lowside.core.advice.outlook import outlook_of
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP
from lowside.core.session import gate
from lowside.core.session.block import NO_LIQUID, STOP, WAIT
from lowside.core.session.entry import Refused, accept_amendment
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


def runs_again(bench: Bench) -> Bench:
    did(bench, "system_started")
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
    runs_again(bench)
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
    bench = runs_again(part_out(hoses_off(overcharged(handbook))))
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


def test_its_run_begins_when_somebody_says_so(handbook: Handbook) -> None:
    """17 minutes of weighing and hose work with the unit off are no run."""
    bench = overcharged(handbook)
    all_done_up_to(bench, "shots")
    part_out(bench)
    assert page(bench)["thumb"]["close_out"]["button"] == "It is running again"
    bench.book.wait(900)
    step_done(bench.book, "liquid")
    assert bench.advice().action == STOP
    runs_again(bench)
    bench.book.wait(60)
    found = bench.advice()
    assert (found.action, found.wait_s) == (WAIT, pytest.approx(840, abs=11))
    short = OVER | {"liquid_line": "112 °F"}
    did(bench, "reading", **short)
    did(bench, "reading", **short)
    assert bench.advice().action == WAIT
    assert not bench.form("shot_open", {})
    assert "settled" in bench.refused
    bench.book.wait(900)
    did(bench, "reading", **short)
    assert "steady" not in [block.code for block in gate.blocks(bench.state())]


def test_the_control_the_whole_charge_out_stops_nothing_but_the_readings(
    handbook: Handbook,
) -> None:
    bench = overcharged(handbook)
    recover(bench, "whole", "33 lb", "weigh_in")
    assert "stopped" not in [block.code for block in gate.blocks(bench.state())]


def test_what_was_read_before_it_is_in_no_estimate(handbook: Handbook) -> None:
    bench = runs_again(part_out(hoses_off(overcharged(handbook))))
    bench.book.wait(1000)
    did(bench, "reading", **(OVER | {"liquid_line": "95 °F"}))
    state = bench.state()
    basis = ground.basis(state)
    assert basis is not None
    outlook = outlook_of(state, basis)
    assert outlook is not None
    assert [one.taken for one in outlook.observations] == [state.readings[-1]]
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
    bench = runs_again(part_out(overcharged(handbook)))
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


def weighing_out(handbook: Handbook) -> Bench:
    """A unit of 6 lb by its plate, an empty recovery cylinder on it."""
    bench = overcharged(handbook)
    did(bench, "recovery_ready", **READY)
    did(bench, "recovery_cylinder", **SMALL)
    did(bench, "recovery_contents", rc_before="17 lb", rc_inside="empty")
    return bench


PART = {"rc_what": "part", "rc_next": "readings"}


@pytest.mark.parametrize(
    ("after", "left", "told"),
    [
        ("17.25 lb", "1 psig", ""),
        ("17.25 lb", "0 psig", "Read the blue gauge"),
        ("17.25 lb", "-5 psig", "Read the blue gauge"),
        ("20 lb", "110 psig", ""),
        ("20.01 lb", "110 psig", "More than half"),
    ],
)
def test_a_unit_with_hardly_anything_left_is_not_run(
    handbook: Handbook, after: str, left: str, told: str
) -> None:
    """Nothing at 0 psig. Half of the charge is what a weigh-in starts with: ours."""
    bench = weighing_out(handbook)
    taken = bench.form("recovery_after", PART | {"rc_after": after, "rc_left": left})
    assert taken == (told == "")
    if told:
        assert told in bench.refused
        assert "recover the whole charge and weigh in" in bench.refused
    whole = {"rc_after": after, "rc_left": "0 psig", "rc_what": "whole", "rc_next": "weigh_in"}
    assert bench.form("recovery_after", whole), bench.refused


def test_what_went_into_cylinders_before_counts_too(handbook: Handbook) -> None:
    bench = weighing_out(handbook)
    first = {"rc_after": "19 lb", "rc_left": "110 psig"}
    did(bench, "recovery_after", **first, rc_what="part", rc_next="another")
    did(bench, "recovery_cylinder", **SMALL)
    did(bench, "recovery_contents", rc_before="17 lb", rc_inside="empty")
    assert not bench.form("recovery_after", PART | first | {"rc_after": "18.1 lb"})
    did(bench, "recovery_after", **(PART | first | {"rc_after": "18 lb"}))


@pytest.mark.parametrize(("typed", "told"), [("20 lb", ""), ("20.1 lb", "More than half")])
def test_nor_is_one_by_a_corrected_weight(handbook: Handbook, typed: str, told: str) -> None:
    bench = weighing_out(handbook)
    did(bench, "recovery_after", **PART, rc_after="17.25 lb", rc_left="110 psig")
    data = with_units("recovery_after", PART | {"rc_after": typed, "rc_left": "110 psig"})
    outcome = accept_amendment(bench.state(), bench.book.events[-1].eid, data, handbook)
    assert isinstance(outcome, Refused) == (told != "")
    if isinstance(outcome, Refused):
        assert told in outcome.problems["rc_after"]
