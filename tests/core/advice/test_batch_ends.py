"""The rest of a batch goes in only where its reading says “add” by itself, and only while no glance
between two openings shows that something other than the charge moved. Limits: docs/advice.md.
Readings are made up around them.
"""

import pytest
from moved_sessions import At, Session, begun

from lowside.core.handbook.handbook import Handbook

WHY = "I know this unit"


def fed_once_more(session: Session) -> str:
    """One shot of half an ounce; the advice once the suction line has boiled dry."""
    session.feed(0.5)
    session.book.wait(75)
    return session.advice().action


class TestAReasonOpensOneShot:
    @pytest.mark.parametrize("second", [(46, 12, 104, 3), (36.5, 12, 112, 4), (42, 12, 120, 4)])
    def test_against_do_not_add(self, handbook: Handbook, second: At) -> None:
        """A stage drops, the coil gets colder, condensing rises. Before, the page asked for 4 oz
        more 75 s after the shot."""
        session = begun(handbook, (42, 12, 112, 4))
        assert session.read(second) == "read"
        assert session.read(second, why=WHY) == "do_not_add"
        assert fed_once_more(session) == "wait"
        assert not session.form("shot_open", {})

    def test_against_finish(self, handbook: Handbook) -> None:
        session = Session(handbook)
        session.read((40, 12, 112, 8), 900, WHY)
        assert session.read((40, 12, 112, 8), 300, WHY) == "finish"
        assert fed_once_more(session) == "wait"

    def test_what_was_to_be_added_goes_on(self, handbook: Handbook) -> None:
        session = begun(handbook, (42, 12, 112, 4))
        assert session.read((42, 12, 112, 4)) == "add"
        assert fed_once_more(session) == "add"
        assert session.form("shot_open", {})


def test_the_rest_of_a_trim_waits_for_a_reading(handbook: Handbook) -> None:
    """Its condition for the glance, 7 °F or more, was true before the first part went in."""
    session = Session(handbook)
    assert session.read((40, 12, 112, 7.2), 900, WHY) == "add"
    assert "A small shot brings it to the middle" in session.told()
    assert fed_once_more(session) == "wait"


class TestAGlanceThatShowsMore:
    @pytest.mark.parametrize(
        ("seen", "said"),
        [
            ((46, 12, 104, 3), "Condensing came 8.0 °F nearer to outdoor air"),
            ((40, 12, 125, 4), "Condensing rose by 13.0 °F above outdoor air"),
            ((34, 12, 112, 4), "The coil got 6.0 °F colder"),
            ((40, 12, 107, 4), "Condensing came 5.0 °F nearer"),
            ((37, 30, 112, 4), "Superheat rose by 18.0 °F"),
            ((40, 6, 112, 4), "Superheat fell by 18.0 °F"),
            ((40, 20, 112, 8), "At the look subcooling is already 8.0 °F."),
            ((40, 3, 112, 4), "superheat low (3.0 °F)"),
        ],
    )
    def test_ends_the_batch_and_says_what_was_seen(
        self, handbook: Handbook, seen: At, said: str
    ) -> None:
        """Another stage, a slow fan outdoors or indoors, a wet coil, a valve that starves. Before,
        the rest went in 45 s later."""
        fell = seen[1] == 6
        session = begun(handbook, (40, 24 if fell else 12, 112, 4))
        assert session.read(seen, 60) == "wait"
        session.book.wait(45)
        assert session.advice().action == "wait"
        assert said in session.advice().reasons[0]
        assert not session.form("shot_open", {})

    def test_one_that_shows_the_same_does_not(self, handbook: Handbook) -> None:
        session = begun(handbook, (40, 12, 112, 4))
        session.read((40.5, 11.5, 112.5, 4.5), 60)
        session.book.wait(45)
        assert session.advice().action == "add"
        assert session.form("shot_open", {})
