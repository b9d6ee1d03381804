"""A month's report adds up, and begins and ends with its month."""

import pytest
from office_cases import visit

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.dates import day_text
from lowside.core.office.month import month_from, month_line, month_of_text
from lowside.core.office.summary import summary_of
from lowside.core.session.fold import fold


def test_totals_are_the_sum_of_the_sessions(handbook: Handbook) -> None:
    books = (
        visit(1, "2026-05-10", 2.0),
        visit(2, "2026-05-11", 3.0, technician="T. Odell"),
        visit(3, "2026-05-12", 1.0, refrigerant="R-22", weighed=False),
    )
    summaries = [summary_of(fold(book.events), None, handbook) for book in books]
    found = month_from(map(month_line, summaries))
    assert (found.sessions, found.closed) == (3, 3)
    assert [(one.name, one.sessions, one.at_least) for one in found.by_refrigerant] == [
        ("R-22", 1, True),
        ("R-410A", 2, False),
    ]
    assert found.by_refrigerant[1].added_kg == pytest.approx(5.0 * POUND_KG)
    assert [one.name for one in found.by_technician] == ["I. Varga", "T. Odell"]


@pytest.mark.parametrize(
    ("text", "first", "after"),
    [("2026-12", "2026-12-01", "2027-01-01"), ("2024-02", "2024-02-01", "2024-03-01")],
)
def test_a_month_ends_where_the_next_begins(text: str, first: str, after: str) -> None:
    days = month_of_text(text)
    assert days is not None
    assert (day_text(days[0]), day_text(days[1])) == (first, after)


@pytest.mark.parametrize("text", ["", "2026", "2026-13", "2026-00", "26-01", "2026-5", "٢٠٢٦-01"])
def test_what_is_no_month_is_none(text: str) -> None:
    assert month_of_text(text) is None
