"""The leak rate by what went in: on its own day, by the full charge of that day, and with additions
whose amount nobody knows.

Rows L04, L06, L26, R15, R22, H18 are those of `data/regulations_us.json`.
"""

import pytest
from expert import Bench
from office_cases import visit
from strategies import CIRCUIT, MACHINE, PROCEDURE, Book, ulid
from walked import did, recover, to_vacuum

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.dates import DAY_MS, day_of, day_text
from lowside.core.office.law import Law, law_of
from lowside.core.office.leak_rate import Addition, annualized
from lowside.core.office.service_record import (
    UnitRecord,
    addition,
    full_kg_then,
    known_data,
    own_record,
    written_charges,
)
from lowside.core.office.visits import visit_of
from lowside.core.session.fold import fold
from lowside.core.session.state import State
from lowside.core.session.unit import designation
from lowside.library import load_rules
from lowside.web.office.law_content import additions_context

RULES = load_rules()
CHILLER = {"use": "comfort_cooling", "light": "no", "method": "annualizing"}
HOME = {"use": "comfort_cooling", "light": "yes", "method": "annualizing"}
POUNDS = UnitChoice()


def both(books: tuple[Book, ...]) -> tuple[list[State], list[Addition], list[UnitRecord]]:
    states = [fold(book.events) for book in books]
    additions = [one for one in map(addition, states) if one is not None]
    records = [one for one in map(own_record, states) if one is not None]
    return states, additions, records


def law(handbook: Handbook, *books: Book, of: int = -1) -> Law:
    """What the rules say of one of these visits to a unit."""
    states, additions, records = both(books)
    refrigerant = handbook.refrigerants.get(designation(states[of].unit_texts))
    return law_of(states[of], refrigerant, additions, records, RULES)


def value(found: Law, rule: str) -> str:
    return {line.rule.id: line.value for line in (*found.service, *found.unit)}[rule]


def kept_open(number: int, day: str, hours: float, pounds: float, **record: str) -> Book:
    """A session opened on a day at 18:00 UTC, noon at the site, and charged so many hours later."""
    found = day_of(day)
    assert found is not None
    at = found * DAY_MS + 18 * 3_600_000
    book = Book(sid=ulid(number, at), at=at, dev=f"phone-{number}")
    book.write("session.started", {"procedure": PROCEDURE})
    book.form("job", site="Mill Lane", unit_label="CH-1", technician="I. Varga", elevation="0 ft")
    book.form("unit", refrigerant="R-410A", metering="txv", **CIRCUIT, nameplate_charge="60 lb")
    book.form("machine", **MACHINE)
    book.form("target", method="subcooling", maker_subcooling="10 °F")
    book.form(
        "cylinder",
        cylinder_label="C-1",
        cylinder_refrigerant="R-410A",
        cylinder_tare="7 lb",
        withdrawal="invert",
    )
    book.form("start_weight", gross="130 lb")
    book.form("tare", scale_mode="gross", scale_reading="130 lb", scale_resolution="0.5 oz")
    book.wait(hours * 3600.0)
    if pounds > 0.0:
        book.form("shot_open")
        book.write("shot.closed", {"scale_after": str(130.0 - pounds), "scale_after_unit": "lb"})
    if record:
        book.write("office.recorded", dict(record))
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    return book


def refilled(handbook: Handbook, pounds: str) -> Book:
    """A visit that recovers 5 lb first and weighs so much in."""
    bench = unit_at(Bench(handbook))
    book = bench.book
    recover(bench, "whole", "32 lb", "weigh_in")
    to_vacuum(bench, gross="57 lb")
    book.write("weighing.off", {"charged_off": pounds, "charged_off_unit": "lb oz"})
    book.write("office.recorded", dict(CHILLER))
    book.form("record", signed_by="T", caps_checked="yes")
    return book


def taken_out(handbook: Handbook) -> Book:
    """A visit on 2026-11-25 that recovers 5 lb and leaves them out."""
    bench = unit_at(Bench(handbook))
    recover(bench, "part", "32 lb", "readings")
    bench.book.form("record", signed_by="T", caps_checked="yes")
    return bench.book


def unit_at(bench: Bench) -> Bench:
    """The unit of all these visits, of 60 lb."""
    bench.book.write("session.started", {"procedure": PROCEDURE})
    did(bench, "job", site="Mill Lane", unit_label="CH-1", technician="T", elevation="0 ft")
    line = {"line_length": "15 ft", "line_included": "15 ft", "line_adder": "0.6 oz/ft"}
    plate = {"nameplate_charge": "60 lb", "coil": "tube_fin", "receiver": "no"}
    did(bench, "unit", refrigerant="R-410A", metering="txv", **plate, **line)
    did(bench, "machine", mode="cooling", compressor="full", kind="split")
    return bench


# --- an addition of unknown size is an addition (L04: a rate is due at every addition; L06) ---


def test_one_shot_of_unknown_size_makes_a_rate_due(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2026-05-10", 3.0, weighed=False, record=CHILLER))
    assert (found.level, "not known" in found.verdict) == ("warn", True)
    (line,) = found.rates
    assert line.sentence == "Annualizing: not known, because a shot was not weighed."
    assert value(found, "R28") == line.sentence
    assert value(found, "R26") == ("R-410A added, how much is not known: a shot was not weighed")


def test_days_are_counted_from_an_addition_of_unknown_size(handbook: Handbook) -> None:
    now = visit(2, "2026-05-11", 1.0, record=CHILLER)
    unweighed = law(handbook, visit(1, "2026-05-01", 3.0, weighed=False), now)
    weighed = law(handbook, visit(1, "2026-05-01", 3.0), now)
    assert unweighed.rates == weighed.rates
    assert "60.83 % a year: 1 lb 0.0 oz in 10 days. Over 10 %." in unweighed.rates[0].sentence
    assert unweighed.level == "stop"


def test_a_visit_that_added_nothing_has_no_rate_and_starts_no_days(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2026-05-10", 0.0, record=CHILLER))
    assert found.verdict == "Nothing was added in this session, so no leak rate is due."
    assert found.rates == ()
    now = law(handbook, visit(1, "2026-05-01", 0.0), visit(2, "2026-05-11", 1.0, record=CHILLER))
    assert "in 365 days" in now.rates[0].sentence


def test_no_more_added_than_recovered_is_said_so(handbook: Handbook) -> None:
    book = refilled(handbook, "5 lb")
    found = law(handbook, book)
    assert found.verdict == (
        "No more was added in this session than was recovered, so no leak rate is due."
    )
    assert value(found, "R26") == "5 lb 0.0 oz R-410A added; 5 lb 0.0 oz recovered"
    _, additions, records = both((book,))
    rows = additions_context(additions, records, found, POUNDS)
    assert rows[0]["added"] == "No more than recovered"


def test_a_recovery_without_its_weight_before_is_said_to_be_of_no_known_amount(
    handbook: Handbook,
) -> None:
    book = refilled(handbook, "5 lb")
    (before,) = [one for one in book.events if one.kind == "recovery.contents"]
    book.write("event.voided", {"target": before.eid, "reason": "a slip"})
    told = value(law(handbook, book), "R26")
    assert told == (
        "5 lb 0.0 oz R-410A added; recovered, how much is not known: the weight before is missing"
    )


def test_days_are_counted_from_a_unit_filled_again(handbook: Handbook) -> None:
    """Its refrigerant was last added that day (L06), though none of it had leaked."""
    one = addition(fold(refilled(handbook, "5 lb").events))
    assert one is not None
    now = Addition("B", one.day + 10, POUND_KG, False, True)
    rate = annualized([one, now], now.day, 60.0 * POUND_KG)
    assert rate is not None
    assert (rate.days, rate.first) == (10, False)


def test_one_pound_more_than_recovered_is_one_pound(handbook: Handbook) -> None:
    found = law(handbook, refilled(handbook, "6 lb"))
    assert found.rates[0].rate is not None
    assert found.rates[0].rate.kg == pytest.approx(POUND_KG)


def test_the_units_page_does_not_say_a_figure_that_nobody_knows(handbook: Handbook) -> None:
    books = (
        visit(1, "2026-05-01", 3.0, weighed=False),
        visit(2, "2026-05-11", 1.0, record=CHILLER),
    )
    _, additions, records = both(books)
    rows = additions_context(additions, records, law(handbook, *books), POUNDS)
    assert [(row["added"], row["annualizing"], row["rolling"]) for row in rows] == [
        ("1 lb 0.0 oz", "60.83 %", "at least 1.67 %"),
        ("Not known", "not known", "not known"),
    ]


def test_one_day_is_one_day(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2026-05-01", 1.0), visit(2, "2026-05-02", 1.0, record=CHILLER))
    assert "1 lb 0.0 oz in 1 day." in found.rates[0].sentence


# --- the day of the addition, not the day the session was opened (L06, R22) ---


def test_days_are_counted_from_the_day_the_charge_went_in(handbook: Handbook) -> None:
    first = kept_open(1, "2026-05-01", 9 * 24.0, 2.0)
    found = law(handbook, first, visit(2, "2026-05-20", 0.3, record=CHILLER))
    assert "18.25 % a year: 4.8 oz in 10 days. Over 10 %." in found.rates[0].sentence


def test_the_rule_in_force_on_the_day_of_the_charge_applies(handbook: Handbook) -> None:
    found = law(handbook, kept_open(1, "2025-12-30", 3 * 24.0, 8.0, **CHILLER))
    assert found.covered_by is not None
    assert found.covered_by.name == "40 CFR 84.106"
    assert found.level == "stop"
    assert value(found, "R22") == "2025-12-30 to 2026-01-02"


def test_charged_before_the_rule_began_it_does_not_apply(handbook: Handbook) -> None:
    found = law(handbook, visit(1, "2025-12-30", 8.0, record=CHILLER))
    assert found.covered_by is None
    assert value(found, "R22") == "2025-12-30"


def test_charged_after_midnight_it_is_of_that_day(handbook: Handbook) -> None:
    """Opened at noon where it is, charged at 00:20; the next visit is that same morning."""
    first = kept_open(1, "2026-05-01", 12.34, 2.0)
    one = addition(fold(first.events))
    assert one is not None
    assert day_text(one.day) == "2026-05-02"
    found = law(handbook, first, visit(2, "2026-05-02", 0.3, record=CHILLER))
    assert "in 365 days" in found.rates[0].sentence


def test_a_last_shot_that_weighed_nothing_is_no_addition() -> None:
    book = visit(1, "2026-05-01", 2.0)
    book.events.pop()
    book.wait(3 * 86_400)
    book.form("shot_open")
    book.write("shot.closed", {"scale_after": "128", "scale_after_unit": "lb"})
    one = addition(fold(book.events))
    assert one is not None
    assert day_text(one.day) == "2026-05-01"


def test_a_reading_is_of_the_day_it_was_taken() -> None:
    book = kept_open(1, "2026-05-01", 48.0, 0.0)
    book.form("reading", suction_pressure="118 psig", suction_line="60 °F", outdoor="90 °F")
    one = visit_of(fold(book.events), None)
    assert one is not None
    assert day_text(one.day) == "2026-05-03"


# --- the full charge of its day (R15: each revision with its date) ---

LATER = CHILLER | {"full_charge": "20", "full_charge_unit": "lb"}


def test_a_later_full_charge_does_not_judge_an_earlier_visit(handbook: Handbook) -> None:
    books = (visit(1, "2026-02-01", 3.0), visit(2, "2026-09-01", 3.0, record=LATER))
    found = law(handbook, *books, of=0)
    assert found.full.kg == pytest.approx(60.0 * POUND_KG)
    assert found.rates[0].sentence.startswith("Annualizing: 5.00 % a year")
    assert found.covered_by is not None  # its use is taken over anyway
    assert value(found, "R15").startswith("2026-09-01: 20 lb")
    states, additions, records = both(books)
    assert "full_charge" not in known_data(states[0], records).data
    rows = additions_context(additions, records, law(handbook, *books), POUNDS)
    assert [row["annualizing"] for row in rows] == ["25.83 %", "5.00 %"]


def test_an_earlier_full_charge_judges_a_later_visit(handbook: Handbook) -> None:
    books = (visit(1, "2026-02-01", 3.0, record=LATER), visit(2, "2026-09-01", 3.0))
    found = law(handbook, *books)
    assert found.full.kg == pytest.approx(20.0 * POUND_KG)
    assert found.written.charge_from == found.written.unit_from is not None


def test_between_two_revisions_the_earlier_one_counts(handbook: Handbook) -> None:
    first = CHILLER | {"full_charge": "40", "full_charge_unit": "lb"}
    books = (
        visit(1, "2026-01-05", 1.0, record=first),
        visit(2, "2026-05-01", 1.0),
        visit(3, "2026-09-01", 1.0, record=LATER),
    )
    found = law(handbook, *books, of=1)
    assert found.full.kg == pytest.approx(40.0 * POUND_KG)
    assert found.written.charge_from != found.written.unit_from


def test_without_a_nameplate_the_first_that_says_it_counts(handbook: Handbook) -> None:
    """Nothing else says it, and a rate is due: better by a later figure than by none."""
    books = (
        visit(1, "2026-02-01", 3.0, nameplate_lb=""),
        visit(2, "2026-09-01", 3.0, nameplate_lb="", record=LATER),
    )
    assert law(handbook, *books, of=0).full.kg == pytest.approx(20.0 * POUND_KG)
    _, additions, records = both(books)
    assert full_kg_then(additions[0], written_charges(records)) == pytest.approx(20.0 * POUND_KG)


def test_a_sessions_own_record_counts_whenever_it_was_written(handbook: Handbook) -> None:
    book = visit(1, "2026-02-01", 3.0)
    book.wait(200 * 86_400)
    book.write("office.recorded", dict(LATER))
    assert law(handbook, book).full.kg == pytest.approx(20.0 * POUND_KG)


# --- what was recovered in one visit and put back in the next is not lost charge (L05) ---

OUT = (
    " 5 lb 0.0 oz were recovered by the session of 2026-11-25 and not put back until now: decide "
    "how much of this addition replaced that."
)


@pytest.mark.parametrize(
    ("pounds", "rate", "level"),
    [
        (3.0, "5.00 % a year: 3 lb 0.0 oz in 365 days.", "good"),
        (8.0, "13.33 % a year: 8 lb 0.0 oz in 365 days.", "warn"),
        (11.0, "18.33 % a year: 11 lb 0.0 oz in 365 days.", "warn"),
        # Over by what was lost, even if all that was recovered went back.
        (11.1, "18.50 % a year: 11 lb 1.6 oz in 365 days.", "stop"),
    ],
)
def test_what_was_recovered_before_is_told_and_left_to_the_office(
    handbook: Handbook, pounds: float, rate: str, level: str
) -> None:
    for method in ({}, {"method": "rolling"}):
        now = visit(2, "2026-12-05", pounds, record=CHILLER | method)
        found = law(handbook, taken_out(handbook), now)
        (line,) = found.rates
        assert rate in line.sentence
        assert line.sentence.endswith(OUT)
        assert value(found, "R28") == line.sentence
        assert found.level == level
        assert ("is not decided: this addition may have" in found.verdict) is (level == "warn")
    either = {name: text for name, text in CHILLER.items() if name != "method"}
    found = law(handbook, taken_out(handbook), visit(2, "2026-12-05", pounds, record=either))
    assert value(found, "R28").count(OUT) == 1
    assert found.level == level


def test_what_was_put_back_already_replaces_nothing_more(handbook: Handbook) -> None:
    now = visit(3, "2026-12-15", 8.0, record=CHILLER)
    whole = law(handbook, taken_out(handbook), visit(2, "2026-12-05", 5.0), now)
    assert "recovered" not in whole.rates[0].sentence
    assert whole.level == "stop"
    part = law(handbook, taken_out(handbook), visit(2, "2026-12-05", 3.0), now)
    assert " 2 lb 0.0 oz were recovered by the session of 2026-11-25" in part.rates[0].sentence
    unknown = law(handbook, taken_out(handbook), visit(2, "2026-12-05", 3.0, weighed=False), now)
    assert "recovered" not in unknown.rates[0].sentence
    # What is recovered later has nothing to do with it.
    before = law(handbook, visit(1, "2026-11-15", 8.0, record=CHILLER), taken_out(handbook), of=0)
    assert "recovered" not in before.rates[0].sentence
    assert before.level == "stop"


def test_what_was_recovered_in_the_morning_may_go_back_the_same_day(handbook: Handbook) -> None:
    found = law(handbook, taken_out(handbook), visit(2, "2026-11-25", 8.0, record=CHILLER))
    assert found.rates[0].sentence.endswith(OUT)
    assert found.level == "warn"


# --- the calendar year by the section that covers the unit (L26, H18) ---


@pytest.mark.parametrize("name", ["R-410A", "R-290"])
def test_a_unit_that_no_section_covers_has_nothing_to_report(handbook: Handbook, name: str) -> None:
    found = law(
        handbook,
        visit(1, "2026-02-01", 6.0, nameplate_lb="8", refrigerant=name),
        visit(2, "2026-07-01", 5.0, nameplate_lb="8", refrigerant=name, record=HOME),
    )
    assert "No federal leak-rate rule" in found.verdict
    assert found.year == ""


@pytest.mark.parametrize(
    ("name", "citation", "other", "words"),
    [
        ("R-410A", "40 CFR 84.106(m)", "82.157", "By when was not read."),
        ("R-22", "40 CFR 82.157(j)", "84.106", "by March 1 next year"),
    ],
)
def test_the_report_is_by_the_section_that_covers_it(
    handbook: Handbook, name: str, citation: str, other: str, words: str
) -> None:
    found = law(handbook, visit(1, "2026-05-10", 80.0, refrigerant=name, record=CHILLER))
    assert found.year.startswith("In 2026 133 % of the full charge was added. ")
    assert citation in found.year
    assert other not in found.year
    assert words in found.year


def test_below_the_share_nothing_is_reported(handbook: Handbook) -> None:
    assert law(handbook, visit(1, "2026-05-10", 74.0, record=CHILLER)).year == ""


def test_not_knowing_whom_it_covers_still_names_the_report(handbook: Handbook) -> None:
    """A missing answer is no exemption."""
    found = law(handbook, visit(1, "2026-05-10", 80.0))
    assert "Not decided" in found.verdict
    assert "Whether 40 CFR 84.106 covers this unit is not known. If it does: " in found.year
