"""What the alert of a stopped unit asks for at the valves, played in the hose model at each turn of
every hose set: nothing sprays, no hose is closed full of liquid. That the cylinder, and the liquid
port, are the reliefs: common practice, no source. Trapped liquid passes 5000 psi with little heat
(READ: Plumbing & HVAC Canada, “Trapped refrigerant”)."""

from collections.abc import Iterator

import pytest
from hose_cases import shipped, usual
from strategies import MACHINE, READING, Book, ready_to_charge, set_up, ulid

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Action, Procedure, Step
from lowside.core.handbook.system import DIP_TUBE, INVERT, Withdrawal
from lowside.core.hoses.contents import Conditions, Hoses, bare
from lowside.core.hoses.hazards import hazards_at_rest, hazards_of_turn
from lowside.core.hoses.run import run_step, turn
from lowside.core.pages.addresses import Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session import gate
from lowside.core.session.block import NO_LIQUID
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.procedures import load_procedures

OPEN_AGAIN = "Leave the cylinder valve open, or open it again"
AS_IT_IS = "Leave the cylinder valve as it is."
WORST = ("liquid_out", "vapour_out", "liquid_locked", "off_with_liquid")
THREE_HOSES = [name for name, one in load_procedures().items() if "clear_high" in str(one.steps)]


def book_at(procedure: str, done: list[str]) -> Book:
    """A session with these steps done and the unit stopped."""
    book = set_up(Book())
    book.events[0].data["procedure"] = procedure
    if "liquid" not in done:
        del book.events[-1]  # the scale is set after it
    for step in done:
        book.write("step.done", {"step": step})
    book.form("system_stopped")
    return book


def asked(handbook: Handbook, procedure: str, done: list[str]) -> str:
    (block,) = [
        one
        for one in gate.blocks(fold(book_at(procedure, done).events, handbook))
        if one.code == "stopped"
    ]
    return block.cure


def states(procedure: Procedure, conditions: Conditions) -> Iterator[tuple[Step, list[str], Hoses]]:
    """The hoses after each turn of each step, with the steps that are done by then."""
    hoses = bare(procedure, conditions)
    done: list[str] = []
    for step in procedure.steps:
        made = run_step(procedure, conditions, hoses, step, False)
        for one in made.turns[:-1]:
            yield step, list(done), one.after
        hoses = made.after
        if step.actions:
            yield step, list(done), hoses
            done.append(step.id)
            yield step, list(done), hoses


def bad(
    procedure: Procedure, conditions: Conditions, hoses: Hoses, moves: list[tuple[str, str]]
) -> set[str]:
    """What is wrong on the way and after that was not so before."""
    before = {
        (one.code, one.sentence) for one in hazards_at_rest(procedure, conditions, hoses, False)
    }
    found = set()
    valves = [valve.id for valve in procedure.valves]
    for valve, to in moves:
        if valve in valves:
            made = turn(procedure, conditions, hoses, Action(valve, to))  # type: ignore[arg-type]
            settings = made.after.settings
            found |= {
                (one.code, one.sentence)
                for one in hazards_of_turn(procedure, conditions, hoses, settings, False)
            }
            hoses = made.after
    found |= {
        (one.code, one.sentence) for one in hazards_at_rest(procedure, conditions, hoses, False)
    }
    return {sentence for code, sentence in found - before if code in WORST}


@pytest.mark.parametrize("withdrawal", [INVERT, DIP_TUBE])
@pytest.mark.parametrize("name", list(load_procedures()))
def test_what_the_alert_asks_for_sprays_nothing_and_locks_nothing(
    handbook: Handbook, name: str, withdrawal: Withdrawal
) -> None:
    procedure, conditions = shipped(name), usual("R-410A", withdrawal)
    said = {}
    for step, done, hoses in states(procedure, conditions):
        if step.id == "clear_high":
            continue
        key = tuple(done)
        if key not in said:
            said[key] = asked(handbook, name, done)
        moves = [("low", "closed")]
        if OPEN_AGAIN in said[key]:
            moves.append(("cylinder_valve", "open"))
        assert bad(procedure, conditions, hoses, moves) == set(), (step.id, done)


def test_the_relief_is_asked_for_where_liquid_is_in_the_hose(handbook: Handbook) -> None:
    """The control: the charge and its close-out, until the hose is cleared."""
    name = "hand-valved-three-port"
    hooked = ["connect", "purge_low", "purge_high", "purge_service"]
    for done, wanted in (
        ([], AS_IT_IS),
        (hooked, AS_IT_IS),
        ([*hooked, "liquid"], OPEN_AGAIN),
        ([*hooked, "liquid", "shots", "close_cylinder"], OPEN_AGAIN),
        ([*hooked, "liquid", "shots", "close_cylinder", "clear_hoses"], AS_IT_IS),
        ([*hooked, "liquid", "off_stop"], AS_IT_IS),
        ([*hooked, "liquid", "off_cylinder"], AS_IT_IS),
        ([*hooked, "liquid", "off_recover"], AS_IT_IS),
        ([*hooked, "liquid", "off_hoses"], AS_IT_IS),
        ([*hooked, "liquid", "disconnect"], AS_IT_IS),
    ):
        told = asked(handbook, name, done)
        assert told.startswith("Close the low-side manifold valve. ")
        assert wanted in told, done


def test_a_shot_or_a_set_scale_says_liquid_where_nobody_ticked_the_step(
    handbook: Handbook,
) -> None:
    for book in (set_up(Book()), ready_to_charge(Book())):
        assert book.events[-1].kind in ("scale.set", "decision.made")
        book.form("system_stopped")
        (block,) = [
            one for one in gate.blocks(fold(book.events, handbook)) if one.code == "stopped"
        ]
        assert OPEN_AGAIN in block.cure


def dangers(book: Book, handbook: Handbook, step: str) -> list[str]:
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    page = view(screen, Address("step", book.sid, step))
    assert isinstance(page, Page)
    alerts = page.context["step_alerts"]
    return [f"{one['text']} {one['cure']}" for one in alerts if one["word"] == "Danger."]


@pytest.mark.parametrize("name", THREE_HOSES)
def test_while_the_red_hose_is_cleared_its_own_relief_is_named(
    handbook: Handbook, name: str
) -> None:
    procedure, conditions = shipped(name), usual()
    done = ["connect", "liquid", "shots", "close_cylinder", "clear_hoses", "final_reading"]
    told = dangers(book_at(name, done), handbook, "clear_high")[0]
    assert "Keep the high-side manifold valve closed. The red hose’s end is its relief." in told
    assert told.startswith("Do not do this step now.")
    reliefs = {
        "hand": ("red_end", "open", "Leave the red hose-end valve open"),
        "plai": ("port_valve", "open", "Leave the hand valve on the liquid port open"),
        "self": ("red_nut", "tight", "screw it on again"),
    }
    valve, to, words = reliefs[name[:4]]
    assert words in " ".join(procedure.off_steps[0].do)
    for step, _, hoses in states(procedure, conditions):
        if step.id == "clear_high":
            left = bad(
                procedure,
                conditions,
                hoses,
                [("low", "closed"), ("high", "closed"), (valve, to)],
            )
            assert not [one for one in left if "full of liquid" in one], left


@pytest.mark.parametrize("step", ["close_cylinder", "clear_hoses", "clear_high", "disconnect"])
def test_no_hose_is_worked_at_while_a_heating_unit_fills_the_blue_one(
    handbook: Handbook, step: str
) -> None:
    """READ: in heating high pressure is at the larger service valve (SSZ14 p. 28). At that pressure
    the yellow hose fills in the hose model, and “Clear the yellow hose” closes it full."""
    heats = MACHINE | {"mode": "heating", "port": "large_line"}
    book = ready_to_charge(Book())
    assert dangers(book, handbook, step) == []
    book.form("machine", **heats)
    (told,) = dangers(book, handbook, step)
    assert "The blue hose would see high pressure there." in told
    assert "runs in cooling" in told
    # At the true suction port the close-out goes on.
    book.form("machine", **heats | {"port": "suction_port"})
    assert dangers(book, handbook, step) == []
    assert dangers(book, handbook, "final_reading") == []


FLOODED = {"suction_line": "42 °F"}
"""Saturation at the usual reading’s suction pressure is 42.4 °F."""
ABOVE_THE_PLATE = {"liquid_pressure": "460 psig", "liquid_line": "118 °F"}
NOT_READ_SO = {"suction_line": "62 °F"}


def book_read(typed: dict[str, str], *done: str, name: str = "hand-valved-three-port") -> Book:
    book = ready_to_charge(Book())
    book.events[0].data["procedure"] = name  # type: ignore[index]
    unit = next(one for one in book.events if one.kind == "unit.set")
    plate = {"high_side_limit": "450", "high_side_limit_unit": "psig"}
    book.write("unit.set", {**unit.data, **plate})
    for step in done:
        book.write("step.done", {"step": step})
    book.form("reading", 900, **(READING | typed))
    return book


@pytest.mark.parametrize("typed", [FLOODED, ABOVE_THE_PLATE])
def test_a_stop_by_the_reading_asks_for_the_valves_as_they_are(
    handbook: Handbook, typed: dict[str, str]
) -> None:
    """The finding itself says nothing of valves: it stays as the hoses change."""
    for done, wanted in (((), OPEN_AGAIN), (("close_cylinder", "clear_hoses"), AS_IT_IS)):
        state = fold(book_read(typed, *done).events, handbook)
        block = gate.blocks(state)[0]
        assert block.code == "reading_stop"
        told = block.sentence + " " + block.cure
        assert told.count("Close the low-side manifold valve.") == 1
        assert wanted in told
        assert "manifold valve" not in block.sentence


@pytest.mark.parametrize("typed", [FLOODED, ABOVE_THE_PLATE])
@pytest.mark.parametrize("name", THREE_HOSES)
def test_no_liquid_line_is_bled_into_a_suction_that_is_to_be_stopped(
    handbook: Handbook, name: str, typed: dict[str, str]
) -> None:
    """Common practice, no source."""
    cleared = ("close_cylinder", "clear_hoses")
    told = dangers(book_read(typed, *cleared, name=name), handbook, "clear_high")
    assert told
    assert told[0].startswith("Do not do this step now.")
    assert "The red hose’s end is its relief." in told[0]
    assert "close out with the unit off (below)" in told[0]
    assert dangers(book_read(typed, name=name), handbook, "close_cylinder") != []
    assert dangers(book_read(typed, *cleared, name=name), handbook, "disconnect") == []
    assert dangers(book_read(NOT_READ_SO, *cleared, name=name), handbook, "clear_high") == []


@pytest.mark.parametrize("name", list(load_procedures()))
def test_no_other_refrigerant_is_cleared_into_the_unit(handbook: Handbook, name: str) -> None:
    """Common practice, no source. The charging page leads to the close-out with the unit off."""
    book = ready_to_charge(Book())
    book.events[0].data["procedure"] = name  # type: ignore[index]
    of = next(one for one in book.events if one.kind == "cylinder.set")
    out = f"/s/{book.sid}/step/off_stop"
    close_out = [one.id for one in shipped(name).steps if one.stage == "Close out" and one.actions]
    opens = [one for one in close_out if one != "disconnect"]
    assert opens[:2] == ["close_cylinder", "clear_hoses"]
    for step in close_out:
        assert dangers(book, handbook, step) == []
    assert thumb(book, handbook)["reading"] != out
    book.write("cylinder.set", {**of.data, "cylinder_refrigerant": "R-22"})
    for step in opens:
        told = dangers(book, handbook, step)[0]
        assert told.startswith("Do not do this step now. It lets another refrigerant into the unit")
        assert told.endswith("Close out with the unit off (below).")
    assert dangers(book, handbook, "disconnect") == []
    shown = thumb(book, handbook)
    assert (shown["reading"], shown["reading_style"], shown["close_out"]) == (out, "primary", None)
    for step in shipped(name).off_steps:
        assert dangers(book, handbook, step.id) == []
    book.write("cylinder.set", of.data)
    assert [one for step in close_out for one in dangers(book, handbook, step)] == []


def thumb(book: Book, handbook: Handbook) -> dict[str, object]:
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    page = view(screen, Address("step", book.sid, "shots"))
    assert isinstance(page, Page)
    return dict(page.context["thumb"])


def test_with_the_hoses_off_the_charging_page_opens_no_cylinder(handbook: Handbook) -> None:
    book = book_read(NOT_READ_SO, "off_stop", "off_drain", "off_cylinder", "off_hoses")
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), None)
    page = view(screen, Address("step", book.sid, "shots"))
    assert isinstance(page, Page)
    assert page.context["advice"]["how"].endswith(NO_LIQUID)
