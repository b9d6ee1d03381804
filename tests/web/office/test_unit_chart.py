"""The unit's page draws what was added and what readings showed, and says the same in tables."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from office_cases import events, visit
from strategies import READING
from website import open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.leak_rate import Addition
from lowside.core.office.visits import Visit
from lowside.web.office.unit_chart import HEIGHT, WIDTH, added_chart, readings_chart

finite = st.floats(-40.0, 60.0)
visits = st.lists(
    st.builds(
        Visit,
        st.just("S"),
        st.integers(19_000, 21_000),
        st.just(300.0),
        st.none() | finite,
        st.none() | finite,
        st.none() | finite,
        st.booleans(),
    ),
    max_size=12,
)
additions = st.lists(
    st.builds(
        Addition, st.just("S"), st.integers(19_000, 21_000), finite, st.just(False), st.just(True)
    ),
    max_size=40,
)


def inside(drawn: object) -> bool:
    """Whether every number of the drawing is within it."""
    text = repr({k: v for k, v in drawn.items() if k not in ("said", "box")})  # type: ignore[attr-defined]
    for x in re.findall(r"'(?:x|middle)': '([-0-9.]+)'", text):
        assert 0.0 <= float(x) <= WIDTH, text
    for y in re.findall(r"'(?:y|text_y|above|height)': '([-0-9.]+)'", text):
        assert 0.0 <= float(y) <= HEIGHT, text
    return True


@given(additions)
def test_every_bar_is_within_the_drawing(some: list[Addition]) -> None:
    drawn = added_chart(some)
    moved = [one for one in some if abs(one.kg) > 1e-6]
    assert (drawn is None) == (moved == [])
    if drawn is not None:
        assert len(drawn["bars"]) == len(moved)
        assert inside(drawn)


@given(visits)
def test_every_mark_is_within_the_drawing(some: list[Visit]) -> None:
    drawn = readings_chart(some)
    alike = [one for one in some if one.similar]
    if drawn is None:
        return
    for line in drawn["lines"]:
        values = [getattr(one, line["code"] + "_k") for one in alike]
        assert len(line["marks"]) == len([value for value in values if value is not None])
    assert inside(drawn)


def test_twice_the_charge_is_twice_as_high() -> None:
    drawn = added_chart(
        [Addition("A", 20_000, 1.0, False, True), Addition("B", 20_010, 2.0, False, True)]
    )
    assert drawn is not None
    low, high = (float(bar["height"]) for bar in drawn["bars"])
    assert high == pytest.approx(2.0 * low, abs=0.2)
    assert [bar["label"] for bar in drawn["bars"]] == ["2.2", "4.4"]


def test_a_reading_in_other_weather_is_not_drawn() -> None:
    some = [
        Visit("A", 20_000, 300.0, 5.0, 6.0, 3.0, True),
        Visit("B", 20_100, 280.0, 9.0, 1.0, 3.0, False),
        Visit("C", 20_200, 301.0, 6.0, 5.0, None, True),
    ]
    drawn = readings_chart(some)
    assert drawn is not None
    assert [len(line["marks"]) for line in drawn["lines"]] == [2, 2, 1]
    assert readings_chart(some[:2]) is None


def test_the_page_has_the_drawings_beside_their_tables(
    place: Path | str, handbook: Handbook
) -> None:
    with open_site(place, handbook) as site:
        books = []
        for number, day in ((1, "2026-05-03"), (2, "2026-06-03")):
            book = visit(number, day, 1.0)
            closing = book.events.pop()
            book.form("final_reading", 900.0, **READING)
            book.write(closing.kind, closing.data, 1)
            books.append(book)
        site.store.append(events(*books))
        page = site.get("/office/unit?site=Mill+Lane&unit=CH-1")
        assert page.response.text.count('role="img"') == 2
        assert page.response.text.count("<circle") == 3
        assert "2026-05-03" in page.text
        site.store.append(events(visit(3, "2026-06-03", unit="CH-9")))
        page = site.get("/office/unit?site=Mill+Lane&unit=CH-9")
        assert 'role="img"' not in page.response.text
