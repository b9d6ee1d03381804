"""What happened in a practice session and why, in plain sentences."""

from collections.abc import Sequence

from lowside.core.advice.advice import FINISH
from lowside.core.handbook.handbook import Handbook
from lowside.core.judging import charge
from lowside.core.numbers.units import label as unit_label
from lowside.core.pages.running import timer
from lowside.core.pages.wording import duration
from lowside.core.session.block import DO_NOT_ADD
from lowside.core.session.events import Event
from lowside.core.session.state import STANDS, State, recovers_hoses
from lowside.practice import design
from lowside.practice.asked import asked_before, is_far_over
from lowside.practice.curves import MICROCHANNEL, RECEIVER
from lowside.practice.debrief_hoses import of_hoses, vented_kg, vented_liquid_kg
from lowside.practice.debrief_words import (
    GRAMS_WORTH_SAYING,
    Happening,
    advice_words,
    missing_words,
    pressure,
    small,
)
from lowside.practice.hooked_up import SLUG_KG
from lowside.practice.lessons import Lesson
from lowside.practice.recovery import Recovery
from lowside.practice.sessions import VISITS, Cleared, Held, Look, PracticeSession

IMPATIENT_SHARE = 0.5
"""A reading was too early when it is this share of the tolerance away from its settled value."""
IMPATIENT_LIQUID_KG = 0.005
SHORT_RUN_S = 5.0

OPENED_FOR_REPAIR = (
    design.NON_CONDENSABLES,
    design.WRONG_REFRIGERANT,
    design.LEAK,
    design.RESTRICTION,
    design.WEAK_COMPRESSOR,
)
"""Faults whose cure begins with recovering the whole charge. Common practice, no source."""

FAULT_SENTENCES = {
    "": "Nothing was broken on this unit.",
    design.LOW_AIRFLOW: "Its indoor airflow was far too low.",
    design.RESTRICTION: "Its liquid line was partly blocked before the expansion valve.",
    design.DIRTY_CONDENSER: "Its outdoor coil was dirty.",
    design.NON_CONDENSABLES: "There was air inside, with the refrigerant.",
    design.WEAK_COMPRESSOR: "Its compressor pumped far too little.",
    design.LEAK: "It leaked.",
    design.WRONG_REFRIGERANT: "Another refrigerant was inside than the nameplate says.",
}


def happenings(session: PracticeSession, state: State) -> list[Happening]:
    """Every consequence so far, in order of time."""
    found: list[Happening] = []
    for held in all_helds(session):
        found.extend(_of_held(session, state, held))
    for look in session.looks:
        found.extend(of_look(session, state, look))
    for run in session.recovery.all_runs():
        found.extend(of_recovery(session, state, run))
    for cleared in session.cleared:
        found.extend(_of_cleared(session, state, cleared))
    found.extend(_of_running(session))
    found.extend(_of_decision(session, state))
    found.extend(of_hoses(session, state))
    found.extend(_of_leaving(session, state))
    return sorted(found, key=lambda each: each.at_s)


def what_it_was(session: PracticeSession, state: State) -> list[str]:
    """The truth about the unit: its fault, its charge at the start and now."""
    known = session.setting
    drawn = known.drawn
    lines = [FAULT_SENTENCES[drawn.fault]]
    start = drawn.right_charge_kg - drawn.start_charge_kg
    now = session.unit.missing_kg()
    elsewhere = drawn.fault != "" or known.lesson.verdict == charge.POINTS_ELSEWHERE
    if elsewhere:
        lines.append("No charge was to be added before that was fixed.")
    else:
        lines.append("At the start " + missing_words(state, start) + ".")
    if elsewhere:
        lines.append(f"You put in {small(state, session.fed_kg())}.")
    else:
        lines.append(
            "Now " + missing_words(state, now, "is") + ": " + _standing(session, state) + "."
        )
    if known.lesson.verdict == charge.OVER and not elsewhere:
        lines.append("The right answer was to leave the valve closed and recover the surplus.")
    if known.lesson.hides_charge:
        lines.append(
            "The right answer was to leave the valve closed: its liquid receiver hides charge."
        )
    lines.extend(_misdescribed(session, state))
    recovered = session.recovery.taken_kg
    if recovered > GRAMS_WORTH_SAYING:
        lines.append(f"{small(state, recovered)} went into the recovery cylinder.")
    if vented_kg(session) > GRAMS_WORTH_SAYING:
        lines.append(_into_the_air(session, state))
    if session.unit.air_pa_m3 > 0.0:
        one = pressure(state, session.unit.air_pa() / VISITS)
        lines.append(
            "Air went in. It does not condense. It stays in the outdoor coil and adds to the "
            f"high-side gauge. One such visit adds {one}, too little to see. The {VISITS:.0f} "
            f"visits shown here add {pressure(state, session.unit.air_pa())}. The cure is to "
            "recover the charge, "
            "evacuate, and weigh in the charge."
        )
    lines.append(known.lesson.moral)
    return lines


def _misdescribed(session: PracticeSession, state: State) -> list[str]:
    """What the unit's form says wrongly of the circuit, and what that did."""
    kind, said = session.setting.lesson.kind, state.unit_texts
    if kind == MICROCHANNEL and said.get("coil", "") == "tube_fin":
        return [
            "The unit’s form says tube and fin, and the coil is a microchannel one. So the advice "
            "took an ounce for less than it is here."
        ]
    if kind == RECEIVER and said.get("receiver", "") in ("no", "unknown"):
        return [
            "The unit’s form does not say that there is a liquid receiver. So the advice went by "
            "subcooling."
        ]
    return []


def nothing_wrong(session: PracticeSession, state: State) -> str:
    """What is said when there is no happening; it never contradicts what went into the air."""
    line = "Nothing. No liquid at the compressor, no reading taken too early."
    return line + " " + _into_the_air(session, state)


def _into_the_air(session: PracticeSession, state: State) -> str:
    """How much was let out in all, and how much of it should not have been."""
    vented = vented_kg(session)
    if vented <= GRAMS_WORTH_SAYING:
        return "Nothing that a scale would show went into the air."
    wrong = vented_liquid_kg(session)
    told = f"{small(state, vented)} went into the open air"
    if wrong <= GRAMS_WORTH_SAYING:
        return told + ": the trace of purging and unscrewing, nothing more."
    return told + f", {small(state, wrong)} of it as liquid that could have been kept in."


def shot_lines(session: PracticeSession, state: State) -> list[dict[str, object]]:
    """Each opening of the low handwheel: what went in, what it did, what the advice had been."""
    rows: list[dict[str, object]] = []
    for number, held in enumerate(all_helds(session), start=1):
        seconds = (held.shut_s if held.shut_s is not None else session.unit.time_s) - held.opened_s
        lines = [
            f"Open for {duration(seconds)}. {small(state, held.fed_kg)} went in."
            if not held.before_cylinder
            else "Open with the cylinder valve closed. Nothing went in."
        ]
        if session.setting.drawn.fault == "":
            lines.append(
                f"Before it {missing_words(state, held.missing_before_kg)}, after it "
                f"{missing_words(state, held.missing_after_kg)}."
            )
        lines.extend(each.text for each in _of_held(session, state, held))
        lines.append("The advice then: " + advice_words(state, held.asked))
        rows.append({"title": f"Opening {number}, at {timer(held.opened_s)}", "lines": lines})
    return rows


def reading_lines(
    session: PracticeSession, state: State, events: Sequence[Event], handbook: Handbook
) -> list[dict[str, object]]:
    """Each reading: whether it was steady, and what the advice was after it."""
    rows: list[dict[str, object]] = []
    name = "superheat" if session.setting.drawn.target_name == "superheat_k" else "subcooling"
    for number, look in enumerate(session.looks, start=1):
        true = unit_label("temperature_difference", look.value_k, state.units.temperature)
        settled = unit_label("temperature_difference", look.settled_k, state.units.temperature)
        lines = [f"True {name} then: {true}. It was on its way to {settled}."]
        lines.extend(each.text for each in of_look(session, state, look))
        after = asked_before(events, look.at_s + 0.5, handbook)
        lines.append("The advice after it: " + advice_words(state, after))
        rows.append({"title": f"Reading {number}, at {timer(look.at_s)}", "lines": lines})
    return rows


def all_helds(session: PracticeSession) -> list[Held]:
    """Every opening of the low handwheel, with the one that still goes on."""
    open_now = session.open_held()
    return [*session.helds, open_now] if open_now is not None else list(session.helds)


def _of_held(session: PracticeSession, state: State, held: Held) -> list[Happening]:
    at = held.opened_s
    found: list[Happening] = []
    if held.before_cylinder:
        sentence = "The low-side manifold valve was opened with the cylinder valve closed: no shot."
        found.append(Happening(at, sentence))
        return found
    slugged = held.slugged_kg > SLUG_KG
    if slugged:
        found.append(
            Happening(
                at,
                f"Liquid reached the compressor: {small(state, held.slugged_kg)} more than the "
                "suction line can boil. Shorter shots with a wait between them boil off. Liquid "
                "does not compress. It breaks valves and bearings.",
            )
        )
    if held.off_kg > GRAMS_WORTH_SAYING:
        found.append(
            Happening(
                at,
                f"{small(state, held.off_kg)} of liquid went into a stopped unit. Nothing boils it "
                "there. It lies in the suction line and ends up in the compressor. When the unit "
                "stops, the low-side manifold valve is closed first.",
            )
        )
    elif not any(look.at_s < at for look in session.looks):
        found.append(Happening(at, "Charge went in before any reading showed an undercharge."))
    elif not session.setting.lesson.may_be_added_to and held.fed_kg > 0.0:
        found.append(
            Happening(at, "Charge went into a unit that must not get any. " + _why_not(session))
        )
    elif is_against_advice(held):
        text = "Charge went in against the advice: " + advice_words(state, held.asked)
        found.append(Happening(at, text))
    if not slugged and is_far_over(held.asked, fed_on_the_same_advice(session, held)):
        found.append(Happening(at, _far_over_words(session, state, held)))
    if _became_over(session, held.missing_before_kg, held.missing_after_kg):
        found.append(
            Happening(
                at,
                "This shot overcharged the unit. The cure is a recovery machine and a recovery "
                "cylinder, never the open air.",
            )
        )
    return found


def is_against_advice(held: Held) -> bool:
    """Whether something went in that the page did not leave to the technician."""
    return held.fed_kg > GRAMS_WORTH_SAYING and not held.asked.leaves


def kept_to_the_advice(session: PracticeSession) -> bool:
    """Whether no opening was against it or far larger than it."""
    return not any(
        is_against_advice(held) or is_far_over(held.asked, fed_on_the_same_advice(session, held))
        for held in all_helds(session)
    )


def ended_as_advised(session: PracticeSession, state: State) -> bool:
    """Whether the shots ended where the page ended them, the hoses as it asked."""
    advice = None if session.closing is None else session.closing.advice
    if advice is None or state.decision != "add" or not kept_to_the_advice(session):
        return False
    if advice.recover_hoses and not recovers_hoses(state):
        return False
    fed = session.fed_kg() > GRAMS_WORTH_SAYING
    return advice.action == FINISH or (advice.action == DO_NOT_ADD and fed)


def fed_on_the_same_advice(session: PracticeSession, held: Held) -> float:
    """What this opening and those before it brought on one advised amount [kg]."""
    return sum(
        each.fed_kg
        for each in all_helds(session)
        if each.asked.entries == held.asked.entries and each.opened_s <= held.opened_s
    )


def _far_over_words(session: PracticeSession, state: State, held: Held) -> str:
    advice = held.asked.advice
    asked = 0.0 if advice is None or advice.amount_kg is None else advice.amount_kg
    fed = small(state, fed_on_the_same_advice(session, held))
    return (
        f"{fed} went in where {small(state, asked)} was advised. So much at once can reach the "
        "compressor as liquid. Watch the scale, and close the valve at the advised weight."
    )


def of_recovery(session: PracticeSession, state: State, run: Recovery) -> list[Happening]:
    """What was wrong with a run of the recovery machine. Recovering a surplus is the cure."""
    at = run.began_s
    if run.taken_kg < GRAMS_WORTH_SAYING:
        if run.ended_s is None or run.ended_s - at < SHORT_RUN_S:
            return []
        return [Happening(at, "The recovery machine ran with no hose on the unit: nothing came.")]
    if recovers_for_repair(session.setting.lesson):
        return []
    if run.missing_before_kg >= 0.0:
        text = "Charge was recovered from a unit that was not overcharged."
        return [Happening(at, text)]
    if session.unit.gap_with(run.missing_after_kg) > session.setting.drawn.tolerance_k:
        text = (
            f"Too much was recovered: {small(state, run.missing_after_kg)} is missing now. Do not "
            "put back what came out: it may be dirty. Let it run 15 minutes, read again, and add "
            "by the readings."
        )
        return [Happening(at, text)]
    return []


def recovers_for_repair(lesson: Lesson) -> bool:
    """Whether recovering is right with what this unit has, however much comes out: the circuit is
    opened for the repair, or what is inside cannot be judged."""
    return lesson.fault in OPENED_FOR_REPAIR or lesson.hides_charge


def _of_running(session: PracticeSession) -> list[Happening]:
    """What running on with hardly any charge did to the compressor."""
    found: list[Happening] = []
    if session.vacuum_s is not None:
        text = (
            "It ran in a vacuum while charge was recovered. Nothing cools a compressor there, and "
            "air comes in at every leak. To recover the whole charge, switch the unit off first: "
            "here, tap “The unit has stopped”."
        )
        found.append(Happening(session.vacuum_s, text))
    if session.tripped_s is not None:
        text = "The unit stopped by itself: no gas cooled its compressor, so its protector opened."
        found.append(Happening(session.tripped_s, text))
    return found


def _of_cleared(session: PracticeSession, state: State, cleared: Cleared) -> list[Happening]:
    """What a hose brought the unit, where that was too much."""
    if not _became_over(session, cleared.missing_before_kg, cleared.missing_after_kg):
        return []
    brought = cleared.missing_before_kg - cleared.missing_after_kg
    text = (
        f"“{cleared.title}” brought the unit {small(state, brought)} from the hoses, and that "
        "overcharged it. Stop short of the target by what the hoses hold, or recover it."
    )
    return [Happening(cleared.at_s, text)]


def of_look(session: PracticeSession, state: State, look: Look) -> list[Happening]:
    """What was wrong with a reading: it was taken too early."""
    tolerance = session.setting.drawn.tolerance_k
    off = abs(look.value_k - look.settled_k)
    if off <= IMPATIENT_SHARE * tolerance and look.liquid_kg <= IMPATIENT_LIQUID_KG:
        return []
    text = "Impatient reading: the gauges were still moving"
    if look.liquid_kg > IMPATIENT_LIQUID_KG:
        text += " and liquid was still in the suction line"
    away = unit_label("temperature_difference", off, state.units.temperature)
    return [Happening(look.at_s, text + f". The value was {away} from where it settles.")]


def _decision_eid(state: State) -> str:
    """eid of the decision that counts; empty: none."""
    made = [e.eid for e in state.entries if e.kind == "decision.made" and e.status == STANDS]
    return made[-1] if made else ""


def was_left_in_tolerance(session: PracticeSession, state: State) -> bool:
    """Whether the unit needed nothing more when the decision was made."""
    missing = session.decided_missing_kg.get(_decision_eid(state))
    if missing is None:
        return False
    return abs(session.unit.gap_with(missing)) <= session.setting.drawn.tolerance_k


def _of_decision(session: PracticeSession, state: State) -> list[Happening]:
    eid = _decision_eid(state)
    at = next((e.moment.mono / 1000.0 for e in state.entries if e.eid == eid), 0.0)
    may_be_added_to = session.setting.lesson.may_be_added_to
    if state.decision == "add" and not may_be_added_to:
        return [Happening(at, "Wrong decision: to add. " + _why_not(session))]
    if state.decision == "leave" and may_be_added_to and not was_left_in_tolerance(session, state):
        text = "Wrong decision: not to add. The unit is undercharged, and nothing else is wrong."
        return [Happening(at, text)]
    return []


def _of_leaving(session: PracticeSession, state: State) -> list[Happening]:
    """A closed session that left a unit off its target, where that was to be put right."""
    lesson = session.setting.lesson
    if state.closed is None or is_right_now(session):
        return []
    if not (lesson.may_be_added_to or has_surplus_only(lesson)):
        return []
    left = missing_words(state, session.unit.missing_kg(), "is")
    text = f"The unit was left out of tolerance: {left}."
    if ended_as_advised(session, state):
        text += " The page’s advice ended there: it can only estimate."
    return [Happening(state.closed.mono / 1000.0, text)]


def has_surplus_only(lesson: Lesson) -> bool:
    """Whether an overcharge is all that is wrong: the right end is that the surplus is out."""
    return lesson.verdict == charge.OVER and lesson.fault == ""


def _why_not(session: PracticeSession) -> str:
    fault = session.setting.drawn.fault
    if session.setting.lesson.hides_charge:
        return "Its liquid receiver hides charge: the gauges do not show how much is missing."
    if fault == "":
        return "It is overcharged already."
    return FAULT_SENTENCES[fault] + " Charge does not cure that."


def is_right_now(session: PracticeSession) -> bool:
    """Whether the unit, left alone now, settles within tolerance of its target."""
    unit = session.unit
    return abs(unit.gap_with(unit.missing_kg())) <= session.setting.drawn.tolerance_k


def _is_over(session: PracticeSession, missing_kg: float) -> bool:
    return session.unit.gap_with(missing_kg) < -session.setting.drawn.tolerance_k


def _became_over(session: PracticeSession, before_kg: float, after_kg: float) -> bool:
    """Whether the unit was overcharged between these amounts missing."""
    return _is_over(session, after_kg) and not _is_over(session, before_kg)


def _standing(session: PracticeSession, state: State) -> str:
    drawn = session.setting.drawn
    gap = session.unit.gap_with(session.unit.missing_kg())
    away = unit_label("temperature_difference", abs(gap), state.units.temperature)
    if abs(gap) <= drawn.tolerance_k:
        return f"it settles {away} from the target, within tolerance"
    return f"it settles {away} from the target, out of tolerance"
