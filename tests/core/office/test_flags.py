"""What needs a look is flagged from the session alone, on both sides of each limit."""

from dataclasses import replace

import pytest
from hypothesis import given
from office_cases import visit
from strategies import PROCEDURE, READING, Book, ready_to_charge, sessions

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import Assessment, assess
from lowside.core.office.dates import DAY_MS, day_of
from lowside.core.office.flags import FIRST_MS, FLAG_NAMES, flags_of
from lowside.core.office.review import COMMENT, SIGN_OFF, review_of
from lowside.core.office.summary import summary_of
from lowside.core.session.clocks import CLOCKS_DIFFER
from lowside.core.session.cylinder import reconcile_session
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import latest_reading


def last(book: Book, handbook: Handbook) -> Assessment | None:
    state = fold(book.events)
    latest = latest_reading(state)
    if latest is None or state.system is None:
        return None
    return assess(state.system, latest.reading, handbook)


def codes(book: Book, handbook: Handbook) -> list[str]:
    return [flag.code for flag in flags_of(fold(book.events), last(book, handbook), handbook)]


def charged(wait_s: float = 900.0, final: dict[str, str] | None = None, end: str = "26 lb") -> Book:
    """A session that added 1 lb and took its final reading `wait_s` after the shot."""
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.write("shot.closed", {"scale_after": "26.5", "scale_after_unit": "lb"})
    good = READING | {"suction_pressure": "130 psig", "liquid_line": "95 °F"}
    book.form("final_reading", wait_s, **(final or good))
    book.form("end_weight", gross=end)
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    return book


def test_a_session_that_went_well_has_no_flag(handbook: Handbook) -> None:
    assert codes(charged(), handbook) == []


def test_a_unit_left_undercharged_is_out_of_target(handbook: Handbook) -> None:
    assert "out" in codes(charged(final=READING), handbook)
    open_one = ready_to_charge(Book())
    assert codes(open_one, handbook) == []


def test_a_unit_left_overcharged_has_its_own_flag(handbook: Handbook) -> None:
    full = READING | {"suction_pressure": "135 psig", "liquid_line": "91 °F"}
    assert codes(charged(final=full), handbook)[0] == "over"


@pytest.mark.parametrize(("wait_s", "early"), [(239.0, True), (240.0, False)])
def test_a_final_reading_needs_its_wait(handbook: Handbook, wait_s: float, early: bool) -> None:
    assert ("early" in codes(charged(wait_s), handbook)) is early


@pytest.mark.parametrize(("wait_s", "early"), [(840.0, True), (900.0, False)])
def test_a_final_reading_waits_for_what_the_hoses_brought(
    handbook: Handbook, wait_s: float, early: bool
) -> None:
    procedure = handbook.procedures[PROCEDURE]
    final = next(i for i, step in enumerate(procedure.steps) if step.form == "final_reading")
    emptied = [step.id for step in procedure.steps[:final] if step.actions][-1]
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.write("shot.closed", {"scale_after": "26.5", "scale_after_unit": "lb"})
    book.write("step.done", {"step": emptied}, 900)
    good = READING | {"suction_pressure": "130 psig", "liquid_line": "95 °F"}
    book.form("final_reading", wait_s, **good)
    flags = flags_of(fold(book.events), last(book, handbook), handbook)
    said = [flag.detail for flag in flags if flag.code == "early"]
    assert said == (["14 min after the hoses were emptied"] if early else [])


def test_weights_that_do_not_agree_are_flagged(handbook: Handbook) -> None:
    assert "weights" in codes(charged(end="25 lb"), handbook)


def test_the_weights_flag_and_the_record_allow_for_the_same_hoses(handbook: Handbook) -> None:
    """Long, wide hoses may hold a pound more than the usual ones."""
    for gross in ("24 lb", "25 lb", "25.5 lb", "26 lb", "26.4 lb"):
        book = charged(end=gross)
        for hoses in ({}, {"hose_length": "10 ft", "hose_bore": "0.375 in"}):
            cylinder = next(e for e in book.events if e.kind == "cylinder.set")
            place = book.events.index(cylinder)
            typed = {name: text.split()[0] for name, text in hoses.items()}
            typed |= {f"{name}_unit": text.split()[1] for name, text in hoses.items()}
            book.events[place] = replace(cylinder, data=cylinder.data | typed)
            apart = reconcile_session(fold(book.events, handbook)).disagreements
            assert ("weights" in codes(book, handbook)) is (apart != ()), (gross, hoses)


def test_a_refused_check_comes_with_its_reason(handbook: Handbook) -> None:
    book = charged()
    book.form("preconditions", leak="not_searched", checks_reason="No time", airflow="yes")
    flags = flags_of(fold(book.events), None, handbook)
    assert [flag.detail for flag in flags if flag.code == "check"] == [
        "Leak check: Not leak-checked. No time"
    ]


def test_a_stop_and_an_override_are_flagged(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("decide", decision="add", reason="Customer insists")
    book.form("system_stopped")
    assert codes(book, handbook) == ["overridden", "stopped"]
    book.write("event.voided", {"target": book.events[-1].eid})
    assert codes(book, handbook) == ["overridden"]


def test_an_entry_after_closing_is_late_and_the_offices_own_is_not(handbook: Handbook) -> None:
    book = charged()
    book.write(COMMENT.kind, {"comment": "Fine"})
    assert codes(book, handbook) == []
    book.form("note", text="Forgot this")
    assert codes(book, handbook) == ["late"]


def dates(events: list[Event], handbook: Handbook) -> list[str]:
    return [one.detail for one in flags_of(fold(events), None, handbook) if one.code == "dates"]


def set_clock(events: list[Event], first: int, days: float) -> list[Event]:
    """The same order, with the clock set by so much from one entry on."""
    moved = [replace(one, at=one.at + int(days * DAY_MS)) for one in events[first:]]
    return [*events[:first], *moved]


def test_a_date_before_there_was_such_a_program_is_flagged(handbook: Handbook) -> None:
    assert day_of("2025-01-01") == FIRST_MS // DAY_MS
    assert dates(charged().events, handbook) == []
    behind = set_clock(charged().events, 0, -3653.0)
    assert dates(behind, handbook) == ["An entry is dated 2016-11-24"]
    assert FLAG_NAMES["dates"] == "Check the dates"
    # A battery that went flat, then a signal.
    events = charged().events
    begun = set_clock(set_clock(events, 0, -3653.0), 6, 3653.0)
    assert dates(begun, handbook) == ["An entry is dated 2016-11-24"]


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (30.0, []),
        (-1.0, []),
        (30.01, ["An entry is dated 2026-12-25, the one before it 2026-11-25"]),
        (-1.01, ["An entry is dated 2026-11-24, the one before it 2026-11-25"]),
    ],
)
def test_a_leap_of_the_clock_in_an_open_session_is_flagged(
    handbook: Handbook, days: float, said: list[str]
) -> None:
    events = ready_to_charge(Book()).events
    at = events[5].at
    events = [one if one is not events[6] else replace(one, at=at) for one in events]
    assert dates(set_clock(events, 6, days), handbook) == said


def test_what_is_written_late_or_by_the_office_is_no_wrong_date(handbook: Handbook) -> None:
    book = charged()
    book.wait(90 * 86_400)
    book.form("note", text="Forgot this")
    assert dates(book.events, handbook) == []
    looked_at = ready_to_charge(Book())
    looked_at.write(COMMENT.kind, {"comment": "Close it"}, 90 * 86_400)
    assert dates(looked_at.events, handbook) == []
    looked_at.form("note", text="Done")
    assert len(dates(looked_at.events, handbook)) == 1


def test_two_phones_that_differ_are_told_once(handbook: Handbook) -> None:
    events = charged().events
    other = replace(events[-2], dev="phone-b", seq=1, at=events[-2].at - 3 * DAY_MS)
    found = flags_of(fold([*events[:-2], other, events[-1]]), None, handbook)
    assert [one.detail for one in found if one.code == "conflict"] == [CLOCKS_DIFFER]
    assert "dates" not in [one.code for one in found]


def test_entries_of_two_phones_that_differ_are_flagged(handbook: Handbook) -> None:
    book = charged()
    other = replace(book.events[1], dev="phone-b", seq=1, eid="01K00000000000000000000009")
    data = dict(other.data) | {"site": "Elsewhere"}
    book.events.append(replace(other, data=data))
    assert "conflict" in codes(book, handbook)


@given(sessions())
def test_judged_or_not_the_same_flags_come_out(events: list[Event]) -> None:
    from lowside.library import load_handbook  # noqa: PLC0415

    handbook = load_handbook()
    plain, judged = fold(events), fold(events, handbook)
    latest = latest_reading(plain)
    found = None
    if latest is not None and plain.system is not None:
        found = assess(plain.system, latest.reading, handbook)
    assert flags_of(plain, found, handbook) == flags_of(judged, found, handbook)
    assert summary_of(plain, found, handbook) == summary_of(judged, found, handbook)


def test_every_flag_has_a_name() -> None:
    assert all(name != "" for name in FLAG_NAMES.values())


def test_a_sign_off_covers_what_was_there_and_no_more() -> None:
    book = visit(1, "2026-05-10", 3.0)
    assert not review_of(fold(book.events)).is_signed
    book.write(SIGN_OFF.kind, {"signed": "B. Chief", "verdict": "On target"})
    book.write(COMMENT.kind, {"comment": "Seen", "by": "B. Chief"})
    review = review_of(fold(book.events))
    assert review.is_signed
    assert [one.text for one in review.comments] == ["Seen"]
    book.form("note", text="One more thing")
    assert not review_of(fold(book.events)).is_signed
    book.write(SIGN_OFF.kind, {"signed": "B. Chief"})
    assert review_of(fold(book.events)).is_signed
    book.write("event.voided", {"target": book.events[-1].eid})
    assert not review_of(fold(book.events)).is_signed


@pytest.mark.parametrize(
    ("kinds", "told"),
    [
        (("event.voided", "event.amended"), True),
        (("event.amended", "event.voided"), False),
        (("event.voided",), False),
    ],
)
def test_a_correction_made_beside_a_void_is_a_conflict(
    handbook: Handbook, kinds: tuple[str, ...], told: bool
) -> None:
    """The second phone had not seen the void: no page corrects a voided entry. Before, its
    correction was dropped without a word. A void after a correction drops it on purpose."""
    book = charged()
    target = next(one for one in book.events if one.kind == "shot.closed")
    for number, kind in enumerate(kinds):
        book.dev = f"phone-{number}"
        book.write(
            kind,
            {"target": target.eid}
            | (
                {"scale_after": "26.6", "scale_after_unit": "lb"} if kind == "event.amended" else {}
            ),
        )
    flags = flags_of(fold(book.events), last(book, handbook), handbook)
    said = [flag.detail for flag in flags if flag.code == "conflict"]
    assert any("stays void" in one for one in said) == told
    if told:
        voided = next(one for one in book.events if one.kind == "event.voided")
        book.write("event.voided", {"target": voided.eid})
        assert "conflict" not in codes(book, handbook)
