"""The page says the cheap checks before the second addition, and takes what the drier shows."""

from typing import Any

import pytest
from strategies import Book, set_up, ulid

from lowside.core.advice import words
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import CURRENT_STEP, FORM, Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.pages.walks import RECOVER_LABEL, WEIGH_IN_LABEL
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold

AIR = {"outdoor_dry_bulb": "85 °F", "return_dry_bulb": "76 °F"}


def read(book: Book, line: str, liquid: str, **felt: str) -> Book:
    book.form(
        "reading",
        900,
        suction_pressure="125 psig",
        suction_line=line,
        liquid_pressure="340 psig",
        liquid_line=liquid,
        **AIR,
        **felt,
    )
    return book


def fed() -> Book:
    """Undercharged, with one shot given and weighed."""
    book = read(set_up(Book()), "61 °F", "103 °F")
    book.form("decide", decision="add")
    book.form("shot_open", after_s=5)
    book.form("shot_close", after_s=20, scale_after="437 oz")
    return book


def shown(
    book: Book, handbook: Handbook, page: str = CURRENT_STEP, about: str = ""
) -> dict[str, Any]:
    state = fold(book.events, handbook)
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(state, handbook, now, ulid(9), (), None)
    made = view(screen, Address(page, book.sid, about))  # type: ignore[arg-type]
    assert isinstance(made, Page)
    if page == CURRENT_STEP:
        charging = view(screen, Address("step", book.sid, "shots"))
        assert isinstance(charging, Page)
        return charging.context
    return made.context


def test_the_checks_are_one_line_and_the_rest_is_folded_under_why(handbook: Handbook) -> None:
    page = shown(read(fed(), "56 °F", "102 °F"), handbook)
    assert page["advice"]["word"] == "Add a shot"
    line = page["advice"]["reason"]
    assert line == words.FEEL_FIRST + words.CLAMPS_FIRST
    assert len(line) <= 130
    assert page["advice"]["more"][0] == words.LOOKS_ALIKE
    for check in ("liquid line", "other thermometer", "compressor’s current", "air in the unit"):
        assert check in words.LOOKS_ALIKE
    assert "last: switch the compressor off" in words.LOOKS_ALIKE
    assert "below the target" in page["advice"]["more"][1]
    assert page["shot"] is not None


def test_they_are_not_said_before_the_first_addition_nor_after_the_second(
    handbook: Handbook,
) -> None:
    first = shown(read(set_up(Book()), "61 °F", "103 °F"), handbook)
    assert words.LOOKS_ALIKE not in [first["advice"]["reason"], *first["advice"]["more"]]
    book = read(fed(), "56 °F", "102 °F")
    book.form("shot_open", after_s=5)
    book.form("shot_close", after_s=20, scale_after="435 oz")
    within = shown(book, handbook)
    assert words.LOOKS_ALIKE not in [within["advice"]["reason"], *within["advice"]["more"]]
    third = shown(read(book, "55 °F", "100 °F"), handbook)
    assert third["advice"]["word"] == "Add a shot"
    assert words.LOOKS_ALIKE not in [third["advice"]["reason"], *third["advice"]["more"]]


@pytest.mark.parametrize("felt", ["same", "not reached"])
def test_a_sign_waits_on_the_page_for_one_answer(handbook: Handbook, felt: str) -> None:
    book = read(fed(), "62 °F", "102 °F")
    page = shown(book, handbook)
    assert page["advice"]["word"] == "Take a reading"
    assert page["advice"]["reason"] == words.DRIER_FIRST
    assert "across the filter drier" in page["advice"]["more"][0]
    assert page["shot"] is None
    # The question is in the form below it, and beside the last reading too.
    assert "drier" in [one["name"] for one in page["reading"]["fields"]]
    assert page["reading_href"] != ""
    page = shown(read(book, "62 °F", "102 °F", drier=felt), handbook)
    assert page["advice"]["word"] == "Add a shot"
    assert page["shot"] is not None


def test_a_restriction_found_by_hand_is_said_once_and_starts_no_shot(handbook: Handbook) -> None:
    page = shown(read(fed(), "56 °F", "102 °F", drier="colder"), handbook)
    assert page["advice"]["word"] == "Do not add"
    (alert,) = [one["text"] for one in page["step_alerts"] if "filter drier" in one["text"]]
    assert alert.startswith("The line is colder after the filter drier")
    assert "Recover" in alert
    assert "filter drier" not in str(page["advice"])
    assert page["shot"] is None
    assert page["against_href"] == ""
    assert page["findings_now"] == []
    assert [one["label"] for one in page["ways"]] == [RECOVER_LABEL, WEIGH_IN_LABEL]


def test_the_question_is_folded_away_until_charge_may_have_gone_in(handbook: Handbook) -> None:
    def names(book: Book, part: str) -> list[str]:
        form = shown(book, handbook, FORM, "reading")["form"]
        return [one["name"] for one in form[part]]

    book = set_up(Book())
    assert "drier" in names(book, "more")
    read(book, "61 °F", "103 °F", drier="same")
    fields = names(book, "fields")
    assert fields.index("drier") == fields.index("liquid_line") + 1
    form = shown(book, handbook, FORM, "reading")["form"]
    question = next(one for one in form["fields"] if one["name"] == "drier")
    assert question["value"] == ""
    assert question["short"]
    assert "Last same, " in question["hint"]
