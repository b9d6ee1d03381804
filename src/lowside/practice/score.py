"""A practice session's guess and its score, with the reason for each point."""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.judging import charge
from lowside.core.session.events import Event, in_order
from lowside.core.session.state import State
from lowside.practice import debrief, design
from lowside.practice.hooked_up import SLUG_KG
from lowside.practice.lessons import Lesson
from lowside.practice.sessions import PracticeSession

GUESS = "practice.guess"
"""What the apprentice thinks the unit has, before the program says a word."""

GUESSES: dict[str, str] = {
    "short": "Undercharged",
    "right": "The charge is right",
    "over": "Overcharged",
    design.LOW_AIRFLOW: "Low indoor airflow",
    design.DIRTY_CONDENSER: "Dirty outdoor coil",
    design.RESTRICTION: "Blocked liquid line",
    design.NON_CONDENSABLES: "Air in the refrigerant",
    design.WEAK_COMPRESSOR: "A compressor that pumps too little",
    design.LEAK: "Undercharged, and it leaks",
    design.WRONG_REFRIGERANT: "Another refrigerant inside",
}
_BY_VERDICT: dict[str, str] = {charge.CALLS_FOR_CHARGE: "short", charge.OVER: "over"}


@dataclass(frozen=True)
class Point:
    """One thing that counts: how much of how much, and why."""

    got: int
    of: int
    reason: str


def guess_of(events: Sequence[Event]) -> str:
    """The first guess; "" when there is none yet."""
    for event in in_order(events):
        if event.kind == GUESS and event.data.get("guess", "") in GUESSES:
            return event.data["guess"]
    return ""


def answer_of(lesson: Lesson) -> str:
    """The guess that is right."""
    return lesson.fault or _BY_VERDICT.get(lesson.verdict, "right")


def points(session: PracticeSession, state: State, guess: str) -> list[Point]:
    """What was done well and what was not. The weights are our choice."""
    lesson = session.setting.lesson
    found = [_guessed(lesson, guess), _decided(lesson, state)]
    slugged = any(held.slugged_kg > SLUG_KG for held in debrief.all_helds(session))
    found.append(
        Point(0, 2, "Liquid reached the compressor.")
        if slugged
        else Point(2, 2, "No liquid reached the compressor.")
    )
    found.append(_at_the_hoses(session))
    early = [one for look in session.looks for one in debrief.of_look(session, state, look)]
    if not session.looks:
        found.append(Point(0, 1, "No reading was taken."))
    elif early:
        found.append(Point(0, 1, "A reading was taken too early."))
    else:
        found.append(Point(1, 1, "Every reading had settled."))
    found.append(_left(session, lesson))
    return found


def _guessed(lesson: Lesson, guess: str) -> Point:
    answer = GUESSES[answer_of(lesson)]
    if guess == "":
        return Point(0, 2, f"No guess. It was: {answer}.")
    if guess == answer_of(lesson):
        return Point(2, 2, f"You guessed it: {answer}.")
    return Point(0, 2, f"You guessed “{GUESSES[guess]}”. It was: {answer}.")


def _decided(lesson: Lesson, state: State) -> Point:
    right = "add" if lesson.may_be_added_to else "leave"
    word = "to add" if right == "add" else "not to add"
    if state.decision == right:
        return Point(2, 2, f"The decision {word} was right.")
    if state.decision == "" and right == "leave" and not state.shots:
        return Point(2, 2, "Nothing was added, and nothing was to be added.")
    return Point(0, 2, f"The right decision was {word}.")


def _at_the_hoses(session: PracticeSession) -> Point:
    liquid = debrief.vented_liquid_kg(session) > debrief.GRAMS_WORTH_SAYING
    if liquid or session.unit.air_pa_m3 > 0.0:
        what = "Liquid was vented." if liquid else "Air went into the unit."
        return Point(0, 2, what)
    return Point(2, 2, "No air went in and no liquid was vented.")


def _left(session: PracticeSession, lesson: Lesson) -> Point:
    if lesson.may_be_added_to:
        if debrief.is_right_now(session):
            return Point(2, 2, "The unit was left with the right charge.")
        return Point(0, 2, "The unit was not left with the right charge.")
    if session.fed_kg() > debrief.GRAMS_WORTH_SAYING:
        return Point(0, 2, "Charge went in that was not called for.")
    return Point(2, 2, "No charge went in.")
