"""What the steps at the hoses did, as the debrief says it."""

from collections.abc import Sequence

from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.session.state import State
from lowside.practice.debrief_words import GRAMS_WORTH_SAYING, Happening, pressure, small
from lowside.practice.hose_work import Handling, HoseWork
from lowside.practice.sessions import VISITS, PracticeSession


def of_hoses(session: PracticeSession, state: State) -> list[Happening]:
    """The steps at the hoses that had something wrong, and what that did."""
    work = session.work
    if work is None:
        return []
    found: list[Happening] = []
    for each in work.handlings:
        sentences = list(each.sentences)
        if each.air_pa_m3 > 0.0:
            sentences.append(_air_words(session, work, state, each))
        if each.released_liquid_kg > GRAMS_WORTH_SAYING:
            sentences.append(_vented_words(state, each))
        if sentences:
            before = _skipped_words(each.skipped)
            found.append(Happening(each.at_s, f"{before}“{each.title}”: " + " ".join(sentences)))
    return found


def _skipped_words(titles: Sequence[str]) -> str:
    if not titles:
        return ""
    named = ", ".join(f"“{title}”" for title in titles)
    return named + (" was skipped. " if len(titles) == 1 else " were skipped. ")


def _air_words(session: PracticeSession, work: HoseWork, state: State, done: Handling) -> str:
    hosefuls = format_decimal(work.hosefuls(done.air_pa_m3), 1)
    more = pressure(state, session.unit.air_pa_of(done.air_pa_m3 * VISITS))
    return f"About {hosefuls} hosefuls: the high-side gauge reads {more} too high from now on."


def _vented_words(state: State, done: Handling) -> str:
    text = f"About {small(state, done.released_liquid_kg)} of liquid was vented."
    if done.from_cylinder_kg > 0.5 * done.released_kg:
        return text + " It left the cylinder, and no shot counts it."
    return text + " It left the unit."


def vented_kg(session: PracticeSession) -> float:
    """Refrigerant let into the open air so far, with the trace of each purge [kg]."""
    return session.work.released_kg() if session.work is not None else 0.0


def vented_liquid_kg(session: PracticeSession) -> float:
    """Liquid let into the open air so far [kg]: no purge needs that."""
    if session.work is None:
        return 0.0
    return sum(each.released_liquid_kg for each in session.work.handlings)
