"""A unit that was charged by weight stays so, what is typed wrong is said where it is typed, and a
suction that is too low to run on comes before all else.

Nothing is added by readings to what was weighed in: common practice, no source. Below 20 psig:
condensing unit and heat pump manual, p. 5 (read). The rest: our choice.
"""

import pytest
from expert import YES, Bench
from walked import RECOVERY_CYLINDER, did, evacuated, recover

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.office.flags import flags_of
from lowside.core.session import gate, weighing
from lowside.core.session.entry import Accepted, Refused, accept_amendment

CHECKS = {
    name: answer
    for name, answer in YES.items()
    if name in {field.name for field in FORMS["preconditions"].fields}
    and not name.startswith("flam")
}
SHORT = {
    "suction_pressure": "118 psig",
    "suction_line": "60 °F",
    "liquid_pressure": "320 psig",
    "liquid_line": "98 °F",
    "outdoor_dry_bulb": "85 °F",
    "return_dry_bulb": "78 °F",
    "return_wet_bulb": "65 °F",
}
"""Subcooling 10 °F wanted, little of it there."""
RESTRICTED = {
    **SHORT,
    "suction_pressure": "15 psig",
    "liquid_pressure": "330 psig",
    "liquid_line": "80 °F",
}


def weighed_in(handbook: Handbook) -> Bench:
    bench = evacuated(handbook)
    did(bench, "target", method="subcooling", maker_subcooling="10 °F")
    did(bench, "charge_off", charged_off="60 oz")
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest="36 oz")
    return bench


def read_short(bench: Bench) -> list[str]:
    """A settled reading that calls for charge; what blocks adding then."""
    did(bench, "preconditions", **CHECKS)
    bench.book.wait(1200)
    did(bench, "reading", **SHORT)
    return [each.code for each in gate.blocks(bench.state())]


def newest(bench: Bench, kind: str) -> str:
    return next(one.eid for one in reversed(bench.state().entries) if one.kind == kind)


def void(bench: Bench, eid: str) -> None:
    bench.book.write("event.voided", {"target": eid, "reason": "typed wrong"})


def test_voiding_a_step_before_it_does_not_open_shots_after_a_weigh_in(handbook: Handbook) -> None:
    bench = weighed_in(handbook)
    void(bench, newest(bench, "weighing.ready"))
    assert "weighed_in" in read_short(bench)
    assert bench.advice().action != "add"


def test_nor_does_a_recovery_of_a_part(handbook: Handbook) -> None:
    bench = weighed_in(handbook)
    recover(bench, "part", "28 lb", "readings")
    assert "weighed_in" in read_short(bench)
    assert bench.advice().action != "add"


def test_the_control_a_weigh_in_that_was_typed_by_mistake(handbook: Handbook) -> None:
    bench = weighed_in(handbook)
    for kind in ("weighing.off", "weighing.rest", "weighing.run", "weighing.ready"):
        void(bench, newest(bench, kind))
    assert "weighed_in" not in read_short(bench)


@pytest.mark.parametrize(("water", "told"), [("20 lb", True), ("47 lb", False)])
def test_a_corrected_collar_that_makes_it_overfilled_is_said_at_its_field(
    handbook: Handbook, water: str, told: bool
) -> None:
    bench = weighed_in(handbook)
    recover(bench, "whole", "45 lb", "weigh_in")
    typed = {name: value.partition(" ")[0] for name, value in RECOVERY_CYLINDER.items()}
    typed |= {"rc_water": water.partition(" ")[0], "rc_date": "06/2024"}
    units = {"rc_water_unit": "lb", "rc_tare_unit": "lb", "rc_service_unit": "psig"}
    eid = newest(bench, "recovery.cylinder")
    found = accept_amendment(bench.state(), eid, typed | units, handbook)
    if told:
        assert isinstance(found, Refused)
        assert "Overfilled" in found.problems["rc_water"]
    else:
        assert isinstance(found, Accepted)


@pytest.mark.parametrize(("after", "flagged"), [("35.4 lb", False), ("46 lb", True)])
def test_too_much_recovered_is_held_against_the_line_set_too(
    handbook: Handbook, after: str, flagged: bool
) -> None:
    """3 lb on the plate, and 150 ft more of line set at 0.6 oz: 8 lb 10 oz in all."""
    bench = evacuated(handbook)
    did(
        bench,
        "unit",
        refrigerant="R-410A",
        metering="txv",
        coil="tube_fin",
        receiver="no",
        nameplate_charge="3 lb",
        line_length="165 ft",
        line_included="15 ft",
        line_adder="0.6 oz/ft",
    )
    void(bench, newest(bench, "weighing.total"))
    recover(bench, "whole", after, "weigh_in")
    details = [one.detail for one in flags_of(bench.state(), None, handbook)]
    assert any("recovered, the charge is" in one for one in details) == flagged


def test_a_whole_charge_that_was_skipped_is_named(handbook: Handbook) -> None:
    bench = evacuated(handbook)
    void(bench, newest(bench, "weighing.total"))
    whole = weighing.whole_charge(bench.state())
    assert (whole.total_kg, whole.missing) == (None, "Save “The whole charge” first.")
    assert whole.missing in weighing.too_little(bench.state())


@pytest.mark.parametrize("weather", [{}, {"outdoor_dry_bulb": "50 °F"}])
def test_a_restriction_below_20_psig_says_switch_off_first_and_nothing_of_hoses(
    handbook: Handbook, weather: dict[str, str]
) -> None:
    bench = evacuated(handbook)
    for kind in ("weighing.total", "weighing.ready"):
        void(bench, newest(bench, kind))
    did(bench, "target", method="subcooling", maker_subcooling="10 °F")
    did(bench, "preconditions", **CHECKS)
    bench.book.wait(1200)
    did(bench, "reading", **(RESTRICTED | weather))
    advice = bench.advice()
    assert advice.action == "do_not_add"
    assert advice.reasons[0].startswith("Switch an air conditioner or heat pump off")
    assert not any("close-out" in one for one in advice.reasons)
