"""A typed superheat far above the chart’s is looked at before refrigerant is taken out by it.

Published charts of manufacturers agree with ours within 5 °F (`docs/permission.md`), so such a
number is perhaps a slip of the thumb, which would empty a sound unit. That it is asked for once
more is our choice.
"""

import pytest
from expert import Bench
from walked import before_reading, did, page_at

from lowside.core.advice.advice import DO_NOT_ADD, RECOVER
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP
from lowside.core.session import gate

AT_85_AND_66 = {
    "suction_pressure": "118 psig",
    "suction_line": "50 °F",
    "liquid_pressure": "340 psig",
    "liquid_line": "98 °F",
    "outdoor_dry_bulb": "85 °F",
    "return_dry_bulb": "78 °F",
    "return_wet_bulb": "66 °F",
}
"""R-410A behind an orifice; the chart gives 15.5 °F of superheat in this weather."""


def read(handbook: Handbook, superheat: str, line: str = "50 °F") -> Bench:
    unit = {"metering": "fixed", "nameplate_charge": "8 lb"}
    bench = before_reading(handbook, unit, {"method": "superheat", "maker_superheat": superheat})
    bench.book.wait(900)
    did(bench, "reading", **AT_85_AND_66 | {"suction_line": line})
    return bench


def save(bench: Bench, superheat: str) -> None:
    did(bench, "target", method="superheat", maker_superheat=superheat)


def test_nothing_is_recovered_before_the_target_was_saved_once_more(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    told = bench.advice()
    assert told.action == DO_NOT_ADD
    assert told.amount_kg is None
    assert told.reasons == (
        "The chart gives 15.5 °F in this weather, far less than the target. Read the instructions "
        "again. If the target is right, save it once more before anything is recovered.",
    )
    save(bench, "36 °F")
    assert bench.advice().action == RECOVER
    assert "reading_refused" in [each.code for each in gate.blocks(bench.state())]


def test_nothing_on_the_page_orders_to_recover_before(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    (refused,) = [one for one in gate.blocks(bench.state()) if one.code == "reading_refused"]
    assert "ecover" not in refused.sentence
    assert refused.form == "target"
    save(bench, "36 °F")
    (refused,) = [one for one in gate.blocks(bench.state()) if one.code == "reading_refused"]
    assert "Recover some" in refused.sentence


def test_another_number_is_asked_for_once_more_too(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    save(bench, "35 °F")
    assert bench.advice().action == DO_NOT_ADD
    save(bench, "35 °F")
    assert bench.advice().action == RECOVER


def test_the_right_number_ends_it(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    save(bench, "16 °F")
    assert bench.advice().action not in (DO_NOT_ADD, RECOVER)


@pytest.mark.parametrize("superheat", ["16 °F", "20 °F"])
def test_the_control_a_number_near_the_charts_is_recovered_by_at_once(
    handbook: Handbook, superheat: str
) -> None:
    bench = read(handbook, superheat, "44 °F")
    assert bench.advice().action == RECOVER


def test_the_page_says_it_once_and_its_one_button_goes_to_the_target(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    page = page_at(bench, STEP, "shots").context
    told = [one["text"] for one in page["alerts_now"] + page["step_alerts"]]
    assert len([one for one in told if "far less than the target" in one]) == 1
    assert page["advice"]["reason"] == ""
    assert page["thumb"]["reading"] == f"/s/{bench.book.sid}/form/target"
    assert page["thumb"]["close_out"] is None
    save(bench, "36 °F")
    page = page_at(bench, STEP, "shots").context
    assert page["thumb"]["close_out"] is not None
