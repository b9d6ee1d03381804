"""Where clearing the hoses would miss the target, what they hold is recovered: chosen in one tap,
led through, counted in the advice and on the record."""

import pytest
from strategies import READING, Book, ready_to_charge, with_units

from lowside.core.advice.advice import advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    CYLINDER,
    LIQUID_LINE,
    RECOVERY,
    SUCTION,
    is_off_step,
    position,
)
from lowside.core.handbook.system import DIP_TUBE, INVERT
from lowside.core.hoses.contents import usual_conditions
from lowside.core.hoses.hazards import hazards_at_rest
from lowside.core.hoses.run import follow, run_off
from lowside.core.pages import addresses
from lowside.core.pages.addresses import CURRENT_STEP, STEP, Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.cylinder import reconcile_session
from lowside.core.session.events import moment_of
from lowside.core.session.fold import fold
from lowside.core.session.state import State, recovers_hoses
from lowside.core.session.walk import step_now
from lowside.rendering import render

FRESH = "01JD00000000000000000000AA"


def state_of(book: Book, handbook: Handbook) -> State:
    return fold(book.events, handbook)


def html_of(book: Book, address: Address, handbook: Handbook) -> str:
    state = state_of(book, handbook)
    page = view(Screen(state, handbook, moment_of(book.events[-1]), FRESH, (), None), address)
    assert isinstance(page, Page)
    return render(page.template, page.context)


def charged(handbook: Handbook) -> Book:
    book = ready_to_charge(Book())
    book.form("shot_open", 60)
    book.form("shot_close", 20)
    return book


def test_choosing_it_takes_the_hoses_out_of_what_is_to_come(handbook: Handbook) -> None:
    book = charged(handbook)
    before = state_of(book, handbook)
    assert before.readings[-1].hoses_kg > 0.02
    book.form("hoses_recover", 5)
    after = state_of(book, handbook)
    assert recovers_hoses(after)
    assert after.readings[-1].hoses_kg == 0.0
    assert after.hoses_recovered_kg == pytest.approx(before.readings[-1].hoses_kg)
    assert after.hoses_brought_kg == 0.0
    moment = moment_of(book.events[-1])
    then, now = advise(before, moment), advise(after, moment)
    assert then.remaining_kg is not None
    assert now.remaining_kg is not None
    assert now.remaining_kg == pytest.approx(then.remaining_kg + before.readings[-1].hoses_kg)
    assert not [name for name, _ in reconcile_session(after).lines if "recovered" in name]


def test_after_it_come_the_final_reading_and_the_recovery(handbook: Handbook) -> None:
    book = charged(handbook)
    book.form("hoses_recover", 5)
    procedure = handbook.procedures[state_of(book, handbook).procedure]
    for step in procedure.steps:
        book.form("done", 5, step=step.id)
        if step.page == CHARGE_PAGE:
            break
    seen = []
    for _ in range(20):
        step = step_now(procedure, state_of(book, handbook))
        assert step is not None
        seen.append(step.id)
        if step.form == "final_reading":
            book.form("final_reading", 900, step=step.id, **with_units("final_reading", READING))
        elif step.form == "":
            book.form("done", 60, step=step.id)
        else:
            break
    assert seen[0] == "final_reading"
    assert [one for one in seen if is_off_step(procedure, one)] == [
        one.id for one in procedure.off_steps if one.withdrawal in ("", INVERT)
    ]
    assert seen[-2:] == ["caps", "end_weight"]
    assert not {"close_cylinder", "clear_hoses", "clear_high", "disconnect"} & set(seen)
    assert state_of(book, handbook).hoses_brought_kg == 0.0
    estimate = dict(reconcile_session(state_of(book, handbook)).lines)["Hoses, recovered, estimate"]
    assert estimate == state_of(book, handbook).hoses_recovered_kg > 0.02
    assert "hoses_weighed" in html_of(book, Address(STEP, book.sid, "reconcile"), handbook)
    book.form("reconcile", 5, step="reconcile", explanation="", hoses_weighed="1.5 oz")
    lines = dict(reconcile_session(state_of(book, handbook)).lines)
    assert lines["Hoses, recovered, weighed"] == pytest.approx(0.0425, abs=0.0001)


def test_with_the_yellow_hose_cleared_only_the_red_one_is_recovered(handbook: Handbook) -> None:
    book = charged(handbook)
    whole = state_of(book, handbook).readings[-1].hoses_kg
    for step in ("shots", "close_cylinder", "clear_hoses"):
        book.form("done", 60, step=step)
    book.form("final_reading", 900, step="final_reading", **with_units("final_reading", READING))
    left = state_of(book, handbook).readings[-1].hoses_kg
    assert 0.0 < left < whole
    book.form("hoses_recover", 5)
    state = state_of(book, handbook)
    assert state.hoses_recovered_kg == pytest.approx(left)
    assert state.hoses_brought_kg == pytest.approx(whole - left)
    brought = state.readings[0].hoses_kg - state.readings[-1].hoses_kg
    assert brought == pytest.approx(whole - left)


def test_the_pages_that_clear_them_say_not_to(handbook: Handbook) -> None:
    book = charged(handbook)
    book.form("hoses_recover", 5)
    book.form("done", 5, step="shots")
    for step in ("close_cylinder", "clear_high"):
        html = html_of(book, Address(STEP, book.sid, step), handbook)
        assert "You chose to recover the hoses" in html
        assert addresses.current(book.sid) in html
    assert "You chose" not in html_of(book, Address(CURRENT_STEP, book.sid), handbook)


def test_it_can_be_undone(handbook: Handbook) -> None:
    book = charged(handbook)
    chosen = book.form("hoses_recover", 5)
    assert "Undo" in html_of(book, Address(CURRENT_STEP, book.sid), handbook)
    book.form("void", 5, target=chosen.eid, why="")
    assert not recovers_hoses(state_of(book, handbook))


@pytest.mark.parametrize("withdrawal", [INVERT, DIP_TUBE])
@pytest.mark.parametrize("refrigerant", ["R-410A", "R-22", "R-32"])
def test_played_by_the_hose_model_nothing_is_trapped_and_the_unit_gets_nothing(
    handbook: Handbook, refrigerant: str, withdrawal: str
) -> None:
    for procedure in handbook.procedures.values():
        conditions = usual_conditions(handbook.tables[refrigerant], 101325.0, withdrawal)
        shots = next(step.id for step in procedure.steps if step.page == CHARGE_PAGE)
        charging = follow(procedure, conditions)[position(procedure, shots)].after
        inside = charging.received_kg.get(SUCTION, 0.0) + charging.received_kg.get(LIQUID_LINE, 0.0)
        runs = run_off(procedure, conditions, charging)
        for one in runs:
            assert [hazard for turn in one.turns for hazard in turn.hazards] == []
            assert list(one.hazards) == [], (procedure.id, one.step_id)
        end = runs[-1].after
        got = end.received_kg.get(SUCTION, 0.0) + end.received_kg.get(LIQUID_LINE, 0.0) - inside
        assert abs(got) < 0.004, procedure.id
        assert all(held.liquid_kg < 1.0e-6 for held in end.contents.values())
        back = end.received_kg.get(CYLINDER, 0.0) - charging.received_kg.get(CYLINDER, 0.0)
        assert end.received_kg.get(RECOVERY, 0.0) + back > 0.015, procedure.id
        assert hazards_at_rest(procedure, conditions, end, True) == []
