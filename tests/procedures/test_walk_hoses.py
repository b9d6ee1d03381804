"""Recovery and weigh-in come out of the hose model: every move, every stop and every slip."""

from dataclasses import replace
from functools import cache

import pytest
from hose_cases import shipped, usual
from sampling import diagonal

from lowside.core.handbook.procedure import CLOSED, MACHINE_OUT, Action, Procedure
from lowside.core.handbook.system import DIP_TUBE, INVERT, Withdrawal
from lowside.core.hoses.contents import CHARGE, GAS, LIQUID, NOTHING, VAPOR, Conditions
from lowside.core.hoses.run import hazards_of, run_off
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.slips_everywhere import WEATHER, conditions_in, tried_walk
from lowside.procedures.walk_rig import Part, Played, Run, play, rig_of
from lowside.procedures.walk_slips import WALKS, dangers, slips, unwarned, walk_of

CASES = [
    (refrigerant, weather)
    for refrigerant in ("R-410A", "R-134a", "R-454B", "R-32")
    for weather in WEATHER
    if weather != "mild" or refrigerant == "R-410A"
]
RIGS = tuple(name for name in SHIPPED if "red" in [one.id for one in shipped(name).volumes])


@cache
def rig(name: str) -> Procedure:
    return rig_of(shipped(name), load_procedures())


def moves_of(name: str, walk: str, there: Conditions) -> list[Played]:
    parts, begun = walk_of(rig(name), walk, there)
    return play(rig(name), there, parts, begun)


@pytest.mark.parametrize(
    ("name", "walk", "withdrawal", "case"),
    diagonal(RIGS, WALKS, [INVERT, DIP_TUBE], CASES, one_in=3),
)
def test_a_walk_done_right_meets_no_hazard_in_any_weather(
    name: str, walk: str, withdrawal: Withdrawal, case: tuple[str, str]
) -> None:
    there = conditions_in(*case, withdrawal)
    played = moves_of(name, walk, there)
    assert len(played) > 15
    for move in played:
        assert move.hazards == (), move.what
    assert dangers(rig(name), played) == []


def test_the_unit_goes_through_what_the_walk_says() -> None:
    there = conditions_in("R-410A", "mild")
    held = [move.conditions.walk.holds for move in moves_of(RIGS[0], "weigh_in", there)
            if move.conditions.walk is not None]  # fmt: skip
    assert [one for i, one in enumerate(held) if i == 0 or held[i - 1] != one] == [
        GAS, NOTHING, CHARGE,
    ]  # fmt: skip
    recovered = moves_of(RIGS[0], "recovery", there)
    flows = [flow for move in recovered for flow in move.flows if flow.start == MACHINE_OUT]
    assert {LIQUID, VAPOR} <= {flow.phase for flow in flows}


STOPS = {"rec": "machine", "wi_pressure": "nitrogen_valve", "wi_vacuum": "pump_valve",
         "wi_break": "high"}  # fmt: skip
"""What is closed first when a step is broken off; everything else stays as it is."""


@pytest.mark.parametrize("walk", WALKS)
@pytest.mark.parametrize("name", RIGS)
def test_a_walk_may_be_broken_off_after_every_move(name: str, walk: str) -> None:
    for refrigerant, weather in CASES[:2]:
        there = conditions_in(refrigerant, weather)
        parts, begun = walk_of(rig(name), walk, there)
        for i, part in enumerate(parts):
            valve = next((v for key, v in STOPS.items() if part.step_id.startswith(key)), None)
            if valve is None:
                continue
            for j in range(1, len(part.moves) + 1):
                cut = replace(part, moves=(*part.moves[:j], Action(valve, CLOSED)))
                played = play(rig(name), there, (*parts[:i], cut, Part("more", ())), begun)
                assert played[-2].hazards == (), (part.step_id, part.moves[j - 1])


@pytest.mark.parametrize("withdrawal", [INVERT, DIP_TUBE])
@pytest.mark.parametrize("name", RIGS)
def test_once_refrigerant_is_in_the_way_out_with_the_unit_off_is_clean(
    name: str, withdrawal: Withdrawal
) -> None:
    there = conditions_in("R-410A", "mild", withdrawal)
    seen = 0
    for move in moves_of(name, "weigh_in", there):
        charged = move.conditions.walk is None or move.conditions.walk.holds == CHARGE
        if not move.what.startswith(("wi_break", "wi_rest")) or not charged:
            continue
        if move.what == "wi_break: high open":
            continue  # closed first, as every stop of that step begins
        seen += 1
        out = run_off(rig(name), replace(there, walk=None), move.after)
        left = [one for _, one in hazards_of(out) if one.sentence != PUMP_STILL_ON]
        assert left == [], move.what
    assert seen >= 3


PUMP_STILL_ON = "The pump on the tee is still on."
"""The way out is that of the charging hoses: the tee comes off with the yellow hose."""

SLIPS = [
    ("hand-valved-three-port", "R-410A", "mild", INVERT),
    ("hand-valved-three-port", "R-134a", "cold", DIP_TUBE),
    ("hand-valved-four-port", "R-454B", "hot", DIP_TUBE),
    ("self-closing-three-port", "R-22", "cold", INVERT),
    ("self-closing-four-port", "R-32", "hot", INVERT),
    ("plain-three-port", "R-407C", "cold", DIP_TUBE),
]
"""One place for each hookup; `lowside hoses --everywhere` has them all."""


@pytest.mark.parametrize(("name", "refrigerant", "weather", "withdrawal"), SLIPS)
@pytest.mark.parametrize("walk", WALKS)
def test_every_dangerous_slip_in_a_walk_is_flagged(
    walk: str, name: str, refrigerant: str, weather: str, withdrawal: Withdrawal
) -> None:
    there = conditions_in(refrigerant, weather, withdrawal)
    found = tried_walk(rig(name), walk, there)
    assert found.unflagged == ()
    assert found.wrong_when_right == ()
    moves = sum(len(part.moves) for part in walk_of(rig(name), walk, there)[0])
    assert found.count > 2 * moves
    assert found.dangerous > 20


@pytest.mark.parametrize(
    ("walk", "what", "danger"),
    [
        ("weigh_in", "wi_rest: “pump valve on the tee open” when", "refrigerant through the pump"),
        ("weigh_in", "wi_break: omit “low-side manifold valve closed”",
         "liquid into a stopped compressor"),
        ("weigh_in", "wi_vacuum: “blue nut on the suction port loose” when", "air into the unit"),
        ("weigh_in", "wi_off: omit the whole step", "the cylinder is left open"),
        ("recovery", "rec_clear: omit the whole step", "a hose is left on"),
        ("recovery", "rec_run: omit “outlet hose on the recovery cylinder loose”",
         "air into a cylinder"),
        ("recovery", "rec_run: omit “recovery cylinder’s valve open”",
         "the machine pumps against a closed valve"),
    ],
)  # fmt: skip
def test_a_known_slip_does_what_the_trade_knows(walk: str, what: str, danger: str) -> None:
    there = conditions_in("R-410A", "mild")
    parts, begun = walk_of(rig(RIGS[0]), walk, there)
    made = [slip for said, slip in slips(rig(RIGS[0]), parts) if said.startswith(what)]
    assert len(made) == 1
    played = play(rig(RIGS[0]), there, made[0], begun)
    assert danger in [said for _, said in dangers(rig(RIGS[0]), played)]
    assert unwarned(rig(RIGS[0]), played) == []


def test_a_run_that_goes_on_from_a_right_beginning_is_the_whole_run() -> None:
    there = conditions_in("R-407C", "hot")
    parts, begun = walk_of(rig(RIGS[0]), "recovery", there)
    right = Run(parts, tuple(play(rig(RIGS[0]), there, parts, begun)))
    for _, slip in slips(rig(RIGS[0]), parts)[::5]:
        assert play(rig(RIGS[0]), there, slip, begun, right) == play(
            rig(RIGS[0]), there, slip, begun
        )


def test_hoses_without_a_red_one_are_walked_with_the_first_hookup() -> None:
    for name in SHIPPED:
        if name not in RIGS:
            assert rig(name).valves == rig(RIGS[0]).valves


def test_conditions_agree_with_the_usual_ones() -> None:
    assert conditions_in("R-410A", "mild").cylinder_pa == usual("R-410A").cylinder_pa
