"""Practice mode: repeatable units, lessons with right and wrong ends, no trace in the books."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from practice_lesson import Apprentice
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.session.ledger import uses_in
from lowside.core.session.unit_history import unit_use_of
from lowside.practice.lessons import LESSONS, lesson_by_id, setting
from lowside.practice.pace import OPEN, practice_s
from lowside.practice.recovery import RECOVERY_KG_S
from lowside.practice.score import GUESSES, answer_of
from lowside.practice.sessions import VISITS, PracticeSession, rebuild
from lowside.web.practice.desk import PracticeDesk

CHARGING = ("first-shots", "by-the-chart", "gliding-blend", "poor-tools")
LEAVING = ("short-of-air", "blocked-line", "too-much", "hot-coil", "after-a-repair")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda each: each.id)
def test_the_same_number_gives_the_same_unit_and_another_another(lesson: object) -> None:
    known = lesson_by_id(getattr(lesson, "id", ""))
    assert known is not None
    first = setting(known, 4)
    setting.cache_clear()
    assert setting(known, 4) == first
    assert setting(known, 5).drawn != first.drawn


@pytest.mark.parametrize("lesson", CHARGING)
def test_following_the_advice_ends_within_tolerance_and_without_a_mishap(
    site: Site, lesson: str
) -> None:
    apprentice = Apprentice(site, lesson)
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    assert apprentice.charge_by_advice() in ("finish", "stop")
    apprentice.done("shots")
    apprentice.close_out()
    debrief = apprentice.debrief()
    assert 'id="chart" class="chart" data-series="{' in debrief.response.text
    told = debrief.text
    assert "within tolerance" in told
    assert "Nothing. No liquid at the compressor" in told
    assert "the trace of purging and unscrewing, nothing more" in told
    assert "Opening 1, at" in told
    assert "Score: 14 of 14" in told
    assert "You guessed it: Undercharged." in told


@pytest.mark.parametrize("lesson", LEAVING)
def test_a_unit_that_must_not_be_charged_says_so_and_adding_has_its_consequence(
    site: Site, lesson: str
) -> None:
    apprentice = Apprentice(site, lesson)
    apprentice.prepare_and_read()
    assert apprentice.advised()[0] in ("do_not_add", "recover")
    refused = apprentice.post("decide", "decide", {"decision": "add"})
    assert "No reason opens this" in refused.text

    apprentice.form("decide", "decide", {"decision": "leave"})
    assert "Nothing. No liquid" in apprentice.debrief().text

    because = {"decision": "add", "reason": "the customer says so"}
    assert "No reason opens this" in apprentice.post("decide", "decide", because).text
    apprentice.turn("open")
    apprentice.wait(10)
    apprentice.turn("shut")
    text = apprentice.page().text
    assert "Charge went into a unit that must not get any." in text


def test_haste_is_seen_when_it_happens(site: Site) -> None:
    apprentice = Apprentice(site, "first-shots")
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "leave"})
    assert "Wrong decision: not to add." in apprentice.page().text
    apprentice.form("decide", "decide", {"decision": "add"})
    assert "Wrong decision" not in apprentice.page().text

    apprentice.shot(100)
    text = apprentice.site.get(f"/practice/{apprentice.sid}/instruments").text
    assert "Liquid reached the compressor" in text
    assert "This shot overcharged the unit." in text
    apprentice.read()
    assert "Impatient reading" in apprentice.page("/timeline").text
    assert "too much" in apprentice.debrief().text


def test_a_shot_before_any_reading_and_one_from_a_shut_cylinder(site: Site) -> None:
    apprentice = Apprentice(site, "first-shots")
    apprentice.turn("open")
    apprentice.wait(5)
    apprentice.turn("shut")
    assert "opened with the cylinder valve closed" in apprentice.page().text
    apprentice.prepare()
    before = apprentice.running()[0].unit.cylinder_kg
    apprentice.turn("open")
    apprentice.wait(5)
    apprentice.turn("shut")
    assert apprentice.running()[0].unit.cylinder_kg < before - 0.01
    assert "before any reading showed" in apprentice.page().text


def test_a_skipped_step_at_the_hoses_vents_the_hose(site: Site) -> None:
    apprentice = Apprentice(site, "too-much")
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "leave"})
    apprentice.done("shots")
    apprentice.close_out(leave_out=("clear_high",))
    told = apprentice.debrief().text
    assert "“Clear the high-side hose to suction” was skipped." in told
    assert "of liquid was vented" in told


@pytest.mark.parametrize(
    ("done", "filled_by"),
    [
        (("close_cylinder", "disconnect"), "unit"),
        (("clear_hoses", "clear_high", "disconnect"), "cylinder"),
    ],
    ids=("the red hose not bled", "the cylinder not shut"),
)
def test_a_hose_vented_full_is_missing_from_where_it_was_filled(
    site: Site, done: tuple[str, ...], filled_by: str
) -> None:
    apprentice = Apprentice(site, "too-much")
    apprentice.prepare()
    apprentice.form("decide", "decide", {"decision": "leave"})
    apprentice.done("shots")
    panel = f"/practice/{apprentice.sid}/instruments"
    session, shown, _ = apprentice.running()
    assert session.work is not None
    purged, purged_with = session.work.released_kg(), session.work.from_cylinder_kg()
    assert 0.004 < purged < 0.02
    assert "Into the open air so far: " in site.get(panel).text
    inside, on_scale = session.unit.charge_kg, shown.scale_kg
    fed, drawn = _into_unit(session), session.work.out_of_cylinder_kg()
    for step in done:
        apprentice.done(step)
    session, shown, _ = apprentice.running()
    assert session.work is not None
    vented = session.work.released_kg() - purged
    from_cylinder = session.work.from_cylinder_kg() - purged_with
    lost = {"cylinder": from_cylinder, "unit": vented - from_cylinder}
    assert lost[filled_by] > 0.02
    assert sum(lost.values()) - lost[filled_by] < 0.003
    assert on_scale - shown.scale_kg == pytest.approx(0.3 + from_cylinder, abs=0.003)
    gained = session.unit.charge_kg - inside
    assert gained == pytest.approx(_into_unit(session) - fed, abs=1e-6)
    # What the unit got and the air got came out of the cylinder and the hoses, which held little.
    left_hoses = gained + vented - (session.work.out_of_cylinder_kg() - drawn)
    assert 0.0 < left_hoses < 0.1
    grams = f"{int(session.work.released_kg() * 1000 + 0.5)}"
    assert f"Into the open air so far: {grams}" in site.get(panel).text
    told = apprentice.debrief().text
    assert f"of liquid was vented. It left the {filled_by}" in told
    assert f"{grams} g went into the open air, " in told


def _into_unit(session: PracticeSession) -> float:
    """What the steps at the hoses brought the unit so far [kg]."""
    assert session.work is not None
    return sum(each.into_unit_kg for each in session.work.handlings)


def test_air_of_a_hose_not_purged_raises_the_high_gauge_with_the_first_shot(site: Site) -> None:
    well = Apprentice(site, "first-shots")
    well.prepare()
    ill = Apprentice(site, "first-shots", clock=well.clock)
    ill.prepare(leave_out=("purge_high",))
    sessions = []
    for apprentice in (well, ill):
        apprentice.wait(30)
        apprentice.read("baseline")
        apprentice.form("decide", "decide", {"decision": "add"})
        assert apprentice.running()[0].unit.air_pa() == 0.0
        apprentice.shot(5)
        apprentice.wait(60)
        sessions.append(apprentice.running()[0])
    assert sessions[0].unit.air_pa() == 0.0
    # The red hose that was hooked up right is full of the unit's liquid.
    in_red_hose = sessions[1].unit.charge_kg - sessions[0].unit.charge_kg
    assert 0.01 < in_red_hose < 0.05
    # Ideal gas: the air of one hose and the manifold, warmed, in the whole condenser, 30 times.
    work, unit = sessions[1].work, sessions[1].unit
    assert work is not None
    assert 1.0 < work.hosefuls(unit.air_pa_m3) / VISITS < 1.5
    expected = unit.air_pa_m3 * unit.saturations_k()[1] / 303.15 / unit.condenser_m3
    assert unit.air_pa() == pytest.approx(expected)
    assert unit.air_pa() > 10_000.0
    shown = [each.look_at(each.unit.time_s).liquid_pressure_pa for each in sessions]
    assert shown[1] - shown[0] > 8_000.0
    text = ill.page().text
    assert "“Purge the red hose” was skipped." in text
    shown_psi = format_decimal(unit.air_pa() / 6894.757, 1)
    assert f"hosefuls: the high-side gauge reads {shown_psi} psi too high from now on." in text
    assert f"The 30 visits shown here add {shown_psi} psi." in ill.debrief().text
    assert "Air went in" not in well.debrief().text
    again = rebuild(ill.desk.events(ill.sid), ill.desk.handbook)
    assert again is not None
    assert again.unit.air_pa_m3 == unit.air_pa_m3


def test_a_surplus_is_recovered_and_the_unit_settles_on_target(site: Site) -> None:
    apprentice = Apprentice(site, "too-much")
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "leave"})
    session, shown, _ = apprentice.running()
    surplus, inside, on_scale = -session.unit.missing_kg(), session.unit.charge_kg, shown.scale_kg
    assert surplus > 0.05
    apprentice.recover(surplus / RECOVERY_KG_S)
    session, shown, _ = apprentice.running()
    assert session.recovery.taken_kg == pytest.approx(surplus, abs=0.03)
    assert inside - session.unit.charge_kg == pytest.approx(session.recovery.taken_kg)
    assert shown.scale_kg == pytest.approx(on_scale, abs=0.003)
    grams = f"{int(session.recovery.taken_kg * 1000 + 0.5)} g"
    assert f"in the recovery cylinder: {grams}" in apprentice.page("/step/shots").text
    apprentice.wait(100)
    apprentice.read()
    assert apprentice.advised()[0] != "recover"
    apprentice.done("shots")
    apprentice.close_out()
    told = apprentice.debrief().text
    assert f"{grams} went into the recovery cylinder." in told
    assert "within tolerance" in told
    assert "Nothing. No liquid at the compressor" in told
    again = rebuild(apprentice.desk.events(apprentice.sid), apprentice.desk.handbook)
    assert again is not None
    assert again.recovery.runs == session.recovery.runs


def test_recovering_too_much_or_from_a_unit_that_lacks_charge_is_told(site: Site) -> None:
    apprentice = Apprentice(site, "too-much")
    apprentice.recover(6)
    assert "The recovery machine ran with no hose on the unit" in apprentice.page().text
    apprentice.prepare()
    surplus = -apprentice.running()[0].unit.missing_kg()
    apprentice.recover((surplus + 1.0) / RECOVERY_KG_S)
    missing = apprentice.running()[0].unit.missing_kg()
    assert missing == pytest.approx(1.0, abs=0.05)
    assert f"{int(missing * 1000 + 0.5)} g is missing now." in apprentice.page().text

    short = Apprentice(site, "first-shots", clock=apprentice.clock)
    short.prepare()
    short.recover(2)
    assert "recovered from a unit that was not overcharged" in short.page().text
    assert site.post(f"/practice/{short.sid}/recover", {"valve": "half"}).status == 404


def test_time_runs_fast_while_waiting_and_true_while_a_valve_is_open(site: Site) -> None:
    apprentice = Apprentice(site, "first-shots")
    events = apprentice.desk.events(apprentice.sid)
    start = apprentice.running()[2]
    apprentice.wait(60)
    assert apprentice.running()[2] == pytest.approx(start + 600.0)
    assert "×10" in apprentice.page().text
    apprentice.turn("open")
    opened = apprentice.running()[2]
    apprentice.wait(7)
    assert apprentice.running()[2] == pytest.approx(opened + 7.0)
    apprentice.turn("shut")
    answer = site.post(f"/practice/{apprentice.sid}/pace", {"pace": "30", "quiet": "yes"})
    assert answer.status == 204
    apprentice.wait(10)
    assert apprentice.running()[2] == pytest.approx(opened + 307.0)
    assert site.post(f"/practice/{apprentice.sid}/pace", {"pace": "7"}).status == 404
    assert practice_s(events, apprentice.clock.at) > 0.0


def test_a_restart_rebuilds_the_same_unit_however_often_it_was_looked_at(
    tmp_path: Path, handbook: Handbook
) -> None:
    with open_site(tmp_path / "data", handbook) as before:
        apprentice = Apprentice(before, "poor-tools", seed=3)
        apprentice.prepare()
        apprentice.read("baseline")
        apprentice.form("decide", "decide", {"decision": "add"})
        apprentice.turn(OPEN)
        for _ in range(9):
            apprentice.wait(1.3)
            apprentice.running()
        apprentice.turn("shut")
        apprentice.wait(31.7)
        session, shown, time_s = apprentice.running()
    with open_site(tmp_path / "data", handbook) as after:
        after.desk.clock = apprentice.clock  # type: ignore[assignment]
        desk: PracticeDesk = after.app.state.practice
        again, shown_again, time_again = desk.running(apprentice.sid, desk.events(apprentice.sid))
        assert again is not session
        assert (shown_again, time_again) == (shown, time_s)
        assert again.helds == session.helds
        assert again.unit.charge_kg == session.unit.charge_kg
        assert rebuild([], handbook) is None


def test_practice_is_marked_everywhere_and_in_no_book(site: Site) -> None:
    apprentice = Apprentice(site, "first-shots")
    apprentice.prepare()
    state = site.state(apprentice.sid)
    assert state.practice
    assert uses_in(state) == []
    assert unit_use_of(state) is None
    assert uses_in(replace(state, practice=False)) != []
    label = state.cylinder.label if state.cylinder is not None else ""
    assert label
    assert label not in site.get("/office/cylinders").text
    assert "Practice yard" not in site.get("/office/units").text
    office = site.get("/office?show=all")
    assert apprentice.sid not in office.response.text
    assert "No session yet" in office.text
    shown = site.get(f"/office/session/{apprentice.sid}")
    assert shown.response.headers["location"] == f"/practice/s/{apprentice.sid}"
    for page in ("", "/timeline", "/ticket", "/form/reading", "/step/baseline"):
        assert "PRACTICE" in apprentice.page(page).text, page
    home = site.get("/")
    assert apprentice.sid not in home.response.text
    assert "/practice" in home.read.links
    lessons = site.get("/practice")
    assert f"/practice/s/{apprentice.sid}" in lessons.read.links
    assert "Unit number 1 · " in lessons.text
    aside = site.get(f"/s/{apprentice.sid}/timeline")
    assert aside.response.headers["location"] == f"/practice/s/{apprentice.sid}/timeline"


def test_every_link_and_form_of_a_practice_page_stays_in_practice(site: Site) -> None:
    apprentice = Apprentice(site, "by-the-chart")
    apprentice.prepare()
    for page in ("", "/timeline", "/form/note", "/step/shots", "/step/record"):
        read = apprentice.page(page).read
        leading_out = [each for each in read.links if each.startswith("/s/")]
        leading_out += [each.action for each in read.forms if each.action.startswith("/s/")]
        assert leading_out == [], page


def test_a_lesson_starts_only_with_a_lesson_and_a_number(site: Site) -> None:
    form = site.get("/practice").form("/practice/start").values
    for wrong in ({"seed": "x"}, {"seed": "1000000"}, {"lesson": "nothing"}, {"procedure": "?"}):
        assert site.post("/practice/start", form | wrong).status == 422
    assert site.get("/practice/s/01KNOSUCHSESSION0000000000").status == 404
    real = site.start()
    for path in (
        f"/practice/s/{real}",
        f"/practice/{real}/instruments",
        f"/practice/{real}/debrief",
    ):
        assert site.get(path).status == 404, path


def test_no_title_of_a_lesson_gives_its_answer_away() -> None:
    for lesson in LESSONS:
        told = (lesson.title + " " + lesson.sentence).lower()
        for word in ("undercharg", "overcharg", "airflow", "restrict", "block", "dirty", "leak"):
            assert word not in told, lesson.id
        assert answer_of(lesson) in GUESSES


def test_a_guess_is_asked_before_the_program_says_what_it_is(site: Site) -> None:
    apprentice = Apprentice(site, "short-of-air", guess="")
    apprentice.prepare_and_read()
    asked = apprentice.page()
    assert "What do you think it is?" in asked.text
    assert "Subcooling" not in asked.text
    action = asked.form("/guess").action
    assert site.post(action, {"guess": "nonsense"}).status == 404
    assert site.post(action, {"guess": "short"}).status == 303
    assert "Is it right to add?" in apprentice.page().text
    assert site.post(action, {"guess": "low_airflow"}).status == 303
    told = apprentice.debrief().text
    assert "You guessed “Undercharged”. It was: Low indoor airflow." in told


@pytest.mark.parametrize("lesson", ["every-spring", "unknown-filling"])
def test_gauges_that_ask_for_charge_are_not_the_whole_answer(site: Site, lesson: str) -> None:
    apprentice = Apprentice(site, lesson)
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    assert "Wrong decision: to add." in apprentice.page().text
    assert "The right decision was not to add." in apprentice.debrief().text


def test_a_finished_lesson_is_marked(site: Site) -> None:
    apprentice = Apprentice(site, "too-much")
    assert "✓ done" not in site.get("/practice").text
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "leave"})
    apprentice.form("end_weight", "end_weight", {"gross": "12100"})
    apprentice.form("reconcile", "reconcile", {"explanation": "unknown"})
    apprentice.form("record", "record", {"signed_by": "Ann", "caps_checked": "yes"})
    assert "✓ done" in site.get("/practice").text


def test_the_plates_are_filled_in_and_confirmed(site: Site) -> None:
    apprentice = Apprentice(site, "first-shots")
    known = apprentice.page().form("/form/job")
    assert known.values["unit_label"] == "P-1"
    assert site.post(known.action, known.values).status == 303
    unit = apprentice.page().form("/form/unit").values
    assert unit["refrigerant"] == "R-410A"
    assert unit["kind"] == "split"
    assert "mode" not in unit, "how it runs today is asked"
