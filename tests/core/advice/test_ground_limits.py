"""Which reading the advice rests on, how old it may be, and when it still moves."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, valve_unit
from outlook_cases import NOTHING, an_outlook, assessed, seen, taken

from lowside.core.advice import ground
from lowside.core.judging.charge import OVER, POINTS_ELSEWHERE
from lowside.core.judging.findings import REFUSE, Finding, Unknown
from lowside.core.session.events import Moment
from lowside.core.session.state import State, Taken


def with_readings(*readings: Taken) -> State:
    return replace(opening(valve_unit()), readings=readings)


def test_the_newest_reading_counts_but_not_within_2_minutes_of_a_shot_or_of_a_stopped_unit() -> (
    None
):
    first, second = taken(0, assessed()), taken(1, assessed())
    assert ground.basis(with_readings(first, second)) == second
    assert ground.basis(with_readings(first, replace(second, since_shot_s=119.0))) == first
    late = replace(second, since_shot_s=121.0)
    assert ground.basis(with_readings(first, late)) == late
    assert ground.basis(with_readings(first, replace(second, running=False))) == first
    last = taken(2, assessed())
    assert ground.basis(with_readings(replace(first, running=False), second, last)) == last
    soon = replace(second, since_shot_s=30.0)
    assert ground.basis(with_readings(first, soon, last)) == last
    assert ground.basis(with_readings(soon)) is None
    assert ground.basis(with_readings()) is None


@pytest.mark.parametrize(("age_s", "old"), [(0.0, False), (899.0, False), (901.0, True)])
def test_a_reading_is_too_old_after_15_minutes(age_s: float, old: bool) -> None:
    assert ground.is_old(taken(0, assessed()), at(age_s)) == old


@pytest.mark.parametrize(
    ("run", "ahead_s", "old"),
    [
        ("run", 130.0, False),
        ("other", 119.0, False),
        ("other", 121.0, True),
        ("other", -901.0, True),
    ],
)
def test_nobody_knows_the_age_by_a_clock_that_is_two_minutes_ahead(
    run: str, ahead_s: float, old: bool
) -> None:
    """Two devices; within one run of one program the steady clock counts."""
    now = 1_000_000.0
    of_reading = Moment(run, int(1000 * now), int(1000.0 * (now + ahead_s)))
    basis = replace(taken(0, assessed()), moment=of_reading)
    assert ground.is_old(basis, at(now)) == old


class TestFlooding:
    @pytest.mark.parametrize(
        ("superheat_k", "floods"),
        [(1.9, True), (2.1, False), (-3.0, True), (Unknown(NOTHING), False)],
    )
    def test_is_less_than_2_k_of_superheat(
        self, superheat_k: float | Unknown, floods: bool
    ) -> None:
        dry = taken(0, assessed(superheat_k=9.0))
        newest = taken(1, assessed(superheat_k=superheat_k))
        assert ground.flooding(with_readings(dry, newest)) == floods

    def test_so_is_a_reading_never_added_to(self) -> None:
        refused = Finding("low_airflow", REFUSE)
        elsewhere = assessed(verdict=POINTS_ELSEWHERE, findings=(refused,))
        assert ground.flooding(with_readings(taken(0, elsewhere)))
        assert ground.flooding(with_readings(taken(0, assessed(verdict=OVER))))
        assert not ground.flooding(with_readings(taken(0, assessed())))

    def test_an_unjudged_reading_says_nothing(self) -> None:
        assert not ground.flooding(with_readings(taken(0, None)))


@pytest.mark.parametrize(
    ("gaps", "here", "moves"),
    [
        ((3.0, 2.55), 2, False),
        ((3.0, 2.45), 2, True),
        ((2.45, 3.0), 2, True),
        ((3.0, 2.45), 1, False),
        ((5.0, 3.0, 2.45), 3, True),
        ((2.1, 5.0, 5.2), 3, False),
        ((5.0, 5.0, 3.0, 2.45), 4, False),
    ],
)
def test_a_unit_moves_while_two_readings_differ_by_0_5_k_three_times_at_most(
    gaps: tuple[float, ...], here: int, moves: bool
) -> None:
    """docs/advice.md; more than the 0.4 K of a resting unit."""
    readings = tuple(seen(0.0, gap) for gap in gaps)
    assert ground.moving(an_outlook(observations=readings, readings_here=here)) == moves


class TestBlocked:
    def test_only_the_decision_is_open(self) -> None:
        """The advice is what the decision is made by."""
        state = with_readings(taken(0, assessed()))
        assert ground.blocked(replace(state, decision="")) is None
        barred = ground.blocked(replace(state, decision="leave"))
        assert barred is not None
        assert barred.code == "leave"

    def test_the_gravest_is_told_first(self) -> None:
        state = replace(with_readings(taken(0, assessed())), running=False, decision="leave")
        barred = ground.blocked(state)
        assert barred is not None
        assert barred.code == "stopped"

    def test_before_the_first_weighing_and_reading_only_a_stop_is_told(self) -> None:
        start = replace(with_readings(), start_weight=None, decision="leave")
        assert ground.blocked(start) is None
        stopped = ground.blocked(replace(start, running=False))
        assert stopped is not None
        assert stopped.code == "stopped"
        weighed = ground.blocked(with_readings())
        assert weighed is None
        unweighed = ground.blocked(replace(start, readings=(taken(0, assessed()),)))
        assert unweighed is not None
        assert unweighed.code == "not_weighed"
        read_late = ground.blocked(replace(with_readings(), decision="leave"))
        assert read_late is not None
        assert read_late.code == "leave"
