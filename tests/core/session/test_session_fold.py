"""A session is what its events say, in whatever order they arrive, and nothing is lost."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from strategies import READING, Book, arrivals, ready_to_charge, sessions, set_up

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import CALLS_FOR_CHARGE
from lowside.core.numbers.units import OUNCE_KG, POUND_KG
from lowside.core.session.events import Event, Moment, elapsed, hlc, in_order, next_hlc
from lowside.core.session.fold import fold
from lowside.core.session.gate import blocks
from lowside.core.session.state import State, added_kg, open_shot, shot_to_weigh, unweighed_shots


def ounces(state: State) -> list[float | None]:
    """What each shot weighed [oz], rounded to a thousandth."""
    return [None if s.amount_kg is None else round(s.amount_kg / OUNCE_KG, 3) for s in state.shots]


# Order and repeats


@given(arrivals())
@settings(max_examples=60)
def test_the_order_of_arrival_and_repeats_do_not_matter(
    handbook: Handbook, both: tuple[list[Event], list[Event]]
) -> None:
    events, received = both
    assert fold(received, handbook) == fold(events, handbook)


@given(sessions())
@settings(max_examples=60)
def test_every_entry_stays_on_the_timeline_and_nothing_raises(
    handbook: Handbook, events: list[Event]
) -> None:
    state = fold(events, handbook)
    assert [entry.eid for entry in state.entries] == [event.eid for event in in_order(events)]
    assert len([s for s in state.shots if s.closed is None]) <= 1
    assert all(s.closed is not None for s in state.shots[:-1])


def test_no_events_are_a_session_that_never_started(handbook: Handbook) -> None:
    state = fold([], handbook)
    assert state.sid == ""
    assert state.started is None
    assert state.entries == ()


def test_an_unknown_kind_is_kept_as_it_came(handbook: Handbook) -> None:
    book = set_up(Book())
    before = fold(book.events, handbook)
    book.write("weather.seen", {"sky": "clear", "eid": "odd"})
    after = fold(book.events, handbook)
    assert after.entries[-1].kind == "weather.seen"
    assert after.entries[-1].data == {"sky": "clear", "eid": "odd"}
    assert replace(after, entries=before.entries) == before


def test_an_entry_that_cannot_be_read_is_kept_and_said(handbook: Handbook) -> None:
    book = set_up(Book())
    book.form("start_weight", gross="heavy lb")
    state = fold(book.events, handbook)
    assert state.start_weight is not None
    assert state.start_weight.kg == pytest.approx(27 * POUND_KG)
    assert "not a number" in state.entries[-1].problems["gross"]
    (flag,) = state.flags
    assert "could not be read" in flag


# One value, the last one counts


def test_the_last_word_counts_for_a_fact_of_one_value(handbook: Handbook) -> None:
    book = set_up(Book())
    book.form("start_weight", gross="26 lb")
    state = fold(book.events, handbook)
    assert state.start_weight is not None
    assert state.start_weight.kg == pytest.approx(26 * POUND_KG)
    assert state.flags == ()


def test_two_phones_that_disagree_are_flagged_and_the_later_wins(handbook: Handbook) -> None:
    mine = set_up(Book())
    other = Book(dev="phone-b", run="run-b", at=mine.at)
    other.form("start_weight", gross="25 lb", after_s=60)
    state = fold(other.events + mine.events, handbook)
    assert state.start_weight is not None
    assert state.start_weight.kg == pytest.approx(25 * POUND_KG)
    (flag,) = state.flags
    assert flag.startswith("Two phones wrote different entries")
    assert len([e for e in state.entries if e.kind == "weight.start"]) == 2


def test_two_phones_that_agree_are_not_flagged(handbook: Handbook) -> None:
    mine = set_up(Book())
    other = Book(dev="phone-b", run="run-b", at=mine.at)
    other.form("start_weight", gross="27 lb", after_s=60)
    assert fold(other.events + mine.events, handbook).flags == ()


def test_readings_and_shots_of_two_phones_all_count(handbook: Handbook) -> None:
    mine = ready_to_charge(Book())
    other = Book(dev="phone-b", run="run-b", at=mine.at)
    other.form("reading", 30, **READING)
    state = fold(mine.events + other.events, handbook)
    assert len(state.readings) == 2
    assert state.flags == ()


def test_an_amended_unit_judges_every_earlier_reading_anew(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    judged = fold(book.events, handbook).readings[0].assessment
    unit = next(event for event in book.events if event.kind == "unit.set")
    book.write("event.amended", {"target": unit.eid, "refrigerant": "R-22", "metering": "txv"})
    again = fold(book.events, handbook).readings[0].assessment
    assert judged is not None
    assert again is not None
    assert judged.verdict == CALLS_FOR_CHARGE
    # About 124 psig: R-410A 43 °F, R-22 72 °F on printed pressure-temperature cards (MEMORY; the
    # tables themselves are checked against published points in test_saturation_published.py).
    assert judged.measured.dew_k == pytest.approx(279.3, abs=1.0)
    assert again.reason_finding.facts[3].value == pytest.approx(295.4, abs=1.0)


def test_the_site_s_elevation_changes_what_gauges_mean(handbook: Handbook) -> None:
    low = ready_to_charge(Book())
    high = ready_to_charge(Book())
    high.form("job", site="Pass", unit_label="AC-1", technician="I. Varga", elevation="8000 ft")
    at_sea = fold(low.events, handbook).readings[0].reading.suction_pressure_pa
    up_high = fold(high.events, handbook).readings[0].reading.suction_pressure_pa
    assert at_sea is not None
    assert up_high is not None
    # Standard atmosphere (ISO 2533): 101 325 Pa at 0 m, 75 262 Pa at 2438.4 m.
    assert at_sea - up_high == pytest.approx(101_325 - 75_262, abs=30)


# Another cylinder

SAME = {
    "cylinder_label": "C-1",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}


def weighed(book: Book) -> Book:
    """`ready_to_charge`, with the steps at which the cylinder was weighed done."""
    ready_to_charge(book)
    for event in book.events:
        if event.kind in ("weight.start", "scale.set"):
            event.data["step"] = event.kind  # type: ignore[index]
    return book


@pytest.mark.parametrize("typed", [{"cylinder_label": "C-2"}, {"cylinder_tare": "9 lb"}])
def test_another_cylinder_is_weighed_again(handbook: Handbook, typed: dict[str, str]) -> None:
    book = weighed(Book())
    before = fold(book.events, handbook)
    assert blocks(before) == ()
    assert set(before.done) == {"weight.start", "scale.set"}
    book.form("cylinder", **(SAME | typed))
    state = fold(book.events, handbook)
    assert state.start_weight is None
    assert state.scale is None
    assert state.last_scale_kg is None
    assert state.done == {}
    (barred,) = blocks(state)
    assert barred.sentence == "Another cylinder: weigh it."
    book.form("start_weight", gross="20 lb")
    (barred,) = blocks(fold(book.events, handbook))
    assert barred.sentence == "Another cylinder: its hose is not purged yet."
    book.form("tare", scale_mode="gross", scale_reading="20.5 lb", scale_resolution="0.5 oz")
    assert blocks(fold(book.events, handbook)) == ()


def test_the_same_cylinder_again_keeps_its_weight(handbook: Handbook) -> None:
    book = weighed(Book())
    before = fold(book.events, handbook)
    book.form("cylinder", **(SAME | {"cylinder_label": " c-1", "cylinder_tare": "3.175 kg"}))
    state = fold(book.events, handbook)
    assert state.done == before.done
    assert state.start_weight == before.start_weight
    assert state.scale == before.scale


def test_a_restrictor_put_on_or_taken_off_counts_flow_anew(handbook: Handbook) -> None:
    """Shots before it say nothing of the flow now. A correction of the first entry says that it
    was on all along, and another cylinder with the same hose changes nothing."""
    book = weighed(Book())
    book.form("shot_open")
    book.form("shot_close", 5, scale_after="27.25 lb")
    entry = next(event for event in book.events if event.kind == "cylinder.set")

    def fitted_after() -> int:
        cylinder = fold(book.events, handbook).cylinder
        assert cylinder is not None
        return cylinder.fitted_after

    assert fitted_after() == 0
    book.form("cylinder", **(SAME | {"restrictor": "yes"}))
    assert fitted_after() == 1
    book.form("cylinder", **(SAME | {"restrictor": "yes", "cylinder_label": "C-2"}))
    assert fitted_after() == 1
    entry.data["restrictor"] = "yes"  # type: ignore[index]
    assert fitted_after() == 0


def test_a_corrected_label_is_the_same_cylinder(handbook: Handbook) -> None:
    book = weighed(Book())
    before = fold(book.events, handbook)
    entry = next(event for event in book.events if event.kind == "cylinder.set")
    book.write("event.amended", {"target": entry.eid, **entry.data, "cylinder_label": "C-7"})
    state = fold(book.events, handbook)
    assert state.cylinder is not None
    assert state.cylinder.label == "C-7"
    assert state.start_weight == before.start_weight
    assert state.done == before.done


def test_a_shot_of_the_cylinder_before_keeps_its_weight(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    shot = book.form("shot_open")
    book.form("shot_close")
    book.form("cylinder", **(SAME | {"cylinder_label": "C-2"}))
    book.form("shot_weigh", shot=shot.eid, scale_after="27.25 lb")
    assert ounces(fold(book.events, handbook)) == [4.0]


# Shots


def test_a_gross_scale_weighs_a_shot_by_what_is_missing(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.form("shot_close", 20, scale_after="27.25 lb")
    book.form("shot_open")
    book.form("shot_close", 12, scale_after="27 lb")
    state = fold(book.events, handbook)
    assert ounces(state) == [4.0, 4.0]
    assert [shot.open_s for shot in state.shots] == [20.0, 12.0]
    assert added_kg(state) == pytest.approx(8 * OUNCE_KG)


@pytest.mark.parametrize("sign", ["", "-"])
def test_a_zeroed_scale_weighs_a_shot_by_its_display_with_either_sign(
    handbook: Handbook, sign: str
) -> None:
    book = set_up(Book())
    book.form("tare", scale_mode="zeroed", scale_reading="0 oz", scale_resolution="0.5 oz")
    for total in ("3", "5.5"):
        book.form("shot_open")
        # A scale zeroed under the cylinder counts down.
        book.form("shot_close", scale_after=f"{sign}{total} oz")
    assert ounces(fold(book.events, handbook)) == [3.0, 2.5]


def test_a_reading_before_the_shot_counts_instead_of_the_last_one(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open", scale_before="27.4375 lb")
    book.form("shot_close", scale_after="27.25 lb")
    assert ounces(fold(book.events, handbook)) == [3.0]


def test_a_dead_scale_leaves_the_amount_unknown_until_it_is_read_again(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.form("shot_close")
    book.form("shot_open")
    book.form("shot_close", scale_after="27 lb")
    state = fold(book.events, handbook)
    # The second shot cannot be weighed either: nobody knows what the scale showed before it.
    assert ounces(state) == [None, None]
    assert unweighed_shots(state) == 2
    book.form("shot_open")
    book.form("shot_close", scale_after="26.75 lb")
    assert ounces(fold(book.events, handbook)) == [None, None, 4.0]


def test_the_time_it_takes_to_type_the_weight_is_no_flow(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    shot = book.form("shot_open")
    book.form("shot_close", 9)
    asked = shot_to_weigh(fold(book.events, handbook))
    assert asked is not None
    assert asked.eid == shot.eid
    book.form("shot_weigh", 26, shot=shot.eid, scale_after="27.25 lb")
    state = fold(book.events, handbook)
    assert shot_to_weigh(state) is None
    assert [each.open_s for each in state.shots] == [9.0]
    assert ounces(state) == [4.0]
    assert state.last_scale_kg == pytest.approx(27.25 * POUND_KG)


def test_a_weight_can_be_corrected_struck_out_and_left_out(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    shot = book.form("shot_open")
    book.form("shot_close", 9)
    weighed = book.form("shot_weigh", shot=shot.eid, scale_after="27.25 lb")
    data = {"target": weighed.eid, "shot": shot.eid}
    book.write("event.amended", {**data, "scale_after": "27", "scale_after_unit": "lb"})
    assert ounces(fold(book.events, handbook)) == [8.0]
    book.form("void", target=weighed.eid)
    state = fold(book.events, handbook)
    assert ounces(state) == [None]
    assert shot_to_weigh(state) is not None
    book.form("shot_unweighed", shot=shot.eid)
    state = fold(book.events, handbook)
    assert shot_to_weigh(state) is None
    assert unweighed_shots(state) == 1


def test_a_weight_typed_after_the_reading_counts_as_added_before_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    shot = book.form("shot_open")
    book.form("shot_close", 9)
    book.form("reading", 600, **READING)
    book.form("shot_weigh", shot=shot.eid, scale_after="27.25 lb")
    state = fold(book.events, handbook)
    assert [taken.added_kg for taken in state.readings] == [0.0, pytest.approx(4.0 * OUNCE_KG)]


def test_a_weight_of_a_shot_that_was_struck_out_is_said_and_does_not_count(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    shot = book.form("shot_open")
    ended = book.form("shot_close", 9)
    book.form("shot_weigh", shot=shot.eid, scale_after="27.25 lb")
    book.form("void", target=ended.eid)
    state = fold(book.events, handbook)
    assert ounces(state) == [None]
    assert state.flags == ("The scale reading of a shot that does not count was left out.",)


def test_a_shot_left_open_is_open_until_it_is_ended(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    opened = book.form("shot_open")
    shot = open_shot(fold(book.events, handbook))
    assert shot is not None
    assert shot.eid == opened.eid
    book.form("shot_close", 30, scale_after="27.25 lb")
    assert open_shot(fold(book.events, handbook)) is None


def test_a_shot_started_over_an_open_one_ends_it_unweighed_and_is_flagged(
    handbook: Handbook,
) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.form("shot_open", 30)
    state = fold(book.events, handbook)
    assert len(state.shots) == 2
    assert state.shots[0].open_s == 30.0
    assert state.shots[0].amount_kg is None
    assert state.flags == ("A shot was started while another was open.",)


def test_a_shot_ended_without_a_start_is_flagged(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_close", scale_after="27 lb")
    state = fold(book.events, handbook)
    assert state.shots == ()
    assert state.flags == ("A shot was ended, but none was started.",)


def test_a_struck_out_start_makes_its_end_a_loose_one(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    opened = book.form("shot_open")
    book.form("shot_close", scale_after="27.25 lb")
    book.write("event.voided", {"target": opened.eid})
    state = fold(book.events, handbook)
    assert added_kg(state) == 0.0
    assert state.flags == ("A shot was ended, but none was started.",)


def test_a_reading_remembers_what_had_been_added_before_it(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.form("shot_close", scale_after="27.25 lb")
    book.form("reading", 420, **READING)
    taken = fold(book.events, handbook).readings[-1]
    assert taken.shots_before == 1
    assert taken.added_kg == pytest.approx(4 * OUNCE_KG)
    assert taken.since_shot_s == 420.0


# The unit stops


def test_a_stopped_unit_stays_stopped_until_it_is_said_to_run(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    stopped = book.form("system_stopped")
    book.form("reading", **READING)
    state = fold(book.events, handbook)
    assert not state.running
    assert state.stopped_at == Moment("run-1", stopped.mono, stopped.at, -360)
    assert not state.readings[-1].running
    book.form("system_started")
    state = fold(book.events, handbook)
    assert state.running
    assert state.stopped_at is None


# Clocks


def test_a_wall_clock_set_during_a_shot_does_not_change_its_length(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    book.form("shot_open")
    book.at -= 3_600_000
    book.form("shot_close", 20, scale_after="27.25 lb")
    (shot,) = fold(book.events, handbook).shots
    assert shot.open_s == 20.0
    assert shot.doubtful_time


@pytest.mark.parametrize(
    ("mono", "at", "run", "seconds", "doubtful"),
    [
        (20_000, 20_000, "one", 20.0, False),
        (20_000, 22_000, "one", 20.0, False),
        (20_000, 22_001, "one", 20.0, True),
        (20_000, -5_000, "one", 20.0, True),
        (0, 20_000, "two", 20.0, False),
        (0, -20_000, "two", 0.0, True),
    ],
)
def test_time_is_taken_from_the_clock_that_was_not_set(
    mono: int, at: int, run: str, seconds: float, doubtful: bool
) -> None:
    start = Moment("one", 0, 1_000_000)
    spent = elapsed(start, Moment(run, mono, 1_000_000 + at))
    assert (spent.seconds, spent.doubtful) == (seconds, doubtful)


def test_order_survives_a_clock_that_was_set_back() -> None:
    last = next_hlc("", 5_000)
    assert last == hlc(5_000, 0)
    again = next_hlc(last, 4_000)
    assert again == hlc(5_000, 1)
    assert next_hlc(again, 4_000) > again > last
    assert next_hlc(again, 6_000) == hlc(6_000, 0)


def test_a_full_counter_carries_into_the_milliseconds() -> None:
    assert next_hlc(hlc(5_000, 999_998), 5_000) == hlc(5_000, 999_999)
    assert next_hlc(hlc(5_000, 999_999), 5_000) == hlc(5_001, 0)
    assert next_hlc(hlc(5_000, 999_999), 7_000) == hlc(7_000, 0)
