"""Lessons on units of the second model: flat, then steep; a receiver that hides charge."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from practice_lesson import Apprentice
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.ledger import uses_in
from lowside.practice.curves_draw import DrawnCurves
from lowside.practice.lessons import Setting, lesson_by_id, running_unit, setting
from lowside.practice.sessions import rebuild

FLAT_THEN_STEEP = "flat-coil"
RECEIVER = "behind-the-hedge"
SEEDS = range(1, 9)


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


def _known(lesson_id: str, seed: int) -> Setting:
    lesson = lesson_by_id(lesson_id)
    assert lesson is not None
    return setting(lesson, seed)


def _gap_with(known: Setting, share: float) -> float:
    """Gap [K] once this share of what is missing has gone in."""
    unit = running_unit(known)
    return unit.gap_with((1.0 - share) * unit.missing_kg())


def _open_for(apprentice: Apprentice, kilograms: float) -> None:
    """Hold the handwheel open for about so much, whatever the page says, wait and read."""
    apprentice.turn("open")
    apprentice.wait(kilograms / apprentice.running()[0].setting.drawn.flow_kg_s)
    apprentice.turn("shut")
    apprentice.wait(60)
    apprentice.read()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_flat_coil_shows_nothing_first_and_then_everything(seed: int) -> None:
    known = _known(FLAT_THEN_STEEP, seed)
    assert isinstance(known.drawn, DrawnCurves)
    assert known.drawn.seed % 2 == 0, "nobody learns on a unit that judges the advice"
    whole = _gap_with(known, 0.0)
    assert whole > known.drawn.target_k * 0.85
    assert whole - _gap_with(known, 0.25) < 0.25 * known.drawn.tolerance_k
    assert _gap_with(known, 0.75) - _gap_with(known, 1.0) > 0.35 * whole
    # Less than two full hoses bring is past the tolerance.
    assert running_unit(known).gap_with(-0.05) < -known.drawn.tolerance_k


@pytest.mark.parametrize("seed", SEEDS)
def test_a_receiver_hides_charge_before_the_reading_climbs(seed: int) -> None:
    known = _known(RECEIVER, seed)
    assert isinstance(known.drawn, DrawnCurves)
    assert known.drawn.seed % 2 == 0
    whole = _gap_with(known, 0.0)
    assert whole > known.drawn.tolerance_k
    assert running_unit(known).missing_kg() > 0.1
    assert whole - _gap_with(known, 0.3) < 0.1 * whole


@pytest.mark.parametrize("seed", [2, 3])
def test_small_shots_by_the_advice_end_a_flat_coil_on_target(site: Site, seed: int) -> None:
    apprentice = Apprentice(site, FLAT_THEN_STEEP, seed=seed)
    plates = apprentice.page().form("/form/job")
    assert site.post(plates.action, plates.values).status == 303
    asked = apprentice.page().form("/form/unit").values
    assert "coil" not in asked, "the outdoor coil is to be looked at"
    assert "a microchannel coil" in apprentice.page().text
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    apprentice.charge_by_advice()
    assert len(apprentice.running()[0].helds) > 5, "small shots"
    apprentice.done("shots")
    apprentice.close_out()
    told = apprentice.debrief().text
    assert "within tolerance" in told
    assert "Score: 14 of 14" in told
    assert "an ounce is the whole tolerance" in told
    assert "tube and fin" not in told


def test_no_answer_of_the_gauges_is_no_call_for_a_bigger_shot(site: Site) -> None:
    apprentice = Apprentice(site, FLAT_THEN_STEEP, seed=3, coil="tube_fin")
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    before = apprentice.running()[0].unit.value_k()
    _open_for(apprentice, 0.02)
    assert apprentice.running()[0].unit.value_k() - before < 0.3
    # An ounce and a half at a time, because nothing moves.
    openings = 0
    while "This shot overcharged the unit." not in apprentice.page("/timeline").text:
        openings += 1
        assert openings < 8
        _open_for(apprentice, 0.043)
    told = apprentice.debrief().text
    assert "out of tolerance" in told
    assert "says tube and fin, and the coil is a microchannel one" in told
    assert "The unit was not left with the right charge." in told


def test_a_reading_on_target_with_full_hoses_is_too_much_in_the_end(site: Site) -> None:
    apprentice = Apprentice(site, FLAT_THEN_STEEP, seed=3)
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    while (missing := apprentice.running()[0].unit.missing_kg()) > 0.005:
        _open_for(apprentice, min(missing, 0.03))
    assert abs(apprentice.running()[0].unit.missing_kg()) < 0.01
    assert "overcharged" not in apprentice.page("/step/shots").text
    apprentice.done("shots")
    apprentice.close_out(recovers=False)
    told = apprentice.debrief().text
    assert "g from the hoses, and that overcharged it." in told
    assert "out of tolerance" in told


def test_who_finds_the_receiver_adds_nothing(site: Site) -> None:
    apprentice = Apprentice(site, RECEIVER, receiver="yes")
    assert "runs through an upright tank" in apprentice.page().text
    apprentice.prepare_and_read()
    assert apprentice.advised()[0] in ("do_not_add", "weigh_in")
    refused = apprentice.post("decide", "decide", {"decision": "add"})
    assert "receiver stores extra charge" in refused.text
    apprentice.form("decide", "decide", {"decision": "leave"})
    apprentice.done("shots")
    apprentice.close_out()
    told = apprentice.debrief().text
    assert "Nothing. No liquid at the compressor" in told
    assert "its liquid receiver hides charge" in told
    assert "does not say that there is a liquid receiver" not in told
    assert "Score: 14 of 14" in told


def test_who_does_not_find_the_receiver_feeds_on_and_ends_past_it(site: Site) -> None:
    apprentice = Apprentice(site, RECEIVER, receiver="no")
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    assert "hides charge: the gauges do not show how much is missing" in apprentice.page().text
    drawn = apprentice.running()[0].setting.drawn
    seen = []
    while "This shot overcharged" not in apprentice.page("/timeline").text:
        assert len(seen) < 20
        _open_for(apprentice, 0.06)
        seen.append(apprentice.running()[0].unit.value_k())
    assert seen[2] - seen[0] < 0.2 * drawn.tolerance_k, "the receiver fills"
    assert seen[-1] > drawn.target_k + drawn.tolerance_k
    told = apprentice.debrief().text
    assert "does not say that there is a liquid receiver" in told
    assert "The right decision was not to add." in told


def test_lessons_of_curves_are_in_no_book_and_a_restart_rebuilds_them(site: Site) -> None:
    for lesson in (FLAT_THEN_STEEP, RECEIVER):
        apprentice = Apprentice(site, lesson)
        apprentice.prepare_and_read()
        apprentice.form("decide", "decide", {"decision": "add"})
        apprentice.shot(4)
        apprentice.wait(31.7)
        session, shown, time_s = apprentice.running()
        assert uses_in(site.state(apprentice.sid)) == []
        assert "PRACTICE" in apprentice.page("/timeline").text
        assert apprentice.sid not in site.get("/office?show=all").response.text
        again = rebuild(apprentice.desk.events(apprentice.sid), apprentice.desk.handbook)
        assert again is not None
        assert again.look_at(time_s) == shown
        assert again.unit.charge_kg == session.unit.charge_kg
        assert again.unit.gap_with(0.1) == session.unit.gap_with(0.1)
