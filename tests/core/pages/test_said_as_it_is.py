"""Small words that once misled: marks beside fields, orders that fit the cylinder, times past."""

import re
from dataclasses import replace
from typing import Any

import pytest
from strategies import CHECKED_ALWAYS, READING, Book, ready_to_charge, set_up, ulid

from lowside.core.handbook.fields import read_fields
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.page import Page
from lowside.core.pages.recording import Refusal, record_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.timeline import entry_lines
from lowside.core.pages.view import view
from lowside.core.pages.wording import ago
from lowside.core.session.block import KEEP_OPEN
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold

BOTH = "Turn the cylinder upside down on the scale. A cylinder with a dip tube stays upright."


def context(book: Book, handbook: Handbook, page: str, about: str) -> dict[str, object]:
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    shown = view(screen, Address(page, book.sid, about))  # type: ignore[arg-type]
    assert isinstance(shown, Page)
    return shown.context


@pytest.mark.parametrize(
    ("withdrawal", "liquid", "turned_back"),
    [
        ("invert", "Turn the cylinder upside down on the scale.", True),
        ("dip_tube", "Leave the cylinder upright: its dip tube draws liquid.", False),
    ],
)
def test_the_cylinder_is_turned_as_it_gives_liquid(
    handbook: Handbook, withdrawal: str, liquid: str, turned_back: bool
) -> None:
    book = ready_to_charge(Book())
    assert book.events
    typed = next(event.data for event in book.events if event.kind == "cylinder.set")
    book.write("cylinder.set", {**typed, "withdrawal": withdrawal})
    do = context(book, handbook, "step", "liquid")["step"]["do"]  # type: ignore[index]
    assert liquid in do
    assert BOTH not in do
    closing = context(book, handbook, "step", "close_cylinder")["step"]["do"]  # type: ignore[index]
    assert ("Then turn the cylinder upright." in closing) == turned_back


def test_before_a_cylinder_is_known_both_orders_are_said(handbook: Handbook) -> None:
    book = Book()
    book.write("session.started", {"procedure": "hand-valved-three-port"})
    assert BOTH in context(book, handbook, "step", "liquid")["step"]["do"]  # type: ignore[index]


def test_what_judging_needs_is_not_called_optional(handbook: Handbook) -> None:
    form = context(ready_to_charge(Book()), handbook, "form", "reading")["form"]
    marks = {one["name"]: one["mark"] for one in form["fields"] + form["more"]}  # type: ignore[index]
    needed = {name for name, mark in marks.items() if mark == "needed to judge"}
    assert needed == {
        *("suction_pressure", "suction_line", "liquid_pressure", "liquid_line"),
        *("outdoor_dry_bulb", "return_dry_bulb"),
    }
    assert marks["supply_dry_bulb"] == "optional"


def test_several_cautions_on_one_line_are_kept_apart(handbook: Handbook) -> None:
    step = context(ready_to_charge(Book()), handbook, "step", "baseline")["step"]
    line = " ".join(one["short"] for one in step["cautions_short"])  # type: ignore[index]
    assert line == "Moving parts; Live parts."


def test_no_instrument_shows_the_elevation() -> None:
    problem = read_fields(FORMS["job"], {}).problems["elevation"]
    assert "weather service" in problem
    assert "instrument" not in problem


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(59.9, "just now"), (60.0, "1 min ago"), (118.0, "1 min ago"), (121.0, "2 min ago")],
)
def test_how_long_ago_is_in_minutes(seconds: float, words: str) -> None:
    assert ago(seconds) == words


def test_a_sessions_start_says_no_name_within_the_program(handbook: Handbook) -> None:
    data = {"procedure": "hand-valved-three-port", "tables": "9dd", "rules": "1", "lesson": "x"}
    book = Book()
    book.write("session.started", data | {"pressure": "kPa", "mass": "lb+oz"})
    (entry,) = fold(book.events, handbook).entries
    assert entry_lines(entry, {}) == ["Pressure: kPa gauge", "Weight: lb + oz", "Lesson: x"]


def test_after_a_shot_its_time_is_no_order(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.form("shot_close", after_s=16)
    shots = context(book, handbook, "step", "shots")
    assert shots["weigh"]["line"] == "Was open 16 s."  # type: ignore[index]


def test_while_a_shots_weight_is_asked_for_nothing_is_estimated(handbook: Handbook) -> None:
    """A valve nobody closed in the program until the next day brings no cylinder of refrigerant."""
    book = ready_to_charge(Book())
    shot = book.form("shot_open").eid
    book.form("shot_close", after_s=32402)
    shots = context(book, handbook, "step", "shots")
    assert shots["weigh"]["line"] == "Was open 9 h 0 min."  # type: ignore[index]
    names = [fact["name"] for fact in shots["facts"]]  # type: ignore[attr-defined, index]
    assert [name for name in names if "estimate" in name] == []
    book.form("shot_weigh", scale_after="27.4 lb", shot=shot)
    book.form("preconditions", **CHECKED_ALWAYS)
    shots = context(book, handbook, "step", "shots")
    assert shots["weigh"] is None
    assert "Still missing, estimate" in [fact["name"] for fact in shots["facts"]]  # type: ignore[attr-defined, index]


def test_no_reason_is_asked_for_where_none_helps(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("reading", **(READING | {"suction_line": "104 °F", "liquid_line": "62 °F"}))
    book.wait(5)
    now = Moment(book.run, book.mono, book.at, 0)
    state = fold(book.events, handbook)
    typed = {"decision": "add", "reason": "Drier is new", "eid": ulid(90), "step": "decide"}
    outcome = record_form(state, Address("form", book.sid, "decide"), typed, handbook, now)
    assert isinstance(outcome, Refusal)
    assert outcome.attempt.message.startswith("Not now: A suction line of 104.0 °F")
    for attempt, values in ((None, []), (outcome.attempt, ["Drier is new"])):
        screen = Screen(state, handbook, now, ulid(9), (), attempt)
        shown = view(screen, Address("step", book.sid, "decide"))
        assert isinstance(shown, Page)
        form = shown.context["form"]
        assert [one["value"] for one in form["fields"]] == values
        assert [one["style"] for one in form["answers"]] == ["primary", "secondary"]


def test_no_reading_of_yesterday_is_opened_by_a_reason(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.wait(901)
    book.write("step.done", {"step": "decide"})
    shots = context(book, handbook, "step", "shots")
    assert "15 minutes old" in str(shots["advice"])
    assert shots["against_href"] == ""


def test_entries_of_another_day_say_their_day(handbook: Handbook) -> None:
    book = set_up(Book())
    book.form("note", text="today")
    book.form("note", after_s=86_400, text="tomorrow")
    entries = context(book, handbook, "timeline", "")["entries"]
    times = [entry["time"] for entry in entries]  # type: ignore[attr-defined, index]
    assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d", times[0])
    assert re.fullmatch(r"\d\d:\d\d:\d\d", times[1])


@pytest.mark.parametrize(("wait_s", "kept"), [(900, True), (901, False)])
def test_air_is_filled_in_as_long_as_its_reading_permits_a_shot(
    handbook: Handbook, wait_s: int, kept: bool
) -> None:
    book = ready_to_charge(Book())
    book.wait(wait_s - 10)
    form = context(book, handbook, "form", "reading")["form"]
    typed = {one["name"]: one["value"] for one in form["fields"] + form["more"]}  # type: ignore[index]
    assert typed["outdoor_dry_bulb"] == ("90" if kept else "")


def test_a_stop_and_the_caution_beside_it_say_the_same_of_the_cylinder_valve(
    handbook: Handbook,
) -> None:
    cautions = {caution.code: caution.text for caution in handbook.cautions.values()}
    asked = "eave the cylinder valve open, or open it again"
    assert asked in cautions["slugging"]
    assert asked in KEEP_OPEN


def test_the_time_of_a_shot_can_be_corrected_later(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open")
    ended = book.form("shot_close", 35.0).eid
    assert fold(book.events, handbook).shots[0].open_s == 35.0
    form = context(book, handbook, "amend", ended)["form"]
    assert "open_time" in [one["name"] for one in form["fields"]]  # type: ignore[index]
    book.write("event.amended", {"target": ended, "open_time": "9", "open_time_unit": "s"})
    shot = fold(book.events, handbook).shots[0]
    assert (shot.open_s, shot.doubtful_time) == (9.0, False)


def test_times_are_the_sites_whoever_wrote(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("note", text="From the office")
    book.events[-1] = replace(book.events[-1], tz=120, dev="server.run-1")
    state = fold(book.events, handbook)
    assert {entry.moment.tz for entry in state.entries} == {book.events[0].tz}
    assert book.events[0].tz != 120


@pytest.mark.parametrize("page", [("step", "decide"), ("ticket", "")])
def test_undercharged_is_said_once_with_all_that_says_so(
    handbook: Handbook, page: tuple[str, str]
) -> None:
    found = context(ready_to_charge(Book()), handbook, *page)["findings_now"]
    said = [one for one in found if one["word"] == "Undercharged."]  # type: ignore[attr-defined]
    assert len(said) == 1
    assert "Subcooling 2.3 °F is 7.7 °F below the target" in said[0]["text"]
    assert "Signs: " in said[0]["text"]


def test_numbers_that_do_not_go_together_are_read_again_before_the_close_out(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    book.form("reading", 60.0, **(READING | {"suction_line": "95 °F"}))
    found: dict[str, Any] = context(book, handbook, "step", "shots")
    assert found["advice"]["action"] == "do_not_add"
    thumb = found["thumb"]
    assert (thumb["reading_style"], thumb["close_out"]) == ("primary", None)
    assert found["finish"]["button"] == "Stop adding, close out"


def test_where_a_cause_is_to_be_fixed_first_a_reading_is_offered_beside_the_close_out(
    handbook: Handbook,
) -> None:
    """Low side at freezing with little superheat: an iced coil. "Thaw it, … read again."."""
    book = ready_to_charge(Book())
    iced = {"suction_pressure": "100 psig", "suction_line": "36 °F"}
    book.form("reading", 60.0, **(READING | iced))
    found: dict[str, Any] = context(book, handbook, "step", "shots")
    assert found["advice"]["action"] == "do_not_add"
    thumb = found["thumb"]
    assert thumb["reading"].endswith("/form/reading")
    assert thumb["close_out"] is not None
    assert thumb["pair"]
    alerts = found["alerts_now"] + found["step_alerts"]
    (alert,) = [one["text"] for one in alerts if "low indoor airflow" in one["text"]]
    assert alert not in (found["advice"]["reason"], *found["advice"]["more"])


def test_a_refusal_with_one_reason_says_it_once(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("reading", 60.0, **(READING | {"drier": "colder"}))
    found: dict[str, Any] = context(book, handbook, "step", "shots")
    assert "colder after the filter drier" in str(found["step_alerts"] + found["alerts_now"])
    assert (found["advice"]["action"], found["advice"]["reason"]) == ("do_not_add", "")


def test_no_step_counts_answers_that_a_refrigerant_adds_to(handbook: Handbook) -> None:
    """“All four answers are yes” was said above nine questions where the refrigerant burns."""
    for procedure in handbook.procedures.values():
        for step in procedure.walk_steps:
            assert not re.search(r"\b(two|three|four|five|nine)\b answers", step.done_when)
