"""What the last visit wrote of a unit is filled in again; how it runs today is not."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from strategies import MACHINE, Book, ready_to_charge, set_up, ulid
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.last_visit import LastVisit, last_visit, visit_of
from lowside.demo import Scenario, play, scenarios

JOB = {"site": " mill lane", "unit_label": "ac-1", "technician": "I. Varga", "elevation": "0 ft"}


def earlier(handbook: Handbook, number: int = 7) -> LastVisit:
    book = Book(sid=ulid(number), at=Book().at - 86_400_000 * (20 - number))
    found = visit_of(fold(ready_to_charge(book).events, handbook))
    assert found is not None
    return found


def today(practice: str = "", **job: str) -> Book:
    book = Book()
    book.write("session.started", {"procedure": "hand-valved-three-port", "practice": practice})
    book.form("job", **(JOB | job))
    return book


def shown(book: Book, handbook: Handbook, step: str, visits: list[LastVisit]) -> dict[str, Any]:
    state = fold(book.events, handbook)
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(state, handbook, now, ulid(9), (), None, tuple(visits))
    page = view(screen, Address("step", book.sid, step))
    assert isinstance(page, Page)
    return page.context


def values(book: Book, handbook: Handbook, step: str, visits: list[LastVisit]) -> dict[str, str]:
    context = shown(book, handbook, step, visits)
    form = context["form"]
    facts = {fact["name"] for fact in context["facts"]}
    found = {field["name"]: field["value"] for field in form["fields"] + form["more"]}
    return found | {"said": str("Filled in from the visit on" in facts)}


def test_the_units_facts_are_filled_in_and_said_to_be(handbook: Handbook) -> None:
    visits = [earlier(handbook)]
    unit = values(today(), handbook, "unit", visits)
    assert (unit["refrigerant"], unit["coil"], unit["receiver"]) == ("R-410A", "tube_fin", "no")
    assert unit["said"] == "True"
    target = values(today(), handbook, "target", visits)
    assert (target["method"], target["maker_subcooling"]) == ("subcooling", "10")


def test_how_it_runs_today_is_asked_anew(handbook: Handbook) -> None:
    machine = values(today(), handbook, "machine", [earlier(handbook)])
    assert machine["kind"] == "split"
    assert (machine["mode"], machine["compressor"]) == ("", "")


def test_another_unit_and_a_later_visit_say_nothing(handbook: Handbook) -> None:
    assert values(today(unit_label="AC-2"), handbook, "unit", [earlier(handbook)])["coil"] == ""
    late = replace(earlier(handbook), started=Moment("r", 0, today().at + 86_400_000, 0))
    assert values(today(), handbook, "unit", [late])["coil"] == ""
    assert values(today(), handbook, "unit", [])["said"] == "False"


def test_the_newest_of_several_counts(handbook: Handbook) -> None:
    visits = [earlier(handbook, number) for number in (5, 9, 3)]
    found = last_visit(visits, fold(today().events, handbook))
    assert found is not None
    assert found.sid == ulid(9)


def test_what_was_entered_here_goes_first(handbook: Handbook) -> None:
    book = today()
    book.form("unit", refrigerant="R-22", metering="fixed", coil="microchannel", receiver="no")
    unit = values(book, handbook, "unit", [earlier(handbook)])
    assert (unit["refrigerant"], unit["coil"], unit["said"]) == ("R-22", "microchannel", "False")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as opened:
        yield opened


def play_here(site: Site, scenario: Scenario) -> None:
    """A session that this device began."""
    events = play(scenario, site.desk.handbook)
    site.store.append([replace(event, dev=site.desk.device) for event in events])


def test_a_known_unit_is_chosen_in_one_tap_and_its_past_is_said_before_hoses_go_on(
    site: Site,
) -> None:
    scenario = next(one for one in scenarios() if one.name == "roof-unit-r410a")
    play_here(site, scenario)
    sid = site.start()
    page = site.get(f"/s/{sid}")
    assert "Known here" in page.text
    form = page.form("/form/job")
    assert form.values["unit_label"] == "AC-2 roof east"
    assert form.values["technician"] == "Ines Varga"
    assert site.post(form.action, form.values).status == 303
    unit = site.get(f"/s/{sid}")
    assert unit.form("/form/unit").values["nameplate_charge"] == "7 lb 8 oz"
    assert unit.text.count("Charge was added here before: ") == 1
    assert "7.5 oz on 2026-11-23" in unit.text
    assert "Find the leak." in unit.text
    # The machine's form is on the same page; how it runs today is never taken from the last visit.
    typed = unit.form("/form/unit").values | {"refrigerant": "R-32", **MACHINE}
    assert site.post(unit.form("/form/unit").action, typed).status == 303
    assert "The last visit wrote R-410A, this session says R-32." in site.get(f"/s/{sid}").text


def test_technician_and_scale_are_asked_once_and_a_new_unit_has_no_past(site: Site) -> None:
    scenario = next(one for one in scenarios() if one.name == "roof-unit-r410a")
    play_here(site, scenario)
    sid = site.start()
    forms = [f for f in site.get(f"/s/{sid}").read.forms if f.action.endswith("/form/job")]
    assert forms[-1].values["technician"] == "Ines Varga"
    assert forms[-1].values["unit_label"] == ""
    # How high another site lies is never assumed: gauges read against the local air.
    assert forms[-1].values["elevation"] == ""
    typed = forms[-1].values | {"site": "Elsewhere", "unit_label": "New", "elevation": "600"}
    assert site.post(forms[-1].action, typed).status == 303
    assert "Find the leak." not in site.get(f"/s/{sid}").text
    tare = site.get(f"/s/{sid}/step/tare").form("/form/tare").values
    assert (tare["scale_resolution"], tare["scale_resolution_unit"]) == ("0.5", "oz")
    assert tare["scale_reading"] == ""


BY_KIND = {"gauges": "digital", "clamps": "clamp"}
WEIGHED = {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "0.5 oz"}
BY_WET_BULB = {"method": "chart"}
BY_LIQUID = {"method": "subcooling", "maker_subcooling": "10 °F"}


def instruments(
    handbook: Handbook, target: dict[str, str], visits: list[LastVisit], practice: str = ""
) -> tuple[bool, dict[str, str]]:
    """Whether the question is unfolded, and its answers as filled in."""
    book = today(practice)
    metering = "fixed" if target == BY_WET_BULB else "txv"
    book.form("unit", refrigerant="R-410A", metering=metering, coil="tube_fin", receiver="no")
    book.form("target", **target)
    form = shown(book, handbook, "tare", visits)["form"]
    return form["more_open"], {field["name"]: field["value"] for field in form["more"]}


def weighed_with(handbook: Handbook, number: int, said: dict[str, str]) -> LastVisit:
    book = ready_to_charge(Book(sid=ulid(number), at=Book().at - 86_400_000 * (20 - number)))
    book.form("tare", **WEIGHED, **said)
    found = visit_of(fold(book.events, handbook))
    assert found is not None
    return found


def test_instruments_are_asked_in_sight_until_the_phone_knows_them(handbook: Handbook) -> None:
    unfolded, answers = instruments(handbook, BY_LIQUID, [])
    assert (unfolded, answers) == (True, {"gauges": "", "clamps": ""})
    known = weighed_with(handbook, 5, BY_KIND)
    assert instruments(handbook, BY_LIQUID, [known]) == (False, BY_KIND)
    half = weighed_with(handbook, 5, {"gauges": "dial"})
    assert instruments(handbook, BY_LIQUID, [half])[0]


def test_a_lesson_asks_nobody_for_their_own_instruments(handbook: Handbook) -> None:
    assert instruments(handbook, BY_LIQUID, [], "yes") == (False, {"gauges": "", "clamps": ""})


def test_what_the_wet_bulb_comes_from_is_asked_where_the_chart_needs_it(handbook: Handbook) -> None:
    known = weighed_with(handbook, 5, BY_KIND)
    assert instruments(handbook, BY_WET_BULB, [known]) == (True, {**BY_KIND, "wet_bulb_by": ""})
    all_known = weighed_with(handbook, 5, {**BY_KIND, "wet_bulb_by": "humidity"})
    for target in (BY_WET_BULB, BY_LIQUID):
        # On a unit that does not need it the answer is carried along, for the next one that does.
        folded_and_known = (False, {**BY_KIND, "wet_bulb_by": "humidity"})
        assert instruments(handbook, target, [all_known]) == folded_and_known


def test_a_visit_that_never_got_to_the_scale_does_not_make_the_phone_forget(
    handbook: Handbook,
) -> None:
    looked_only = replace(earlier(handbook, 9), scale={}, cylinder={})
    visits = [weighed_with(handbook, 5, BY_KIND), looked_only]
    assert instruments(handbook, BY_LIQUID, visits) == (False, BY_KIND)


def test_a_known_cylinder_is_chosen_in_one_tap_and_one_lighter_than_it_was_left_is_said(
    site: Site,
) -> None:
    scenario = next(one for one in scenarios() if one.name == "roof-unit-r410a")
    site.play(scenario)
    sid = site.play(replace(scenario, start=scenario.start + timedelta(days=9)), until="cylinder")
    form = site.get(f"/s/{sid}").form("/form/cylinder")
    assert form.values["cylinder_label"] == "C-14"
    assert "cylinder_pressure" not in form.values
    assert site.post(form.action, form.values).status == 303
    cylinder = site.state(sid).cylinder
    assert cylinder is not None
    assert cylinder.refrigerant == "R-410A"
    weight = site.get(f"/s/{sid}").form("/form/start_weight")
    assert site.post(weight.action, weight.values | {"gross": "26 lb 1 oz"}).status == 303
    assert "Check the cylinder." in site.get(f"/s/{sid}/step/start_weight").text


def known(book: Book, handbook: Handbook, step: str, visits: list[LastVisit]) -> list[str]:
    state = fold(book.events, handbook)
    now = Moment(book.run, book.mono, book.at, 0)
    page = view(
        Screen(state, handbook, now, ulid(9), (), None, tuple(visits)),
        Address("step", book.sid, step),
    )
    assert isinstance(page, Page)
    return [f"{one['title']} {one['line']} {one['typed']}" for one in page.context["known"]]


def test_another_devices_technician_is_nobodys_here(handbook: Handbook) -> None:
    book = Book()
    book.write("session.started", {"procedure": "hand-valved-three-port"})
    visit = earlier(handbook)
    assert values(book, handbook, "job", [visit])["technician"] == "I. Varga"
    other = replace(visit, dev="another", started=replace(visit.started, at=visit.started.at + 1))
    assert values(book, handbook, "job", [other])["technician"] == ""
    assert values(book, handbook, "job", [visit, other])["technician"] == "I. Varga"
    (line,) = known(book, handbook, "job", [other])
    assert "AC-1" in line
    assert "Varga" not in line
    assert "technician " not in line


def test_only_cylinders_of_this_units_refrigerant_are_offered(handbook: Handbook) -> None:
    book = today()
    visit = earlier(handbook)
    other = replace(
        visit,
        sid=ulid(8),
        cylinder={**visit.cylinder, "cylinder_label": "X-9", "cylinder_refrigerant": "R-22"},
    )
    assert len(known(book, handbook, "cylinder", [visit, other])) == 2
    book.form("unit", refrigerant="R-410A", metering="txv", coil="tube_fin", receiver="no")
    (line,) = known(book, handbook, "cylinder", [visit, other])
    assert "X-9" not in line


def test_the_hoses_size_is_asked_once_a_phone_whatever_the_cylinder(handbook: Handbook) -> None:
    visit = earlier(handbook)
    size = {"hose_length": "36", "hose_length_unit": "in"}
    mine = replace(visit, cylinder={**visit.cylinder, **size})
    assert values(today(), handbook, "cylinder", [mine])["hose_length"] == "36"
    others = replace(mine, dev="another")
    assert values(today(), handbook, "cylinder", [others])["hose_length"] == ""


def beside_the_first_reading(
    handbook: Handbook, visit: LastVisit, **units: str
) -> tuple[str, str, str]:
    """Value and hint of the first box of a visit's first reading, and what the page says of the
    visit before."""
    book = set_up(Book())
    if units:
        book.form("units", **units)
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None, (visit,))
    page = view(screen, Address("step", book.sid, "baseline"))
    assert isinstance(page, Page)
    box = page.context["form"]["fields"][0]
    told = {one["name"]: one["value"] for one in page.context["facts"]}
    return box["value"], box["hint"], told.get("Last visit, 2026-11-12", "")


def read_at_the_end(handbook: Handbook, after: Sequence[str] = ()) -> LastVisit:
    book = ready_to_charge(Book(sid=ulid(7), at=Book().at - 86_400_000 * 13))
    for form in after:
        book.form(form)
    found = visit_of(fold(book.events, handbook))
    assert found is not None
    return found


def test_how_the_last_visit_left_it_is_said_and_never_filled_in(handbook: Handbook) -> None:
    value, hint, told = beside_the_first_reading(handbook, read_at_the_end(handbook))
    assert (value, hint) == ("", "Low-side gauge. On 2026-11-12 it was 124 psig")
    assert told == (
        "Subcooling 2.3 °F. Low by 7.7 °F: target 10.0 °F ± 3.0 °F. "
        "Superheat 19.6 °F. Normal range 4.0 °F to 25.0 °F. Outdoor air 90.0 °F."
    )


def test_it_is_said_in_this_visits_units(handbook: Handbook) -> None:
    units = {"pressure": "bar", "temperature": "°C", "mass": "kg", "length": "m"}
    _, hint, told = beside_the_first_reading(handbook, read_at_the_end(handbook), **units)
    assert hint == "Low-side gauge. On 2026-11-12 it was 8.55 bar"
    assert told.endswith("Outdoor air 32.2 °C.")


@pytest.mark.parametrize(
    "after", [("shot_open", "shot_close"), ("system_stopped", "reading")], ids=["shot", "stopped"]
)
def test_a_reading_that_is_not_how_it_was_left_says_nothing(
    handbook: Handbook, after: tuple[str, ...]
) -> None:
    visit = read_at_the_end(handbook, after)
    assert visit.reading is None
    assert beside_the_first_reading(handbook, visit)[1:] == ("Low-side gauge", "")


def test_the_key_of_a_box_says_its_field_and_what_it_enters(site: Site) -> None:
    scenario = next(one for one in scenarios() if one.name == "roof-unit-r410a")
    site.play(scenario)
    sid = site.play(replace(scenario, start=scenario.start + timedelta(days=9)), until="tare")
    html = site.get(f"/s/{sid}/step/baseline").response.text
    assert html.count("data-stay") == 8
    name = 'aria-label="Suction pressure: Same: 130" hidden>Same: 130</button>'
    assert f'data-same="130" data-stay {name}' in html
    assert "Low-side gauge. On 2026-11-23 it was 130 psig" in html
    sid = site.play(replace(scenario, start=scenario.start + timedelta(days=9)), until="decide")
    assert "data-stay" not in site.get(f"/s/{sid}/form/reading").response.text


@pytest.mark.parametrize(
    ("weights", "told"),
    [
        # One shot of 3 lb that was not weighed: by the cylinder, not at all, and one weighed first.
        ({"end": "24 lb"}, "Charge was added here before: 48.0 oz on "),
        ({}, "Charge was added here before: an amount that was not weighed on "),
        ({"first": "27"}, "Charge was added here before: at least 8.0 oz on "),
    ],
)
def test_what_was_not_weighed_was_added_too(
    handbook: Handbook, weights: dict[str, str], told: str
) -> None:
    book = ready_to_charge(Book(sid=ulid(5)))
    if "first" in weights:
        book.form("shot_open", scale_before="27.5 lb")
        book.write("shot.closed", {"scale_after": "27", "scale_after_unit": "lb"}, 20.0)
    book.form("shot_open", scale_before="27 lb")
    book.write("shot.closed", {}, 20.0)
    if "end" in weights:
        book.form("end_weight", gross=weights["end"])
    book.form("record", signed_by="T", caps_checked="yes")
    visit = visit_of(fold(book.events, handbook))
    assert visit is not None
    alerts = shown(today(), handbook, "unit", [visit])["step_alerts"]
    assert [told in each["text"] for each in alerts if each["word"] == "Find the leak."] == [True]


def test_a_weigh_in_of_an_emptied_unit_is_no_sign_of_a_leak(handbook: Handbook) -> None:
    book = ready_to_charge(Book(sid=ulid(5)))
    book.form("charge_off", charged_off="96 oz")
    visit = visit_of(fold(book.events, handbook))
    assert visit is not None
    alerts = shown(today(), handbook, "unit", [visit])["step_alerts"]
    assert "Find the leak." not in [each["word"] for each in alerts]
