"""A practice session's guess and its score, with the reason for each point."""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.judging import charge
from lowside.core.session.events import Event, in_order
from lowside.core.session.state import State
from lowside.practice import debrief, design
from lowside.practice.asked import is_far_over
from lowside.practice.curves import MICROCHANNEL
from lowside.practice.debrief_hoses import vented_liquid_kg
from lowside.practice.debrief_words import GRAMS_WORTH_SAYING
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


SHOWS: dict[str, tuple[str, tuple[str, ...]]] = {
    design.LOW_AIRFLOW: ("airflow", ("no",)),
    design.DIRTY_CONDENSER: ("outdoor_coil", ("no",)),
    design.LEAK: ("leak", ("leaking",)),
    design.WRONG_REFRIGERANT: ("same_refrigerant", ("no",)),
}
"""Fault -> the check before any gauge that a look around answers, and its true answers."""


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
    found = [
        _guessed(lesson, state, guess),
        _looked(lesson, state),
        _decided(session, state),
        _compressor(session),
        _openings(session),
        _at_the_hoses(session),
        _readings(session, state),
        _left(session, state),
    ]
    return [one for one in found if one is not None]


def _guessed(lesson: Lesson, state: State, guess: str) -> Point:
    answer = GUESSES[answer_of(lesson)]
    if guess == "" and _seen(lesson, state):
        what = "the liquid receiver" if lesson.hides_charge else answer.lower()
        return Point(2, 2, f"You saw it before any reading: {what}.")
    if guess == "":
        return Point(0, 2, f"No guess. It was: {answer}.")
    if guess == answer_of(lesson):
        return Point(2, 2, f"You guessed it: {answer}.")
    return Point(0, 2, f"You guessed “{GUESSES[guess]}”. It was: {answer}.")


def _seen(lesson: Lesson, state: State) -> bool:
    """Whether the forms before any gauge say what a look around the unit shows of its fault."""
    if lesson.hides_charge:
        return state.unit_texts.get("receiver", "") == "yes"
    field, true = SHOWS.get(lesson.fault, ("", ()))
    return state.checks.get(field, "") in true


def _looked(lesson: Lesson, state: State) -> Point:
    """Only a false “all is well” loses it: who doubts what is well adds nothing."""
    said = state.unit_texts
    if not state.checks and not _seen(lesson, state):
        return Point(0, 1, "The checks before any gauge were not answered.")
    if lesson.kind == MICROCHANNEL and said.get("coil", "") != "microchannel":
        return Point(0, 1, "The unit’s form does not say what coil it has.")
    if (lesson.hides_charge or lesson.fault in SHOWS) and not _seen(lesson, state):
        return Point(0, 1, "Your answers before any gauge hide what a look around shows.")
    return Point(1, 1, "You answered the checks as the unit looks.")


def _decided(session: PracticeSession, state: State) -> Point:
    right = "add" if session.setting.lesson.may_be_added_to else "leave"
    word = "to add" if right == "add" else "not to add"
    if state.decision == right:
        return Point(2, 2, f"The decision {word} was right.")
    if state.decision == "leave" and debrief.was_left_in_tolerance(session, state):
        return Point(2, 2, "The decision not to add was right: it was within tolerance by then.")
    nothing = session.fed_kg() <= GRAMS_WORTH_SAYING
    if state.decision == "" and right == "leave" and nothing:
        return Point(2, 2, "Nothing was added, and nothing was to be added.")
    return Point(0, 2, f"The right decision was {word}.")


def _compressor(session: PracticeSession) -> Point:
    helds = debrief.all_helds(session)
    if any(held.off_kg > GRAMS_WORTH_SAYING for held in helds):
        return Point(0, 2, "Liquid was fed into a stopped unit.")
    if any(held.slugged_kg > SLUG_KG for held in helds):
        return Point(0, 2, "Liquid reached the compressor.")
    if session.vacuum_s is not None:
        return Point(0, 2, "The compressor ran in a vacuum.")
    return Point(2, 2, "No liquid reached the compressor.")


def _openings(session: PracticeSession) -> Point:
    """Whether each opening was one that the page left to the technician, and about as large."""
    for held in debrief.all_helds(session):
        if debrief.is_against_advice(held):
            return Point(0, 2, "The valve was opened against the advice.")
        if is_far_over(held.asked, debrief.fed_on_the_same_advice(session, held)):
            return Point(0, 2, "Far more went in at once than was advised.")
    return Point(2, 2, "Nothing went in against the advice.")


def _at_the_hoses(session: PracticeSession) -> Point:
    liquid = vented_liquid_kg(session) > GRAMS_WORTH_SAYING
    if liquid or session.unit.air_pa_m3 > 0.0:
        what = "Liquid was vented." if liquid else "Air went into the unit."
        return Point(0, 2, what)
    return Point(2, 2, "No air went in and no liquid was vented.")


def _readings(session: PracticeSession, state: State) -> Point | None:
    """`None` where none was called for: the checks alone said not to add."""
    lesson = session.setting.lesson
    if not session.looks:
        if not lesson.may_be_added_to and _seen(lesson, state):
            return None
        return Point(0, 1, "No reading was taken.")
    if any(debrief.of_look(session, state, look) for look in session.looks):
        return Point(0, 1, "A reading was taken too early.")
    return Point(1, 1, "Every reading had settled.")


def _left(session: PracticeSession, state: State) -> Point:
    lesson = session.setting.lesson
    surplus = debrief.has_surplus_only(lesson)
    fed = session.fed_kg() > GRAMS_WORTH_SAYING
    if lesson.may_be_added_to or (surplus and not fed):
        if debrief.is_right_now(session):
            return Point(2, 2, "The unit was left with the right charge.")
        if lesson.may_be_added_to and debrief.ended_as_advised(session, state):
            return Point(2, 2, "You ended where the page’s advice ended.")
        if surplus and session.unit.missing_kg() < 0.0:
            return Point(0, 2, "The unit was left overcharged: the surplus was to be recovered.")
        return Point(0, 2, "The unit was not left with the right charge.")
    if fed:
        return Point(0, 2, "Charge went in that was not called for.")
    for run in session.recovery.all_runs():
        if run.taken_kg >= GRAMS_WORTH_SAYING and debrief.of_recovery(session, state, run):
            return Point(0, 2, "Charge was recovered that was not too much.")
    return Point(2, 2, "No charge went in.")
