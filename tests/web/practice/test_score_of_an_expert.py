"""The score rewards what an expert would do, and a dangerous act is told and costs points.

Our choice of points; what is right is the field page's advice and each lesson's moral.
"""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from practice_lesson import Apprentice
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import show
from lowside.practice.lessons import lesson_by_id
from lowside.practice.recovery import RECOVERY_KG_S
from lowside.practice.score import answer_of
from lowside.practice.technician import CHECKED


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


def lost(debrief: Page) -> list[str]:
    """The reasons of the points that were not got."""
    found = re.findall(r"<b>(\d) of (\d)</b> ([^<]*)</li>", debrief.response.text)
    assert len(found) >= 5
    return [reason for got, of, reason in found if got != of]


def read(
    site: Site, lesson: str, guess: str, checks: Mapping[str, str] | None = None
) -> Apprentice:
    """A lesson up to the decision not to add."""
    apprentice = Apprentice(site, lesson, guess=guess)
    apprentice.prepare()
    if checks:
        apprentice.form("preconditions", "preconditions", {**CHECKED, **checks})
    apprentice.wait(30)
    apprentice.read("baseline")
    return apprentice


def leave(apprentice: Apprentice) -> None:
    apprentice.form("decide", "decide", {"decision": "leave"})


def stop_it(apprentice: Apprentice) -> None:
    apprentice.form("system_stopped", "", {}, page="/step/shots")


def recover_all(apprentice: Apprentice) -> None:
    apprentice.recover(apprentice.running()[0].unit.charge_kg / RECOVERY_KG_S + 5.0)
    assert apprentice.running()[0].unit.charge_kg < 0.1


# What must not be fed


def test_liquid_fed_into_a_stopped_unit_is_told_and_costs_points(site: Site) -> None:
    # Core: “Liquid fed into an idle unit ends up in the compressor.”
    apprentice = read(site, "first-shots", "short")
    apprentice.form("decide", "decide", {"decision": "add"})
    stop_it(apprentice)
    apprentice.wait(60)
    dials = apprentice.reading()
    assert abs(float(dials["suction_pressure"]) - float(dials["liquid_pressure"])) < 4.0
    apprentice.turn("open")
    apprentice.wait(6)
    apprentice.turn("shut")
    told = apprentice.page("/step/shots").text
    assert "of liquid went into a stopped unit." in told
    apprentice.form("system_started", "", {}, page="/step/shots")
    apprentice.set_scale()
    apprentice.wait(95)
    apprentice.read()
    apprentice.charge_by_advice()
    apprentice.done("shots")
    apprentice.close_out()
    assert lost(apprentice.debrief()) == [
        "Liquid was fed into a stopped unit.",
        "The valve was opened against the advice.",
    ]


def test_an_open_valve_goes_on_feeding_a_unit_that_stops(site: Site) -> None:
    apprentice = read(site, "first-shots", "short")
    apprentice.form("decide", "decide", {"decision": "add"})
    apprentice.turn("open")
    stop_it(apprentice)
    apprentice.wait(6)
    apprentice.turn("shut")
    assert "of liquid went into a stopped unit." in apprentice.page("/step/shots").text
    assert "Liquid was fed into a stopped unit." in lost(apprentice.debrief())


def test_a_stop_taken_back_lets_the_unit_run(site: Site) -> None:
    apprentice = read(site, "first-shots", "short")
    stop_it(apprentice)
    assert not apprentice.running()[0].unit.thin.running
    apprentice.form("system_started", "", {}, page="/step/shots")
    assert apprentice.running()[0].unit.thin.running


def test_far_more_than_advised_is_told_and_costs_points(site: Site) -> None:
    # From twice the planned weight on the field page speaks (core/session/heavy_shot.py).
    apprentice = read(site, "first-shots", "short")
    apprentice.form("decide", "decide", {"decision": "add"})
    grams = apprentice.advised()[1]
    flow = apprentice.running()[0].setting.drawn.flow_kg_s * 1000.0
    apprentice.shot(1.5 * grams / flow)
    assert "was advised. So much at once" not in apprentice.page("/step/shots").text
    assert "Far more went in at once than was advised." not in lost(apprentice.debrief())
    again = Apprentice(site, "first-shots", clock=apprentice.clock)
    again.prepare_and_read()
    again.form("decide", "decide", {"decision": "add"})
    again.shot(4.0 * grams / flow)
    assert "was advised. So much at once" in again.page("/step/shots").text
    assert "Far more went in at once than was advised." in lost(again.debrief())


def test_charge_before_any_reading_costs_points_and_leaving_a_full_unit_does_not(
    site: Site,
) -> None:
    apprentice = Apprentice(site, "first-shots")
    apprentice.prepare()
    apprentice.wait(30)
    while apprentice.running()[0].unit.missing_kg() > 0.075:
        apprentice.turn("open")
        apprentice.wait(6)
        apprentice.turn("shut")
        apprentice.wait(6)
    apprentice.wait(60)
    apprentice.read("baseline")
    leave(apprentice)
    apprentice.close_out()
    told = apprentice.debrief()
    assert lost(told) == ["The valve was opened against the advice."]
    assert "Wrong decision" not in told.text
    assert "it was within tolerance by then" in told.text


def test_an_opening_while_the_page_says_wait_is_told(site: Site) -> None:
    apprentice = read(site, "first-shots", "short")
    apprentice.form("decide", "decide", {"decision": "add"})
    apprentice.shot(2)
    assert apprentice.advised()[0] == "wait"
    apprentice.turn("open")
    apprentice.wait(2)
    apprentice.turn("shut")
    assert "Charge went in against the advice: wait" in apprentice.page("/step/shots").text
    assert "The valve was opened against the advice." in lost(apprentice.debrief())


def test_a_valve_held_without_a_form_is_no_unit_left_alone(site: Site) -> None:
    apprentice = read(site, "every-spring", "leak")
    apprentice.turn("open")
    apprentice.wait(40)
    apprentice.turn("shut")
    told = apprentice.debrief()
    assert "Nothing was added, and nothing was to be added." not in told.text
    assert "The right decision was not to add." in lost(told)


# The surplus


def test_a_surplus_left_inside_costs_points(site: Site) -> None:
    apprentice = read(site, "too-much", "over")
    leave(apprentice)
    apprentice.close_out()
    said = "The unit was left overcharged: the surplus was to be recovered."
    told = apprentice.debrief()
    assert lost(told) == [said]
    assert "The unit was left out of tolerance: " in told.text
    assert "Nothing. No liquid at the compressor" not in told.text


def test_a_surplus_recovered_has_the_whole_score(site: Site) -> None:
    apprentice = read(site, "too-much", "over")
    leave(apprentice)
    surplus = -apprentice.running()[0].unit.missing_kg()
    before = apprentice.running()[2]
    apprentice.recover(surplus / RECOVERY_KG_S)
    # True seconds: it is stopped in time by hand.
    assert apprentice.running()[2] - before == pytest.approx(surplus / RECOVERY_KG_S, abs=1.0)
    apprentice.wait(100)
    apprentice.read()
    apprentice.close_out()
    assert lost(apprentice.debrief()) == []


def test_a_unit_sucked_empty_while_it_runs_is_told_and_costs_points(site: Site) -> None:
    # READ: never run in a vacuum (core/judging/starvation.py).
    apprentice = read(site, "too-much", "over")
    leave(apprentice)
    recover_all(apprentice)
    apprentice.wait(120)
    told = apprentice.page("/step/shots").text
    assert "It ran in a vacuum while charge was recovered." in told
    assert "The unit stopped by itself" in told
    apprentice.close_out(leave_out=("final_reading",))
    assert {
        "The compressor ran in a vacuum.",
        "The unit was not left with the right charge.",
    } <= set(lost(apprentice.debrief()))


# Where the page ends


def test_who_follows_the_page_to_its_end_has_the_whole_score_though_it_missed(site: Site) -> None:
    # A jumpy scale and a valve that seeps: this one ends a fifth of a degree too far.
    apprentice = Apprentice(site, "poor-tools", seed=2)
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    assert apprentice.charge_by_advice() == "finish"
    apprentice.done("shots")
    apprentice.close_out()
    told = apprentice.debrief()
    assert "out of tolerance" in told.text
    assert "The page’s advice ended there" in told.text
    assert lost(told) == []


def test_who_ends_before_the_page_does_is_not_excused(site: Site) -> None:
    apprentice = read(site, "first-shots", "short")
    apprentice.form("decide", "decide", {"decision": "add"})
    apprentice.shot(2)
    apprentice.done("shots")
    apprentice.close_out()
    assert lost(apprentice.debrief()) == ["The unit was not left with the right charge."]


# What the moral says


@pytest.mark.parametrize(
    ("lesson", "guess", "checks"),
    [
        ("after-a-repair", "non_condensables", {}),
        ("unknown-filling", "wrong_refrigerant", {"same_refrigerant": "no"}),
    ],
)
def test_who_recovers_all_of_it_as_the_moral_says_has_the_whole_score(
    site: Site, lesson: str, guess: str, checks: dict[str, str]
) -> None:
    apprentice = read(site, lesson, guess, checks)
    leave(apprentice)
    stop_it(apprentice)
    before = apprentice.running()[2]
    apprentice.recover(60)
    assert apprentice.running()[2] - before > 500.0, "with the unit off one only waits"
    # Of a unit that is off there is no final reading.
    apprentice.close_out(leave_out=("final_reading",))
    told = apprentice.debrief()
    assert "Switch the unit off, recover" in told.text
    assert "Charge was recovered from a unit" not in told.text
    assert "Nothing. No liquid at the compressor" in told.text
    assert lost(told) == []


def test_charge_taken_from_a_short_unit_is_still_told(site: Site) -> None:
    apprentice = read(site, "first-shots", "short")
    apprentice.recover(5)
    assert "recovered from a unit that was not overcharged" in apprentice.page("/step/shots").text


# The checks before any gauge


def at_the_checks(site: Site, lesson: str, checks: dict[str, str], receiver: str) -> Apprentice:
    """Up to the checks, and away."""
    apprentice = Apprentice(site, lesson)
    system = apprentice.running()[0].setting.drawn.system
    unit = {"refrigerant": system.refrigerant, "metering": system.metering, "coil": "tube_fin"}
    assert system.maker_subcooling_k is not None
    target = show("temperature_difference", system.maker_subcooling_k, "°F")
    apprentice.form("job", "job", {"technician": "Ann", "elevation": "0"})
    apprentice.form("unit", "unit", {**unit, "receiver": receiver})
    apprentice.form("machine", "machine", {"mode": "cooling", "compressor": "full"})
    apprentice.form("target", "target", {"method": "subcooling", "maker_subcooling": target})
    apprentice.form("preconditions", "preconditions", {**CHECKED, **checks})
    return apprentice


@pytest.mark.parametrize(
    ("lesson", "checks", "receiver"),
    [
        ("every-spring", {"leak": "leaking"}, "no"),
        ("short-of-air", {"airflow": "no"}, "no"),
        ("hot-coil", {"outdoor_coil": "no"}, "no"),
        ("unknown-filling", {"same_refrigerant": "no"}, "no"),
        ("behind-the-hedge", {}, "yes"),
    ],
)
def test_who_sees_it_and_stops_at_the_checks_has_the_whole_score(
    site: Site, lesson: str, checks: dict[str, str], receiver: str
) -> None:
    # The field’s rule: “Repair leaks first. Before any gauge.”
    apprentice = at_the_checks(site, lesson, checks, receiver)
    apprentice.form("record", "record", {"signed_by": "Ann", "caps_checked": "yes"})
    told = apprentice.debrief()
    assert lost(told) == []
    assert "You saw it before any reading" in told.text
    assert "No reading was taken" not in told.text


@pytest.mark.parametrize(
    ("lesson", "checks"),
    [
        ("every-spring", {"leak": "leaking"}),
        ("short-of-air", {"airflow": "no"}),
        ("blocked-line", {}),
        ("hot-coil", {"outdoor_coil": "no"}),
        ("tired-machine", {}),
    ],
)
def test_who_answers_truly_and_adds_nothing_has_the_whole_score(
    site: Site, lesson: str, checks: dict[str, str]
) -> None:
    known = lesson_by_id(lesson)
    assert known is not None
    apprentice = read(site, lesson, answer_of(known), checks)
    leave(apprentice)
    apprentice.close_out()
    assert lost(apprentice.debrief()) == []


@pytest.mark.parametrize(
    ("lesson", "checks"),
    [("short-of-air", {"airflow": "no"}), ("hot-coil", {"outdoor_coil": "no"})],
)
def test_charge_recovered_that_was_not_too_much_costs_points(
    site: Site, lesson: str, checks: dict[str, str]
) -> None:
    known = lesson_by_id(lesson)
    assert known is not None
    apprentice = read(site, lesson, answer_of(known), checks)
    leave(apprentice)
    apprentice.recover(20)
    apprentice.close_out()
    told = apprentice.debrief()
    assert "Charge was recovered from a unit that was not overcharged." in told.text
    assert lost(told) == ["Charge was recovered that was not too much."]


def test_a_leak_ticked_off_as_none_found_costs_a_point(site: Site) -> None:
    apprentice = read(site, "every-spring", "leak")
    leave(apprentice)
    apprentice.close_out()
    assert lost(apprentice.debrief()) == [
        "Your answers before any gauge hide what a look around shows."
    ]


def test_a_sound_unit_that_is_left_at_the_checks_has_no_free_points(site: Site) -> None:
    apprentice = at_the_checks(site, "first-shots", {}, "no")
    apprentice.form("record", "record", {"signed_by": "Ann", "caps_checked": "yes"})
    found = lost(apprentice.debrief())
    assert "No guess. It was: Undercharged." in found
    assert "No reading was taken." in found
    assert "The right decision was to add." in found


# The hoses


def test_the_debrief_names_the_steps_that_were_skipped_and_not_the_shots(site: Site) -> None:
    apprentice = read(site, "too-much", "over")
    leave(apprentice)
    apprentice.close_out(leave_out=("clear_hoses", "clear_high"))
    told = apprentice.debrief().text
    assert "“Add in shots”" not in told
    assert re.search(r"“Clear [^”]*”, “Clear the high-side hose to suction” were skipped\.", told)
