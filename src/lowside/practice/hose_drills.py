"""Drills at the hoses: one turn of a valve each, and the hose model says what it does.

The picture is shown first, then the turn, and a guess is asked before the model speaks. What is
right is not written here: the same model as at work finds it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from random import Random
from typing import Any, Literal

from lowside.core.handbook.procedure import (
    CLOSED,
    INVERTED,
    LOOSE,
    OFF,
    OPEN,
    TIGHT,
    UPRIGHT,
    Action,
    Procedure,
    ValveSetting,
    off_steps_for,
)
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import INVERT
from lowside.core.hoses.contents import (
    CHARGE,
    GAS,
    Conditions,
    Hoses,
    bare,
    unit_off,
    usual_conditions,
    with_pressures,
)
from lowside.core.hoses.drawing import draw
from lowside.core.hoses.hazard_words import Hazard, HazardCode
from lowside.core.hoses.hazards import hazards_at_rest, hazards_of_turn, valve_title
from lowside.core.hoses.run import run_step, turn
from lowside.core.hoses.words import SETTING_WORDS, in_words
from lowside.library import load_handbook
from lowside.procedures import load_procedures
from lowside.procedures.walk_rig import (
    BREAK_GAUGE_PA,
    TEST_GAUGE_PA,
    play,
    recovery,
    rig_of,
    unit_with,
    weigh_in,
)

Weather = Literal["", "vacuum", "cold cylinder"]
Way = Literal["on", "off", "recovery", "weigh_in"]
"""The hoses of a running unit, of one that must stay off, or of a walk."""

HOSES = "hand-valved-three-port"
REFRIGERANT = "R-410A"
VACUUM_PA = 80000.0
"""A suction below the air's pressure. Our choice."""
COLD_SHARE = 0.8
"""A cold cylinder's pressure as a share of the suction's. Our choice."""
WRONG_OFFERED = 4
NOTHING = "nothing"

LABELS: dict[HazardCode, str] = {
    "air_in": "Air goes in",
    "liquid_out": "Liquid sprays out",
    "vapour_out": "Vapor blows out",
    "high_to_cylinder": "The high side pushes into the cylinder",
    "high_to_suction": "The high side floods the compressor",
    "unit_to_cylinder": "The unit’s charge runs into the cylinder",
    "liquid_held_open": "Liquid runs into the suction without an end",
    "cylinder_held_open": "The cylinder feeds the unit, and nobody weighs it",
    "vapour_fed": "Vapor goes in instead of liquid",
    "liquid_locked": "Liquid is trapped, and the hose can burst",
    "off_with_liquid": "A hose full of liquid is off its port",
    "left_blowing": "A leak is left behind",
    "cylinder_left_open": "The cylinder is left open",
    "hose_left_on": "A hose is left on",
    "core_pressed": "The nut presses the core, and liquid sprays",
    "in_vacuum": "The nut lets air into a suction in vacuum",
    "recovery_draws": "The recovery machine pulls on more than the hoses",
    "pump_under_pressure": "The vacuum pump gets pressure",
    "dead_headed": "The recovery machine pumps against a closed end",
    "fed_off": "Liquid runs into a stopped compressor",
}


SAME_IN_WORDS: tuple[frozenset[str], ...] = (
    frozenset({"left_blowing", "vapour_out", "liquid_out", "core_pressed"}),
    frozenset({"air_in", "in_vacuum"}),
    frozenset({"liquid_held_open", "cylinder_held_open"}),
    frozenset({"liquid_held_open", "fed_off"}),
    frozenset({"hose_left_on", "cylinder_left_open"}),
)
"""Where one of these is right, another is hardly wrong."""


@dataclass(frozen=True)
class HoseDrill:
    """One turn. `after` is the step that comes next (`on`, `off`) and `moves` how far into it."""

    id: str
    told: str
    ask: Action | None
    """What is turned now; `None`: nothing more, all is left as it is."""
    after: str = ""
    moves: int = 0
    way: Way = "on"
    weather: Weather = ""
    first: tuple[Action, ...] = ()
    """Turned before, and part of what is found."""
    in_shot: bool = False


@dataclass(frozen=True)
class Found:
    """Where a drill begins and what its turn does."""

    procedure: Procedure
    conditions: Conditions
    before: Hoses
    after: Hoses
    hazards: tuple[Hazard, ...]


def _to(valve: str, to: ValveSetting) -> Action:
    return Action(valve, to)


RUNS = "The unit runs."
SHOT = RUNS + " A shot is to be given."
COLD = RUNS + " The cylinder is colder than the indoor coil."
OFF_UNIT = "The unit is off and must stay off."

DRILLS: tuple[HoseDrill, ...] = (
    HoseDrill("h01", RUNS, _to("high", OPEN), "tare"),
    HoseDrill("h02", RUNS, _to("low", OPEN), "tare"),
    HoseDrill("h03", COLD, _to("low", OPEN), "tare", weather="cold cylinder"),
    HoseDrill("h04", RUNS, _to("cylinder_valve", CLOSED), "tare"),
    HoseDrill("h05", RUNS, _to("high", OPEN), "purge_service"),
    HoseDrill("h06", RUNS, _to("red_nut", OFF), "purge_service"),
    HoseDrill("h07", RUNS, _to("red_nut", LOOSE), "purge_high"),
    HoseDrill("h08", RUNS, _to("blue_body_nut", LOOSE), "purge_high"),
    HoseDrill("h09", RUNS, _to("cylinder_valve", OPEN), "clear_hoses"),
    HoseDrill("h10", RUNS, _to("blue_nut", LOOSE), "connect"),
    HoseDrill(
        "h11",
        RUNS + " The low-side gauge would be below 0 psig.",
        _to("blue_nut", TIGHT),
        "connect",
        weather="vacuum",
    ),
    HoseDrill(
        "h12",
        SHOT,
        _to("low", OPEN),
        "shots",
        first=(_to("cylinder_position", UPRIGHT),),
        in_shot=True,
    ),
    HoseDrill("h13", COLD, _to("yellow_nut", OFF), "disconnect", weather="cold cylinder"),
    HoseDrill("h14", RUNS + " The work is done.", None, "disconnect"),
    HoseDrill(
        "h15",
        RUNS + " The work is done.",
        None,
        "caps",
        first=(_to("cylinder_valve", OPEN),),
    ),
    HoseDrill("h16", OFF_UNIT, _to("cylinder_valve", OPEN), "off_recover", 5, "off"),
    HoseDrill("h17", OFF_UNIT, _to("low", OPEN), "", 22, "weigh_in"),
    HoseDrill("h18", OFF_UNIT, _to("pump_valve", OPEN), "", 22, "weigh_in"),
    HoseDrill("h19", OFF_UNIT, _to("machine", OPEN), "", 4, "recovery"),
    HoseDrill("h20", RUNS, _to("blue_body_nut", OFF), "disconnect"),
    HoseDrill("h21", RUNS, _to("cylinder_position", INVERTED), "liquid"),
    HoseDrill("h22", SHOT, _to("low", OPEN), "shots", in_shot=True),
    HoseDrill("h23", RUNS, _to("low", OPEN), "purge_low"),
    HoseDrill(
        "h24",
        RUNS,
        _to("cylinder_valve", OPEN),
        "purge_service",
        first=(_to("yellow_nut", TIGHT), _to("yellow_end", OPEN)),
    ),
)


def drill_by_id(drill_id: str) -> HoseDrill | None:
    """The drill, `None` when none has that id."""
    return next((one for one in DRILLS if one.id == drill_id), None)


@lru_cache(maxsize=64)
def found(drill: HoseDrill) -> Found:
    """Where the drill begins and what its turn does, by the hose model."""
    procedure, conditions, hoses = _reached(drill)
    for action in drill.first:
        hoses = turn(procedure, conditions, hoses, action).after
    if drill.ask is None:
        left = hazards_at_rest(procedure, conditions, hoses, True)
        return Found(procedure, conditions, hoses, hoses, tuple(left))
    made = turn(procedure, conditions, hoses, drill.ask)
    settings = made.after.settings
    hazards = hazards_of_turn(procedure, conditions, hoses, settings, drill.in_shot)
    if not hazards and not drill.in_shot:
        hazards = hazards_at_rest(procedure, conditions, made.after, False)
    return Found(procedure, conditions, hoses, made.after, tuple(hazards))


def question(drill: HoseDrill) -> str:
    """The turn as a sentence."""
    if drill.ask is None:
        return "You leave everything as it is and drive away. What is wrong?"
    title = valve_title(found(drill).procedure, drill.ask.valve)
    word = "running" if drill.ask.valve == "machine" else SETTING_WORDS[drill.ask.to]
    return f"Now you set this: {title}, {word}. What happens?"


def pictures(drill: HoseDrill, answered: bool) -> list[dict[str, Any]]:
    """The hoses before the turn, and after it once the guess is made. A walk’s hookup has parts
    that the drawing does not have: it is told in words."""
    there = found(drill)
    shown = [("As it is", there.before)]
    if answered and drill.ask is not None:
        shown.append(("After it", there.after))
    drawn = drill.way in ("on", "off")
    ring = {} if drill.ask is None else {drill.ask.valve: ""}
    made: list[dict[str, Any]] = []
    for caption, hoses in shown:
        if drawn:
            picture = draw(
                there.procedure, there.conditions, hoses, (), ring, caption, drill.way == "on"
            )
        else:
            lines = in_words(there.procedure, there.conditions, hoses, ())
            picture = {"caption": caption, "lines": lines}
        made.append(picture | {"drawn": drawn})
    return made


def codes(drill: HoseDrill) -> list[str]:
    """Every answer that is right."""
    return [one.code for one in found(drill).hazards] or [NOTHING]


def choices(drill: HoseDrill) -> list[tuple[str, str]]:
    """What may be guessed: every right answer, a few wrong ones, and that nothing is wrong."""
    right = codes(drill)
    wrong = [code for code in LABELS if code not in right and not _is_also_true(code, right)]
    random = Random(drill.id)
    offered: list[str] = random.sample(wrong, WRONG_OFFERED)
    offered.extend(code for code in dict.fromkeys(right) if code != NOTHING)
    random.shuffle(offered)
    return [(code, label_of(code)) for code in (*offered, NOTHING)]


def _is_also_true(code: str, right: Sequence[str]) -> bool:
    """Whether one could say that as well, so that it is no wrong answer."""
    return any(code in group and not group.isdisjoint(right) for group in SAME_IN_WORDS)


def label_of(code: str) -> str:
    """A guess in words."""
    for known, label in LABELS.items():
        if known == code:
            return label
    return "Nothing is wrong"


def _reached(drill: HoseDrill) -> tuple[Procedure, Conditions, Hoses]:
    procedure = load_procedures()[HOSES]
    conditions = _conditions(drill.weather)
    if drill.way in ("recovery", "weigh_in"):
        return _in_walk(drill, procedure, conditions)
    hoses = bare(procedure, conditions)
    last = drill.after if drill.way == "on" else "close_cylinder"
    for step in procedure.steps:
        if step.id == last:
            break
        hoses = run_step(procedure, conditions, hoses, step, False).after
    if drill.way == "on":
        return procedure, conditions, hoses
    for number, step in enumerate(off_steps_for(procedure, conditions.withdrawal)):
        there = conditions if number == 0 else unit_off(conditions)
        if step.id == drill.after:
            turns = run_step(procedure, there, hoses, step, False).turns
            return procedure, there, turns[drill.moves - 1].after
        hoses = run_step(procedure, there, hoses, step, False).after
    raise LookupError(drill.id)


def _in_walk(
    drill: HoseDrill, procedure: Procedure, conditions: Conditions
) -> tuple[Procedure, Conditions, Hoses]:
    rig = rig_of(procedure, load_procedures())
    if drill.way == "recovery":
        parts = recovery(rig)
        gas = SEA_LEVEL_PA + BREAK_GAUGE_PA
        begun = unit_with(conditions, CHARGE, conditions.cylinder_pa, gas)
    else:
        parts = weigh_in(rig, conditions)
        begun = unit_with(conditions, GAS, SEA_LEVEL_PA, SEA_LEVEL_PA + TEST_GAUGE_PA)
    played = play(rig, conditions, parts, begun)
    at = played[drill.moves - 1]
    return rig, at.conditions, at.after


def _conditions(weather: Weather) -> Conditions:
    table = load_handbook().tables[REFRIGERANT]
    usual = usual_conditions(table, SEA_LEVEL_PA, INVERT)
    if isinstance(usual, OutOfRange):
        raise LookupError(REFRIGERANT)
    if weather == "vacuum":
        return with_pressures(usual, VACUUM_PA, usual.liquid_pa)
    if weather == "cold cylinder":
        return replace(usual, cylinder_pa=COLD_SHARE * usual.suction_pa)
    return usual
