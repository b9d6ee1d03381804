"""Recovery and weigh-in are one tap away where they are the answer, walked, and on the record."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from cylinder_cases import stamp_of_last_year
from strategies import MACHINE, Book, ready_to_charge, with_units
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import RECOVER_STAGE, WEIGH_IN_STAGE, walk_of
from lowside.demo import scenarios

UNIT = {
    "refrigerant": "R-410A",
    "metering": "txv",
    "coil": "tube_fin",
    "receiver": "no",
    "nameplate_charge": "6 lb",
    "line_length": "15 ft",
    "line_included": "15 ft",
    "line_adder": "0.6 oz/ft",
}
RECOVERY = (
    ("recovery_ready", dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")),
    (
        "recovery_cylinder",
        {
            "rc_water": "47.7 lb",
            "rc_tare": "27 lb",
            "rc_service": "400 psig",
            "rc_date": stamp_of_last_year(),
            "rc_date_means": "tested",
            "rc_label": "RC-1",
        },
    ),
    ("recovery_contents", {"rc_before": "27 lb", "rc_inside": "empty"}),
    ("done", {}),
    (
        "recovery_after",
        {"rc_after": "31 lb", "rc_left": "0 psig", "rc_what": "whole", "rc_next": "weigh_in"},
    ),
)
WEIGH_IN = (
    (
        "weigh_ready",
        dict.fromkeys(("locked", "emptied", "hoses_off", "qualified", "protected"), "yes"),
    ),
    (
        "pressure_test",
        {
            "test_pressure": "150 psig",
            "test_end": "150 psig",
            "test_held": "20 min",
            "leak": "none_found",
        },
    ),
    ("weigh_total", {"coil_adder": "0 lb", "drier_adder": "0 lb"}),
    (
        "cylinder",
        {
            "cylinder_label": "C-1",
            "cylinder_refrigerant": "R-410A",
            "cylinder_tare": "7 lb",
            "withdrawal": "invert",
        },
    ),
    ("start_weight", {"gross": "27 lb"}),
    (
        "vacuum_held",
        {"vacuum_reached": "250 microns", "vacuum_end": "400 microns", "vacuum_time": "20 min"},
    ),
    ("charge_off", {"charged_off": "5 lb"}),
    ("charge_run", {"runs_well": "yes"}),
    ("charge_rest", {"charged_rest": "1 lb"}),
    ("done", {}),
    ("end_weight", {"gross": "21 lb"}),
    ("charge_result", {}),
)


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as opened:
        yield opened


def stored(site: Site, book: Book) -> str:
    site.store.append(book.events)
    return book.sid


def heating() -> Book:
    book = Book()
    book.write("session.started", {"procedure": "hand-valved-three-port"})
    book.form("job", site="Mill Lane", unit_label="AC-1", technician="I. Varga", elevation="0 ft")
    book.form("unit", **UNIT)
    book.form("machine", **(MACHINE | {"mode": "heating", "port": "suction_port"}))
    return book


def ways(site: Site, sid: str, step: str) -> list[str]:
    links = site.get(f"/s/{sid}/step/{step}").read.links
    return [link.rsplit("/", 1)[1] for link in links if link.endswith(("rec_ready", "wi_ready"))]


def walk(site: Site, path: str, forms: tuple[tuple[str, dict[str, str]], ...]) -> str:
    for name, typed in forms:
        answer = site.fill(path, name, with_units(name, typed))
        assert answer.status == 303, (name, answer.text)
        path = answer.response.headers["location"]
    return path


def test_both_are_linked_where_they_are_the_answer(site: Site) -> None:
    sid = stored(site, heating())
    assert ways(site, sid, "baseline") == ["rec_ready", "wi_ready"]
    assert ways(site, sid, "unit") == ["rec_ready", "wi_ready"]
    assert ways(site, sid, "wi_total") == ["rec_ready"]
    assert "off_stop" in " ".join(site.get(f"/s/{sid}/step/wi_ready").read.links)


def test_a_unit_that_may_be_added_to_has_them_in_the_preparation_and_the_way_out(
    site: Site,
) -> None:
    sid = stored(site, ready_to_charge(Book()))
    assert ways(site, sid, "shots") == []
    assert ways(site, sid, "connect") == []
    assert ways(site, sid, "machine") == ["rec_ready", "wi_ready"]
    assert ways(site, sid, "off_hoses") == ["rec_ready", "wi_ready"]


def test_without_a_liquid_port_weigh_in_says_what_to_do_instead(site: Site) -> None:
    book = Book()
    book.write("session.started", {"procedure": "no-liquid-port-two-hose"})
    book.form("job", site="Mill Lane", unit_label="AC-1", technician="I. Varga", elevation="0 ft")
    book.form("unit", **UNIT)
    book.form("machine", **MACHINE)
    sid = stored(site, book)
    assert "brazed into the liquid line" in site.get(f"/s/{sid}/step/wi_ready").text
    walk(site, f"/s/{sid}/step/wi_ready", WEIGH_IN[:6])
    shown = site.get(f"/s/{sid}/step/wi_break")
    page = shown.text
    assert "brazed into the liquid line" in page
    assert "Open the high-side manifold valve" not in page
    assert shown.form("/form/charge_off").action


def test_recovery_leads_to_weigh_in_and_that_to_the_record(site: Site, handbook: Handbook) -> None:
    sid = stored(site, heating())
    path = walk(site, f"/s/{sid}/step/rec_ready", RECOVERY)
    assert path == f"/s/{sid}/step/wi_ready"
    assert "Ready to weigh in" in site.get(f"/s/{sid}").text
    path = walk(site, path, WEIGH_IN)
    assert path == f"/s/{sid}"
    assert "Sign and close" in site.get(path).text
    procedure = handbook.procedures["hand-valved-three-port"]
    done = set(site.state(sid).done)
    for stage in (RECOVER_STAGE, WEIGH_IN_STAGE):
        assert {step.id for step in walk_of(procedure, stage)} <= done
    for address in (f"/s/{sid}/ticket", f"/office/session/{sid}"):
        text = site.get(address).text
        for words in ("4 lb 0.0 oz, whole charge", "RC-1", "The vacuum held.", "6 lb 0.0 oz"):
            assert words in text, (address, words)
    form = site.get(f"/s/{sid}").form("/form/record")
    closing = form.values | {"signed_by": "I. Varga", "caps_checked": "yes"}
    assert site.post(form.action, closing).status == 303


def test_a_part_recovered_goes_back_and_another_cylinder_begins_again(site: Site) -> None:
    sid = stored(site, ready_to_charge(Book()))
    part = {"rc_what": "part", "rc_left": "118 psig"}
    (form, typed) = RECOVERY[4]
    another = (*RECOVERY[:4], (form, typed | part | {"rc_next": "another"}))
    assert walk(site, f"/s/{sid}/step/rec_ready", another) == f"/s/{sid}/step/rec_cylinder"
    back = (*RECOVERY[1:4], (form, typed | part | {"rc_next": "readings"}))
    assert walk(site, f"/s/{sid}/step/rec_cylinder", back) == f"/s/{sid}"
    assert len(site.state(sid).recovered) == 2
    again = site.get(f"/s/{sid}/step/shots").form("/form/system_started")
    assert site.post(again.action, again.values).status == 303
    assert "has not been read since" in site.get(f"/s/{sid}/step/shots").text


def test_co2_is_told_what_to_do_and_shown_no_step(site: Site) -> None:
    book = heating()
    book.form("unit", **(UNIT | {"refrigerant": "R-744"}))
    sid = stored(site, book)
    page = site.get(f"/s/{sid}/step/wi_break")
    assert "dry ice" in page.text
    assert "Open the cylinder valve" not in page.text
    assert [form for form in page.read.forms if form.action.endswith("charge_off")] == []


def test_missing_parts_of_the_total_are_named_beside_the_way_to_them(site: Site) -> None:
    book = heating()
    short = {name: text for name, text in UNIT.items() if name != "line_adder"}
    book.form("unit", **short)
    sid = stored(site, book)
    page = site.get(f"/s/{sid}/step/wi_total")
    assert "No total yet." in page.text
    assert f"/s/{sid}/form/unit" in page.read.links


def test_a_charging_session_of_before_has_no_word_of_them_on_its_record(site: Site) -> None:
    roof = next(scenario for scenario in scenarios() if scenario.name == "roof-unit-r410a")
    sid = site.play(roof)
    text = site.get(f"/s/{sid}/ticket").text
    assert "Recovery" not in text
    assert "Weigh-in" not in text


def test_where_the_unit_is_locked_out_nobody_is_asked_whether_it_stopped(site: Site) -> None:
    sid = stored(site, heating())
    for step, asked in (("wi_pressure", False), ("rec_run", False), ("wi_rest", True)):
        assert ("The unit has stopped" in site.get(f"/s/{sid}/step/{step}").text) == asked, step
    walk(site, f"/s/{sid}/step/rec_ready", RECOVERY[:1])
    assert "The unit has stopped" not in site.get(f"/s/{sid}").text


def test_a_failed_pressure_test_stays_at_its_step_and_says_so(site: Site) -> None:
    sid = stored(site, heating())
    here = f"/s/{sid}/step/wi_pressure"
    assert walk(site, f"/s/{sid}/step/wi_ready", WEIGH_IN[:1]) == here
    fell = WEIGH_IN[1][1] | {"test_end": "130 psig"}
    assert walk(site, here, (("pressure_test", fell),)) == here
    page = site.get(here).text
    assert "The pressure fell. Find the leak" in page
    assert "wi_pressure" not in site.state(sid).done
    assert walk(site, here, WEIGH_IN[1:2]) != here
    assert "wi_pressure" in site.state(sid).done


def test_after_the_weigh_in_nobody_is_told_to_finish_it(site: Site) -> None:
    sid = stored(site, heating())
    walk(site, f"/s/{sid}/step/wi_ready", WEIGH_IN[:-1])
    assert "Finish the weigh-in" in site.get(f"/s/{sid}/step/decide").text
    walk(site, f"/s/{sid}/step/wi_result", WEIGH_IN[-1:])
    page = site.get(f"/s/{sid}/step/decide").text
    assert "Finish the weigh-in" not in page
    assert "Nothing is added to it by readings" in page


def test_a_step_that_may_not_begin_yet_shows_no_turn_and_starts_no_countdown(site: Site) -> None:
    sid = stored(site, heating())
    for step in ("rec_run", "wi_vacuum", "wi_break"):
        html = site.get(f"/s/{sid}/step/{step}").response.text
        assert "Not yet." in html, step
        assert "Start the countdown" not in html, step
        assert "Turn what is ringed" not in html, step
    walk(site, f"/s/{sid}/step/rec_ready", RECOVERY[:3])
    assert "Start the countdown" in site.get(f"/s/{sid}/step/rec_run").text
