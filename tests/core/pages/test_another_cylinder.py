"""Another cylinder in the middle: the first one’s hose is cleared and it is weighed, the hose is
purged at the next. Nothing is added before (common practice, no source)."""

import pytest
from hose_cases import shipped, usual
from strategies import READING, Book, ready_to_charge, ulid, with_units

from lowside.core.advice.against import advice_now
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import CYLINDER, Action, Procedure, joining_steps
from lowside.core.handbook.system import INVERT
from lowside.core.hoses.contents import AIR, bare, filling_of
from lowside.core.hoses.run import run_step, turn
from lowside.core.pages.addresses import Address, PageName
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session import gate
from lowside.core.session.entry import Accepted, Refused, accept
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.walk import step_now
from lowside.procedures import load_procedures

NAMES = list(load_procedures())
SECOND = {
    "cylinder_label": "C-2",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}
WEIGHED_BY = {"weight.start": "start_weight", "scale.set": "tare"}
CLEARED = ("close_cylinder", "clear_hoses")


def charging(name: str = "hand-valved-three-port") -> Book:
    """A shot was given, and all steps until then are ticked."""
    book = ready_to_charge(Book())
    book.events[0].data["procedure"] = name  # type: ignore[index]
    for event in book.events:
        if event.kind in WEIGHED_BY:
            event.data["step"] = WEIGHED_BY[event.kind]  # type: ignore[index]
    for step in shipped(name).steps:
        if step.id == "shots":
            break
        if step.form not in WEIGHED_BY.values():
            book.write("step.done", {"step": step.id})
    shot = book.form("shot_open").eid
    book.form("shot_close", 15)
    book.form("shot_weigh", shot=shot, scale_after="27.4 lb")
    return book


def changed(name: str) -> Book:
    book = charging(name)
    for step in CLEARED:
        book.write("step.done", {"step": step})
    book.form("end_weight", gross="26.8 lb")
    book.form("cylinder", **SECOND)
    return book


def named(book: Book, handbook: Handbook, **typed: str) -> Accepted | Refused:
    data = with_units("cylinder", SECOND | typed)
    return accept(fold(book.events, handbook), "cylinder", data, handbook)


def shown(
    book: Book, handbook: Handbook, about: str, kind: PageName = "step"
) -> dict[str, list[dict[str, str]]]:
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    page = view(screen, Address(kind, book.sid, about))
    assert isinstance(page, Page)
    return dict(page.context)


def links(book: Book, handbook: Handbook) -> list[str]:
    """Of the alerts beside the form, the same on both pages that have it."""
    at_step = [one["href"] for one in shown(book, handbook, "cylinder")["step_alerts"]]
    on_form = shown(book, handbook, "cylinder", "form")["alerts_now"]
    assert [one["href"] for one in on_form] == at_step
    return at_step


@pytest.mark.parametrize("typed", [{}, {"cylinder_label": "C-1", "cylinder_tare": "9 lb"}])
def test_none_is_named_while_the_hose_is_full_of_liquid(
    handbook: Handbook, typed: dict[str, str]
) -> None:
    refused = named(charging(), handbook, **typed)
    assert isinstance(refused, Refused)
    assert "sprays and burns" in refused.message
    assert "close its valve and clear the hose" in refused.message
    assert "correct its entry on the timeline" in refused.message


def test_the_same_one_is_no_hindrance_nor_one_weighed_or_explained(handbook: Handbook) -> None:
    book = charging()
    assert isinstance(named(book, handbook, cylinder_label="C-1"), Accepted)
    assert links(book, handbook) == [f"/s/{book.sid}/step/close_cylinder"]
    for step in CLEARED:
        book.write("step.done", {"step": step})
    # Before, the second was named and the first one's end weight could not be entered any more.
    refused = named(book, handbook)
    assert isinstance(refused, Refused)
    assert "Weigh this cylinder bare first" in refused.message
    explained = Book(events=[*book.events], mono=book.mono, at=book.at)
    explained.form("reconcile", explanation="The scale broke.")
    assert isinstance(named(explained, handbook), Accepted)
    book.form("end_weight", gross="26.8 lb")
    assert isinstance(named(book, handbook), Accepted)


def test_the_first_ones_end_weight_is_asked_and_kept(handbook: Handbook) -> None:
    book = charging()
    for step in CLEARED:
        book.write("step.done", {"step": step})
    assert links(book, handbook) == [f"/s/{book.sid}/step/end_weight"]
    book.form("end_weight", gross="26.8 lb")
    assert links(book, handbook) == []
    book.form("cylinder", **SECOND)
    (used,) = fold(book.events, handbook).used_before
    assert used.end is not None


@pytest.mark.parametrize("name", NAMES)
def test_the_way_leads_through_the_purge_before_any_add(handbook: Handbook, name: str) -> None:
    book = changed(name)
    procedure = handbook.procedures[name]
    seen = []
    for _ in range(6):
        state = fold(book.events, handbook)
        step = step_now(procedure, state)
        assert step is not None
        seen.append(step.id)
        if step.id in ("shots", "close_cylinder"):
            break
        now = Moment(book.run, book.mono, book.at, 0)
        if step.id != "tare":
            assert advice_now(state, now).action != "add"
            assert isinstance(accept(state, "shot_open", {}, handbook), Refused)
        if step.form == "":
            book.write("step.done", {"step": step.id})
        elif step.form == "start_weight":
            book.form("start_weight", gross="27 lb", step=step.id)
        else:
            tare = {"scale_reading": "27.5 lb", "scale_resolution": "0.25 oz"}
            book.form("tare", scale_mode="gross", step=step.id, **tare)
    joining = [step.id for step in joining_steps(procedure)]
    assert seen == ["start_weight", *joining, "tare", "shots"]
    codes = [one.code for one in gate.blocks(fold(book.events, handbook))]
    assert [one for one in codes if one in ("closed_out", "not_joined", "not_weighed")] == []


def test_a_set_scale_says_it_where_nobody_ticked_the_steps(handbook: Handbook) -> None:
    book = changed("hand-valved-three-port")
    book.form("start_weight", gross="27 lb")
    (block,) = gate.blocks(fold(book.events, handbook))
    assert block.code == "not_joined"
    book.form("tare", scale_mode="gross", scale_reading="27.5 lb", scale_resolution="0.25 oz")
    assert gate.blocks(fold(book.events, handbook)) == ()


def said_at_purge(book: Book, handbook: Handbook, step: str) -> str:
    alerts = shown(book, handbook, step)["step_alerts"]
    return " ".join(
        one["text"] + " " + one["cure"] for one in alerts if one["word"] == "Another cylinder."
    )


def played(procedure: Procedure, said: str) -> tuple[set[str], dict[str, object]]:
    """What is wrong on the way from the cleared hose to liquid of the next cylinder, and what the
    hoses hold then."""
    conditions = usual("R-410A", INVERT)
    hoses = bare(procedure, conditions)
    for step in procedure.steps:
        hoses = run_step(procedure, conditions, hoses, step, False).after
        if step.id == "clear_hoses":
            break
    nut = next(one for one in procedure.valves if one.b == CYLINDER)
    moves: list[tuple[str, str]] = [(nut.id, "off")]
    if "half a turn loose" in said:
        moves.append((nut.id, "loose"))
    if "a crack first" in said:
        moves.append(("low", "open"))
    wrong: set[str] = set()
    purge, liquid = joining_steps(procedure)
    for valve, to in moves:
        made = turn(procedure, conditions, hoses, Action(valve, to))  # type: ignore[arg-type]
        hoses = made.after
        wrong |= {one.sentence for one in made.hazards}
    for step in (purge, liquid):
        run = run_step(procedure, conditions, hoses, step, False)
        hoses = run.after
        wrong |= {one.sentence for made in run.turns for one in made.hazards}
        if step is purge and "close the" in said:
            hoses = turn(procedure, conditions, hoses, Action("low", "closed")).after
    return wrong, {name: filling_of(one) for name, one in hoses.contents.items()}


@pytest.mark.parametrize("name", NAMES)
def test_played_in_the_hose_model_no_air_is_left_and_nothing_sprays(
    handbook: Handbook, name: str
) -> None:
    book = changed(name)
    book.form("start_weight", gross="27 lb")
    purge = joining_steps(handbook.procedures[name])[0]
    wrong, holds = played(shipped(name), said_at_purge(book, handbook, purge.id))
    assert wrong == set()
    assert AIR not in holds.values()


def test_what_the_cleared_hose_brought_is_counted(handbook: Handbook) -> None:
    """One hoseful went in at the change, one comes at the close-out: a reading from before shows
    neither."""
    before = fold(charging().events, handbook)
    book = changed("hand-valved-three-port")
    state = fold(book.events, handbook)
    more = state.readings[-1].hoses_kg - before.readings[-1].hoses_kg
    assert 0.01 < more < 0.05
    assert state.hoses_brought_kg == pytest.approx(more)
    book.form("reading", 900, **READING)
    later = fold(book.events, handbook).readings[-1]
    assert later.hoses_kg == pytest.approx(before.readings[-1].hoses_kg)
