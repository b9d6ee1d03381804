"""What is answered No or left unexplained at the signature is not lost.

A disagreement of the weights must be explained before the session is closed (docs/charge.md; our
choice). Of 61 used cores 8 leaked without a gasketed cap (the source is beside the step).
"""

import pytest
from expert import Bench
from strategies import Book, ready_to_charge

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.flags import flags_of
from lowside.core.pages.ticket import ticket_context
from lowside.core.session.fold import fold

CAPS = "Caps on, ports leak-checked"


def signed(answer: str) -> Book:
    book = ready_to_charge(Book())
    book.form("record", signed_by="T", caps_checked=answer)
    return book


@pytest.mark.parametrize(("answer", "told"), [("no", ["No"]), ("yes", [])])
def test_caps_left_off_are_on_the_ticket_and_flagged(
    handbook: Handbook, answer: str, told: list[str]
) -> None:
    state = fold(signed(answer).events, handbook)
    parts = ticket_context(state, handbook)["parts"]
    facts = [one for part in parts if part["title"] == "Checks" for one in part["facts"]]
    assert [one["value"] for one in facts if one["name"] == CAPS] == told
    flags = [each.detail for each in flags_of(state, None, handbook) if each.code == "check"]
    assert [each for each in flags if CAPS in each] == [f"{CAPS}: {one}" for one in told]


def weighed(handbook: Handbook, end: str) -> Bench:
    """4.8 oz by a shot."""
    bench = Bench(handbook, ready_to_charge(Book()))
    bench.book.form("shot_open", scale_before="27.5 lb")
    bench.book.write("shot.closed", {"scale_after": "27.2", "scale_after_unit": "lb"}, 20.0)
    bench.book.form("end_weight", gross=end)
    return bench


def close(bench: Bench) -> bool:
    return bench.form("record", {"signed_by": "T", "caps_checked": "yes"})


def test_weights_apart_are_explained_before_it_is_closed(handbook: Handbook) -> None:
    bench = weighed(handbook, "26.25 lb")
    assert not close(bench)
    assert "The weights do not agree." in bench.refused
    assert bench.form("reconcile", {"explanation": "Unknown"})
    assert close(bench)


def test_weights_that_agree_need_no_word(handbook: Handbook) -> None:
    assert close(weighed(handbook, "26.68 lb"))
