"""Another cylinder in a weigh-in: the hose of the one before is emptied with the unit off and that
one weighed, and no air goes in with the next (common practice, no source)."""

import pytest
from expert import Bench
from strategies import PROCEDURE
from walked import cylinder, did, evacuated, page_at, recover, refused

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP
from lowside.core.session import weighing
from lowside.core.session.walk import step_now

SECOND = {
    "cylinder_label": "D",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}

STEPS = {
    "weighing.ready": "wi_ready",
    "pressure.tested": "wi_pressure",
    "weighing.total": "wi_total",
    "cylinder.set": "wi_cylinder",
    "weight.start": "wi_start_weight",
    "vacuum.held": "wi_vacuum",
    "weighing.off": "wi_break",
}


def told(bench: Bench, step: str) -> list[str]:
    shown = page_at(bench, STEP, step).context["step_alerts"]
    return [one["text"] + " " + one["cure"] for one in shown]


def links(bench: Bench, step: str) -> list[str]:
    shown = page_at(bench, STEP, step).context["step_alerts"]
    return [one["href"].split("/")[-1] for one in shown if one["href"] != ""]


def by_page(bench: Bench) -> None:
    """As entered on the pages of the weigh-in: each entry does its step."""
    for event in bench.book.events:
        if event.kind in STEPS:
            event.data["step"] = STEPS[event.kind]  # type: ignore[index]


def half_in(handbook: Handbook) -> Bench:
    """3 of 6 lb from the first."""
    bench = evacuated(handbook)
    did(bench, "charge_off", charged_off="3 lb")
    by_page(bench)
    return bench


def changed(handbook: Handbook) -> Bench:
    bench = half_in(handbook)
    did(bench, "end_weight", gross="24 lb")
    cylinder(bench, "D", "R-410A", "27 lb")
    by_page(bench)
    return bench


def step_of(bench: Bench) -> str:
    step = step_now(bench.handbook.procedures[PROCEDURE], bench.state())
    return "" if step is None else step.id


def test_none_is_named_on_a_full_hose(handbook: Handbook) -> None:
    bench = half_in(handbook)
    assert "do not close its valve first" in refused(bench, "cylinder", **SECOND)
    for step in ("wi_cylinder", "wi_start_weight"):
        assert "close-out with the unit off" in told(bench, step)[0]
        assert links(bench, step) == ["off_stop"]
    did(bench, "cylinder", **SECOND | {"cylinder_label": "C"})
    did(bench, "end_weight", gross="24 lb")
    assert links(bench, "wi_cylinder") == []
    did(bench, "cylinder", **SECOND)


def test_a_lot_after_the_end_weight_asks_for_it_again(handbook: Handbook) -> None:
    bench = half_in(handbook)
    did(bench, "end_weight", gross="24 lb")
    did(bench, "charge_off", charged_off="1 lb")
    assert "weigh this cylinder bare" in refused(bench, "cylinder", **SECOND)


def test_the_way_leads_back_to_the_weigh_in_without_air(handbook: Handbook) -> None:
    bench = changed(handbook)
    assert step_of(half_in(handbook)) == "wi_run"
    assert step_of(bench) == "wi_break"
    for step_id in ("wi_break", "wi_rest"):
        assert any("the unit’s vapor pushes the air out" in one for one in told(bench, step_id))
    did(bench, "charge_off", charged_off="3 lb")
    assert told(bench, "wi_break") == []


def test_two_cylinders_agree_by_their_weights(handbook: Handbook) -> None:
    bench = changed(handbook)
    did(bench, "charge_off", charged_off="3 lb")
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest="0 lb")
    did(bench, "end_weight", gross="23.98 lb")
    assert weighing.difference(bench.state()) == ""
    did(bench, "charge_result")


def test_after_the_vacuum_the_next_ones_hose_is_evacuated(handbook: Handbook) -> None:
    bench = evacuated(handbook)
    assert told(bench, "wi_break") == []
    assert "a vacuum draws air in" in told(bench, "wi_cylinder")[0]
    cylinder(bench, "D", "R-410A", "27 lb")
    assert "run the pump on the tee" in told(bench, "wi_break")[0]
    did(bench, "charge_off", charged_off="6 lb")
    assert told(bench, "wi_break") == []


@pytest.mark.parametrize("step", ["wi_cylinder", "wi_start_weight", "wi_end_weight"])
def test_one_cylinder_sees_nothing_before_the_vacuum_or_at_the_end(
    handbook: Handbook, step: str
) -> None:
    bench = evacuated(handbook)
    if step != "wi_cylinder":
        assert told(bench, step) == []
    did(bench, "charge_off", charged_off="6 lb")
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest="0 lb")
    assert told(bench, "wi_end_weight") == []
    did(bench, "end_weight", gross="21 lb")
    assert weighing.difference(bench.state()) == ""


def test_after_a_whole_recovery_no_lot_holds_it_up(handbook: Handbook) -> None:
    bench = half_in(handbook)
    recover(bench, "whole", "30 lb", "weigh_in")
    did(bench, "cylinder", **SECOND)
