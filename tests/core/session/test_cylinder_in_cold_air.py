"""A cylinder that nobody measured is as cold as the air outdoors. One that is not above the suction
pressure is not opened to the unit: the unit would run into it."""

import pytest
from expert import Bench
from overcharged import SHORT, measured
from walked import did, page_at

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP

ALLOWED = {"method": "subcooling", "maker_subcooling": "10 °F", "papers_outdoor_lowest": "35 °F"}
BELOW, ABOVE = "38 °F", "46 °F"
"""The suction is at 124 psig: R-410A boils at 43 °F there."""
SENTENCE = "By the outdoor air, the cylinder is at "
CURE = "If it is warmer, enter its temperature or pressure."


def read_in(handbook: Handbook, outdoor: str, **seen: str) -> Bench:
    cold = {"outdoor_dry_bulb": outdoor, "liquid_pressure": "185 psig", "liquid_line": "62 °F"}
    bench = measured(handbook, SHORT | cold | seen)
    did(bench, "target", **ALLOWED)
    return bench


def saved(bench: Bench, **measured: str) -> None:
    did(
        bench,
        "cylinder",
        cylinder_label="C",
        cylinder_refrigerant="R-410A",
        cylinder_tare="7 lb",
        withdrawal="invert",
        **measured,
    )


def test_its_page_says_it_once(handbook: Handbook) -> None:
    page = page_at(read_in(handbook, BELOW), STEP, "shots").context
    told = [one["text"] for one in page["alerts_now"] + page["step_alerts"]]
    assert len([one for one in told if one.startswith(SENTENCE)]) == 1
    assert not page["advice"]["reason"].startswith(SENTENCE)
    assert page["thumb"]["reading"].endswith("/form/cylinder")
    assert page["thumb"]["close_out"] is None
    assert page["finish"]["button"] == "Stop adding, close out"


def codes(bench: Bench) -> list[str]:
    return [one.code for one in bench.state().cylinder_findings]


def test_nothing_is_added_from_a_cylinder_as_cold_as_the_coil(handbook: Handbook) -> None:
    bench = read_in(handbook, BELOW)
    advice = bench.advice()
    assert advice.action == "do_not_add"
    assert advice.reasons[0].startswith(SENTENCE)
    assert CURE in advice.reasons[0]
    assert not bench.form("decide", {"decision": "add"})
    assert SENTENCE in bench.refused
    assert not bench.form("shot_open", {})


@pytest.mark.parametrize(
    "measured", [{"cylinder_temperature": "70 °F"}, {"cylinder_pressure": "200 psig"}]
)
def test_what_is_measured_at_it_comes_first(handbook: Handbook, measured: dict[str, str]) -> None:
    bench = read_in(handbook, BELOW)
    saved(bench, **measured)
    assert "cylinder_cold" not in codes(bench)
    assert bench.advice().action == "add"
    did(bench, "decide", decision="add")
    did(bench, "shot_open")


def test_a_cylinder_above_the_suction_needs_no_measuring(handbook: Handbook) -> None:
    bench = read_in(handbook, ABOVE)
    assert "cylinder_cold" not in codes(bench)
    assert bench.advice().action == "add"


def test_a_unit_that_is_right_is_not_asked_for_a_warm_cylinder(handbook: Handbook) -> None:
    bench = read_in(handbook, BELOW, liquid_line="54 °F", suction_line="55 °F")
    assert "cylinder_cold" in codes(bench)
    assert bench.advice().action == "finish"


def test_without_outdoor_air_nothing_is_taken_for_it(handbook: Handbook) -> None:
    bench = measured(handbook, {n: v for n, v in SHORT.items() if n != "outdoor_dry_bulb"})
    assert "cylinder_cold" not in codes(bench)


def test_with_the_valve_open_the_page_is_still_there(handbook: Handbook) -> None:
    bench = read_in(handbook, ABOVE)
    did(bench, "decide", decision="add")
    did(bench, "shot_open")
    saved(bench, cylinder_temperature="20 °F")
    assert "cylinder_cold" in codes(bench)
    page = page_at(bench, STEP, "shots").context
    assert page["valve"] is not None
