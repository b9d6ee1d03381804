"""`lowside hoses --everywhere`: every slip with other refrigerants, in heat and in cold.

The tables of `docs/hoses.md` are for one refrigerant in mild weather. This tries every slip of
every procedure and of both walks with each refrigerant, weather and kind of cylinder here.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from lowside.core.handbook.procedure import Procedure
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure, dew_pressure
from lowside.core.handbook.system import DIP_TUBE, INVERT, Withdrawal
from lowside.core.hoses.contents import Conditions, conditions_from
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.mutations import (
    carry_out,
    facts_of_right_run,
    mutations,
    unwarned,
)
from lowside.procedures.walk_rig import Run, play, rig_of
from lowside.procedures.walk_slips import WALKS, dangers, slips, walk_of
from lowside.procedures.walk_slips import unwarned as unwarned_in_walk
from lowside.thermo.tables import load_properties

REFRIGERANTS = ("R-410A", "R-22", "R-32", "R-454B", "R-407C", "R-134a")
WEATHER = {
    "mild": (278.15, 315.15, 300.15),
    "hot": (285.15, 331.15, 318.15),
    "cold": (268.15, 293.15, 278.15),
}
"""Saturation of suction and liquid line, and the cylinder's temperature [K]: outdoors 27, 45 and
5 °C. Our choice."""


@dataclass(frozen=True)
class Tried:
    """All slips of one procedure or walk in one place: the right run and each slip without a flag.

    `wrong_when_right`: dangers and flags of the run without a slip; it has none.
    """

    name: str
    count: int
    dangerous: int
    unflagged: tuple[str, ...]
    wrong_when_right: tuple[str, ...]


def conditions_in(refrigerant: str, weather: str, withdrawal: Withdrawal = INVERT) -> Conditions:
    """A unit and a cylinder with this refrigerant in this weather, at sea level.

    Raises
        ValueError: the property table does not reach that far.
    """
    table = load_properties().tables[refrigerant]
    suction, liquid, cylinder = WEATHER[weather]
    low = _known(refrigerant, dew_pressure(table, suction))
    high = _known(refrigerant, bubble_pressure(table, liquid))
    middle = _known(refrigerant, bubble_pressure(table, cylinder))
    made = conditions_from(table, low, high, middle, SEA_LEVEL_PA, withdrawal)
    if isinstance(made, OutOfRange):
        raise ValueError(f"{refrigerant} has no table at {made.value}")
    return made


def _known(refrigerant: str, found: float | OutOfRange) -> float:
    if isinstance(found, OutOfRange):
        raise ValueError(f"{refrigerant} has no table at {found.value}")
    return found


def tried(procedure: Procedure, there: Conditions) -> Tried:
    """Every slip of a charging procedure."""
    right = facts_of_right_run(procedure, there)
    wrong = [what for _, what in (*right.dangers, *right.flags)]
    count = 0
    dangerous = 0
    unflagged: list[str] = []
    for slip in mutations(procedure, there):
        facts = carry_out(procedure, there, slip.steps)
        count += 1
        dangerous += 1 if facts.dangers else 0
        unflagged += [f"{slip.what}: {danger}" for _, danger in unwarned(facts)]
    return Tried(procedure.id, count, dangerous, tuple(unflagged), tuple(wrong))


def tried_walk(rig: Procedure, walk: str, there: Conditions) -> Tried:
    """Every slip of a walk."""
    parts, begun = walk_of(rig, walk, there)
    right = Run(parts, tuple(play(rig, there, parts, begun)))
    wrong = [what for _, what in dangers(rig, right.played)]
    wrong += [one.code for move in right.played for one in move.hazards]
    count = 0
    dangerous = 0
    unflagged: list[str] = []
    for what, slip in slips(rig, parts):
        played = play(rig, there, slip, begun, right)
        count += 1
        dangerous += 1 if dangers(rig, played) else 0
        unflagged += [f"{what}: {danger} ({at})" for at, danger in unwarned_in_walk(rig, played)]
    return Tried(f"{rig.id}, {walk}", count, dangerous, tuple(unflagged), tuple(wrong))


def everywhere() -> Iterator[tuple[str, Tried]]:
    """(refrigerant, weather and cylinder; what came of it) for all of them, one at a time."""
    procedures = load_procedures()
    rigs = {name: rig_of(procedures[name], procedures) for name in SHIPPED}
    own = [name for name in SHIPPED if rigs[name].id == name]
    for refrigerant in REFRIGERANTS:
        for weather in WEATHER:
            for withdrawal in (INVERT, DIP_TUBE):
                there = conditions_in(refrigerant, weather, withdrawal)
                where = f"{refrigerant} | {weather} | {withdrawal}"
                for name in SHIPPED:
                    yield where, tried(procedures[name], there)
                for name in own:
                    for walk in WALKS:
                        yield where, tried_walk(rigs[name], walk, there)


def everywhere_command() -> int:
    """Print a row for each, and every slip that nothing warned of; 1 when there is one."""
    bad = 0
    print("| refrigerant | weather | cylinder | procedure | slips | dangerous | not flagged |")
    print("|---|---|---|---|---|---|---|")
    for where, one in everywhere():
        print(f"| {where} | {one.name} | {one.count} | {one.dangerous} | {len(one.unflagged)} |")
        for what in (*one.unflagged, *one.wrong_when_right):
            print(f"  {what}")
            bad += 1
    return 1 if bad else 0
