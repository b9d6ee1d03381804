"""Another cylinder in a weigh-in, played in the hose model as the pages tell it: before the first
lot the pump empties its hose, after one the unit's vapor pushes the air out. Without that, air goes
into the unit."""

import pytest
from hose_cases import shipped

from lowside.core.handbook.procedure import (
    CLOSED,
    LOOSE,
    OFF,
    OPEN,
    TIGHT,
    Action,
    valve_by_id,
)
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.slips_everywhere import conditions_in
from lowside.procedures.walk_rig import CHARGE_OFF, Moves, Part, Played, play, rig_of
from lowside.procedures.walk_slips import dangers, walk_of

RIGS = [name for name in SHIPPED if "red" in [one.id for one in shipped(name).volumes]]
SHUT: Moves = (("low", CLOSED), ("high", CLOSED))
DRAINED: Moves = (("cylinder_position", "below"), ("cylinder_valve", CLOSED))
NEXT: Moves = (
    ("yellow_nut", LOOSE),
    ("yellow_nut", OFF),
    ("cylinder_position", "upright"),
    ("yellow_nut", LOOSE),
)
PUMPED: Moves = (("yellow_nut", TIGHT), ("pump_valve", OPEN), ("pump_valve", CLOSED))
PURGED: Moves = (("low", OPEN), ("yellow_nut", TIGHT), ("low", CLOSED))
TIGHTENED: Moves = (("yellow_nut", TIGHT),)


def changed(name: str, weather: str, moves: Moves, lots: int) -> list[Played]:
    """The weigh-in with these moves after so many lots, and one more lot after them."""
    there = conditions_in("R-410A", weather)
    rig = rig_of(shipped(name), load_procedures())
    parts, begun = walk_of(rig, "weigh_in", there)
    at = [part.step_id for part in parts].index("wi_break")
    change = [Action(valve, to) for valve, to in moves if valve_by_id(rig, valve) is not None]
    lot = [Action(valve, to) for valve, to in CHARGE_OFF if valve_by_id(rig, valve) is not None]
    between = [Part("wi_change", tuple(change)), Part("wi_break", tuple(lot))]
    return play(rig, there, [*parts[: at + lots], *between, *parts[at + 1 :]], begun)


@pytest.mark.parametrize("weather", ["mild", "hot", "cold"])
@pytest.mark.parametrize("name", RIGS)
def test_the_change_as_told_meets_no_hazard(name: str, weather: str) -> None:
    for moves, lots in (((*SHUT, *NEXT, *PUMPED), 0), ((*DRAINED, *NEXT, *PURGED), 1)):
        played = changed(name, weather, moves, lots)
        assert [move.what for move in played if move.hazards] == []
        assert dangers(shipped(name), played) == []


@pytest.mark.parametrize("name", RIGS)
def test_without_it_air_goes_in_or_is_drawn_in(name: str) -> None:
    yellow = next(valve for valve in shipped(name).valves if valve.id == "yellow_nut")
    if yellow.self_closing:
        return
    for moves, lots in (
        ((*SHUT, *NEXT, *TIGHTENED), 0),
        ((*NEXT, *PUMPED), 0),
        ((*DRAINED, *NEXT, *TIGHTENED), 1),
    ):
        assert dangers(shipped(name), changed(name, "mild", moves, lots)) != []
