"""A unit's visits are compared in similar weather, judged by today's tables."""

import pytest
from strategies import READING, Book, ready_to_charge, ulid

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.visits import SIMILAR_K, Visit, side_by_side, visit_of
from lowside.core.session.fold import fold


def book(number: int, days: int, outdoor: str) -> Book:
    made = Book(sid=ulid(number))
    made.wait(days * 86_400.0)
    ready_to_charge(made)
    made.form("reading", **(READING | {"outdoor_dry_bulb": outdoor}))
    return made


@pytest.mark.parametrize(("outdoor", "similar"), [("80 °F", True), ("79.9 °F", False)])
def test_weather_is_similar_up_to_its_limit(
    handbook: Handbook, outdoor: str, similar: bool
) -> None:
    visits = [_visit(one, handbook) for one in (book(2, 30, "90 °F"), book(1, 0, outdoor))]
    older, newest = side_by_side([one for one in visits if one is not None])
    assert newest.similar
    assert older.similar is similar
    assert newest.approach_k == pytest.approx((104.0 - 90.0) / 1.8)
    assert newest.superheat_k is not None
    assert pytest.approx(10.0 / 1.8) == SIMILAR_K


def _visit(made: Book, handbook: Handbook) -> Visit | None:
    state = fold(made.events, handbook)
    return visit_of(state, state.readings[-1].assessment if state.readings else None)


def test_a_session_without_a_reading_is_no_visit(handbook: Handbook) -> None:
    made = Book()
    made.write("session.started", {"procedure": "hand-valved-three-port"})
    assert _visit(made, handbook) is None
