"""What a phone knows is not asked again: units. What must be known is asked where it is needed."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from strategies import READING, Book, ready_to_charge
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP, Address
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import Page, view
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import State
from lowside.demo import Scenario, scenarios
from lowside.rendering import render

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


def test_after_a_shot_that_was_not_weighed_the_scale_is_asked_before_the_next(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    shot = book.form("shot_open")
    book.form("shot_close", 9)
    book.form("shot_unweighed", shot=shot.eid)
    read = book.form("reading", 1200, **READING)
    now = Moment(read.run, read.mono + 1000, read.at + 1000, read.tz)
    screen = Screen(fold(book.events, handbook), handbook, now, "", (), None)
    page = view(screen, Address(STEP, book.sid, "shots"))
    assert isinstance(page, Page)
    html = render(page.template, page.context)
    assert "Read it now: the last shot was not weighed" in html
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


def test_air_filled_in_from_before_is_a_degree_off_by_one_tap(site: Site) -> None:
    sid = site.play(ROOF, until="shot_open")
    html = site.get(f"/s/{sid}/form/reading").response.text
    for key in ("79", "81"):
        assert f'aria-label="Return air, dry bulb: {key}"' in html
    assert 'aria-label="Outdoor air: 96"' in html
    assert 'aria-label="Return air, wet bulb: 66"' in html


def test_usual_sizes_of_units_are_one_tap(site: Site) -> None:
    html = site.get(f"/s/{site.start()}/step/unit").response.text
    assert 'aria-label="Nominal cooling capacity: 3.5"' in html
