"""The close-out with the unit off is one tap away wherever hoses are on, and it is recorded."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from strategies import READING, Book, ready_to_charge, set_up, with_units
from website import PROCEDURE, Reader, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import last_with_actions, position
from lowside.core.pages import addresses
from lowside.core.pages.addresses import HOSES, STEP, Address
from lowside.core.pages.page import NoPage, Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.entry import Refused, accept
from lowside.core.session.events import moment_of
from lowside.core.session.fold import fold
from lowside.core.session.hose_charge import conditions_of
from lowside.core.session.state import State
from lowside.demo import scenarios
from lowside.rendering import render

FRESH = "01JD00000000000000000000AA"


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as opened:
        yield opened


def page_of(book: Book, address: Address, handbook: Handbook) -> Page | NoPage:
    state = fold(book.events, handbook)
    return view(Screen(state, handbook, moment_of(book.events[-1]), FRESH, (), None), address)


def html_of(book: Book, address: Address, handbook: Handbook) -> str:
    page = page_of(book, address, handbook)
    assert isinstance(page, Page)
    return render(page.template, page.context)


def test_one_link_leads_out_of_every_step_with_hoses_on_and_of_no_other(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    for name, procedure in handbook.procedures.items():
        book.events[0].data["procedure"] = name  # type: ignore[index]
        first, last = (
            position(procedure, "connect"),
            position(procedure, last_with_actions(procedure)),
        )
        out = addresses.step(book.sid, "off_stop")
        for i, step in enumerate(procedure.steps):
            links = Reader(html_of(book, Address(STEP, book.sid, step.id), handbook)).links
            assert links.count(out) == (1 if first <= i <= last else 0), (name, step.id)


def test_the_charging_page_and_the_stopped_one_have_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    out = addresses.step(book.sid, "off_stop")
    shots = Address(STEP, book.sid, "shots")
    assert out in Reader(html_of(book, shots, handbook)).links
    book.form("system_stopped")
    html = html_of(book, shots, handbook)
    assert out in Reader(html).links
    assert "Unit stays off: close out with the unit off" in html
    assert "Leave the cylinder valve open" in html
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    assert out not in Reader(html_of(book, shots, handbook)).links


def _walk(site: Site, sid: str) -> list[str]:
    """Press “Done” on every step of the way out; the ids of the steps seen."""
    seen = []
    path = f"/s/{sid}/step/off_stop"
    while "/step/off_" in path:
        seen.append(path.rsplit("/", 1)[1])
        form = site.get(path).form("/form/done")
        answer = site.post(form.action, form.values)
        assert answer.status == 303
        path = answer.response.headers["location"]
    assert path == f"/s/{sid}"
    return seen


def test_it_is_walked_step_by_step_recorded_and_followed_by_the_caps(site: Site) -> None:
    roof = next(scenario for scenario in scenarios() if scenario.name == "roof-unit-r410a")
    sid = site.play(roof, "shot_open")
    stop = site.get(f"/s/{sid}").form("/form/system_stopped")
    assert site.post(stop.action, stop.values).status == 303
    steps = ["off_stop", "off_drain", "off_cylinder", "off_recover", "off_hoses"]
    assert _walk(site, sid) == steps
    state = site.state(sid)
    assert set(steps) <= set(state.done)
    assert "Leak-check and cap" in site.get(f"/s/{sid}").text
    timeline = site.get(f"/s/{sid}/timeline").text
    for step in site.desk.handbook.procedures[PROCEDURE].off_steps:
        assert step.title in timeline


def test_a_dip_tube_cylinder_goes_another_way(handbook: Handbook) -> None:
    book = set_up(Book())
    for withdrawal, there in (("invert", True), ("dip_tube", False)):
        data = {
            "cylinder_label": "C-1",
            "cylinder_refrigerant": "R-410A",
            "cylinder_tare": "7 lb",
            "withdrawal": withdrawal,
        }
        book.write("cylinder.set", with_units("cylinder", data))
        found = page_of(book, Address(STEP, book.sid, "off_drain"), handbook)
        assert isinstance(found, Page) is there
        after = Reader(html_of(book, Address(STEP, book.sid, "off_stop"), handbook)).links
        assert (addresses.step(book.sid, "off_drain") in after) is there
        assert (addresses.step(book.sid, "off_recover") in after) is not there


def test_its_pictures_begin_where_the_session_is_and_show_a_unit_that_is_off(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    for step in handbook.procedures[PROCEDURE].steps[
        : position(handbook.procedures[PROCEDURE], "shots")
    ]:
        book.form("done", step=step.id)
    for step in ("off_stop", "off_drain", "off_cylinder"):
        for page in (STEP, HOSES):
            html = html_of(book, Address(page, book.sid, step), handbook)
            # The first step turns nothing, so its own page has no picture.
            assert ("unit, off" in html) == (page == HOSES or step != "off_stop")
            assert "Danger." not in html
    drain = html_of(book, Address(HOSES, book.sid, "off_drain"), handbook)
    assert "Yellow hose: liquid, pressure of a unit that is off." in drain
    assert "Liquid flows from yellow hose to cylinder." in drain


def _vacuum(handbook: Handbook) -> State:
    book = ready_to_charge(Book())
    low = READING | {"suction_pressure": "-2 psig"}
    book.write("reading.taken", with_units("reading", low))
    return fold(book.events, handbook)


def test_a_reading_in_a_vacuum_puts_the_danger_on_every_step_that_loosens_a_nut(
    handbook: Handbook,
) -> None:
    state = _vacuum(handbook)
    found = conditions_of(state, handbook)
    assert found is not None
    assert found.suction_pa < found.atmosphere_pa
    for step, there in (("purge_low", True), ("disconnect", True), ("liquid", False)):
        page = view(
            Screen(state, handbook, state.entries[-1].moment, FRESH, (), None),
            Address(STEP, state.sid, step),
        )
        assert isinstance(page, Page)
        html = render(page.template, page.context)
        assert ("pulls air in." in html.split("<ol")[0]) is there, step


def test_without_a_liquid_port_the_target_cannot_be_subcooling(handbook: Handbook) -> None:
    book = Book()
    book.write("session.started", {"procedure": "no-liquid-port-two-hose"})
    book.form("job", site="Mill Lane", unit_label="AC-1", technician="I. Varga", elevation="0 ft")
    book.form("unit", refrigerant="R-410A", metering="txv", capacity="3 ton")
    state = fold(book.events, handbook)
    typed = {"method": "subcooling", "maker_subcooling": "10", "maker_subcooling_unit": "°F"}
    refused = accept(state, "target", typed, handbook)
    assert isinstance(refused, Refused)
    assert "no liquid port" in refused.problems["method"]
    by_approach = {"method": "approach", "maker_approach": "6", "maker_approach_unit": "°F"}
    assert isinstance(accept(state, "target", by_approach, handbook), Refused)
    assert not isinstance(accept(state, "target", {"method": "weigh_in"}, handbook), Refused)


def test_where_the_clamps_go_is_on_the_page_of_the_reading(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    baseline = html_of(book, Address(STEP, book.sid, "baseline"), handbook)
    assert "within about 6 in of the suction port" in baseline


def test_with_the_unit_stopped_nothing_leads_to_the_close_out_of_a_running_one(
    handbook: Handbook,
) -> None:
    # Clearing a hose to suction feeds its liquid into the unit: only a running one boils it.
    book = ready_to_charge(Book())
    shots = Address(STEP, book.sid, "shots")
    assert "Stop adding, close out" in html_of(book, shots, handbook)
    book.form("system_stopped")
    html = html_of(book, shots, handbook)
    assert "Stop adding, close out" not in html
    foot = html.split('<footer class="thumb')[1]
    assert addresses.step(book.sid, "off_stop") in foot
    assert "It is running again" in foot
    for step, there in (
        ("close_cylinder", True),
        ("clear_high", True),
        ("purge_low", False),
        ("off_drain", False),
    ):
        told = "Do not do this step now" in html_of(book, Address(STEP, book.sid, step), handbook)
        assert told is there, step
    book.form("system_started")
    closing = html_of(book, Address(STEP, book.sid, "close_cylinder"), handbook)
    assert "Do not do this step now" not in closing
