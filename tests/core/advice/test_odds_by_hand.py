"""What may go in and how likely the end is on target, against hand calculation."""

import pytest
from outlook_cases import seen, subject

from lowside.core.advice import odds
from lowside.core.advice.response import Guess
from lowside.core.judging.targets import SUPERHEAT

SURE = (Guess(1.0, 0.10, 40.0),)
"""One guess: a tenth of the charge is missing, 4 K below the target."""


def safe(guesses: tuple[Guess, ...], **asked: object) -> float:
    plain = {
        "to_come": 0.0,
        "steep_k": 40.0,
        "blind": False,
        "answered": True,
        "subject": subject(),
    }
    values = plain | asked
    return odds.safe(values.pop("subject"), guesses, **values)  # type: ignore[arg-type]


def mixed(over: float) -> tuple[Guess, ...]:
    """A tenth is missing, but with weight `over` the unit has its charge already."""
    return Guess(over, 0.0, 40.0), Guess(1.0 - over, 0.10, 40.0)


def test_what_is_surely_missing_may_go_in() -> None:
    assert safe(SURE) == pytest.approx(0.10)


def test_no_more_goes_in_than_is_missing_at_the_middle_of_the_guesses() -> None:
    three = tuple(Guess(1.0 / 3.0, missing, 100.0) for missing in (0.100, 0.105, 0.110))
    assert safe(three) == pytest.approx(0.105)


@pytest.mark.parametrize(
    ("blind", "over", "share"),
    [
        (False, 0.06, 0.04),
        (False, 0.04, 0.10),
        (True, 0.04, 0.04),
        (True, 0.02, 0.10),
    ],
)
def test_an_addition_may_pass_the_target_in_one_of_twenty_and_blind_in_three_of_hundred(
    blind: bool, over: float, share: float
) -> None:
    """docs/advice.md: at most 5 % to passing 0.8 of the tolerance, 3 % while blind. A unit that has
    its charge may get 1.6 K of 40 K: 0.04 of the charge."""
    assert safe(mixed(over), blind=blind) == pytest.approx(share)


def test_the_instruments_error_counts_as_if_the_unit_were_nearer() -> None:
    """1 K of error is 1.2 K at 0.3 of the weight: 4 + 1.6 − 1.2 K of 40 K are 0.11, not less than
    what is missing; with 3 K of error 4 + 1.6 − 3.6 K, so 0.05."""
    assert safe(SURE, subject=subject(bias_k=1.0)) == pytest.approx(0.10)
    assert safe(SURE, subject=subject(bias_k=3.0)) == pytest.approx(0.05)


def test_what_the_hoses_bring_is_a_quarter_off() -> None:
    """A third of the charge to come at 40 K is 13.33 K, a quarter of it 3.33 K, and 1.2 times that
    4 K: 4 + 1.6 − 4 K of 40 K."""
    assert safe(SURE, to_come=1.0 / 3.0) == pytest.approx(0.04)
    both = subject(bias_k=10.0 / 3.0 * 0.75)
    assert safe(SURE, subject=both, to_come=0.25) == pytest.approx(
        (5.6 - 1.2 * (2.5**2 + 2.5**2) ** 0.5) / 40.0
    )


def test_nothing_negative_goes_in() -> None:
    assert safe((Guess(1.0, -0.10, 40.0),)) == 0.0


class TestBeforeTheFirstAnswer:
    def test_half_of_what_is_missing_goes_in(self) -> None:
        """A tenth is missing. 2 K, the tolerance, is 0.02 of the charge on a unit of 100 K."""
        assert safe(SURE, answered=False, steep_k=100.0) == pytest.approx(0.05)

    def test_more_goes_in_where_a_steep_unit_stays_within_the_tolerance(self) -> None:
        assert safe(SURE, answered=False, steep_k=25.0) == pytest.approx(0.08)
        assert safe(SURE, answered=False, steep_k=10.0) == pytest.approx(0.10)

    def test_a_little_goes_in_whatever_the_instruments_error(self) -> None:
        """20 K of error would allow nothing. 0.8 of the tolerance on a unit of 80 K is 0.02, and
        never more than half of what is missing."""
        wild = subject(bias_k=20.0)
        assert safe(SURE, subject=wild) == 0.0
        assert safe(SURE, subject=wild, answered=False, steep_k=80.0) == pytest.approx(0.02)
        assert safe(SURE, subject=wild, answered=False, steep_k=16.0) == pytest.approx(0.05)
        assert safe(SURE, subject=wild, answered=False, steep_k=80.0, blind=True) == 0.0

    @pytest.mark.parametrize(
        ("to_come", "little"), [(0.04, True), (0.06, False), (0.069, False), (0.071, True)]
    )
    def test_but_not_near_the_target_with_much_in_the_hoses(
        self, to_come: float, little: bool
    ) -> None:
        """40 K and a tolerance of 2 K: hoses with up to 0.05 of the charge move it by no more than
        that. With 0.03 still missing beside them it is far from its target from 0.07 on."""
        found = safe(
            (Guess(1.0, 0.03, 40.0),),
            subject=subject(bias_k=20.0),
            answered=False,
            to_come=to_come,
        )
        assert found == pytest.approx(0.015 if little else 0.0)


def test_an_opening_takes_a_steep_unit_from_nothing_to_the_far_side() -> None:
    """0.8 of 5 K and 0.8 of 2 K are 5.6 K; on a unit of 56 K a tenth, less what the hoses bring."""
    assert odds.opening(subject(), 56.0, 0.0) == pytest.approx(0.10)
    assert odds.opening(subject(), 56.0, 0.03) == pytest.approx(0.07)


class TestLanding:
    def test_each_guess_lands_inside_past_or_short(self) -> None:
        """Tolerance 2 K: 4 K short, 1 K short, 1 K past and 3 K past."""
        places = (0.1, 0.025, -0.025, -0.075)
        weights = (0.1, 0.2, 0.3, 0.4)
        guesses = [Guess(w, m, 40.0) for w, m in zip(weights, places, strict=True)]
        inside, past_it = odds.landing(subject(), guesses, 0.0)
        assert inside == pytest.approx(0.5)
        assert past_it == pytest.approx(0.4)

    def test_the_instruments_error_spreads_it(self) -> None:
        """On target, with 2 K of error: 0.3 lies 2.4 K past, 0.3 as much short, 0.4 inside."""
        inside, past_it = odds.landing(subject(bias_k=2.0), (Guess(1.0, 0.0, 40.0),), 0.0)
        assert inside == pytest.approx(0.4)
        assert past_it == pytest.approx(0.3)

    def test_so_do_the_hoses(self) -> None:
        """0.2 of the charge at 40 K is 8 K, a quarter 2 K, 1.2 times that 2.4 K."""
        inside, past_it = odds.landing(subject(), (Guess(1.0, 0.0, 40.0),), 0.2)
        assert inside == pytest.approx(0.4)
        assert past_it == pytest.approx(0.3)
        assert odds.landing(subject(), (Guess(1.0, 0.0, 40.0),), 0.15) == (pytest.approx(1.0), 0.0)

    def test_the_edges_are_within(self) -> None:
        for gap in (-0.05, 0.05):
            assert odds.landing(subject(), (Guess(1.0, gap, 40.0),), 0.0)[0] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("missing", "to_come", "share"),
    [
        (0.0, 0.06, 1.0),
        (0.0, 0.04, 0.0),
        (0.05, 0.06, 0.0),
        (-0.06, 0.06, 0.0),
        (-0.02, 0.04, 1.0),
    ],
)
def test_only_what_the_hoses_do_counts_as_past_by_the_hoses(
    missing: float, to_come: float, share: float
) -> None:
    """40 K and a tolerance of 2 K: 0.05 of the charge."""
    guesses = [Guess(0.7, missing, 40.0), Guess(0.3, 0.5, 40.0)]
    assert odds.past(subject(), guesses, to_come) == pytest.approx(0.7 * share)


def test_the_expected_gap_is_the_mean_of_the_guesses() -> None:
    guesses = [Guess(0.25, 0.10, 40.0), Guess(0.75, -0.02, 100.0)]
    assert odds.expected_gap(guesses) == pytest.approx(0.25 * 4.0 - 0.75 * 2.0)
    assert odds.expected_gap(guesses, 0.05) == pytest.approx(0.25 * 6.0 + 0.75 * 3.0)


class TestAnswered:
    """Charge of 4 kg: a hundredth of it is 40 g."""

    @pytest.mark.parametrize(("fed_kg", "is_answer"), [(0.0, False), (0.035, False), (0.045, True)])
    def test_by_a_hundredth_of_the_charge(self, fed_kg: float, is_answer: bool) -> None:
        assert odds.answered(subject(), [seen(0.1, 3.0), seen(0.1 + fed_kg, 2.9)]) == is_answer

    def test_not_by_what_went_in_while_the_reading_was_blind(self) -> None:
        """More than 0.8 of 5 K short is blind."""
        blind = [seen(0.0, 4.6), seen(0.2, 4.6)]
        assert not odds.answered(subject(), blind)
        assert not odds.answered(subject(), [*blind, seen(0.4, 2.0)])
        assert odds.answered(subject(), [*blind, seen(0.4, 2.0), seen(0.5, 1.5)])

    def test_not_by_an_orifice_more_than_8_k_above_its_target(self) -> None:
        orifice = subject(quantity=SUPERHEAT, headroom_k=20.0)
        starved = [seen(0.0, 8.5), seen(0.2, 8.1)]
        assert not odds.answered(orifice, starved)
        assert odds.answered(orifice, [seen(0.0, 7.9), seen(0.2, 7.8)])
        assert not odds.answered(orifice, [*starved, seen(0.4, 7.0)])
        assert odds.answered(orifice, [*starved, seen(0.4, 7.0), seen(0.5, 6.0)])
        assert odds.answered(subject(headroom_k=30.0), starved)
