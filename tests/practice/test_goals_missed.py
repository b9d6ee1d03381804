"""The summary names every class that misses a goal, and what an expert would have done."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from lowside.core.advice.advice import ADD, FINISH, READ, Advice, AdvisedAction
from lowside.core.session.block import DO_NOT_ADD, WAIT
from lowside.practice.bench import Summary
from lowside.practice.expert import expert
from lowside.practice.goals import EVERY, LEAST_UNITS, goals_text, missed
from lowside.practice.landing import tell
from lowside.practice.sites import TOLD_RECEIVER
from lowside.practice.technician import EMPTIES_HOSES, Charged, Told

HELD = ((0.0, 1.0, 0.5),)
NOT_HELD = ((0.0, 1.0, 2.0),)
NINE_OF_TEN = HELD * 9 + NOT_HELD
GOOD = Charged(0.5, 1.0, 0, 5, 60.0, 6, FINISH, "", NINE_OF_TEN, False, 0.0, ("valve", "steep"))
FLAT = replace(GOOD, tags=("valve", "flat"))


def summary(
    exact: Sequence[Charged],
    own_flow: Sequence[Charged] = (GOOD,),
    faulty: Sequence[Charged] = (),
) -> Summary:
    """Sessions of two technicians; faulty units of the exact one."""
    by = {"exact": exact, "own flow": own_flow}
    return Summary("curves", "judging", by, {"exact": faulty, "own flow": ()}, (), ())


def goals_of(found: Summary, technician: str, name: str) -> tuple[str, ...]:
    rows = [r for r in missed(found) if (r.technician, r.name) == (technician, name)]
    return rows[0].goals if rows else ()


def test_a_class_is_named_for_the_technician_and_the_goal_it_misses() -> None:
    short = replace(GOOD, gap_k=1.2)
    over = replace(GOOD, gap_k=-1.2)
    away = replace(GOOD, gap_k=1.2, ended=DO_NOT_ADD)
    found = summary([GOOD] * 100, [FLAT] * 180 + [GOOD] * 16 + [short, over, away, away])
    assert goals_of(found, "exact", EVERY) == ()
    assert goals_of(found, "own flow", EVERY) == ()
    assert goals_of(found, "own flow", "flat") == ()
    wanted = ("within 80.0", "over 5.0 (1)", "away 10.0 (2)")
    assert goals_of(found, "own flow", "steep") == wanted
    text = goals_text(found)
    assert "exact            none" in text
    assert "own flow         steep" in text
    assert "  20  within 80.0, over 5.0 (1), away 10.0 (2)" in text


def test_a_small_class_is_not_judged() -> None:
    over = replace(GOOD, gap_k=-1.2)
    assert missed(summary([FLAT] * 986 + [over] * (LEAST_UNITS - 1))) == []
    assert goals_of(summary([FLAT] * 986 + [over] * LEAST_UNITS), "exact", "steep")


def test_one_liquid_event_is_too_many_for_exact_hands_and_half_a_percent_for_others() -> None:
    liquid = replace(GOOD, liquid_events=1)
    lot = [GOOD] * 199 + [liquid]
    found = summary(lot, lot)
    assert goals_of(found, "exact", EVERY) == ("liquid 0.5 (1)",)
    assert goals_of(found, "own flow", EVERY) == ()
    assert goals_of(summary([], [GOOD] * 198 + [liquid] * 2), "own flow", EVERY) == (
        "liquid 1.0 (2)",
    )
    emptied = replace(found, by_technician={EMPTIES_HOSES: lot}, faulty={})
    assert goals_of(emptied, EMPTIES_HOSES, EVERY) == ("liquid 0.5 (1)",)


@pytest.mark.parametrize(("held", "wide"), [(100, True), (96, True), (95, False), (84, True)])
def test_the_range_is_judged_both_ways_and_from_a_hundred_units_on(held: int, wide: bool) -> None:
    lot = [replace(GOOD, ranges=HELD)] * held + [replace(GOOD, ranges=NOT_HELD)] * (100 - held)
    assert (goals_of(summary(lot), "exact", EVERY) == (f"range {held}.0",)) == wide
    assert goals_of(summary(lot[:99]), "exact", EVERY) == ()


def test_faulty_units_count_in_their_own_number() -> None:
    past = replace(GOOD, past_share=0.05)
    found = summary([GOOD] * 100, faulty=[FLAT] * 18 + [past] * 2 + [GOOD] * 15)
    assert goals_of(found, "exact", EVERY) == ("faulty past 5.7 (2 of 35)",)
    assert goals_of(found, "exact", "steep") == ("faulty past 11.8 (2 of 17)",)
    assert goals_of(found, "exact", "flat") == ()
    assert missed(summary([GOOD] * 100, faulty=[GOOD] * 19 + [past])) == []


def test_a_receiver_that_is_known_is_in_no_class() -> None:
    elsewhere = replace(
        GOOD, gap_k=3.0, ended=DO_NOT_ADD, shots=0, tags=(TOLD_RECEIVER, "valve", "steep")
    )
    assert missed(summary([GOOD] * 100 + [elsewhere] * 50)) == []


def said(action: AdvisedAction) -> Advice:
    return Advice(action, None, None, None, None, None, None, ("",))


def session(*steps: tuple[AdvisedAction, float, float], **how: object) -> Charged:
    """A session of (action, truly missing [kg], gap [K]) of a unit ± 1 K."""
    told = tuple(Told(float(i), said(a), kg, k) for i, (a, kg, k) in enumerate(steps))
    return replace(GOOD, told=told, gap_k=steps[-1][2], ended=steps[-1][0], **how)  # type: ignore[arg-type]


BLIND = ((READ, 1.0, 5.0), (ADD, 1.0, 5.0), (READ, 0.7, 5.0))
LEAPT = ((READ, 0.1, 5.0), (ADD, 0.1, 5.0), (WAIT, 0.05, 2.0), (READ, 0.05, 1.5))


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (session(*BLIND, (ADD, 0.7, 5.0), shots=40), "40 openings brought 10.6 oz, and the read"),
        (session(*BLIND, (ADD, 0.4, 3.0), shots=40), "the reading is on its way"),
        (
            session(*BLIND, (DO_NOT_ADD, 0.7, 5.0), why="The unit hardly responds: …"),
            "10.6 oz went in and nothing moved",
        ),
        (
            session(
                *BLIND, (DO_NOT_ADD, 0.7, 5.0), why="The expansion valve lets too much through"
            ),
            "reads superheat three times over 5 min, and believes",
        ),
        (
            session(*BLIND, (DO_NOT_ADD, 0.7, 5.0), why="Air inside"),
            "the check that the page names",
        ),
        (session(*LEAPT, (FINISH, -0.01, -0.8)), "one opening moved it by 6 °F"),
        (session(*LEAPT[:1], (FINISH, -0.01, -0.8)), "leaves it: it is within tolerance."),
        (session(*LEAPT, (FINISH, -0.05, -2.0)), "fits a charging restrictor"),
        (
            session(*LEAPT, (FINISH, -0.05, -2.0), tags=("microchannel", "valve", "steep")),
            "recovers what the hoses hold.",
        ),
        (session(*LEAPT[:1], (FINISH, -0.05, -2.0), tags=("orifice",)), "reads the wet bulb twice"),
        (session(*LEAPT[:1], (FINISH, 0.1, 2.0), tags=("flat",)), "adds 3.5 oz in small shots. On"),
        (session(*LEAPT[:1], (FINISH, 0.1, 2.0), tags=("receiver, not known of",)), "to the tank"),
    ],
)
def test_the_experts_words_are_about_this_session(outcome: Charged, words: str) -> None:
    assert words in expert(outcome)


def test_each_of_the_worst_sessions_has_its_own_words() -> None:
    lot = [
        session(*BLIND, (ADD, 0.7, 5.0), shots=40),
        session(*LEAPT, (FINISH, -0.05, -2.0)),
        session(*BLIND, (DO_NOT_ADD, 0.7, 5.0), why="The expansion valve lets too much through"),
    ]
    text = tell(summary(lot), 3)
    experts = [line for line in text.splitlines() if line.startswith("   An expert ")]
    assert len(set(experts)) == 3
