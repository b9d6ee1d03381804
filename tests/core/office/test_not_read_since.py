"""A reading before the last shot, a recovery or a weigh-in is not how the unit was left.

Then neither the customer's ticket nor the office shows it as the end. That is our choice: nobody
knows what the last charge did.
"""

import pytest
from strategies import READING, Book, ready_to_charge
from walked import RECOVERY_CYLINDER

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.flags import flags_of
from lowside.core.office.summary import summary_of
from lowside.core.pages.ticket import ticket_context
from lowside.core.session.fold import fold
from lowside.core.session.last_visit import visit_of
from lowside.core.session.state import latest_reading

OVER = READING | {"liquid_line": "88 °F", "suction_line": "52 °F"}


def fed(book: Book) -> Book:
    book.form("shot_open", scale_before="27.5 lb")
    book.write("shot.closed", {"scale_after": "27.2", "scale_after_unit": "lb"}, 20.0)
    return book


def recovered(book: Book, what: str) -> Book:
    book.form("recovery_cylinder", **RECOVERY_CYLINDER)
    book.form("recovery_contents", rc_before="27 lb", rc_inside="empty")
    then = "weigh_in" if what == "whole" else "readings"
    book.form("recovery_after", rc_after="33 lb", rc_left="0 psig", rc_what=what, rc_next=then)
    return book


def read_over() -> Book:
    book = ready_to_charge(Book())
    book.wait(900)
    book.form("reading", **OVER)
    return book


def closed(book: Book) -> Book:
    book.form("record", signed_by="T", caps_checked="yes")
    return book


def weighed_in() -> Book:
    book = recovered(fed(read_over()), "whole")
    book.form("charge_off", charged_off="96 oz")
    return book


def left(book: Book, handbook: Handbook) -> tuple[str, list[str], str, bool]:
    """The ticket's line, the office's flags of the end, its verdict, and whether figures are on
    the ticket."""
    state = fold(closed(book).events, handbook)
    latest = latest_reading(state)
    last = None if latest is None else latest.assessment
    ticket = ticket_context(state, handbook)
    summary = summary_of(state, last, handbook)
    flags = [each.code for each in flags_of(state, last, handbook)]
    shown = ticket["figures"] != []
    assert shown == (ticket["findings_now"] != []) == (ticket["compared"] != [])
    assert shown == (summary.superheat_k is not None)
    visit = visit_of(state)
    assert visit is not None
    assert (visit.reading is not None) == shown
    ends = [code for code in flags if code in ("over", "out", "unread")]
    return ticket["not_read"], ends, summary.verdict, shown


def test_the_control_a_reading_at_the_end_is_the_final_state(handbook: Handbook) -> None:
    assert left(read_over(), handbook) == ("", ["over"], "Overcharged", True)


def test_what_was_weighed_in_after_a_recovery_is_not_overcharged(handbook: Handbook) -> None:
    told = left(weighed_in(), handbook)
    assert told == ("Weighed in, not read since.", [], "Not read since", False)


@pytest.mark.parametrize("what", ["part", "whole"])
def test_after_a_recovery_the_old_reading_does_not_tell(handbook: Handbook, what: str) -> None:
    told = left(recovered(read_over(), what), handbook)
    assert told == ("Not read after the recovery.", ["unread"], "Not read since", False)


def test_after_the_last_shot_the_old_reading_does_not_tell(handbook: Handbook) -> None:
    told = left(fed(read_over()), handbook)
    assert told == ("Not read after the last shot.", ["unread"], "Not read since", False)


SHORT = READING | {"liquid_line": "104 °F"}


def emptied(book: Book, *steps: str) -> Book:
    for step in steps:
        book.write("step.done", {"step": step}, 60.0)
    return book


def read(book: Book, **typed: str) -> Book:
    book.wait(900)
    book.form("final_reading", **typed)
    return book


@pytest.mark.parametrize(
    "steps", [("close_cylinder", "clear_hoses"), ("clear_hoses", "clear_high"), ("close_cylinder",)]
)
def test_what_the_hose_held_went_in_after_the_old_reading(
    handbook: Handbook, steps: tuple[str, ...]
) -> None:
    """Too much is still too much then."""
    told = ("Not read after the hoses were emptied.", ["unread"], "Not read since", False)
    assert left(emptied(read(ready_to_charge(Book()), **SHORT), *steps), handbook) == told
    over = left(emptied(read_over(), *steps), handbook)
    assert over == (told[0], ["over", "unread"], told[2], False)


def test_it_is_read_after_them_as_the_steps_say_or_they_were_recovered(handbook: Handbook) -> None:
    book = emptied(read_over(), "close_cylinder", "clear_hoses")
    book = emptied(read(book, **OVER), "clear_high", "disconnect")
    assert left(book, handbook) == ("", ["over"], "Overcharged", True)
    book = emptied(read_over(), "off_stop", "off_cylinder", "off_recover", "off_hoses")
    assert left(book, handbook) == ("", ["over"], "Overcharged", True)


def test_a_step_that_was_undone_emptied_nothing(handbook: Handbook) -> None:
    book = emptied(read_over(), "clear_hoses")
    book.write("event.voided", {"target": book.events[-1].eid})
    assert left(book, handbook) == ("", ["over"], "Overcharged", True)


def test_the_hose_of_a_cylinder_that_another_took_the_place_of_counts_too(
    handbook: Handbook,
) -> None:
    book = emptied(read_over(), "close_cylinder", "clear_hoses")
    second = {"cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb", "withdrawal": "invert"}
    book.form("cylinder", cylinder_label="C-2", **second)
    assert left(book, handbook)[0] == "Not read after the hoses were emptied."


def test_a_shot_or_a_recovery_is_said_before_the_emptied_hose(handbook: Handbook) -> None:
    book = emptied(fed(read_over()), "close_cylinder", "clear_hoses")
    assert left(book, handbook)[0] == "Not read after the last shot."
    book = recovered(emptied(read_over(), "clear_hoses"), "whole")
    assert left(book, handbook)[0] == "Not read after the recovery."


def test_a_reading_after_the_weigh_in_is_the_final_state(handbook: Handbook) -> None:
    book = weighed_in()
    book.wait(900)
    book.form("reading", **OVER)
    assert left(book, handbook) == ("", ["over"], "Overcharged", True)


def test_ticket_and_office_tell_one_amount(handbook: Handbook) -> None:
    state = fold(closed(weighed_in()).events, handbook)
    ticket = ticket_context(state, handbook)["added"]
    assert ticket == {
        "amount": "6 lb 4.8 oz",
        "line": "6 lb 0.0 oz weighed in, 4.8 oz by shots.",
    }
    assert summary_of(state, None, handbook).added_kg == pytest.approx(100.8 / 16.0 * 0.45359237)
