"""What the phone keeps of its sessions, and the names of logs, are as on the server."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_sessions import sessions
from phone_core import PHASES, Core, assert_same, exactly, sent, share
from strategies import Book, ready_to_charge, ulid, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.session import ulids
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.last_visit import visit_of
from lowside.core.session.ledger import label_key, uses_in
from lowside.core.session.listed import begun_ms
from lowside.core.session.state import is_finished

LABEL = "c-1"


def _compare(core: Core, handbook: Handbook, logs: list[list[Event]], judged: bool) -> int:
    """Compare everything; how many uses of the cylinder there were."""
    asked = {
        "ask": "lists",
        "sessions": [sent(log) for log in logs],
        "judged": judged,
        "label": LABEL,
    }
    answer: dict[str, Any] = core.ask("core", asked)
    # The store keeps what is true without the handbook, whichever fold the phone had at hand.
    states = [fold(log) for log in logs]
    begun = [begun_ms(one.sid, None if one.started is None else one.started.at) for one in states]
    lines = [
        [one.sid, at, is_finished(one), len(log)]
        for one, at, log in zip(states, begun, logs, strict=True)
    ]
    assert answer["lines"] == exactly(lines)
    newest = sorted(zip(begun, [one.sid for one in states], strict=True), reverse=True)
    assert answer["order"] == [sid for _, sid in newest]
    uses = [use for one in states for use in uses_in(one) if label_key(use.label) == LABEL]
    assert_same(answer["uses"], uses)
    found = [visit_of(one) for one in states]
    assert_same(answer["visits"], [visit for visit in found if visit is not None])
    return len(uses)


@pytest.mark.parametrize("judged", [False, True])
def test_lists_are_made_from_the_same_facts(judged: bool, core: Core, handbook: Handbook) -> None:
    @settings(max_examples=share(core, 60), phases=PHASES)
    @given(logs=st.lists(sessions(handbook), min_size=1, max_size=3))
    def same(logs: list[list[Event]]) -> None:
        own = [
            [replace(event, sid=ulid(number)) for event in log]
            for number, log in enumerate(logs)
            if log
        ]
        _compare(core, handbook, own, judged)

    same()


def test_a_cylinder_that_another_took_the_place_of_is_known_too(
    core: Core, handbook: Handbook
) -> None:
    """As on the server: the next session compares its weight with what it weighed then."""
    book = ready_to_charge(Book())
    book.form("shot_open")
    opened = book.events[-1].eid
    book.form("shot_close")
    book.write(
        "shot.weighed", {"shot": opened, **with_units("shot_weigh", {"scale_after": "27 lb"})}
    )
    second = {"cylinder_label": "C-2", "cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb"}
    book.form("cylinder", **second, withdrawal="invert")
    state = fold(book.events)
    assert [use.label for use in uses_in(state)] == ["C-1", "C-2"]
    assert _compare(core, handbook, [list(book.events)], judged=True) == 1


CHARACTERS = ulids.CROCKFORD_32 + "ILOUil o-é"
NEARLY = st.text(CHARACTERS, min_size=25, max_size=27) | st.text(max_size=30)
NEARLY |= st.text(ulids.CROCKFORD_32, min_size=26, max_size=26)
NEARLY |= st.sampled_from(("76EZ91ZPZZ" + "Z" * 16, "76EZ91ZQ00" + "0" * 16))


@given(texts=st.lists(NEARLY, max_size=30))
def test_the_phone_takes_the_same_texts_for_ulids(texts: list[str], core: Core) -> None:
    asked = {"ask": "calls", "file": "session/ulids", "name": "is_ulid"}
    answers = core.ask("core", asked | {"calls": [[text] for text in texts]})
    assert answers == [ulids.is_ulid(text) for text in texts]


@given(ms=st.integers(0, 2**48 - 1), random=st.binary(min_size=16, max_size=16))
def test_a_ulid_is_written_alike_and_tells_its_time(ms: int, random: bytes, core: Core) -> None:
    asked = {"ask": "calls", "file": "session/ulids", "name": "new_ulid"}
    text = ulids.new_ulid(ms, random)
    assert core.ask("core", asked | {"calls": [[ms, list(random)]]}) == exactly([text])
    assert ulids.ulid_ms(text) == ms
    assert ulids.is_ulid(text) == (ms < ulids.END_OF_YEAR_9999_MS)


@given(texts=st.lists(st.text("aBß \t\u00a0Σ-1", max_size=8), max_size=30))
def test_labels_are_compared_alike(texts: list[str], core: Core) -> None:
    asked = {"ask": "calls", "file": "session/ledger", "name": "label_key"}
    answers = core.ask("core", asked | {"calls": [[text] for text in texts]})
    assert answers == exactly([label_key(text) for text in texts])
