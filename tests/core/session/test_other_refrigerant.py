"""Another refrigerant than the unit's: seen before a target is saved, counted when it was weighed
in, and over when all of it was recovered.

Sources: mixed refrigerant goes alone into an empty cylinder (Argo X3I, item K, read). That a unit
with a mixture is neither started nor filled up, and that its whole recovery ends it: common
practice, no source.
"""

import pytest
from expert import Bench
from overcharged import charging, shot, step_done
from strategies import CHECKED_ALWAYS, CIRCUIT, MACHINE, PROCEDURE
from walked import (
    READY,
    RECOVERY_CYLINDER,
    TEST,
    VACUUM,
    cylinder,
    did,
    evacuated,
    page_at,
    refused,
)

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import step_by_id
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.cylinders import FOR_RECOVERY, MIXTURE, uses_of
from lowside.core.pages.addresses import STEP
from lowside.core.pages.walks import closed_here
from lowside.core.session import gate, recovering, weighing
from lowside.core.session.corrections import amend_data
from lowside.core.session.entry import Accepted, accept_amendment

WAITS = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")


def codes(bench: Bench) -> list[str]:
    return [one.code for one in gate.blocks(bench.state())]


def label_was(bench: Bench, refrigerant: str) -> None:
    """The label of the first cylinder is read again, and its entry corrected."""
    told = next(event for event in bench.book.events if event.kind == "cylinder.set")
    bench.book.write(
        "event.amended", amend_data(told.eid, {**told.data, "cylinder_refrigerant": refrigerant})
    )


def alerts(bench: Bench, step: str) -> list[str]:
    return [one["text"] for one in page_at(bench, STEP, step).context["step_alerts"]]


def no_target(handbook: Handbook, refrigerant: str) -> Bench:
    """An R-410A unit with this cylinder at its hoses, the target not saved."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    did(bench, "job", site="S", unit_label="U", technician="T", elevation="0 ft")
    did(bench, "unit", refrigerant="R-410A", capacity="3 ton", metering="txv", **CIRCUIT)
    did(bench, "machine", **MACHINE)
    did(bench, "preconditions", **CHECKED_ALWAYS)
    cylinder(bench, "C", refrigerant, "27 lb")
    for step in ("connect", "purge_low", "purge_high", "purge_service", "liquid"):
        step_done(bench.book, step)
    return bench


def test_a_wrong_cylinder_is_seen_before_a_target_is_saved(handbook: Handbook) -> None:
    bench = no_target(handbook, "R-22")
    assert codes(bench)[0] == "wrong_refrigerant"
    assert "lets another refrigerant into the unit" in alerts(bench, "clear_hoses")[0]
    assert "not this unit’s refrigerant" in alerts(bench, "cylinder")[0]
    step_done(bench.book, "close_cylinder")
    assert recovering.unit_is_mixed(bench.state())


def test_the_control_the_right_one_sees_nothing_new(handbook: Handbook) -> None:
    bench = no_target(handbook, "R-410A")
    assert "wrong_refrigerant" not in codes(bench)
    assert alerts(bench, "clear_hoses") == []
    step_done(bench.book, "close_cylinder")
    assert not recovering.unit_is_mixed(bench.state())


def weighed_in_wrong(handbook: Handbook) -> Bench:
    """3 of 6 lb from a cylinder of R-22, then the next one is named and it is right."""
    bench = evacuated(handbook)
    did(bench, "charge_off", charged_off="3 lb")
    label_was(bench, "R-22")
    did(bench, "end_weight", gross="24 lb")
    cylinder(bench, "D", "R-410A", "27 lb")
    return bench


@pytest.mark.parametrize("step_id", ["wi_break", "wi_run", "wi_rest", "wi_off"])
def test_no_page_of_the_weigh_in_goes_on_with_a_mixture(handbook: Handbook, step_id: str) -> None:
    bench = weighed_in_wrong(handbook)
    step = step_by_id(handbook.procedures[PROCEDURE], step_id)
    assert step is not None
    assert closed_here(bench.state(), step, bench.now()).startswith("R-22 was weighed in.")
    page = page_at(bench, STEP, step_id).context
    assert page["step"].get("do", []) == []
    assert (page["form"] is None) == (step_id != "wi_break")
    assert page["done_form"] is None
    assert "R-22 may be inside" in str(page["alerts_now"])
    label_was(bench, "R-410A")
    assert "was weighed in" not in closed_here(bench.state(), step, bench.now())


def test_nothing_more_goes_in_and_the_unit_is_not_started(handbook: Handbook) -> None:
    bench = weighed_in_wrong(handbook)
    assert "Add nothing" in refused(bench, "charge_off", charged_off="3 lb")
    assert "never run" in refused(bench, "charge_run", runs_well="yes")
    label_was(bench, "R-410A")
    did(bench, "charge_off", charged_off="3 lb")
    did(bench, "charge_run", runs_well="yes")


def test_a_lot_that_went_in_on_top_of_it_is_on_record(handbook: Handbook) -> None:
    """Before, it could not be entered at all. It is asked back, and the stop stays."""
    bench = weighed_in_wrong(handbook)
    did(bench, "charge_off", charged_off="1 lb", overfilled="yes")
    assert weighing.charged_kg(bench.state()) == pytest.approx(4.0 * POUND_KG)
    assert "Add nothing" in refused(bench, "charge_off", charged_off="1 lb")
    assert "Add nothing" in refused(bench, "charge_rest", charged_rest="1 lb")
    assert "never run" in refused(bench, "charge_run", runs_well="yes")


def test_what_was_weighed_in_is_recovered_as_a_mixture(handbook: Handbook) -> None:
    bench = weighed_in_wrong(handbook)
    did(bench, "recovery_ready", **WAITS)
    did(bench, "recovery_cylinder", **RECOVERY_CYLINDER)
    held = {"rc_inside": "one", "rc_refrigerant": "R-410A"}
    assert "mixed" in refused(bench, "recovery_contents", rc_before="30 lb", **held)
    did(bench, "recovery_contents", rc_before="27 lb", rc_inside="empty")


def test_a_second_weighing_of_the_wrong_cylinder_hides_nothing(handbook: Handbook) -> None:
    bench = evacuated(handbook)
    did(bench, "charge_off", charged_off="3 lb")
    did(bench, "start_weight", gross="24 lb")
    label_was(bench, "R-22")
    assert weighing.mixed_in(bench.state()) != ""


def test_a_wrong_cylinder_that_let_nothing_in_is_changed_for_the_right_one(
    handbook: Handbook,
) -> None:
    bench = evacuated(handbook)
    did(bench, "charge_off", charged_off="3 lb")
    did(bench, "end_weight", gross="24 lb")
    cylinder(bench, "D", "R-22", "27 lb")
    assert "Never mix them" in refused(bench, "charge_off", charged_off="3 lb")
    cylinder(bench, "E", "R-410A", "27 lb")
    assert weighing.mixed_in(bench.state()) == ""
    did(bench, "charge_off", charged_off="3 lb")


def recovered_mixture(handbook: Handbook) -> Bench:
    """An ounce came from a cylinder of R-22; all of it is recovered, 6 lb are weighed in."""
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    label_was(bench, "R-22")
    did(bench, "recovery_ready", **WAITS)
    did(bench, "recovery_cylinder", **RECOVERY_CYLINDER)
    did(bench, "recovery_contents", rc_before="27 lb", rc_inside="empty")
    assert "mixed_refrigerant" in codes(bench)
    after = {"rc_after": "32 lb", "rc_left": "-6 psig"}
    did(bench, "recovery_after", rc_what="whole", rc_next="weigh_in", **after)
    assert "mixed_refrigerant" not in codes(bench)
    did(bench, "weigh_ready", **READY)
    did(bench, "pressure_test", **TEST)
    did(bench, "weigh_total", coil_adder="0 lb", drier_adder="0 lb")
    cylinder(bench, "D", "R-410A", "27 lb")
    did(bench, "vacuum_held", **VACUUM)
    did(bench, "charge_off", charged_off="6 lb")
    return bench


def test_a_mixture_is_over_when_all_of_it_was_recovered(handbook: Handbook) -> None:
    bench = recovered_mixture(handbook)
    assert not recovering.unit_is_mixed(bench.state())
    did(bench, "recovery_ready", **WAITS)
    did(bench, "recovery_cylinder", **RECOVERY_CYLINDER)
    held = {"rc_inside": "one", "rc_refrigerant": "R-410A"}
    did(bench, "recovery_contents", rc_before="30 lb", **held)
    after = {"rc_after": "36 lb", "rc_left": "0 psig"}
    did(bench, "recovery_after", rc_what="whole", rc_next="weigh_in", **after)
    took = [one for one in uses_of(bench.state()) if one.kind == FOR_RECOVERY]
    assert sorted(one.weighed.refrigerant for one in took) == [MIXTURE, "R-410A"]


def test_its_recovery_is_corrected_by_what_was_inside_then(handbook: Handbook) -> None:
    """After it the fill limit is R-410A's, 33.4 lb of it; the mixture's was less."""
    bench = recovered_mixture(handbook)
    told = [event for event in bench.book.events if event.kind == "recovery.contents"][-1]
    mixed = {**told.data, "rc_inside": "mixed"}
    assert isinstance(accept_amendment(bench.state(), told.eid, mixed, handbook), Accepted)
    clean = {**told.data, "rc_inside": "one", "rc_refrigerant": "R-410A"}
    assert not isinstance(accept_amendment(bench.state(), told.eid, clean, handbook), Accepted)


def test_a_voided_recovery_ends_no_mixture(handbook: Handbook) -> None:
    bench = recovered_mixture(handbook)
    told = [event for event in bench.book.events if event.kind == "recovery.weighed"][-1]
    bench.book.write("event.voided", {"target": told.eid, "reason": "slip"})
    assert recovering.unit_is_mixed(bench.state())


def test_the_answer_that_another_is_inside_is_over_with_the_recovery(handbook: Handbook) -> None:
    bench = charging(handbook)
    did(bench, "preconditions", **CHECKED_ALWAYS | {"same_refrigerant": "no"})
    did(bench, "recovery_ready", **WAITS)
    did(bench, "recovery_cylinder", **RECOVERY_CYLINDER)
    did(bench, "recovery_contents", rc_before="27 lb", rc_inside="empty")
    assert recovering.unit_is_mixed(bench.state())
    after = {"rc_after": "32 lb", "rc_left": "-6 psig"}
    did(bench, "recovery_after", rc_what="whole", rc_next="weigh_in", **after)
    assert not recovering.unit_is_mixed(bench.state())
    did(bench, "preconditions", **CHECKED_ALWAYS | {"same_refrigerant": "no"})
    assert recovering.unit_is_mixed(bench.state())
