"""What the hand finds at the filter drier never makes an addition likelier or larger.

Whatever a session's readings and shots are: with any answers in it, an advice to add is the advice
of the same session without answers, unless that one asks the question itself, or asked it at the
reading that it rests on: no batch follows there.
"""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import Book, by_superheat, set_up

from lowside.core.advice import ground
from lowside.core.advice.advice import ADD, READ, Advice, advise
from lowside.core.advice.words import DRIER_FIRST
from lowside.core.handbook.handbook import Handbook
from lowside.core.session import gate
from lowside.core.session.block import DO_NOT_ADD, STOP, WEIGH_IN
from lowside.core.session.events import Event, Moment
from lowside.core.session.fold import fold

ANSWERS = st.sampled_from(("", "", *("same",) * 5, "not reached", "not reached", "colder"))


@st.composite
def answered(draw: st.DrawFn) -> tuple[list[Event], int]:
    """A session with shots, readings and answers, and the seconds since its last entry."""
    book = set_up(Book())
    if draw(st.booleans()):
        by_superheat(book)
    low = draw(st.integers(99, 105))
    _read(book, draw, draw(st.integers(56, 66)), low)
    book.form("decide", decision="add")
    scale_oz = 440.0
    for _ in range(draw(st.sampled_from((0, 1, 1, 1, 2)))):
        scale_oz -= draw(st.integers(1, 3))
        book.form("shot_open", after_s=5)
        book.form("shot_close", after_s=20, scale_after=f"{scale_oz} oz")
        for _ in range(draw(st.integers(1, 2))):
            low -= draw(st.integers(0, 1))
            _read(book, draw, draw(st.integers(54, 63)), low)
    return book.events, draw(st.sampled_from((0, 10, 60, 600)))


def _read(book: Book, draw: st.DrawFn, suction_line: int, liquid_line: int) -> None:
    book.form(
        "reading",
        draw(st.sampled_from((60, 900, 900, 900))),
        suction_pressure="125 psig",
        suction_line=f"{suction_line} °F",
        liquid_pressure="345 psig",
        liquid_line=f"{liquid_line} °F",
        outdoor_dry_bulb="86 °F",
        return_dry_bulb="77 °F",
        drier=draw(ANSWERS),
    )


@settings(max_examples=150)
@given(case=answered())
def test_no_answer_makes_an_addition_likelier(
    case: tuple[list[Event], int], handbook: Handbook
) -> None:
    events, later_s = case
    last = events[-1]
    now = Moment(last.run, last.mono + later_s * 1000, last.at + later_s * 1000, last.tz)
    state = fold(events, handbook)
    mine = advise(state, now)
    silent = [replace(one, data={**one.data, "drier": ""}) for one in events]
    theirs = advise(fold(silent, handbook), now)
    if mine.action == ADD and not (_asks(theirs) or _asks(_at_its_reading(silent, handbook))):
        assert _without_words(mine) == _without_words(theirs)
    if state.readings[-1].reading.drier == "colder":
        assert mine.action in (DO_NOT_ADD, STOP, WEIGH_IN)
        assert gate.blocks(state)


def _asks(advice: Advice) -> bool:
    return advice.action == READ and DRIER_FIRST in advice.reasons


def _at_its_reading(events: list[Event], handbook: Handbook) -> Advice:
    """What was advised when the reading that counts was taken."""
    basis = ground.basis(fold(events, handbook))
    assert basis is not None
    until = [event.eid for event in events].index(basis.eid) + 1
    then = fold(events[:until], handbook)
    return advise(then, then.entries[-1].moment)


def _without_words(advice: Advice) -> Advice:
    return replace(advice, reasons=())
