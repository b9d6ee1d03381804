"""How the charging is to end, on outlooks with round figures; limits from docs/advice.md."""

from dataclasses import replace

import pytest
from advice_cases import opening, valve_unit
from outlook_cases import a_target, an_outlook, assessed, subject, taken

from lowside.core.advice import glance, plan
from lowside.core.advice.feeding import Feed
from lowside.core.advice.response import Guess
from lowside.core.handbook.system import Reading
from lowside.core.judging.targets import APPROACH, LIQUID_PRESSURE, SUPERHEAT

MET = Feed(0.004, 0.0056, learned=True)
"""A hand that meets what is advised."""
NEAR: dict[str, object] = {"low_kg": 0.0, "to_come_kg": 0.21}
"""The hoses may hold enough."""


def lands(over: float, within: float, missing: float = 0.0) -> tuple[Guess, ...]:
    """Guesses of 40 K for 4 kg with this weight past and within 2 K, the rest short of it."""
    short = 1.0 - over - within
    return Guess(over, -0.2, 40.0), Guess(within, missing, 40.0), Guess(short, 0.2, 40.0)


def test_the_smallest_shot_is_ten_grams_or_a_step() -> None:
    assert plan.least_kg(an_outlook(flow=MET, subject=subject(step_kg=0.005))) == 0.010
    assert plan.least_kg(an_outlook(flow=MET, subject=subject(step_kg=0.020))) == 0.020
    assert plan.whole_kg(an_outlook(safe_kg=0.05)) == 0.05
    assert plan.whole_kg(an_outlook(safe_kg=0.002)) == 0.010


@pytest.mark.parametrize(
    ("known", "is_far"),
    [
        ({"gap_k": 8.1}, True),
        ({"gap_k": 7.9}, False),
        ({"gap_k": 8.1, "blind": True}, False),
        ({"gap_k": 8.1, "answered": True}, False),
    ],
)
def test_a_unit_is_far_short_by_four_tolerances_before_its_first_answer(
    known: dict[str, object], is_far: bool
) -> None:
    assert plan.far_short(an_outlook(**({"answered": False} | known))) == is_far


@pytest.mark.parametrize(
    ("known", "worth"),
    [
        ({"safe_kg": 0.041}, True),
        ({"safe_kg": 0.039}, False),
        ({"safe_kg": 0.041, "missing_kg": -0.01}, False),
        ({"safe_kg": 0.041, "expected_gap_k": -0.1}, False),
        ({"safe_kg": 0.011, "slope_k_per_kg": 50.0}, True),
        ({"safe_kg": 0.009, "slope_k_per_kg": 50.0}, False),
    ],
)
def test_a_trim_moves_the_reading_by_a_fifth_of_the_tolerance(
    known: dict[str, object], worth: bool
) -> None:
    """0.4 K at 10 K a kilogram are 40 g."""
    assert plan.is_worth(an_outlook(**known)) == worth


class TestTheSmallestShotWhereNothingIsSaidToFit:
    @staticmethod
    def fits(**known: object) -> bool:
        asked = an_outlook(**({"safe_kg": 0.0} | known))
        found = plan.planned(asked)
        assert found in (asked, replace(asked, safe_kg=0.010))
        return found.safe_kg == 0.010

    def test_is_not_planned_where_more_fits_or_nothing_is_missing(self) -> None:
        enough = an_outlook(safe_kg=0.010)
        assert plan.planned(enough) is enough
        assert self.fits(safe_kg=0.009)
        assert not self.fits(missing_kg=-0.01)

    @pytest.mark.parametrize(
        ("expected_gap_k", "fits"), [(3.0, True), (-0.84, True), (-0.86, False)]
    )
    def test_even_a_steep_unit_stays_within(self, expected_gap_k: float, fits: bool) -> None:
        """10 g of 4 kg at 60 K are 0.15 K; up to half of the tolerance past the target."""
        assert self.fits(expected_gap_k=expected_gap_k) == fits
        assert self.fits(expected_gap_k=expected_gap_k, to_come_kg=0.009) == fits

    @pytest.mark.parametrize(
        ("over", "before", "fits"),
        [
            (0.03, 0.0, True),
            (0.05, 0.0, False),
            (0.05, 0.046, True),
            (0.079, 0.0745, True),
            (0.081, 0.081, False),
            (0.05, 0.044, False),
        ],
    )
    def test_or_the_hoses_leave_at_most_4_percent_to_passing_or_it_adds_hardly_anything(
        self, over: float, before: float, fits: bool
    ) -> None:
        """It adds at most 0.5 % to at most 8 %. 20 K expected: else the other rule would say."""
        guesses = lands(over, 0.9 - over, missing=0.1)
        asked = {"guesses": guesses, "over": before, "to_come_kg": 0.02, "expected_gap_k": -20.0}
        assert self.fits(**asked) == fits

    def test_or_the_unit_is_far_short_of_its_target(self) -> None:
        far = {"gap_k": 8.1, "answered": False, "to_come_kg": 0.02, "guesses": lands(1.0, 0.0)}
        assert self.fits(**far)
        assert not self.fits(**(far | {"gap_k": 7.9}))


@pytest.mark.parametrize(
    ("low_kg", "to_come_kg", "may"),
    [(0.0, 0.21, True), (0.0, 0.19, False), (0.01, 0.21, False), (-0.1, 0.21, True)],
)
def test_the_hoses_may_do_it_where_they_move_the_reading_past_the_tolerance(
    low_kg: float, to_come_kg: float, may: bool
) -> None:
    """2 K at 10 K a kilogram are 0.2 kg."""
    assert plan.hoses_may_do(an_outlook(low_kg=low_kg, to_come_kg=to_come_kg)) == may


class TestReadsAgain:
    def test_before_a_shot_that_only_just_fits_until_there_are_three(self) -> None:
        for here, again in ((1, True), (2, True), (3, False)):
            unit = an_outlook(safe_kg=0.0, readings_here=here)
            assert plan.reads_again(unit, replace(unit, safe_kg=0.010)) == again
            assert not plan.reads_again(unit, unit)
            near = an_outlook(readings_here=here, **NEAR)
            assert plan.reads_again(near, near) == again

    def test_not_where_it_says_nothing_or_the_unit_is_far_short(self) -> None:
        for known in ({"blind": True}, {"gap_k": 8.1, "answered": False}):
            unit = an_outlook(**(NEAR | known))
            assert not plan.reads_again(unit, unit)


class TestRecovering:
    """20 g in the hoses, nothing more fits; 40 K for 4 kg."""

    @staticmethod
    def better(**known: object) -> bool:
        at_end: dict[str, object] = {
            "to_come_kg": 0.02,
            "safe_kg": 0.0,
            "within": 0.60,
            "over": 0.0,
            "guesses": lands(0.0, 0.75),
            "missing_kg": -0.02,
        }
        return plan.better_recovered(an_outlook(**(at_end | known)))

    @pytest.mark.parametrize(
        ("known", "better"),
        [
            ({}, True),
            ({"to_come_kg": 0.009}, False),
            ({"within": 0.64}, True),
            ({"within": 0.66}, False),
            ({"within": 0.80, "over": 0.07}, False),
            ({"guesses": lands(0.0, 0.69)}, False),
            ({"guesses": lands(0.0, 0.71)}, True),
            ({"over": 0.05, "guesses": lands(0.0, 0.66)}, True),
            ({"over": 0.05, "guesses": lands(0.0, 0.64)}, False),
            ({"over": 0.05, "guesses": lands(0.05, 0.71)}, True),
            ({"over": 0.05, "guesses": lands(0.05, 0.69)}, False),
            ({"safe_kg": 0.01, "missing_kg": 0.1}, False),
            ({"safe_kg": 0.01}, True),
            ({"safe_kg": 0.009, "missing_kg": 0.1, "guesses": lands(0.0, 0.69)}, True),
        ],
    )
    def test_where_the_end_is_unsure_and_surer_without_them(
        self, known: dict[str, object], better: bool
    ) -> None:
        """Within: less than 65 %, and 10 % surer (within less past). Where more can go in
        without them it is better too."""
        assert self.better(**known) == better

    def test_where_more_than_8_percent_would_pass(self) -> None:
        sure = {"within": 0.90, "guesses": lands(0.0, 1.0)}
        assert not self.better(**sure, over=0.07)
        assert self.better(**sure, over=0.09)

    def test_from_the_start_where_they_hide_the_target(self) -> None:
        hidden = {"blind": True, "to_come_kg": 0.41, "within": 1.0, "missing_kg": 0.1}
        assert self.better(**hidden)
        assert not self.better(**(hidden | {"to_come_kg": 0.39}))

    def test_where_a_small_shot_fits_without_them(self) -> None:
        """Short by 0.3 K without them, with instruments so poor that nothing else is said to fit.
        10 g on a steep unit may take it half of the tolerance past the target: 1.3 K, so 520 K for
        the whole charge."""
        short: dict[str, object] = {
            "missing_kg": 0.01,
            "guesses": (Guess(1.0, 0.0075, 40.0),),
            "subject": subject(bias_k=20.0),
        }
        assert self.better(**short, steep_k=510.0)
        assert not self.better(**short, steep_k=530.0)
        assert not self.better(**(short | {"missing_kg": -0.03}), steep_k=510.0)


class TestGlance:
    def test_only_the_newest_reading_after_the_last_shot_shows_enough(self) -> None:
        """Target 5 K; it is enough from 3 K of subcooling on, 2 K short."""
        unit = an_outlook(gap_k=4.5, target_k=5.0)
        state = opening(valve_unit())

        def shows(subcooling_k: float, **changes: object) -> bool:
            newest = taken(1, assessed(subcooling_k=subcooling_k), **changes)
            held = replace(state, readings=(taken(0, assessed(subcooling_k=0.0)), newest))
            return glance.enough_k(held, unit) is not None

        assert shows(3.1)
        assert not shows(2.9)
        assert shows(3.0)
        fed = replace(state, shots=(object(),))  # type: ignore[arg-type]
        newest = taken(0, assessed(subcooling_k=4.0))
        assert glance.enough_k(replace(fed, readings=(newest,)), unit) is None
        after = replace(newest, shots_before=1)
        assert glance.enough_k(replace(fed, readings=(after,)), unit) is not None
        assert glance.enough_k(replace(state, readings=(taken(0, None),)), unit) is None
        other = assessed(target=a_target(quantity=SUPERHEAT))
        assert glance.enough_k(replace(state, readings=(taken(0, other),)), unit) is None

    def test_an_approach_s_limit_is_above_its_target_and_a_pressure_s_is_not_told(self) -> None:
        reading = Reading(None, None, None, 311.0, outdoor_dry_bulb_k=308.0)
        unit = an_outlook(quantity=APPROACH, target_k=3.0, tolerance_k=0.5)
        assert glance.limit_value_k(unit) == pytest.approx(3.5)
        assert glance.limit_value_k(replace(unit, quantity=LIQUID_PRESSURE)) is None
        near = assessed(target=a_target(quantity=APPROACH, value_k=3.0, short_below=False))
        state = replace(opening(valve_unit()), readings=(taken(0, near, reading),))
        assert glance.enough_k(state, unit) is not None
