"""The practice lessons, easy to hard, and the unit of each one."""

from dataclasses import dataclass, replace
from functools import lru_cache
from random import Random

from lowside.core.handbook.system import FIXED, TXV, Metering
from lowside.core.judging import charge
from lowside.core.judging.charge import assess
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.library import load_handbook
from lowside.practice.curves import MICROCHANNEL, RECEIVER, CondenserKind
from lowside.practice.curves_draw import DrawnCurves
from lowside.practice.curves_unit import CurvesUnit
from lowside.practice.design import (
    DIRTY_CONDENSER,
    LEAK,
    LOW_AIRFLOW,
    NON_CONDENSABLES,
    RESTRICTION,
    WEAK_COMPRESSOR,
    WRONG_REFRIGERANT,
)
from lowside.practice.draw import Drawn, Instruments, draw
from lowside.practice.hooked_up import HookedUp
from lowside.practice.lesson_curves import suited_curves
from lowside.practice.unit import PracticeUnit

MOST_DRAWS = 2000
HIGHEST_SEED = 999_999
TRIED_WITH_KG = 12.0
"""In the cylinder while a draw is looked at; nothing of it is used."""


@dataclass(frozen=True)
class Lesson:
    """One lesson. `verdict` is the verdict of a settled first reading that is read properly."""

    id: str
    title: str
    sentence: str
    verdict: charge.Verdict
    metering: Metering
    refrigerants: tuple[str, ...]
    start_share: tuple[float, float] = (0.0, 0.0)
    """Charge at the start as a share of the right one. (0, 0) leaves the drawn charge."""
    fault: str = ""
    scale_step_kg: float = 0.001
    scale_noise_kg: float = 0.0003
    seep: float = 0.0
    """Share of the open valve's flow that leaks through the closed low handwheel."""
    looks: tuple[str, ...] = ()
    """What a walk around the unit shows, where it differs from a well-kept unit."""
    moral: str = ""
    kind: CondenserKind | None = None
    """A unit of the second model of this kind; `None`: one of the first model."""

    @property
    def may_be_added_to(self) -> bool:
        """Whether the right decision is to add."""
        called_for = self.verdict == charge.CALLS_FOR_CHARGE
        return called_for and not self.hides_charge and self.fault not in NEEDS_A_REPAIR

    @property
    def hides_charge(self) -> bool:
        """Whether the reading does not show how much is missing."""
        return self.kind == RECEIVER


LESSONS: tuple[Lesson, ...] = (
    Lesson(
        "first-shots",
        "A split unit with an expansion valve",
        "It cools, but less than last year. A TXV, a nameplate with a subcooling target.",
        charge.CALLS_FOR_CHARGE,
        TXV,
        ("R-410A",),
        (0.86, 0.93),
        moral="Behind an expansion valve the charge shows in subcooling. Superheat stays put.",
    ),
    Lesson(
        "by-the-chart",
        "A fixed orifice and the weather",
        "No valve here: the target superheat comes from outdoor air and indoor wet bulb.",
        charge.CALLS_FOR_CHARGE,
        FIXED,
        ("R-22", "R-410A"),
        (0.80, 0.90),
        moral="Behind a fixed orifice the charge shows in superheat. The target moves with the "
        "weather.",
    ),
    Lesson(
        "gliding-blend",
        "A blend that glides",
        "R-407C boils over a range of temperatures: dew point for superheat, bubble point for "
        "subcooling.",
        charge.CALLS_FOR_CHARGE,
        TXV,
        ("R-407C",),
        (0.82, 0.92),
        moral="A blend leaves the cylinder as liquid. Superheat counts from dew, subcooling from "
        "bubble.",
    ),
    Lesson(
        "poor-tools",
        "A jumpy scale and a valve that seeps",
        "The scale jumps by half an ounce, and the low-side valve does not quite close.",
        charge.CALLS_FOR_CHARGE,
        TXV,
        ("R-410A", "R-22", "R-32"),
        (0.84, 0.92),
        scale_step_kg=0.5 * OUNCE_KG,
        scale_noise_kg=0.006,
        seep=0.02,
        moral="A valve that seeps goes on charging while you wait. When the scale runs away, go "
        "to the close-out at once. Trust start weight − end weight.",
    ),
    Lesson(
        "flat-coil",
        "A small charge in a flat coil",
        "It is short, and at first the gauges do not answer. Look at the outdoor coil.",
        charge.CALLS_FOR_CHARGE,
        TXV,
        ("R-410A",),
        (0.86, 0.94),
        looks=(
            "The outdoor coil is flat aluminum without copper tubes: a microchannel coil.",
            "No tank in the liquid line.",
        ),
        moral="A microchannel coil holds little. Its subcooling stays flat, then climbs at once, "
        "and an ounce is the whole tolerance. Give small shots all the way. What the hoses hold "
        "moves it further than that: stop before the target and let them bring the rest, or "
        "recover it.",
        kind=MICROCHANNEL,
    ),
    Lesson(
        "behind-the-hedge",
        "An older unit behind the hedge",
        "Weak cooling. Nobody has followed its pipes in years.",
        charge.CALLS_FOR_CHARGE,
        TXV,
        ("R-410A", "R-22"),
        (0.80, 0.93),
        looks=(
            "The outdoor coil has copper tubes and aluminum fins.",
            "The liquid line runs through an upright tank after the outdoor coil.",
        ),
        moral="A liquid receiver stores charge. Subcooling hardly moves while it fills, then "
        "climbs at once. The gauges do not show how much is missing. Go by the manufacturer’s "
        "method, or recover and weigh in.",
        kind=RECEIVER,
    ),
    Lesson(
        "short-of-air",
        "The customer wants refrigerant",
        "Weak cooling, a low suction gauge, and someone who has already decided what is wrong.",
        charge.POINTS_ELSEWHERE,
        TXV,
        ("R-410A", "R-22"),
        (0.84, 0.92),
        LOW_AIRFLOW,
        looks=("The return filter is gray and sags inward. The supply registers barely blow.",),
        moral="Low indoor airflow pulls the suction down and looks like low charge. Charge added "
        "here leaves the unit overcharged once the filter is changed.",
    ),
    Lesson(
        "blocked-line",
        "High superheat",
        "The evaporator gets too little. Find out why before you open a valve.",
        charge.POINTS_ELSEWHERE,
        TXV,
        ("R-410A", "R-22", "R-32"),
        (1.0, 1.04),
        RESTRICTION,
        looks=("The liquid line is colder after the filter drier than before it.",),
        moral="High superheat with high subcooling is a restriction. The liquid is there but does "
        "not get through. More of it only backs up in the condenser.",
    ),
    Lesson(
        "too-much",
        "Someone was here before",
        "The last visitor left no record of what was done.",
        charge.OVER,
        TXV,
        ("R-410A",),
        (1.08, 1.16),
        moral="An overcharge comes out with a recovery machine into a recovery cylinder, never "
        "into the air.",
    ),
    Lesson(
        "hot-coil",
        "A high head on a warm day",
        "The breaker has tripped twice. The high-side gauge is above what the day explains.",
        charge.POINTS_ELSEWHERE,
        TXV,
        ("R-410A", "R-22", "R-32"),
        (0.95, 1.03),
        DIRTY_CONDENSER,
        looks=("Cottonwood fluff covers the outdoor coil like felt. The fan turns.",),
        moral="A coil that breathes badly raises the high side. Clean it first, then judge the "
        "charge.",
    ),
    Lesson(
        "after-a-repair",
        "A unit that was opened last week",
        "Another shop replaced the filter drier. Since then it draws more current.",
        charge.OVER,
        TXV,
        ("R-410A", "R-22", "R-32"),
        (0.95, 1.0),
        NON_CONDENSABLES,
        looks=("A new filter drier. No micron reading is on the last shop’s ticket.",),
        moral="Air inside raises the high side and the subcooling. It passes for an overcharge. "
        "Switch the unit off, recover all of it, evacuate, and weigh the charge in.",
    ),
    Lesson(
        "tired-machine",
        "It runs all day",
        "It runs without a pause and never reaches the set point. The customer asks for a top-up.",
        charge.ON_TARGET,
        TXV,
        ("R-410A", "R-22", "R-32"),
        (0.97, 1.02),
        WEAK_COMPRESSOR,
        looks=("The compressor is 19 years old. Its current is well below its rated load amps.",),
        moral="Charge on target and too little cooling is no case for refrigerant. A compressor "
        "that pumps little shows a high suction and a low head.",
    ),
    Lesson(
        "every-spring",
        "The same call every spring",
        "It was topped up last year, and the year before.",
        charge.CALLS_FOR_CHARGE,
        TXV,
        ("R-410A", "R-22", "R-32"),
        (0.78, 0.88),
        LEAK,
        looks=("Oil and dust at a flare nut of the liquid line. Soap on it bubbles.",),
        moral="A sealed system does not use up refrigerant. Find the leak and repair it, then "
        "charge.",
    ),
    Lesson(
        "unknown-filling",
        "Odd pressures",
        "The gauges and the clamps tell different stories.",
        charge.CALLS_FOR_CHARGE,
        TXV,
        ("R-410A", "R-22", "R-32"),
        (0.95, 1.0),
        WRONG_REFRIGERANT,
        looks=("A faded tag on the suction port: “drop-in, 2023”. It does not say of what.",),
        moral="What is inside is not what the nameplate says. No reading can be trusted. Switch "
        "the unit off, recover it into a cylinder of its own, evacuate, and weigh in what the "
        "nameplate says.",
    ),
)

NEEDS_A_REPAIR = (LEAK, WRONG_REFRIGERANT)
"""Faults with which the gauges ask for charge and it must not go in."""


@dataclass(frozen=True)
class Setting:
    """One case of a lesson, made by a seed [kg]: the unit, the cylinder, the hand valve's flow."""

    lesson: Lesson
    seed: int
    drawn: Drawn | DrawnCurves
    cylinder_label: str
    tare_kg: float
    contents_kg: float


def seed_from(text: str) -> int | None:
    """The unit's number as it was typed or stored; `None` when it cannot be one."""
    typed = text.strip()
    if not (typed.isascii() and typed.isdigit() and len(typed) <= len(str(HIGHEST_SEED))):
        return None
    return int(typed)


def lesson_by_id(lesson_id: str) -> Lesson | None:
    """The lesson, `None` when no lesson has that name."""
    for lesson in LESSONS:
        if lesson.id == lesson_id:
            return lesson
    return None


@lru_cache(maxsize=32)
def setting(lesson: Lesson, seed: int) -> Setting:
    """The unit of a lesson. The same seed always gives the same unit.

    Raises
        LookupError: no unit drawn in `MOST_DRAWS` suits the lesson.
    """
    random = Random(f"{lesson.id}/{seed}")
    for number in range(MOST_DRAWS):
        suited = _drawn(lesson, random)
        if suited is not None and _teaches(lesson, suited):
            return Setting(
                lesson,
                seed,
                suited,
                f"P-{1000 + (seed + number) % 9000}",
                round(random.uniform(4.2, 4.9), 2),
                round(random.uniform(7.0, 9.5), 2),
            )
    raise LookupError(f"no unit suits lesson {lesson.id}, seed {seed}")


def running_unit(known: Setting) -> HookedUp:
    """The lesson's unit as it is found, with its full cylinder."""
    return _run(known.drawn, known.contents_kg)


def _run(drawn: Drawn | DrawnCurves, cylinder_kg: float) -> HookedUp:
    if isinstance(drawn, Drawn):
        return PracticeUnit(drawn, cylinder_kg)
    return CurvesUnit(drawn, cylinder_kg)


def _drawn(lesson: Lesson, random: Random) -> Drawn | DrawnCurves | None:
    """One draw for the lesson; `None` when it does not fit."""
    if lesson.kind is not None:
        return suited_curves(
            random,
            lesson.kind,
            lesson.refrigerants,
            lesson.start_share,
            lesson.scale_step_kg,
            lesson.scale_noise_kg,
        )
    drawn = draw(random.randrange(1, 2**31), 1.0, lesson.fault)
    return _adapted(lesson, drawn, random) if _built_for(lesson, drawn) else None


def _built_for(lesson: Lesson, drawn: Drawn) -> bool:
    design = drawn.design
    return (
        design.metering == lesson.metering
        and design.refrigerant in lesson.refrigerants
        and 293.0 < design.outdoor_k < 314.0
        and design.capacity_w <= 4.0 * TON_W
    )


def _adapted(lesson: Lesson, drawn: Drawn, random: Random) -> Drawn | None:
    """The unit with the lesson's charge, its tools, and a hand valve for a thumb."""
    low, high = lesson.start_share
    start = drawn.start_charge_kg
    if high > 0.0:
        start = drawn.right_charge_kg * random.uniform(low, high)
        if not drawn.steady.charges[0] < start < drawn.steady.charges[-1]:
            return None
    tons = drawn.design.capacity_w / TON_W
    hold = min(drawn.design.hold_kg, 0.05 + 0.015 * tons)
    tools = Instruments(
        _offsets(random, 0.1),
        _offsets(random, 2.0e3),
        0.08,
        700.0,
        lesson.scale_step_kg,
        0.0,
        lesson.scale_noise_kg,
    )
    return replace(
        drawn,
        design=replace(drawn.design, hold_kg=hold),
        start_charge_kg=start,
        instruments=tools,
        flow_kg_s=random.uniform(0.003, 0.005),
        system=replace(drawn.system, nameplate_charge_kg=None),
    )


def _offsets(random: Random, spread: float) -> tuple[float, float]:
    """Two offsets of instruments."""
    return random.gauss(0.0, spread), random.gauss(0.0, spread)


def _teaches(lesson: Lesson, drawn: Drawn | DrawnCurves) -> bool:
    """Whether a proper first reading shows what the lesson is about, and keeps showing it."""
    unit = _run(drawn, TRIED_WITH_KG)
    air = unit.gauges().supply_air_k
    readings = [replace(unit.reading(), supply_dry_bulb_k=air) for _ in range(5)]
    handbook = load_handbook()
    return all(assess(drawn.system, each, handbook).verdict == lesson.verdict for each in readings)
