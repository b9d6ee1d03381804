"""What a phone knows is not asked again: units. What must be known is asked where it is needed."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from website import PatientClock, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.block import KEEP_OPEN
from lowside.core.session.state import State
from lowside.demo import Scenario, scenarios

METRIC = {"pressure": "kPa", "temperature": "°C", "mass": "kg", "length": "m"}
ROOF: Scenario = next(one for one in scenarios() if one.name == "roof-unit-r410a")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as site:
        yield site


def units_of(state: State) -> tuple[str, str, str, str]:
    units = state.units
    return units.pressure, units.temperature, units.mass, units.length


def test_units_are_asked_once_a_phone(site: Site) -> None:
    first = site.start()
    assert units_of(site.state(first)) == ("psig", "°F", "lb+oz", "ft")
    assert site.fill(f"/s/{first}/form/units", "units", METRIC).status == 303
    second = site.start()
    assert units_of(site.state(second)) == ("kPa", "°C", "kg", "m")


@pytest.mark.parametrize("wrong", [{"mass": "stone"}, {"length": ""}])
def test_a_start_with_units_that_are_none_begins_with_the_usual_ones(
    site: Site, wrong: dict[str, str]
) -> None:
    form = site.get("/").form("/start")
    assert site.post("/start", form.values | METRIC | wrong).status == 303
    assert units_of(site.state(form.values["sid"])) == ("psig", "°F", "lb+oz", "ft")


def test_after_a_shot_that_was_not_weighed_the_scale_is_asked_before_the_next(site: Site) -> None:
    sid = site.play(ROOF, until="shot_weigh")
    shot = site.get(f"/s/{sid}").form("/form/shot_unweighed")
    assert site.post(shot.action, shot.values).status == 303
    clock = site.desk.clock
    assert isinstance(clock, PatientClock)
    clock.wait(600.0)
    site.make(sid, next(move for move in ROOF.moves if move.form == "reading" and not move.step))
    asked = "Read it now: the last shot was not weighed"
    page = site.get(f"/s/{sid}")
    assert asked in page.text
    html = page.response.text
    assert html.index("the last shot was not weighed. It says") < html.index('class="figures"')


def test_the_record_says_the_target_once(site: Site) -> None:
    sid = site.play(ROOF)
    assert site.get(f"/s/{sid}/ticket").text.count("Target") == 1


def test_a_hold_counts_down_and_a_reload_says_the_same(site: Site) -> None:
    sid = site.play(ROOF, until="shot_open")
    page = site.get(f"/s/{sid}/step/wi_pressure")
    hold = page.form("/form/hold")
    assert hold.values["held"] == "wi_pressure"
    assert "hold another" not in page.text
    answer = site.post(hold.action, hold.values)
    assert answer.response.headers["location"] == f"/s/{sid}/step/wi_pressure"
    for _ in range(2):
        again = site.get(f"/s/{sid}/step/wi_pressure").response.text
        assert 'data-wait="900"' in again
    assert "hold another" not in site.get(f"/s/{sid}/step/wi_vacuum").text


@pytest.mark.parametrize("step", ["purge_low", "close_cylinder", "wi_rest"])
def test_the_unit_has_stopped_is_in_reach_where_the_hands_are_at_the_hoses(
    site: Site, step: str
) -> None:
    sid = site.play(ROOF, until="shot_open")
    html = site.get(f"/s/{sid}/step/{step}").response.text
    footer = html[html.index('<footer class="thumb') :]
    assert "/form/system_stopped" in footer


def test_the_cylinder_s_warning_is_in_full_once_and_one_line_afterwards(site: Site) -> None:
    site.play(ROOF)
    later = replace(ROOF, start=ROOF.start + timedelta(days=9))
    sid = site.play(later, until="start_weight")
    weight = site.get(f"/s/{sid}").form("/form/start_weight")
    lighter = {"gross": "26 lb 1 oz"}
    assert site.post(weight.action, weight.values | lighter).status == 303
    full = '<div class="alert alert-warn" role="status">\n  <p><b>Check the cylinder.</b>'
    at_hoses = site.get(f"/s/{sid}").response.text
    assert full in at_hoses
    assert at_hoses.count("Leak-check its valve") == 1
    for step in ("cylinder", "start_weight"):
        again = site.get(f"/s/{sid}/step/{step}").response.text
        assert full not in again
        assert "<summary>Check the cylinder" in again
        assert again.count("Leak-check its valve") == 1
    assert site.fill(f"/s/{sid}/step/connect", "done", {}).status == 303
    assert full not in site.get(f"/s/{sid}/step/connect").response.text
    # The same cylinder weighed again after that: it is news.
    assert site.fill(f"/s/{sid}/step/start_weight", "start_weight", lighter).status == 303
    assert full in site.get(f"/s/{sid}/step/start_weight").response.text


def test_the_stop_button_and_what_to_do_after_a_stop_are_there_once(site: Site) -> None:
    sid = site.play(ROOF, until="reading")
    at_hoses = site.get(f"/s/{sid}/step/purge_low").response.text
    assert at_hoses.count("The unit has stopped</button>") == 1
    note = site.get(f"/s/{sid}/form/note").response.text
    assert note.count("The unit has stopped</button>") == 1
    assert site.fill(f"/s/{sid}", "system_stopped", {}).status == 303
    stopped = site.get(f"/s/{sid}/step/shots").response.text
    assert stopped.count(KEEP_OPEN) == 1


def test_a_record_of_a_visit_that_added_nothing_says_so(site: Site) -> None:
    bakery = next(one for one in scenarios() if one.name == "bakery-split-r454b")
    sid = site.play(bakery)
    assert "Added Nothing No shot was given." in " ".join(site.get(f"/s/{sid}/ticket").text.split())
