"""Recovery and weigh-in come out of the hose model: every move, every stop and every slip.

What happened is judged here from what moved and what the hoses hold; what was flagged comes from
the hazards, which are judged from the open ways before anything moves.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import pytest
from hose_cases import shipped, usual

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CLOSED,
    CYLINDER,
    LIQUID_LINE,
    MACHINE_OUT,
    NUT,
    OFF,
    OUTSIDE,
    PUMP,
    RECOVERY_CYLINDER,
    SUCTION,
    Action,
    Procedure,
)
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure, dew_pressure
from lowside.core.handbook.system import DIP_TUBE, INVERT, Withdrawal
from lowside.core.hoses import hazard_words as hz
from lowside.core.hoses.contents import (
    AIR,
    CHARGE,
    GAS,
    LIQUID,
    NOTHING,
    VAPOUR,
    Conditions,
    conditions_from,
    liquid_at,
    volumes_of,
)
from lowside.core.hoses.network import boundaries_of, groups, junctions, links
from lowside.core.hoses.run import hazards_of, run_off
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.walk_rig import (
    BREAK_GAUGE_PA,
    TEST_GAUGE_PA,
    Part,
    Played,
    play,
    recovery,
    rig_of,
    unit_with,
    weigh_in,
)
from lowside.thermo.tables import load_properties

SEA_PA = 101325.0
WEATHER = {"mild": (278.15, 315.15, 300.15), "hot": (284.15, 331.15, 314.15),
           "cold": (270.15, 300.15, 277.15)}  # fmt: skip
"""Saturation of suction, liquid line and cylinder [K]: 27, 41 and 4 °C outdoors."""
CASES = [
    (refrigerant, weather)
    for refrigerant in ("R-410A", "R-134a", "R-454B", "R-32")
    for weather in WEATHER
    if weather != "mild" or refrigerant == "R-410A"
]
WALKS = ("recovery", "weigh_in")
RIGS = tuple(name for name in SHIPPED if "red" in [one.id for one in shipped(name).volumes])


@cache
def conditions(refrigerant: str, weather: str, withdrawal: Withdrawal = INVERT) -> Conditions:
    table = load_properties().tables[refrigerant]
    suction, liquid, cylinder = WEATHER[weather]
    low, high, middle = (
        dew_pressure(table, suction),
        bubble_pressure(table, liquid),
        bubble_pressure(table, cylinder),
    )
    assert not isinstance(low, OutOfRange)
    assert not isinstance(high, OutOfRange)
    assert not isinstance(middle, OutOfRange)
    found = conditions_from(table, low, high, middle, SEA_PA, withdrawal)
    assert not isinstance(found, OutOfRange)
    return found


@cache
def rig(name: str) -> Procedure:
    return rig_of(shipped(name), load_procedures())


def walk_of(name: str, walk: str, there: Conditions) -> tuple[Sequence[Part], Conditions]:
    """The parts, and the unit as the walk begins."""
    if walk == "recovery":
        begun = unit_with(there, CHARGE, there.cylinder_pa, SEA_PA + BREAK_GAUGE_PA)
        return recovery(rig(name)), begun
    return weigh_in(rig(name), there), unit_with(there, GAS, SEA_PA, SEA_PA + TEST_GAUGE_PA)


def moves_of(name: str, walk: str, there: Conditions) -> list[Played]:
    parts, begun = walk_of(name, walk, there)
    return play(rig(name), there, parts, begun)


@pytest.mark.parametrize("withdrawal", [INVERT, DIP_TUBE])
@pytest.mark.parametrize("walk", WALKS)
@pytest.mark.parametrize("name", RIGS)
def test_a_walk_done_right_meets_no_hazard_in_any_weather(
    name: str, walk: str, withdrawal: Withdrawal
) -> None:
    for refrigerant, weather in CASES:
        there = conditions(refrigerant, weather, withdrawal)
        played = moves_of(name, walk, there)
        assert len(played) > 15
        for move in played:
            assert move.hazards == (), (refrigerant, weather, move.what)
        assert dangers(name, played) == [], (refrigerant, weather)


def test_the_unit_goes_through_what_the_walk_says() -> None:
    there = conditions("R-410A", "mild")
    held = [move.conditions.walk.holds for move in moves_of(RIGS[0], "weigh_in", there)
            if move.conditions.walk is not None]  # fmt: skip
    assert [one for i, one in enumerate(held) if i == 0 or held[i - 1] != one] == [
        GAS, NOTHING, CHARGE,
    ]  # fmt: skip
    recovered = moves_of(RIGS[0], "recovery", there)
    flows = [flow for move in recovered for flow in move.flows if flow.start == MACHINE_OUT]
    assert {LIQUID, VAPOUR} <= {flow.phase for flow in flows}


STOPS = {"rec": "machine", "wi_pressure": "nitrogen_valve", "wi_vacuum": "pump_valve",
         "wi_break": "high"}  # fmt: skip
"""What is closed first when a step is broken off; everything else stays as it is."""


@pytest.mark.parametrize("walk", WALKS)
@pytest.mark.parametrize("name", RIGS)
def test_a_walk_may_be_broken_off_after_every_move(name: str, walk: str) -> None:
    for refrigerant, weather in CASES[:2]:
        there = conditions(refrigerant, weather)
        parts, begun = walk_of(name, walk, there)
        for i, part in enumerate(parts):
            valve = next((v for key, v in STOPS.items() if part.step_id.startswith(key)), None)
            if valve is None:
                continue
            for j in range(1, len(part.moves) + 1):
                cut = replace(part, moves=(*part.moves[:j], Action(valve, CLOSED)))
                played = play(rig(name), there, (*parts[:i], cut, Part("more", ())), begun)
                assert played[-1].hazards == (), (part.step_id, part.moves[j - 1])


@pytest.mark.parametrize("withdrawal", [INVERT, DIP_TUBE])
@pytest.mark.parametrize("name", RIGS)
def test_once_refrigerant_is_in_the_way_out_with_the_unit_off_is_clean(
    name: str, withdrawal: Withdrawal
) -> None:
    there = conditions("R-410A", "mild", withdrawal)
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

FLAGS: dict[str, tuple[str, ...]] = {
    "air into a cylinder": (hz.AIR_IN,),
    "air into the unit": (hz.AIR_IN, hz.IN_VACUUM),
    "liquid sprays out": (hz.LIQUID_OUT, hz.CORE_PRESSED),
    "refrigerant through the pump": (hz.PUMP_UNDER_PRESSURE,),
    "liquid into a stopped compressor": (hz.FED_OFF,),
    "liquid is trapped": (hz.LIQUID_LOCKED,),
    "the machine pumps against a closed valve": (hz.DEAD_HEADED,),
    "a hose is left on": (hz.HOSE_LEFT_ON,),
    "the cylinder is left open": (hz.CYLINDER_LEFT_OPEN,),
}


def dangers(name: str, played: Sequence[Played]) -> list[tuple[int, str]]:
    """What went wrong, by what moved and what is where."""
    found: list[tuple[int, str]] = []
    dead = False
    for i, move in enumerate(played):
        walk = move.conditions.walk
        if walk is not None and i > 0:
            walk = played[i - 1].conditions.walk
        for flow in move.flows:
            if flow.air > 1.0e-3 and flow.end in (CYLINDER, RECOVERY_CYLINDER):
                found.append((i, "air into a cylinder"))
            live = walk is None or walk.holds in (CHARGE, NOTHING)
            if flow.air > 1.0e-3 and flow.end in (SUCTION, LIQUID_LINE) and live:
                found.append((i, "air into the unit"))
            if flow.end == OUTSIDE and flow.phase == LIQUID and flow.kg > 1.0e-6:
                found.append((i, "liquid sprays out"))
            if flow.end == PUMP and flow.phase != AIR and flow.kg > 1.0e-4:
                found.append((i, "refrigerant through the pump"))
            into = (flow.start, flow.end, flow.phase) == (CYLINDER, SUCTION, LIQUID)
            if into and walk is not None:
                found.append((i, "liquid into a stopped compressor"))
        if move.what.endswith(": done") and _trapped(name, move):
            found.append((i, "liquid is trapped"))
        closed = _alone(name, move)
        if closed and dead:
            found.append((i, "the machine pumps against a closed valve"))
        dead = closed
    last = played[-1].after.settings
    for valve in rig(name).valves:
        if valve.kind == NUT and valve.b in BOUNDARIES and last[valve.id] != OFF:
            found.append((len(played) - 1, "a hose is left on"))
    if last["cylinder_valve"] != CLOSED:
        found.append((len(played) - 1, "the cylinder is left open"))
    return found


def _alone(name: str, move: Played) -> bool:
    """Whether the machine's outlet hose leads nowhere while the machine runs."""
    ways = links(rig(name), move.after.settings)
    return any(
        boundaries_of(junctions(group, ways)) == [MACHINE_OUT] for group in groups(rig(name), ways)
    )


def _trapped(name: str, move: Played) -> bool:
    ways = links(rig(name), move.after.settings)
    sizes = volumes_of(rig(name), move.conditions)
    for group in groups(rig(name), ways):
        if junctions(group, ways):
            continue
        held = [move.after.contents[one] for one in group]
        full = sum(
            one.liquid_kg / liquid_at(move.conditions.densities, one.pressure_pa) for one in held
        )
        if full > 0.8 * sum(sizes[one] for one in group):
            return True
    return False


def unwarned(name: str, played: Sequence[Played]) -> list[tuple[str, str]]:
    flags = [(i, one.code) for i, move in enumerate(played) for one in move.hazards]
    return [
        (played[i].what, danger)
        for i, danger in dangers(name, played)
        if not [1 for at, code in flags if at <= i and code in FLAGS[danger]]
    ]


SLIPS = [
    *[(name, "R-410A", "mild") for name in RIGS],
    (RIGS[0], "R-134a", "cold"),
    (RIGS[0], "R-454B", "hot"),
    (RIGS[0], "R-32", "hot"),
]


@pytest.mark.parametrize(("name", "refrigerant", "weather"), SLIPS)
@pytest.mark.parametrize("walk", WALKS)
def test_every_dangerous_omission_in_a_walk_is_flagged(
    walk: str, name: str, refrigerant: str, weather: str
) -> None:
    there = conditions(refrigerant, weather)
    parts, begun = walk_of(name, walk, there)
    kinds = set()
    for i, part in enumerate(parts):
        for j in range(len(part.moves)):
            moves = part.moves[:j] + part.moves[j + 1 :]
            slip = (*parts[:i], replace(part, moves=moves), *parts[i + 1 :])
            played = play(rig(name), there, slip, begun)
            assert unwarned(name, played) == [], (part.step_id, part.moves[j])
            kinds |= {danger for _, danger in dangers(name, played)}
    assert len(kinds) >= 4, kinds


def test_hoses_without_a_red_one_are_walked_with_the_first_hookup() -> None:
    for name in SHIPPED:
        if name not in RIGS:
            assert rig(name).valves == rig(RIGS[0]).valves


def test_conditions_agree_with_the_usual_ones() -> None:
    assert conditions("R-410A", "mild").cylinder_pa == usual("R-410A").cylinder_pa
