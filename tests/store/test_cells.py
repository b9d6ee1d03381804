"""A cell of an export never becomes a formula, in whatever program and locale it is opened."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lowside.store.cells import STARTS, UNSEEN, safe_cell

BAD = (
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\uff1d1+1",
    "\uff0b1",
    "\uff0d1",
    "\uff20A1",
    "\ufeff=1+1",
    "\x00=1+1",
    "\u200b=1+1",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "   =1+1",
    '"=1+1',
    "|calc",
)


@pytest.mark.parametrize("text", BAD)
def test_what_could_run_is_text(text: str) -> None:
    shown = safe_cell(text)
    assert isinstance(shown, str)
    assert shown.startswith("'")


def test_what_follows_a_semicolon_is_text_too() -> None:
    assert safe_cell("Mill;=1+1") == "Mill;'=1+1"
    assert safe_cell("Mill; \u200b+1; Lane") == "Mill;' \u200b+1; Lane"


@pytest.mark.parametrize("text", ["Mill Lane", "R-410A", "4 Mill = Lane", "", "Bäckerei 3", "a-b"])
def test_plain_text_stays_as_it_is(text: str) -> None:
    assert safe_cell(text) == text


def test_numbers_stay_numbers() -> None:
    assert safe_cell(-3.5) == -3.5
    assert safe_cell(None) is None


@given(st.text(alphabet=STARTS + UNSEEN + "\x00\t\r\n ;,\"'a1é"))
def test_no_cell_begins_like_a_formula_by_comma_or_semicolon(text: str) -> None:
    out = io.StringIO()
    csv.writer(out).writerow(["x", safe_cell(text), "y"])
    for delimiter in (",", ";"):
        for row in csv.reader(io.StringIO(out.getvalue()), delimiter=delimiter):
            for cell in row:
                seen = cell.lstrip(UNSEEN + ' "')
                assert seen == "" or seen[0] not in STARTS
