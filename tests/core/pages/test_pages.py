"""Every page of every session can be shown, in every unit, and says what must be said on it."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from strategies import READING, Book, ready_to_charge, set_up, ulid
from website import Reader, Site, open_site

from lowside.core.handbook.forms import FORM_OF_KIND, FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages import addresses
from lowside.core.pages.addresses import AMEND, CURRENT_STEP, FORM, STEP, TICKET, TIMELINE, Address
from lowside.core.pages.page import NoPage
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Event, moment_of
from lowside.core.session.fold import fold
from lowside.core.session.state import State
from lowside.demo import Scenario, play, scenarios
from lowside.library import load_handbook
from lowside.rendering import render

UNITS = [
    ("psig", "°F", "lb+oz", "ft"),
    ("kPa", "°C", "kg", "m"),
    ("bar", "°C", "g", "m"),
    ("psig", "°F", "lb", "ft"),
]
"""Every unit there is, at least once."""
SCENARIOS = scenarios()
FRESH = ulid(7)
SLIPS = (
    (re.compile(r"\bNone\b"), "Python's None"),
    (re.compile(r"\b(nan|inf|undefined|TEMP|TODO)\b"), "no value"),
    (re.compile(r"[{}]"), "an unfilled sentence"),
    (re.compile(r"\d[.]\d{4,}"), "an unformatted number"),
    (re.compile(r"\b\d+([.]\d+)?e[+-]?\d+\b"), "an exponent"),
    (re.compile(r"(^|\s)-\d"), "a hyphen for a minus sign"),
    (re.compile(r" [.,;]"), "a gap before a stop"),
    (re.compile(r"\bUnknown\(|OutOfRange|NoTarget|Finding\("), "a value's name"),
)


@cache
def played(name: str) -> tuple[Event, ...]:
    scenario = next(s for s in SCENARIOS if s.name == name)
    return tuple(play(scenario, load_handbook()))


def in_units(events: Sequence[Event], choice: tuple[str, str, str, str]) -> list[Event]:
    """The same session after the technician changed units once more."""
    data = dict(zip(("pressure", "temperature", "mass", "length"), choice, strict=True))
    last = events[-1]
    number = last.seq + 1
    wish = replace(
        last, seq=number, eid=ulid(99_999), hlc=last.hlc[:-1] + "9", kind="units.set", data=data
    )
    return [*events, wish]


def moments(events: Sequence[Event]) -> list[list[Event]]:
    """The session right after its start, before the decision, with a shot open, and now."""
    cuts = [1, len(events)]
    kinds = [event.kind for event in events]
    for kind, more in (("decision.made", 0), ("shot.opened", 1)):
        if kind in kinds:
            cuts.append(kinds.index(kind) + more)
    return [list(events[:cut]) for cut in sorted(cuts)]


def addresses_of(state: State, handbook: Handbook) -> Iterator[Address]:
    yield Address(CURRENT_STEP, state.sid)
    yield Address(TIMELINE, state.sid)
    yield Address(TICKET, state.sid)
    for step in handbook.procedures[state.procedure].steps:
        yield Address(STEP, state.sid, step.id)
    for form in FORMS:
        if form != "void":
            yield Address(FORM, state.sid, form)
    for entry in state.entries:
        if entry.kind in FORM_OF_KIND:
            yield Address(AMEND, state.sid, entry.eid)


def html_of(state: State, address: Address, handbook: Handbook) -> str:
    now = state.entries[-1].moment
    page = view(Screen(state, handbook, replace(now, at=now.at + 65_000), FRESH, (), None), address)
    assert not isinstance(page, NoPage), address
    return render(page.template, page.context)


def slips_in(text: str) -> list[str]:
    found = []
    for pattern, name in SLIPS:
        match = pattern.search(text)
        if match is not None:
            found.append(f"{name}: …{text[max(0, match.start() - 40) : match.end() + 30]}…")
    return found


def read(html: str) -> str:
    return " ".join(" ".join(Reader(html).text).split())


@pytest.mark.parametrize("choice", UNITS, ids="-".join)
@pytest.mark.parametrize("name", [scenario.name for scenario in SCENARIOS])
def test_every_page_of_a_session_can_be_shown_in_every_unit(
    handbook: Handbook, name: str, choice: tuple[str, str, str, str]
) -> None:
    shown = 0
    for events in moments(played(name)):
        state = fold(in_units(events, choice), handbook)
        assert state.flags == ()
        for address in addresses_of(state, handbook):
            html = html_of(state, address, handbook)
            assert slips_in(read(html)) == [], addresses.path(address)
            assert html.count('id="page"') == 1
            shown += 1
    assert shown > 100


def test_a_page_shows_values_in_the_chosen_units_only(handbook: Handbook) -> None:
    others = {"psig", "kPa", "bar", "°F", "°C", "lb", "oz", "kg", "ft"}
    for choice in UNITS:
        state = fold(in_units(played("roof-unit-r410a"), choice), handbook)
        text = read(html_of(state, Address(TICKET, state.sid), handbook))
        # A note is as typed; figures, facts and findings are not.
        units = set(re.findall(r"\d (psig|kPa|bar|°F|°C|lb|oz|kg|g|ft|m)\b", text))
        small = {"lb+oz": {"lb", "oz"}, "lb": {"lb", "oz"}, "kg": {"kg", "g"}, "g": {"g"}}
        assert units <= {choice[0], choice[1], choice[3], *small[choice[2]]}
        assert choice[1] in units
        assert units & others or choice[2] == "g"


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as opened:
        yield opened


def choices(path: str) -> tuple[str, ...]:
    """A list and what is chosen in it. One value of each is looked at: they have no end."""
    page, _, query = path.partition("?")
    return (page, *sorted(part.split("=")[0] for part in query.split("&")))


def test_every_link_and_form_of_every_page_leads_to_a_page(site: Site) -> None:
    for scenario in SCENARIOS:
        site.play(scenario)
        until = replace(scenario, moves=scenario.moves[: len(scenario.moves) // 2])
        site.play(shifted(until))
    seen: set[str] = set()
    chosen: set[tuple[str, ...]] = set()
    todo = ["/", "/office"]
    while todo:
        path = todo.pop()
        if path in seen or not path.startswith("/") or choices(path) in chosen:
            continue
        seen.add(path)
        if "?" in path:
            chosen.add(choices(path))
        answer = site.get(path)
        assert answer.status == 200, path
        if not path.startswith("/static") and not path.split("?")[0].endswith((".json", ".csv")):
            assert slips_in(answer.text) == [], path
        todo.extend(answer.read.links)
        for form in answer.read.forms:
            assert (
                form.action in ("/start", "/practice/start")
                or addresses.parse_path(form.action)
                or form.action.startswith(("/office", "/practice/calls/", "/practice/hoses/"))
            ), form.action
    assert len([path for path in seen if "/step/" in path]) > 100
    office = [path for path in seen if path.startswith("/office/session/")]
    records = [path for path in office if path.endswith("/record")]
    assert len(records) == len(office) - len(records) == 2 * len(SCENARIOS)


def shifted(scenario: Scenario) -> Scenario:
    return replace(scenario, start=scenario.start.replace(minute=59))


# Cautions, by the refrigerant's class


def steps_with(code: str, handbook: Handbook) -> list[str]:
    procedure = handbook.procedures["hand-valved-three-port"]
    return [step.id for step in procedure.steps if code in step.cautions]


def book_with(refrigerant: str) -> Book:
    book = set_up(Book())
    book.form("unit", refrigerant=refrigerant, metering="txv", capacity="3 ton")
    return book


@pytest.mark.parametrize(
    ("refrigerant", "code", "title"),
    [
        # ANSI/ASHRAE 34 classes: R-454B is A2L, R-290 is A3, R-410A is A1.
        ("R-454B", "flammable_a2l", "Mildly flammable."),
        ("R-32", "flammable_a2l", "Mildly flammable."),
        ("R-290", "flammable_a3", "Flammable."),
        ("R-410A", "", ""),
    ],
)
def test_the_flammability_caution_is_on_each_step_where_refrigerant_may_escape(
    handbook: Handbook, refrigerant: str, code: str, title: str
) -> None:
    state = fold(book_with(refrigerant).events, handbook)
    with_caution = set(steps_with(code, handbook)) if code else set()
    if code:
        assert {"connect", "purge_low", "purge_high", "purge_service", "disconnect"} <= with_caution
    for step in handbook.procedures[state.procedure].steps:
        html = html_of(state, Address(STEP, state.sid, step.id), handbook)
        titles = re.findall(r"<b>((?:Mildly f|F)lammable\.)</b>", html)
        assert titles == ([title] if step.id in with_caution else []), step.id


def test_each_step_shows_every_other_caution_it_names(handbook: Handbook) -> None:
    state = fold(book_with("R-410A").events, handbook)
    shown = 0
    for step in handbook.procedures[state.procedure].steps:
        text = read(html_of(state, Address(STEP, state.sid, step.id), handbook))
        for code in step.cautions:
            caution = handbook.cautions[code]
            if not caution.classes:
                assert f"{caution.title} {caution.text}" in text
                shown += 1
    assert shown > 20


# The stop button, and what it does


def test_the_stop_button_is_on_every_step_of_an_open_session(handbook: Handbook) -> None:
    for events in moments(played("roof-unit-r410a")):
        state = fold(events, handbook)
        for step in handbook.procedures[state.procedure].steps:
            html = html_of(state, Address(STEP, state.sid, step.id), handbook)
            forms = [form.action for form in Reader(html).forms]
            stop = addresses.form(state.sid, "system_stopped")
            assert (stop in forms) == (state.closed is None)


def test_the_stop_button_is_beside_a_reading_and_a_note_too(handbook: Handbook) -> None:
    state = fold(ready_to_charge(Book()).events, handbook)
    for form in ("reading", "note"):
        html = html_of(state, Address(FORM, state.sid, form), handbook)
        forms = [shown.action for shown in Reader(html).forms]
        assert addresses.form(state.sid, "system_stopped") in forms


def test_after_the_unit_stopped_every_page_says_so_and_no_shot_is_offered(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    book.form("system_stopped")
    state = fold(book.events, handbook)
    for address in addresses_of(state, handbook):
        html = html_of(state, address, handbook)
        assert "The unit is stopped." in read(html), address
        forms = [form.action for form in Reader(html).forms]
        if address != Address(FORM, state.sid, "shot_open"):
            assert addresses.form(state.sid, "shot_open") not in forms
    book.form("system_started")
    state = fold(book.events, handbook)
    assert "The unit is stopped." not in read(
        html_of(state, Address(CURRENT_STEP, state.sid), handbook)
    )


def test_after_the_unit_stopped_no_shot_is_taken_even_from_an_older_page(site: Site) -> None:
    roof = next(scenario for scenario in SCENARIOS if scenario.name == "roof-unit-r410a")
    sid = site.play(roof, "shot_open")
    page = site.get(f"/s/{sid}")
    shot = page.form("/form/shot_open")
    stop = page.form("/form/system_stopped")
    assert site.post(stop.action, stop.values).status == 303
    before = site.events(sid)
    answer = site.post(shot.action, shot.values)
    assert answer.status == 422
    assert "The unit is stopped." in answer.text
    assert site.events(sid) == before


def test_a_stop_during_a_shot_still_lets_the_valve_be_shut(site: Site) -> None:
    roof = next(scenario for scenario in SCENARIOS if scenario.name == "roof-unit-r410a")
    sid = site.play(roof, "shot_close")
    page = site.get(f"/s/{sid}")
    stop = page.form("/form/system_stopped")
    assert site.post(stop.action, stop.values).status == 303
    close = site.get(f"/s/{sid}").form("/form/shot_close")
    assert site.post(close.action, close.values).status == 303
    assert site.state(sid).shots[-1].closed is not None


def test_the_end_of_a_shot_is_one_tap_and_its_weight_is_asked_after_it(site: Site) -> None:
    roof = next(scenario for scenario in SCENARIOS if scenario.name == "roof-unit-r410a")
    sid = site.play(roof, "shot_close")
    close = site.get(f"/s/{sid}").form("/form/shot_close")
    assert not [name for name in close.values if name.startswith("scale")]
    assert site.post(close.action, close.values).status == 303
    after = site.get(f"/s/{sid}")
    assert after.form("/form/shot_weigh").values["shot"] == site.state(sid).shots[-1].eid
    assert 'class="next' not in after.response.text, "nothing is advised before it is weighed"
    unread = after.form("/form/shot_unweighed")
    assert site.post(unread.action, unread.values).status == 303
    again = site.get(f"/s/{sid}")
    assert not [form for form in again.read.forms if form.action.endswith("weigh")]
    assert "not weighed" in again.text


# Pages follow the session


def test_home_goes_on_with_an_open_session_first(site: Site) -> None:
    roof = next(scenario for scenario in SCENARIOS if scenario.name == "roof-unit-r410a")
    site.play(shifted(roof))
    sid = site.play(roof, "decide")
    home = site.get("/")
    links = [link for link in home.read.links if link.startswith("/s/")]
    assert links[0] == f"/s/{sid}"
    assert home.text.index("Open sessions") < home.text.index("Recently closed")
    assert site.get(links[0]).status == 200
    assert "Add charge" in site.get(links[0]).text


def test_a_saved_form_opens_the_next_step(site: Site) -> None:
    sid = site.start()
    procedure = site.desk.handbook.procedures["hand-valved-three-port"]
    roof = next(scenario for scenario in SCENARIOS if scenario.name == "roof-unit-r410a")
    for move, step, after in zip(roof.moves, procedure.steps, procedure.steps[1:], strict=False):
        if move.step != step.id or step.id == "shots":
            break
        answer = site.make(sid, move)
        assert answer.response.headers["location"] == f"/s/{sid}"
        assert after.title in site.get(f"/s/{sid}").text


def test_a_reading_judged_without_some_values_shows_a_page_without_guessing(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    for missing in READING:
        book.form("reading", **{name: text for name, text in READING.items() if name != missing})
        state = fold(book.events, handbook)
        for address in (Address(CURRENT_STEP, state.sid), Address(TICKET, state.sid)):
            text = read(html_of(state, address, handbook))
            assert slips_in(text) == []


def test_the_timeline_shows_each_entry_as_typed_and_what_became_of_it(handbook: Handbook) -> None:
    book = set_up(Book())
    weight = book.form("start_weight", gross="26,5 lb")
    void = book.write("event.voided", {"target": weight.eid, "reason": "hose was on"})
    state = fold(book.events, handbook)
    text = read(html_of(state, Address(TIMELINE, state.sid), handbook))
    assert "Cylinder on the scale: 26,5 lb" in text
    assert "Void" in text
    assert "Why: hose was on" in text
    assert "Restore it" in text
    assert state.entries[-1].moment == moment_of(void)


def typed_in(page: str, form: str) -> dict[str, str]:
    return next(f.values for f in Reader(page).forms if f.action.endswith(form))


def test_a_value_forgotten_in_a_reading_is_added_and_costs_none_of_the_others(site: Site) -> None:
    scenario = SCENARIOS[0]
    reading = next(m for m in scenario.moves if m.step == "baseline")
    sid = site.play(scenario, until="reading")
    some = {k: v for k, v in reading.typed.items() if not k.startswith("liquid_line")}
    assert site.fill(f"/s/{sid}/step/baseline", "reading", some).status == 303
    page = site.get(f"/s/{sid}/step/baseline")
    form = next(f for f in page.read.forms if "/amend/" in f.action)
    assert form.values["suction_pressure"] == reading.typed["suction_pressure"]
    more = form.values | {"liquid_line": reading.typed["liquid_line"]}
    answer = site.post(form.action, more)
    assert answer.response.headers["location"] == f"/s/{sid}/step/baseline"
    state = site.state(sid)
    assert len(state.readings) == 1
    last = state.readings[-1].reading
    assert None not in (last.suction_pressure_pa, last.liquid_line_k, last.outdoor_dry_bulb_k)


def test_each_field_of_a_reading_says_what_it_showed_and_only_fresh_air_is_filled_in(
    site: Site,
) -> None:
    scenario = SCENARIOS[0]
    sid = site.play(scenario, until="decide")
    state = site.state(sid)
    last = state.entries[-1]
    fresh = replace(last.moment, mono=last.moment.mono + 600_000, at=last.moment.at + 600_000)
    old = replace(last.moment, mono=last.moment.mono + 3_600_000, at=last.moment.at + 3_600_000)
    handbook = site.desk.handbook
    for now, air in ((fresh, last.data["outdoor_dry_bulb"]), (old, "")):
        page = view(Screen(state, handbook, now, FRESH, (), None), Address(FORM, sid, "reading"))
        assert not isinstance(page, NoPage)
        html = render(page.template, page.context)
        values = typed_in(html, "/form/reading")
        assert values["suction_pressure"] == ""
        assert values["outdoor_dry_bulb"] == air
        ago = "10 min ago" if air else "60 min ago"
        for name in ("suction_pressure", "liquid_line", "outdoor_dry_bulb"):
            told = f"Last {last.data[name]} {last.data[name + '_unit']}, {ago}"
            assert told in read(html), told


@pytest.mark.parametrize("name", ["roof-unit-r410a", "bakery-split-r454b"])
def test_one_tap_answers_a_checklist_and_an_exception_is_kept(site: Site, name: str) -> None:
    scenario = next(s for s in SCENARIOS if s.name == name)
    sid = site.play(scenario, until="preconditions")
    page = site.get(f"/s/{sid}/step/preconditions")
    form = page.form("/form/preconditions")
    assert "Leak-checked, none found" in page.text
    typed = form.values | {"all_good": "yes", "outdoor_coil": "no"}
    assert site.post(form.action, typed).status == 303
    burns = name.startswith("bakery")
    checks = site.state(sid).checks
    assert checks["outdoor_coil"] == "no"
    assert {checks[one] for one in ("qualified", "airflow")} == {"yes"}
    assert checks["steady"] == "counted"
    assert checks["leak"] == "none_found"
    assert ("flammable_detector" in checks) == burns
    again = site.get(f"/s/{sid}/step/preconditions").form("/form/preconditions").values
    assert again["outdoor_coil"] == "no"


def test_without_that_tap_every_question_is_still_asked(site: Site) -> None:
    sid = site.play(SCENARIOS[0], until="preconditions")
    form = site.get(f"/s/{sid}/step/preconditions").form("/form/preconditions")
    answer = site.post(form.action, form.values)
    assert answer.status == 422
    assert len(answer.read.problems) >= 7


def test_steps_at_the_hoses_are_one_page_that_walks_and_draws_only_what_turns(site: Site) -> None:
    sid = site.play(SCENARIOS[0], until="done")
    headings = []
    for step in ("connect", "purge_low", "purge_high", "purge_service", "liquid"):
        html = site.get(f"/s/{sid}").response.text
        headings.append(re.findall(r"<h1>(.*?)</h1>", html)[0])
        assert "turn-ring" in html
        assert site.fill(f"/s/{sid}", "done", {}).status == 303
        assert site.state(sid).done[step]
    assert set(headings) == {"Hook up and purge"}
    assert "hoses-picture" not in site.get(f"/s/{sid}").response.text


def test_an_empty_session_is_discarded_and_one_with_an_entry_is_not(site: Site) -> None:
    sid = site.start()
    form = site.get(f"/s/{sid}").form("/form/discard")
    assert site.post(form.action, form.values).response.headers["location"] == "/"
    home = site.get("/").text
    assert "No open session" in home
    assert "New session" not in home
    sid = site.play(SCENARIOS[0], until="unit")
    assert all("/discard" not in form.action for form in site.get(f"/s/{sid}").read.forms)
    again = form.values | {"eid": ulid(77)}
    answer = site.post(f"/s/{sid}/form/discard", again)
    assert "It has entries." in answer.text
    assert site.state(sid).closed is None
