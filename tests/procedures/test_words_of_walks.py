"""What the steps of recovery and weigh-in say is true: played, weighed and warned of.

Sources beside each test. The hose model plays the words of the last step, not the moves of the
hookup's own close-out (`walk_rig.CLOSE_OUT`), which the words once differed from.
"""

from dataclasses import replace
from math import pi

import pytest
from expert import YES, Bench
from expert_walk import BEFORE
from hose_cases import shipped, usual
from strategies import PROCEDURE

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    CLOSED,
    GATE,
    HANDWHEEL,
    NUT,
    OFF,
    OPEN,
    UPRIGHT,
    Action,
    Procedure,
    Step,
    cautions_of,
    step_by_id,
    valve_by_id,
)
from lowside.core.handbook.saturation import bubble_pressure, liquid_density
from lowside.core.hoses.procedure_edit import arranged, order_of, without
from lowside.core.hoses.procedure_verdict import judged
from lowside.core.pages.walks import NO_PORT_CURE
from lowside.core.session.permission import check_blocks
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.walk_rig import Part, Played, play, rig_of
from lowside.procedures.walk_slips import dangers, walk_of

RIGS = tuple(name for name in SHIPPED if "red" in [one.id for one in shipped(name).volumes])

SAID: tuple[tuple[str, str], ...] = (
    ("Close the cylinder valve.", "cylinder"),
    ("At once crack the low-side manifold valve", "low"),
    ("Cylinder upright.", "upright"),
    ("Close the red hose at the port.", "red"),
    ("A self-closing end: take it off there.", "red off"),
    ("At once open both manifold valves", "both"),
    ("Close everything.", "close"),
    ("All hoses, the pump and the micron gauge off", "off"),
)
"""The sentences of `wi_off` that move something, in order."""


def moves_said(rig: Procedure, what: str) -> list[Action]:
    """What a technician does with this hookup who follows one sentence."""
    red = valve_by_id(rig, "red_nut")
    if what == "close":
        shut = [v for v in rig.valves if v.kind in (GATE, HANDWHEEL)]
        return [Action(v.id, CLOSED) for v in shut]
    if what == "off":
        return [Action(v.id, OFF) for v in rig.valves if v.kind == NUT and "body" not in v.id]
    told = {
        "cylinder": [Action("cylinder_valve", CLOSED)],
        "low": [Action("low", OPEN)],
        "upright": [Action("cylinder_position", UPRIGHT)],
        "red": [Action("red_end", CLOSED), Action("port_valve", CLOSED)],
        "red off": [Action("red_nut", OFF)] if red is not None and red.self_closing else [],
        "both": [Action("low", OPEN), Action("high", OPEN)],
    }
    return [move for move in told[what] if valve_by_id(rig, move.valve) is not None]


def walk_step(name: str) -> Step:
    step = step_by_id(shipped(RIGS[0]), name)
    assert step is not None
    return step


def followed(name: str, leave_out: str = "") -> tuple[Procedure, list[Played]]:
    """The whole weigh-in, its last step by its words."""
    rig = rig_of(shipped(name), load_procedures())
    there = usual("R-410A")
    parts, begun = walk_of(rig, "weigh_in", there)
    moves = [move for _, what in SAID if what != leave_out for move in moves_said(rig, what)]
    off = Part("wi_off", tuple(moves), True)
    return rig, play(rig, there, (*parts[:-1], off), begun)


def test_the_words_that_are_played_are_those_of_the_step() -> None:
    words = " ".join(walk_step("wi_off").do)
    places = [words.find(said) for said, _ in SAID]
    assert -1 not in places
    assert places == sorted(places)


@pytest.mark.parametrize("name", RIGS)
def test_whoever_follows_the_words_of_the_last_step_meets_no_hazard(name: str) -> None:
    rig, played = followed(name)
    assert [(move.what, one.sentence) for move in played for one in move.hazards] == []
    assert dangers(rig, played) == []


@pytest.mark.parametrize("name", RIGS)
def test_a_self_closing_red_hose_left_on_floods_the_compressor(name: str) -> None:
    """What the words of before said: closed at the port, which such a hose cannot be."""
    rig, played = followed(name, "red off")
    red = valve_by_id(rig, "red_nut")
    assert red is not None
    flooded = "liquid line runs into the suction" in [said for _, said in dangers(rig, played)]
    assert flooded == bool(red.self_closing)


TORCH = "flammable_torch"


def codes(step: str, handbook: Handbook, safety_class: str) -> list[str]:
    return [one.code for one in cautions_of(walk_step(step), handbook.cautions, safety_class)]


@pytest.mark.parametrize("step", ["rec_after", "wi_ready"])
def test_before_a_torch_a_flammable_is_purged(step: str, handbook: Handbook) -> None:
    # READ: HomePointe p. 13 item 11 (recover, evacuate, purge, evacuate, purge while a flame opens
    # the circuit); Infiniton PAC-BD12 p. 26 (nitrogen down to atmospheric pressure before brazing);
    # Tecumseh service handbook (a tubing cutter, not a torch).
    for safety_class in ("A2L", "A2", "A3", ""):
        assert TORCH in codes(step, handbook, safety_class)
    assert TORCH not in codes(step, handbook, "A1")
    caution = handbook.cautions[TORCH]
    for word in ("Recover", "oxygen-free nitrogen", "Ventilate", "detector", "Cut", "license"):
        assert word in caution.text
    assert "(all read)" in caution.source


def test_what_says_brazed_says_purged() -> None:
    # Common practice, no source: a nitrogen purge before any braze (TM 9-4120-399-14, read, R-22).
    assert "purged with nitrogen, have an access valve brazed" in NO_PORT_CURE


@pytest.mark.parametrize(("refrigerant", "burns"), [("R-454B", True), ("R-410A", False)])
def test_a_leak_that_can_burn_is_purged_before_a_torch(
    refrigerant: str, burns: bool, handbook: Handbook
) -> None:
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    for name, typed in BEFORE.items():
        extra = {"refrigerant": refrigerant} if name == "unit" else {}
        assert bench.form(name, typed | extra), bench.refused
    assert bench.form("preconditions", YES | {"leak": "leaking"}), bench.refused
    cures = [one.cure for one in check_blocks(bench.state()) if one.code == "leaking"]
    assert len(cures) == 1
    assert ("purge before a torch" in cures[0]) == burns
    assert "repair the leak" in cures[0].lower()


@pytest.mark.parametrize(
    ("step", "asked"),
    [
        ("rec_ready", {"flammable_work"}),
        ("rec_run", {"pressure", "cold_burn", "flammable_a2l"}),
        ("wi_pressure", {"pressure", "nitrogen"}),
        ("wi_run", {"vacuum_power", "flammable_a2l"}),
        ("wi_off", {"pressure", "cold_burn", "venting", "flammable_a2l", "flammable_label"}),
    ],
)
def test_a_step_of_a_walk_has_the_cautions_of_its_like(
    step: str, asked: set[str], handbook: Handbook
) -> None:
    # Our choice: as `connect`, `disconnect` and `off_recover` have them.
    assert asked <= set(codes(step, handbook, "A2L"))
    plain = {one for one in asked if not one.startswith("flammable")}
    assert {one for one in codes(step, handbook, "A1") if one in asked} == plain


def test_the_micron_gauge_is_closed_off_before_refrigerant_goes_in() -> None:
    # READ: Data Aire gForce Ultra, p. 48, a shutoff valve before the micron gauge.
    words = " ".join(walk_step("wi_vacuum").do)
    assert words.index("behind a valve") < words.index("Close the gauge’s valve")
    assert "micron gauge off" in " ".join(walk_step("wi_off").do)


@pytest.mark.parametrize("refrigerant", ["R-410A", "R-22", "R-134a", "R-32", "R-290", "R-600a"])
def test_a_drained_hose_weighs_what_the_words_say(refrigerant: str, handbook: Handbook) -> None:
    # Computed: 60 in of 3/16 in bore, liquid at 100 °F, by the property table.
    table = handbook.tables[refrigerant]
    pressure = bubble_pressure(table, (100.0 + 459.67) / 1.8)
    assert isinstance(pressure, float)
    density = liquid_density(table, pressure)
    assert isinstance(density, float)
    ounces = density * pi / 4.0 * (0.1875 * 0.0254) ** 2 * 60.0 * 0.0254 / 0.028349523
    told = 0.5 if refrigerant in ("R-290", "R-600a") else 1.0
    assert ounces == pytest.approx(told, rel=0.15)
    for name in ("one-charging-hose", "hand-valved-three-port"):
        drain = step_by_id(shipped(name), "off_drain")
        assert drain is not None
        assert "about 1 oz (25 g) for a 60 in hose, half of that with R-290 or R-600a" in " ".join(
            drain.do
        )


@pytest.mark.parametrize("name", SHIPPED)
def test_no_copy_leaves_out_the_second_leak_check(name: str, handbook: Handbook) -> None:
    # READ: a second leak-check before leaving and the label, 42QHC p. 7. A copy is for every
    # refrigerant, so it holds for all: ours.
    procedure = shipped(name)
    review = judged(
        arranged(procedure, without(order_of(procedure), "caps"), procedure),
        procedure,
        handbook.tables,
    )
    assert [remark.step_id for remark in review.refusals] == ["caps"]
    assert "leak-checked" in review.refusals[0].sentence
    assert [remark for remark in review.warnings if remark.step_id == "caps"] == []


def test_a_copy_may_still_reword_it(handbook: Handbook) -> None:
    """The control."""
    procedure = shipped(RIGS[0])
    steps = tuple(
        replace(step, title="Caps on") if step.id == "caps" else step for step in procedure.steps
    )
    assert judged(replace(procedure, steps=steps), procedure, handbook.tables).refusals == ()
