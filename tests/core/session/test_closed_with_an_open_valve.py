"""One phone signs and closes while another, without a signal, has the valve open.

Nobody knows yet what went in: no list may say “nothing”. The phone at the valve keeps its page, and
what it writes is taken.
"""

from itertools import permutations

import pytest
from expert import Bench
from overcharged import charging
from strategies import Book
from walked import FRESH, did

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.office.flags import flags_of
from lowside.core.office.service_record import addition
from lowside.core.office.summary import summary_of
from lowside.core.pages.addresses import CURRENT_STEP, FORM, TICKET, Address
from lowside.core.pages.page import Page
from lowside.core.pages.recording import Refusal, record_form
from lowside.core.pages.screen import Attempt, Screen
from lowside.core.pages.view import home, view
from lowside.core.session.amount import amount
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import State
from lowside.core.session.unit_history import added_to, unit_use_of
from lowside.outlining import outline_of

SIGNED = {"signed_by": "B", "caps_checked": "yes"}


def signed_beside(bench: Bench, end: str) -> list[Event]:
    """What the other phone wrote: the end weight, why the weights differ, and the signature."""
    own = bench.book
    other = Book(own.sid, "phone-b", "run-b", own.at, 5_000_000, own.seen)
    other.form("end_weight", 5, gross=end)
    other.write("weights.explained", {"explanation": "unknown"}, 5)
    other.write("session.closed", SIGNED, 5)
    return other.events


def met(bench: Bench, other: list[Event]) -> None:
    """Both phones have all entries of both."""
    bench.book.events.extend(other)
    bench.book.seen = max(bench.book.seen, *[event.hlc for event in other])


def closed_while_open(handbook: Handbook, end: str = "27 lb") -> Bench:
    bench = charging(handbook)
    other = signed_beside(bench, end)
    did(bench, "shot_open")
    bench.book.wait(20)
    met(bench, other)
    return bench


def page(bench: Bench, kind: str, attempt: Attempt | None = None) -> Page:
    screen = Screen(bench.state(), bench.handbook, bench.now(), FRESH, (), attempt)
    shown = view(screen, Address(kind, bench.book.sid))  # type: ignore[arg-type]
    assert isinstance(shown, Page)
    return shown


def flagged(state: State, handbook: Handbook) -> list[str]:
    return [flag.code for flag in flags_of(state, None, handbook)]


@pytest.mark.parametrize("end", ["27 lb", "26.9 lb"])
def test_a_shot_that_nobody_ended_is_an_unknown_amount(handbook: Handbook, end: str) -> None:
    """Of an end weight too: the valve was open while the cylinder was weighed."""
    state = closed_while_open(handbook, end).state()
    assert state.closed is not None
    assert amount(state).at_least
    row = summary_of(state, None, handbook)
    assert row.at_least
    assert "unended" in flagged(state, handbook)
    found = addition(state)
    assert found is not None
    assert found.due
    use = unit_use_of(state)
    assert use is not None
    assert added_to(use)


def test_the_ticket_does_not_say_nothing_was_added(handbook: Handbook) -> None:
    shown = page(closed_while_open(handbook), TICKET).context
    assert shown["added"]["amount"] == "Not known"
    assert "Shots without a weight: 1." in shown["added"]["line"]
    assert shown["alerts_now"][0]["word"] == "Valve is open."


def test_the_phone_at_the_valve_keeps_its_page_and_ends_the_shot(handbook: Handbook) -> None:
    bench = closed_while_open(handbook)
    valve = page(bench, CURRENT_STEP)
    assert valve.template == "field/shot.html"
    assert valve.context["valve"]["late"]
    assert valve.context["shot_close"]["action"].endswith("/form/shot_close")
    did(bench, "shot_close")
    weigh = page(bench, CURRENT_STEP)
    assert weigh.context["weigh"]["shot"] == bench.shot()
    assert page(bench, TICKET).context["next"] == {
        "href": f"/s/{bench.book.sid}",
        "label": "Finish the last shot",
    }
    did(bench, "shot_weigh", scale_after="27.4375 lb")
    state = bench.state()
    assert amount(state).added_kg == pytest.approx(OUNCE_KG)
    assert not amount(state).at_least
    assert "late" in flagged(state, handbook)
    assert "unended" not in flagged(state, handbook)
    assert page(bench, CURRENT_STEP).template == "field/ticket.html"
    assert page(bench, TICKET).context["next"]["label"] == "All sessions"


def test_a_weight_that_cannot_be_is_asked_again_on_its_page(handbook: Handbook) -> None:
    bench = closed_while_open(handbook)
    did(bench, "shot_close")
    typed = {"scale_after": "99", "scale_after_unit": "lb", "eid": "x", "shot": bench.shot()}
    to = Address(FORM, bench.book.sid, "shot_weigh")
    outcome = record_form(bench.state(), to, typed, handbook, bench.book.wait(30) and bench.now())
    assert isinstance(outcome, Refusal)
    assert outcome.address.page == CURRENT_STEP
    assert page(bench, CURRENT_STEP, outcome.attempt).context["weigh"] is not None


def test_home_and_lists_have_it_with_the_open_ones(handbook: Handbook) -> None:
    bench = closed_while_open(handbook)
    state = bench.state()
    shown = home([state], handbook, FRESH).context
    assert [one["href"] for one in shown["open"]] == [f"/s/{state.sid}"]
    assert shown["closed"] == []
    assert outline_of(state).closed is None
    did(bench, "shot_close")
    assert home([bench.state()], handbook, FRESH).context["open"] == []
    assert outline_of(bench.state()).closed is not None


def test_nothing_else_is_taken_after_the_closing(handbook: Handbook) -> None:
    bench = closed_while_open(handbook)
    did(bench, "shot_close")
    did(bench, "shot_weigh", scale_after="27.4375 lb")
    for form, typed in (
        ("shot_close", {}),
        ("shot_weigh", {"scale_after": "27.4 lb"}),
        ("shot_open", {}),
        ("reading", {"suction_pressure": "118 psig"}),
    ):
        assert not bench.form(form, typed), form


def test_a_phone_that_knows_of_the_valve_does_not_sign(handbook: Handbook) -> None:
    bench = charging(handbook)
    did(bench, "shot_open")
    assert not bench.form("record", SIGNED)
    assert "A shot is still open." in bench.refused


@pytest.mark.parametrize("order", list(permutations(range(3))), ids=str)
@pytest.mark.parametrize("before", range(4))
def test_whatever_came_first_the_amount_is_known_or_said_to_be_missing(
    handbook: Handbook, before: int, order: tuple[int, ...]
) -> None:
    """The signature after none, one, two or all of the shot’s three entries. The shot’s entries
    reach the other phone in any order, and at each of them both say what they know."""
    bench = charging(handbook)
    start = list(bench.book.events)
    other: list[Event] = []
    for i, (form, typed) in enumerate(
        [("shot_open", {}), ("shot_close", {}), ("shot_weigh", {"scale_after": "27.4375 lb"})]
    ):
        if i == before:
            other = signed_beside(bench, "26.9375 lb")
        did(bench, form, **typed)
    other = other if other else signed_beside(bench, "26.9375 lb")
    shot = bench.book.events[len(start) :]
    come = start + other
    for at in order:
        come = [*come, shot[at]]
        state = fold(come, handbook)
        known = amount(state).added_kg == pytest.approx(OUNCE_KG, abs=1e-6)
        opened = shot[0] in come
        assert known or amount(state).at_least or not opened
        assert ("unended" in flagged(state, handbook)) is (opened and shot[1] not in come)
    whole = fold(come, handbook)
    assert whole == fold([*shot, *other, *start], handbook)
    assert amount(whole).added_kg == pytest.approx(OUNCE_KG)
    assert not amount(whole).at_least
