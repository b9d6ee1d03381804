"""The ticket that a customer signs: one amount, every cylinder it came from, the clock of the day.

Sources: one amount for ticket, list and file is our choice. That a cylinder's loss has the hoses in
it: see `docs/hoses.md`. Clocks put back on the first Sunday of November: 15 U.S.C. 260a (from
memory, only the example).
"""

from dataclasses import replace

import pytest
from strategies import READING, Book, ready_to_charge, ulid
from walked import did, evacuated

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.dates import DAY_MS, day_of
from lowside.core.office.summary import summary_of
from lowside.core.pages.ticket import ticket_context
from lowside.core.pages.wording import day_and_time
from lowside.core.session.amount import amount
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.web.office.exporting import columns, site_time


def shot(book: Book, before: str, after: str) -> None:
    book.form("shot_open", scale_before=before + " lb")
    weighed = {"scale_after": after, "scale_after_unit": "lb"} if after != "" else {}
    book.write("shot.closed", weighed, 20.0)


def added(book: Book, handbook: Handbook) -> str:
    found = ticket_context(fold(book.events, handbook), handbook)["added"]
    return str(found["amount"]) + ". " + str(found["line"])


def facts(book: Book, handbook: Handbook, title: str) -> list[tuple[str, str]]:
    parts = ticket_context(fold(book.events, handbook), handbook)["parts"]
    return [
        (one["name"], one["value"])
        for part in parts
        if part["title"] == title
        for one in part["facts"]
    ]


def two_cylinders() -> Book:
    book = ready_to_charge(Book())
    shot(book, "27.5", "27.2")
    shot(book, "27.2", "26.9")
    book.form("end_weight", gross="26.3 lb")
    book.form(
        "cylinder",
        cylinder_label="C-2",
        cylinder_refrigerant="R-410A",
        cylinder_tare="7 lb",
        withdrawal="invert",
    )
    book.form("start_weight", gross="30 lb")
    book.form("tare", scale_mode="gross", scale_reading="30.5 lb", scale_resolution="0.5 oz")
    shot(book, "30.5", "30.3")
    book.form("end_weight", gross="29.75 lb")
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    return book


# --- two cylinders ---


def test_after_a_change_of_cylinder_nothing_contradicts_the_amount(handbook: Handbook) -> None:
    book = two_cylinders()
    assert added(book, handbook) == "12.8 oz. By the scale before and after each shot."
    charge = dict(facts(book, handbook, "Charge"))
    assert charge["Sum of shots, this cylinder"] == "3.2 oz"
    assert "Sum of shots" not in charge


def test_every_cylinder_is_on_the_ticket_with_its_weights(handbook: Handbook) -> None:
    found = facts(two_cylinders(), handbook, "Cylinder")
    assert [value for name, value in found if name == "Cylinder"] == [
        "C-1, R-410A",
        "C-2, R-410A",
    ]
    assert [value for name, value in found if name in ("Start weight", "End weight")] == [
        "27 lb 0.0 oz",
        "26 lb 4.8 oz",
        "30 lb 0.0 oz",
        "29 lb 12.0 oz",
    ]


def test_every_cylinder_is_in_the_file(handbook: Handbook) -> None:
    summary = summary_of(fold(two_cylinders().events, handbook), None, handbook)
    assert summary.cylinder == "C-1 | C-2"


def test_one_cylinder_is_told_as_before(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    shot(book, "27.5", "27.2")
    book.form("end_weight", gross="26.68 lb")
    assert added(book, handbook) == (
        "4.8 oz. By the scale before and after each shot. The cylinder lost 5.1 oz, hoses included."
    )
    assert ("Sum of shots", "4.8 oz") in facts(book, handbook, "Charge")
    assert summary_of(fold(book.events, handbook), None, handbook).cylinder == "C-1"


# --- a shot that was not weighed ---


def test_what_the_cylinder_lost_tells_of_a_shot_that_was_not_weighed(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    shot(book, "27.5", "")
    book.form("end_weight", gross="25 lb")
    assert added(book, handbook) == (
        "About 2 lb 0.0 oz. Shots without a weight: 1. "
        "The cylinder lost 2 lb 0.0 oz, hoses included."
    )
    assert amount(fold(book.events)).at_least is False


@pytest.mark.parametrize(
    ("first", "wanted"), [(False, "Not known. Shots without"), (True, "At least 4.8 oz. Shots")]
)
def test_without_an_end_weight_it_is_not_known(
    handbook: Handbook, first: bool, wanted: str
) -> None:
    book = ready_to_charge(Book())
    if first:
        shot(book, "27.5", "27.2")
    shot(book, "27.2", "")
    assert added(book, handbook).startswith(wanted)
    assert amount(fold(book.events)).at_least


def test_a_shot_after_the_end_weight_is_not_in_what_was_lost(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    shot(book, "27.5", "27.2")
    book.form("end_weight", gross="26 lb")
    shot(book, "27.2", "")
    assert added(book, handbook).startswith("At least 4.8 oz.")


# --- a weigh-in ---


def test_a_weigh_in_is_told_in_the_sessions_own_units(handbook: Handbook) -> None:
    bench = evacuated(handbook, "6 lb")
    did(bench, "charge_off", charged_off="4 lb")
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest="2 lb")
    assert added(bench.book, handbook) == "6 lb 0.0 oz. Weighed in."
    did(bench, "end_weight", gross="20.9 lb")
    assert added(bench.book, handbook) == (
        "6 lb 0.0 oz. Weighed in. The cylinder lost 6 lb 1.6 oz, hoses included."
    )


# --- the clock ---

BEGAN_TZ, ENDED_TZ = -300, -360
"""Central time before and after the clocks are put back on 2026-11-01."""


def over_the_change() -> list[Event]:
    """Begun on October 31 at 18:00, closed on November 2 at 07:31, by the phone's own clock."""
    found = day_of("2026-10-31")
    assert found is not None
    at = found * DAY_MS + 23 * 3_600_000
    book = ready_to_charge(Book(sid=ulid(1, at), at=at))
    before = len(book.events)
    book.wait(38.4 * 3600.0)
    book.run, book.mono = "run-2", 0
    shot(book, "27.5", "27.2")
    book.form("reading", **READING)
    book.form("note", text="Read again")
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    return [
        replace(event, tz=BEGAN_TZ if i < before else ENDED_TZ)
        for i, event in enumerate(book.events)
    ]


def test_after_the_clocks_were_put_back_times_are_the_phones(handbook: Handbook) -> None:
    state = fold(over_the_change(), handbook)
    assert state.started is not None
    assert state.closed is not None
    assert day_and_time(state.started) == "2026-10-31 18:00"
    assert site_time(state.closed) == "2026-11-02T07:26:50-06:00"
    assert {entry.moment.tz for entry in state.entries} == {BEGAN_TZ, ENDED_TZ}


def test_the_offices_entry_is_in_the_zone_the_site_was_in_last(handbook: Handbook) -> None:
    events = over_the_change()
    last = events[-1]
    office = replace(
        last, kind="office.commented", data={"comment": "Seen"}, dev="server.run-9", tz=120
    )
    office = replace(office, eid=last.eid[:-1] + "Z", seq=1, hlc=last.hlc[:-1] + "9")
    state = fold([*events, office], handbook)
    assert state.entries[-1].kind == "office.commented"
    assert state.entries[-1].moment.tz == ENDED_TZ


def test_a_ticket_of_two_days_says_which(handbook: Handbook) -> None:
    state = fold(over_the_change(), handbook)
    context = ticket_context(state, handbook)
    assert context["notes"][0].startswith("2026-11-02 ")
    first = next(part for part in context["parts"] if part["title"] == "First reading")
    assert first["facts"][0]["value"].startswith("2026-10-31 18:0")


def test_no_minus_zero_in_a_file(handbook: Handbook) -> None:
    summary = summary_of(fold(two_cylinders().events, handbook), None, handbook)
    summary = replace(summary, subcooling_k=-0.002, superheat_k=-1.0)
    row = {one.name: one.value(summary) for one in columns(False)}
    assert str(row["subcooling_degF"]) == "0.0"
    assert row["superheat_degF"] == -1.8
