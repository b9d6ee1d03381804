"""A reading belongs to the unit as it ran then: what is mended or set since asks for a new one. And
a unit that a wrong cylinder fed is mixed for good.

Sources: only the charge mode's readings are approved (18-BC89D1-1L-EN p. 20), 15 minutes of running
before a reading (25TPB7 p. 10, RA3.2 2008), no adjusting in heating (PH4Z p. 12). That a washed
coil is wet, and that a mixed charge is recovered whole: common practice, no source. What an honest
slip costs is our choice.
"""

import pytest
from expert import YES, Bench
from strategies import PROCEDURE
from walked import RECOVERY_CYLINDER, weigh_before

from lowside.core.advice.advice import ADD, READ
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.block import STOP, WAIT
from lowside.core.session.corrections import amend_data
from lowside.core.session.gate import blocks
from lowside.core.session.recovering import unit_is_mixed

FULL = {"mode": "cooling", "compressor": "full", "kind": "split"}
PART = {**FULL, "compressor": "part"}
INVERTER = {**FULL, "compressor": "inverter"}
READING = {
    "suction_pressure": "118 psig",
    "suction_line": "60 °F",
    "liquid_pressure": "355 psig",
    "liquid_line": "104 °F",
    "outdoor_dry_bulb": "95 °F",
    "return_dry_bulb": "78 °F",
    "return_wet_bulb": "66 °F",
}
"""R-410A: superheat near 19 °F, subcooling near 4 of 10 °F: short, and nothing else."""


def ready(
    handbook: Handbook,
    checks: dict[str, str] | None = None,
    machine: dict[str, str] = FULL,
    **target: str,
) -> Bench:
    """At the first reading, 15 minutes after the checks."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    say(bench, "job", site="S", unit_label="U", technician="T", elevation="0 ft")
    say(bench, "unit", **unit("R-410A"))
    say(bench, "machine", **machine)
    say(bench, "target", method="subcooling", maker_subcooling="10 °F", **target)
    say(bench, "preconditions", **{**YES, **(checks or {})})
    cylinder(bench, "C", "R-410A")
    bench.book.wait(900)
    return bench


def unit(refrigerant: str) -> dict[str, str]:
    return {
        "refrigerant": refrigerant,
        "metering": "txv",
        "capacity": "3 ton",
        "nameplate_charge": "8 lb",
        "coil": "tube_fin",
        "receiver": "no",
    }


def cylinder(bench: Bench, label: str, refrigerant: str) -> None:
    weigh_before(bench)
    say(
        bench,
        "cylinder",
        cylinder_label=label,
        cylinder_refrigerant=refrigerant,
        cylinder_tare="7 lb",
        withdrawal="dip_tube",
    )
    say(bench, "start_weight", gross="27 lb")
    say(
        bench,
        "tare",
        scale_mode="gross",
        scale_reading="27.5 lb",
        scale_resolution="0.25 oz",
    )


def cleared(bench: Bench, step: str) -> None:
    """The hose of the cylinder in use is empty, before another one is named."""
    bench.book.write("step.done", {"step": step})


def say(bench: Bench, form: str, **typed: str) -> None:
    assert bench.form(form, typed), bench.refused


def may_add(bench: Bench) -> bool:
    """Whether the advice is to add and a shot may be started: both or neither."""
    bench.form("decide", {"decision": "add"})
    added = bench.advice().action == ADD
    assert bench.form("shot_open", {}) == added
    return added


def adds_once_settled(bench: Bench) -> None:
    """Not by the last reading, but by one 15 minutes from now."""
    assert not may_add(bench)
    bench.book.wait(900)
    say(bench, "reading", **READING)
    assert may_add(bench)


def fed_once(handbook: Handbook) -> Bench:
    """Read, decided, and a first shot of 0.8 oz."""
    bench = ready(handbook)
    say(bench, "reading", **READING)
    say(bench, "decide", decision="add")
    bench.wait_as_advised()
    say(bench, "shot_open")
    bench.book.wait(10)
    say(bench, "shot_close")
    say(bench, "shot_weigh", scale_after="27.45 lb")
    return bench


def codes(bench: Bench) -> list[str]:
    return [block.code for block in blocks(bench.state())]


CHECKS = [("airflow", "no"), ("outdoor_coil", "no"), ("leak", "leaking")]
MACHINES = [
    ({**PART, "held": "no"}, {**PART, "held": "yes"}),
    ({**INVERTER, "held": "no"}, {**INVERTER, "held": "yes"}),
    ({**FULL, "mode": "heating", "port": "suction_port"}, FULL),
    ({**PART, "held": "yes"}, FULL),
]


def test_a_healthy_session_is_asked_for_nothing_more(handbook: Handbook) -> None:
    bench = ready(handbook)
    say(bench, "reading", **READING)
    say(bench, "preconditions", **YES)
    say(bench, "machine", **FULL)
    assert may_add(bench)


@pytest.mark.parametrize(("check", "bad"), CHECKS)
def test_what_was_mended_after_the_reading_asks_for_a_settled_one(
    handbook: Handbook, check: str, bad: str
) -> None:
    bench = ready(handbook, {check: bad})
    say(bench, "reading", **READING)
    bench.book.wait(300)
    say(bench, "preconditions", **YES)
    assert bench.advice().action == WAIT
    assert "settled as it runs now. Let it run 15 min in all" in bench.advice().reasons[0]
    assert not may_add(bench)
    bench.book.wait(800)
    say(bench, "reading", **READING)
    assert not may_add(bench)
    bench.book.wait(100)
    say(bench, "reading", **READING)
    assert may_add(bench)


@pytest.mark.parametrize(("check", "bad"), [*CHECKS, ("steady", "no")])
def test_a_slip_before_the_first_reading_costs_nothing(
    handbook: Handbook, check: str, bad: str
) -> None:
    bench = ready(handbook, {check: bad})
    say(bench, "preconditions", **YES)
    say(bench, "reading", **READING)
    assert may_add(bench)


@pytest.mark.parametrize(("before", "after"), MACHINES)
def test_a_unit_that_runs_another_way_is_read_again(
    handbook: Handbook, before: dict[str, str], after: dict[str, str]
) -> None:
    bench = ready(handbook, machine=before)
    say(bench, "reading", **READING)
    say(bench, "machine", **after)
    adds_once_settled(bench)


def test_a_mode_started_again_settles_again(handbook: Handbook) -> None:
    """The mode ends after 60 minutes (NS22HM), and the reading may be of the unit without it."""
    held = {**INVERTER, "held": "yes"}
    bench = ready(handbook, machine=held)
    bench.book.wait(2800)
    say(bench, "reading", **READING)
    assert "mode_over" in codes(bench)
    say(bench, "machine", **held)
    adds_once_settled(bench)


def test_a_filter_found_dirty_after_the_first_shot(handbook: Handbook) -> None:
    bench = fed_once(handbook)
    say(bench, "preconditions", **{**YES, "airflow": "no"})
    bench.book.wait(240)
    say(bench, "preconditions", **YES)
    assert codes(bench) == ["steady"]
    assert not may_add(bench)


def test_steady_by_word_waits_no_longer_but_needs_a_newer_reading(handbook: Handbook) -> None:
    bench = ready(handbook, {"steady": "no"})
    say(bench, "reading", **READING)
    bench.book.wait(300)
    say(bench, "preconditions", **YES)
    assert not may_add(bench)
    say(bench, "reading", **READING)
    assert may_add(bench)


def test_steady_by_word_needs_a_newer_reading_by_a_shorter_wait_too(handbook: Handbook) -> None:
    bench = ready(handbook, {"steady": "no"}, papers_wait="5 min")
    say(bench, "reading", **READING)
    bench.book.wait(50)
    say(bench, "preconditions", **YES)
    assert not may_add(bench)
    say(bench, "reading", **READING)
    assert may_add(bench)


def test_a_voided_reading_was_one_all_the_same(handbook: Handbook) -> None:
    """Washed, and the reading of before voided instead of waiting."""
    bench = ready(handbook, {"outdoor_coil": "no"})
    say(bench, "reading", **READING)
    say(bench, "void", target=bench.book.events[-1].eid, reason="taken before")
    say(bench, "preconditions", **YES)
    bench.book.wait(90)
    say(bench, "reading", **READING)
    adds_once_settled(bench)


def test_when_the_wait_is_over_a_reading_is_asked_for(handbook: Handbook) -> None:
    bench = ready(handbook, {"airflow": "no"})
    say(bench, "reading", **READING)
    say(bench, "preconditions", **YES)
    bench.book.wait(800)
    assert bench.advice().action == WAIT
    bench.book.wait(100)
    assert bench.advice().action == READ
    assert "steady" in codes(bench)


HEALTHY = {**READING, "suction_line": "52 °F", "liquid_line": "99 °F"}
"""Superheat near 11 °F, subcooling near 9 of 10 °F."""


@pytest.mark.parametrize(
    ("checks", "machine", "cure"),
    [
        ({"airflow": "no"}, FULL, ("preconditions", YES)),
        ({}, {**PART, "held": "no"}, ("machine", FULL)),
    ],
)
def test_what_was_read_before_the_cure_is_in_no_mean_and_no_estimate(
    handbook: Handbook, checks: dict[str, str], machine: dict[str, str], cure: tuple[str, dict]
) -> None:
    told = []
    for before in (True, False):
        bench = ready(handbook, checks if before else None, machine if before else FULL)
        if before:
            say(bench, "reading", **{**READING, "suction_line": "66 °F"})
            say(bench, cure[0], **cure[1])
            bench.book.wait(960)
        for _ in range(2):
            say(bench, "reading", **HEALTHY)
            bench.book.wait(200)
        told.append(bench.advice())
    after, never = told
    assert after.remaining_kg == never.remaining_kg
    assert (after.action, after.reasons) == (never.action, never.reasons)


def test_a_filter_cleaned_restarts_the_countdown(handbook: Handbook) -> None:
    bench = ready(handbook, {"steady": "counted", "airflow": "no"})
    say(bench, "reading", **READING)
    say(bench, "preconditions", **{**YES, "steady": "counted"})
    bench.book.wait(600)
    say(bench, "reading", **READING)
    assert not may_add(bench)
    bench.book.wait(300)
    say(bench, "reading", **READING)
    assert may_add(bench)


@pytest.mark.parametrize("way", ["void", "amend", "void the amendment"])
def test_a_no_taken_back_after_the_reading_costs_one_reading(handbook: Handbook, way: str) -> None:
    bench = ready(handbook, None if way == "void the amendment" else {"airflow": "no"})
    said = next(event for event in bench.book.events if event.kind == "checks.answered")
    if way == "void":
        say(bench, "preconditions", **YES)
        say(bench, "preconditions", **{**YES, "airflow": "no"})
        said = bench.book.events[-1]
    if way == "void the amendment":
        bench.book.wait(60)
        bench.book.write("event.amended", amend_data(said.eid, {**said.data, "airflow": "no"}))
        said = bench.book.events[-1]
    bench.book.wait(60)
    say(bench, "reading", **READING)
    assert "airflow" in codes(bench)
    bench.book.wait(60)
    if way == "amend":
        bench.book.write("event.amended", amend_data(said.eid, {**said.data, "airflow": "yes"}))
    else:
        say(bench, "void", target=said.eid, reason="mistyped")
    assert not may_add(bench)
    assert bench.advice().action == READ
    assert "voided or corrected since" in bench.advice().reasons[0]
    say(bench, "reading", **READING)
    assert may_add(bench)


def test_what_says_nothing_of_the_unit_costs_no_reading(handbook: Handbook) -> None:
    """A note voided and restored, the correction of a name voided, a shot's weight corrected."""
    bench = fed_once(handbook)
    bench.book.wait(900)
    say(bench, "reading", **READING)
    before = bench.advice()
    say(bench, "note", text="n")
    bench.book.wait(30)
    say(bench, "void", target=bench.book.events[-1].eid, reason="")
    bench.book.wait(30)
    say(bench, "void", target=bench.book.events[-1].eid, reason="")
    for kind in ("job.set", "shot.opened"):
        told = next(event for event in bench.book.events if event.kind == kind)
        bench.book.write("event.amended", amend_data(told.eid, dict(told.data)))
        if kind == "job.set":
            bench.book.wait(30)
            say(bench, "void", target=bench.book.events[-1].eid, reason="")
    assert bench.advice().action == before.action
    assert not bench.advice().too_old


def test_a_kind_of_unit_said_otherwise_changes_nothing(handbook: Handbook) -> None:
    bench = ready(handbook, machine={**FULL, "kind": "package"})
    say(bench, "reading", **READING)
    say(bench, "machine", **FULL)
    assert may_add(bench)


def test_a_slip_voided_at_once_costs_nothing(handbook: Handbook) -> None:
    bench = ready(handbook)
    say(bench, "reading", **READING)
    say(bench, "preconditions", **{**YES, "airflow": "no"})
    say(bench, "void", target=bench.book.events[-1].eid, reason="slip")
    assert may_add(bench)


def test_an_r22_unit_that_was_fed_r410a_is_mixed_whatever_cylinder_comes_next(
    handbook: Handbook,
) -> None:
    bench = fed_once(handbook)
    say(bench, "unit", **unit("R-22"))
    assert bench.advice().action == STOP
    assert bench.advice().reasons[0].startswith("R-410A may be inside. Pressures then mean nothing")
    cleared(bench, "off_cylinder")
    cylinder(bench, "D", "R-22")
    bench.book.wait(900)
    assert "mixed_refrigerant" in codes(bench)
    assert "wrong_refrigerant" not in codes(bench)
    assert not may_add(bench)
    assert unit_is_mixed(bench.state()), "its recovery cylinder is one for a mixture"
    yes = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")
    say(bench, "recovery_ready", **yes)
    say(bench, "recovery_cylinder", **RECOVERY_CYLINDER)
    say(bench, "recovery_contents", rc_before="27 lb", rc_inside="empty")
    whole = {"rc_what": "whole", "rc_next": "weigh_in"}
    say(bench, "recovery_after", rc_after="32 lb", rc_left="-6 psig", **whole)
    assert "emptied" in codes(bench)
    assert "mixed_refrigerant" not in codes(bench)


def test_a_cylinder_that_fed_and_was_another_is_never_answered_by_getting_the_right_one(
    handbook: Handbook,
) -> None:
    bench = fed_once(handbook)
    told = next(event for event in bench.book.events if event.kind == "cylinder.set")
    wrong = amend_data(told.eid, {**told.data, "cylinder_refrigerant": "R-22"})
    bench.book.write("event.amended", wrong)
    assert bench.advice().reasons[0].startswith("R-22 may be inside.")
    cleared(bench, "off_cylinder")
    cylinder(bench, "D", "R-410A")
    bench.book.wait(900)
    say(bench, "reading", **READING)
    assert bench.advice().action == STOP
    assert not may_add(bench)
    # It was mistyped after all.
    bench.book.write("event.amended", amend_data(told.eid, dict(told.data)))
    assert not unit_is_mixed(bench.state())
    bench.form("decide", {"decision": "add"})
    assert codes(bench) == []
    assert bench.advice().action != STOP


def test_a_wrong_cylinder_that_fed_nothing_is_changed_for_the_right_one(
    handbook: Handbook,
) -> None:
    bench = ready(handbook)
    cleared(bench, "clear_hoses")
    cylinder(bench, "D", "R-22")
    say(bench, "reading", **READING)
    assert (
        bench.advice()
        .reasons[0]
        .endswith("Get the right cylinder, or correct the entry if one was mistyped.")
    )
    assert "mixed_refrigerant" not in codes(bench)
    told = {"cylinder_label": "E", "cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb"}
    assert not bench.form("cylinder", told | {"withdrawal": "invert"})
    assert "Do not clear it into the unit" in bench.refused
    cleared(bench, "off_cylinder")
    cylinder(bench, "E", "R-410A")
    assert may_add(bench)


def corrected(bench: Bench, refrigerant: str) -> None:
    """The entry of the cylinder in use, as its page corrects it on the timeline."""
    told = [one for one in bench.state().entries if one.kind == "cylinder.set"][-1]
    data = amend_data(told.eid, {**told.data, "cylinder_refrigerant": refrigerant})
    bench.book.write("event.amended", data)


@pytest.mark.parametrize("read", [True, False])
@pytest.mark.parametrize(
    "steps",
    [("close_cylinder", "clear_hoses"), ("clear_hoses",), ("close_cylinder", "off_recover")],
)
def test_a_wrong_cylinder_whose_hose_was_opened_into_the_unit_is_inside_for_good(
    handbook: Handbook, steps: tuple[str, ...], read: bool
) -> None:
    """Whether its label was read before that or after, and whether a reading came before."""
    bench = ready(handbook)
    if read:
        say(bench, "reading", **READING)
    corrected(bench, "R-22")
    assert "mixed_refrigerant" not in codes(bench)
    for step in steps:
        cleared(bench, step)
    assert "mixed_refrigerant" in codes(bench)
    cylinder(bench, "D", "R-410A")
    bench.book.wait(900)
    say(bench, "reading", **READING)
    assert codes(bench)[0] == "mixed_refrigerant"
    assert bench.advice().reasons[0].startswith("R-22 may be inside.")
    assert not may_add(bench)


def test_one_that_was_mistyped_and_corrected_back_leaves_all_as_it_was(handbook: Handbook) -> None:
    for steps in ((), ("close_cylinder", "clear_hoses")):
        bench = ready(handbook)
        say(bench, "reading", **READING)
        say(bench, "decide", decision="add")
        before = codes(bench)
        corrected(bench, "R-22")
        for step in steps:
            cleared(bench, step)
        assert "wrong_refrigerant" in codes(bench)
        corrected(bench, "R-410A")
        assert codes(bench) == (["closed_out"] if steps else before)
        if steps:
            cylinder(bench, "D", "R-410A")
        assert may_add(bench)


def test_a_wrong_cylinder_is_not_cleared_into_the_unit(handbook: Handbook) -> None:
    bench = ready(handbook)
    corrected(bench, "R-22")
    told = bench.advice().reasons[0]
    assert "Do not clear its hose into the unit: stop the unit and close out with the unit" in told
    assert told.endswith("Get the right cylinder, or correct the entry if one was mistyped.")
    cleared(bench, "off_cylinder")
    assert "Do not clear its hose" not in bench.advice().reasons[0]


def test_a_reading_of_what_was_suspected_to_be_another_refrigerant_does_not_count(
    handbook: Handbook,
) -> None:
    """The next one does, at once: nothing needs to settle. Our choice."""
    bench = ready(handbook)
    say(bench, "reading", **READING)
    say(bench, "preconditions", **{**YES, "same_refrigerant": "no"})
    assert codes(bench)[0] == "mixed_refrigerant"
    say(bench, "preconditions", **YES)
    assert not may_add(bench)
    assert bench.advice().action == READ
    say(bench, "reading", **READING)
    assert may_add(bench)
