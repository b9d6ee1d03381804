"""The decision's parts on outlooks with round figures, each on both sides of its limit."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, shoot, valve_unit
from outlook_cases import an_outlook, assessed, reassessed, subject, taken

from lowside.core.advice import advice as advices
from lowside.core.advice import against, ground, plan, words
from lowside.core.advice.advice import ADD, FINISH, READ, RECOVER, Advice, advise
from lowside.core.advice.feeding import Feed, Suction
from lowside.core.advice.outlook import Outlook, wait_after
from lowside.core.advice.response import Guess
from lowside.core.handbook.system import BY_WEIGHT
from lowside.core.judging.charge import (
    CALLS_FOR_CHARGE,
    NEARLY_EMPTY,
    OVER,
    POINTS_ELSEWHERE,
    UNKNOWN,
    Verdict,
)
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.core.session.block import DO_NOT_ADD, STOP, WAIT, WEIGH_IN
from lowside.core.session.events import Moment
from lowside.core.session.state import STANDS, Entry, Shot, State
from lowside.replay import as_json

WHY = ("why",)
SHORT = assessed(subcooling_k=2.0, verdict=CALLS_FOR_CHARGE)


def session(*shots: tuple[float, float]) -> State:
    """One reading 3 K short, then shots of (closed at [s], kilograms)."""
    state = replace(opening(valve_unit()), readings=(taken(0, SHORT),))
    for shut, kilograms in shots:
        state = shoot(state, shut, kilograms)
    return state


class TestTheNextShot:
    """10.55 kW, 10 K of superheat, 5.6 g/s at most. Within the shot superheat falls by 111 K for
    4 kg. 60 g ÷ 0.91 may lie in the line, and what boils meanwhile; 2 s are lost at 5.6 g/s."""

    @staticmethod
    def shot(left_kg: float, fed_kg: float = 0.0, **known: object) -> Advice:
        return advices._shot(session(), an_outlook(**known), left_kg, WHY, fed_kg)

    @pytest.mark.parametrize(
        ("left_kg", "amount_kg"), [(0.050, 0.040), (0.300, 0.085), (0.012, 0.010), (0.0235, 0.010)]
    )
    def test_is_what_is_left_or_what_the_line_takes(self, left_kg: float, amount_kg: float) -> None:
        """50 g less 11.2 g in steps of 5 g. Of 300 g: half of 112 g in takes 1.56 K, 8.44 K boil
        1.866 g/s, so 60 g ÷ 0.91 ÷ 0.667 = 98.9 g, less half a step and 11.2 g: 85.2 g."""
        found = self.shot(left_kg)
        assert found.action == ADD
        assert found.amount_kg == pytest.approx(amount_kg)
        told = [reason for reason in found.reasons if reason.startswith("At most about")]
        assert bool(told) == (left_kg == 0.3)
        if told:
            assert "3.0 oz at once" in told[0]

    def test_is_asked_for_at_seven_tenths_of_what_boils(self) -> None:
        """Half of 50 g in: 9.306 K boil 2.1176 g/s."""
        found = self.shot(0.050)
        assert found.rate_kg_s == pytest.approx(0.7 * 0.0021176, rel=1e-3)
        assert found.open_s == pytest.approx(0.040 / (0.7 * 0.0021176), rel=1e-3)
        slow = self.shot(0.050, flow=Feed(0.0012, 0.00168, learned=True))
        assert slow.rate_kg_s == pytest.approx(0.0012)
        assert slow.amount_kg == pytest.approx(0.045)
        assert slow.open_s == pytest.approx(0.045 / 0.0012)

    def test_is_smaller_once_the_batch_took_superheat(self) -> None:
        """200 g in: 4.45 K, and half of what is left takes it to 4 K at least: 0.58 g/s boil, so
        60 g ÷ 0.91 ÷ 0.8965 less 11.2 g."""
        later = self.shot(0.300, fed_kg=0.2)
        assert later.amount_kg == pytest.approx(0.060)
        assert later.remaining_kg == pytest.approx(0.1)
        assert later.remaining_low_kg == pytest.approx(-0.1)
        assert later.remaining_high_kg == pytest.approx(0.3)

    @pytest.mark.parametrize(
        ("opening_kg", "amount_kg"), [(0.2, 0.085), (0.080, 0.070), (0.050, 0.055)]
    )
    def test_of_a_blind_unit_is_no_more_than_a_steep_one_takes(
        self, opening_kg: float, amount_kg: float
    ) -> None:
        """And 0.8 oz a ton at least: 68 g."""
        found = self.shot(0.300, blind=True, opening_kg=opening_kg)
        assert found.amount_kg == pytest.approx(amount_kg)

    def test_a_coarse_scale_shows_the_weight_late(self) -> None:
        """At 20 g/s the line takes about 73 g. Less half a step and 40 g, 2 s of flow, are 19 g
        with steps of 1 oz, so one; without the half it was two. With steps of 5 g, 30 g."""
        state = session()
        assert state.scale is not None
        coarse = replace(state, scale=replace(state.scale, resolution_kg=OUNCE_KG))
        found = advices._shot(coarse, an_outlook(flow=Feed(0.02, 0.02, learned=False)), 0.3, WHY)
        fine = self.shot(0.3, flow=Feed(0.02, 0.02, learned=False))
        assert found.amount_kg == pytest.approx(OUNCE_KG)
        assert fine.amount_kg == pytest.approx(0.030)

    @pytest.mark.parametrize(("tons", "asked"), [(1.9, True), (2.0, False)])
    def test_a_valve_opened_as_usual_is_warned_of_before_the_first_opening(
        self, tons: float, *, asked: bool
    ) -> None:
        """3 s at 20 g/s are 60 g. 1.9 tons take 38 g ÷ 0.91 ÷ 0.93 at once: 45 g, and 1.3 times
        that are 58.5 g."""
        small = Suction("R-410A", tons * TON_W, 10.0)
        first = Feed(0.02, 0.02, learned=False)
        assert (words.TOO_QUICK in self.shot(0.3, suction=small, flow=first).reasons) == asked
        slow = Feed(0.002, 0.0028, learned=True)
        assert words.TOO_QUICK not in self.shot(0.3, suction=small, flow=slow).reasons

    @pytest.mark.parametrize(
        ("readings", "missing_kg", "said"),
        [(2, 1.29, True), (2, 1.26, False), (1, 1.29, False)],
    )
    def test_weighing_in_is_quicker_than_15_more_openings_once_one_was_seen(
        self, readings: int, missing_kg: float, *, said: bool
    ) -> None:
        """85 g each. Before anything was fed the odds say little."""
        seen = an_outlook().observations * readings
        found = self.shot(0.3, missing_kg=missing_kg, observations=seen)
        told = [reason for reason in found.reasons if "Weighing in" in reason]
        assert bool(told) == said
        if said:
            assert "about 15 more such openings" in told[0]

    def test_too_quick_for_a_hand_is_left_to_the_scale(self) -> None:
        """20 tons boil 10 g in a second."""
        large = Suction("R-410A", 20.0 * TON_W, 10.0)
        found = self.shot(0.012, suction=large)
        assert found.open_s is None
        assert words.TOO_QUICK in found.reasons
        assert words.TOO_QUICK not in self.shot(0.012).reasons

    def test_says_the_range_and_what_the_hoses_hold(self) -> None:
        found = self.shot(0.05, to_come_kg=2.0 * OUNCE_KG)
        assert found.reasons[0] == "why"
        assert any(
            reason.startswith("Still missing: 3.5 oz to 17.6 oz") for reason in found.reasons
        )
        assert found.reasons[-1].startswith("The hoses still hold about 2.0 oz.")


class TestAfterAShot:
    """Closed at 100 s. 0.2 kg are planned of 0.3 kg missing. 40 g boil off within a minute and show
    within 4."""

    @staticmethod
    def ask(
        now_s: float,
        *fed_kg: float,
        outlook: Outlook | None = None,
        calls: bool = True,
    ) -> Advice:
        state = session(*[(100.0, each) for each in fed_kg])
        known = an_outlook() if outlook is None else outlook
        return advices._after_shots(state, known, state.shots, at(now_s), calls)

    def test_the_line_boils_off_first(self) -> None:
        found = self.ask(130.0, 0.04)
        assert (found.action, found.reasons) == (WAIT, (words.BOIL_OFF,))
        assert found.wait_s == pytest.approx(30.0)
        assert found.remaining_kg == pytest.approx(0.26)

    def test_then_comes_the_rest_with_a_glance(self) -> None:
        found = self.ask(161.0, 0.04)
        assert found.action == ADD
        assert found.reasons[0].startswith("1.4 oz of the 7.1 oz that probably fit is in.")
        assert found.glance_k == pytest.approx(3.0)
        assert found.remaining_kg == pytest.approx(0.26)

    def test_unless_a_reading_would_show_the_first_part(self) -> None:
        assert self.ask(338.0, 0.04).action == ADD
        late = self.ask(339.5, 0.04)
        assert (late.action, late.reasons) == (READ, (words.SETTLED,))

    @pytest.mark.parametrize(("fed_kg", "goes_on"), [(0.135, True), (0.145, False)])
    def test_or_less_than_three_tenths_are_left(self, fed_kg: float, goes_on: bool) -> None:
        found = self.ask(180.0, fed_kg)
        assert (found.action == ADD) == goes_on
        if not goes_on:
            assert found.action == WAIT
            assert found.reasons == (words.SETTLING,)

    def test_or_hardly_anything_is_missing(self) -> None:
        assert self.ask(180.0, 0.1, outlook=an_outlook(missing_kg=0.111)).action == ADD
        assert self.ask(180.0, 0.1, outlook=an_outlook(missing_kg=0.109)).action == WAIT

    def test_or_the_reading_is_old_or_calls_for_no_charge(self) -> None:
        assert self.ask(180.0, 0.04, calls=False).action == WAIT

    def test_the_wait_counts_from_the_shot(self) -> None:
        found = self.ask(180.0, 0.04, calls=False)
        assert found.wait_s == pytest.approx(160.0)
        full = self.ask(180.0, 0.19)
        assert full.wait_s == pytest.approx(375.0 - 80.0)

    def test_all_shots_since_the_reading_count(self) -> None:
        assert self.ask(180.0, 0.1, 0.045).action == WAIT
        assert self.ask(180.0, 0.1, 0.035).action == ADD

    def test_a_gauge_that_shows_enough_or_no_superheat_ends_the_batch(self) -> None:
        state = session((100.0, 0.04))
        for newest in (assessed(subcooling_k=4.0), reassessed(SHORT, superheat_k=1.0)):
            readings = (*state.readings, taken(2, newest, shots_before=1))
            seen = replace(state, readings=readings)
            found = advices._after_shots(seen, an_outlook(), state.shots, at(180), True)
            assert found.action == WAIT
        found = advices._after_shots(state, None, state.shots, at(180), True)
        assert found.action == WAIT
        assert found.wait_s == pytest.approx(160.0)

    def test_an_open_valve_is_told_to_shut_at_the_plan(self) -> None:
        unweighed = Shot("s", at(100), None, None, doubtful_time=False, amount_kg=None)
        state = replace(session(), shots=(unweighed,))
        found = advices._while_open(state, an_outlook(), ())
        assert found.action == ADD
        assert "a minute" in " ".join(found.reasons)
        fed = session((100.0, 0.195)).shots
        assert advices._while_open(state, an_outlook(), fed).action == STOP
        assert advices._while_open(state, an_outlook(), session((100.0, 0.185)).shots).action == ADD
        assert advices._while_open(state, None, ()).action == STOP

    def test_a_shot_without_weight_counts_by_its_time(self) -> None:
        """10 s at the 4 g/s seen before."""
        unweighed = Shot("s", at(90), at(100), 10.0, doubtful_time=False, amount_kg=None)
        untimed = replace(unweighed, open_s=None)
        odd = replace(unweighed, amount_kg=-0.05)
        shots = (*session((100.0, 0.1)).shots, unweighed, untimed, odd)
        assert plan.fed_kg(shots, an_outlook()) == pytest.approx(0.14)
        assert plan.fed_kg(shots, None) == pytest.approx(0.1)


class TestReadTooEarly:
    """Closed at 100 s; the full wait is 375 s, the shortest 240 s."""

    @pytest.mark.parametrize(
        ("since_s", "now_s", "action", "wait_s"),
        [
            (None, 300.0, None, None),
            (374.5, 480.0, None, None),
            (300.0, 400.0, WAIT, 75.0),
            (300.0, 473.5, WAIT, 1.5),
            (300.0, 474.5, READ, None),
        ],
    )
    def test_is_said_of_a_reading_that_counts_against_charge(
        self, since_s: float | None, now_s: float, action: str | None, wait_s: float | None
    ) -> None:
        basis = taken(5, SHORT, since_shot_s=since_s, shots_before=1)
        state = session((20.0, 0.01), (100.0, 0.04))
        found = advices._unsettled(state, basis, an_outlook(), 375.0, at(now_s))
        assert (None if found is None else (found.action, found.wait_s)) == (
            None if action is None else (action, wait_s)
        )
        assert advices._unsettled(session(), basis, an_outlook(), 375.0, at(now_s)) is None

    @pytest.mark.parametrize(
        ("since_s", "now_s", "action", "wait_s"),
        [
            (None, 300.0, None, None),
            (239.5, 345.0, None, None),
            (200.0, 300.0, WAIT, 40.0),
            (200.0, 338.5, WAIT, 1.5),
            (200.0, 339.5, READ, None),
        ],
    )
    def test_and_before_the_shortest_wait_of_any(
        self, since_s: float | None, now_s: float, action: str | None, wait_s: float | None
    ) -> None:
        basis = taken(5, SHORT, since_shot_s=since_s, shots_before=1)
        state = session((20.0, 0.01), (100.0, 0.04))
        assert wait_after(state, an_outlook(blind=True), 0.0) == 240.0
        found = advices._unsettled(state, basis, an_outlook(), 240.0, at(now_s))
        assert (None if found is None else (found.action, found.wait_s)) == (
            None if action is None else (action, wait_s)
        )

    def test_a_moving_unit_is_read_again_after_3_minutes(self) -> None:
        moving = an_outlook(
            readings_here=2,
            observations=(
                an_outlook().observations[0],
                replace(an_outlook().observations[0], gap_k=1.0),
            ),
        )
        basis = taken(1, SHORT)
        found = advices._still_moving(moving, basis, at(100.0))
        assert found is not None
        assert (found.action, found.wait_s) == (WAIT, 140.0)
        soon = advices._still_moving(moving, basis, at(238.5))
        assert soon is not None
        assert (soon.action, soon.wait_s) == (WAIT, 1.5)
        late = advices._still_moving(moving, basis, at(239.5))
        assert late is not None
        assert late.action == READ
        assert advices._still_moving(an_outlook(), basis, at(100.0)) is None


class TestPastTheTarget:
    """Tolerance 2 K: up to half a kelvin past it one reading is not believed."""

    @pytest.mark.parametrize(
        ("gap_k", "here", "action"),
        [(-2.4, 1, READ), (-2.6, 1, RECOVER), (-2.4, 2, RECOVER)],
    )
    def test_is_read_again_where_it_is_close(self, gap_k: float, here: int, action: str) -> None:
        asked = an_outlook(gap_k=gap_k, readings_here=here, missing_kg=-0.05)
        found = advices._over(session(), asked, "why", None)
        assert found.action == action
        if action == RECOVER:
            assert found.amount_kg == pytest.approx(0.05)
            assert found.reasons == ("why", words.NEVER_VENT)
            beside = advices._over(session(), asked, "why", "hot")
            assert beside.reasons == ("why", words.NEVER_VENT, "hot")

    def test_nothing_is_too_much_where_the_guesses_say_so(self) -> None:
        asked = an_outlook(gap_k=-3.0, missing_kg=0.05)
        assert advices._over(session(), asked, "why", None).amount_kg is None


class TestWithinTolerance:
    @staticmethod
    def near(doubt: str | None = None, early: Advice | None = None, **known: object) -> Advice:
        edge = {"missing_kg": 0.02, "safe_kg": 0.0, "expected_gap_k": 1.0, "guesses": ()} | known
        edge = {"steep_k": 4000.0} | edge
        return advices._near(session(), an_outlook(**edge), early, WHY, doubt)

    @pytest.mark.parametrize(
        ("known", "action"),
        [
            ({"within": 0.96, "expected_gap_k": 0.79}, FINISH),
            ({"within": 0.94, "expected_gap_k": 0.79}, READ),
            ({"within": 0.96, "expected_gap_k": 0.81}, READ),
            ({"within": 0.98, "expected_gap_k": 0.81}, READ),
            ({"within": 0.98, "observations": an_outlook().observations * 3}, FINISH),
            ({"within": 0.96, "observations": an_outlook().observations * 3}, READ),
            ({"within": 0.98, "observations": an_outlook().observations * 2}, READ),
            ({"within": 0.5, "readings_here": 2}, FINISH),
        ],
    )
    def test_it_is_finished_when_it_is_sure_or_was_read_twice(
        self, known: dict[str, object], action: str
    ) -> None:
        """docs/advice.md: 95 % and near the middle; 97 % from the third reading on. Near is 0.4 of
        2 K."""
        found = self.near(**known)
        assert found.action == action
        assert found.reasons == (WHY if action == FINISH else (words.CONFIRM_NEAR,))

    def test_a_doubt_is_told_and_a_shot_worth_a_reading_is_advised(self) -> None:
        told = self.near("doubt", within=0.1)
        assert (told.action, told.reasons) == (FINISH, ("why", "doubt"))
        trim = self.near(safe_kg=0.05, within=0.5)
        assert (trim.action, trim.reasons[0]) == (ADD, words.TRIM)
        assert self.near(safe_kg=0.03, within=0.5).action == READ

    def test_an_early_reading_is_waited_for_first(self) -> None:
        early = advices._plain(WAIT, "early")
        assert self.near(early=early, within=0.5) is early
        assert self.near(early=early, within=0.96, expected_gap_k=0.5).action == FINISH


class TestTheEnd:
    """40 K for 4 kg and 2 K: 0.2 kg."""

    @pytest.mark.parametrize(("past", "recover"), [(0.39, False), (0.41, True)])
    def test_hoses_that_would_overcharge_are_recovered(self, past: float, recover: bool) -> None:
        guesses = (Guess(past, -0.04, 40.0), Guess(1.0 - past, 0.1, 40.0))
        asked = an_outlook(guesses=guesses, to_come_kg=0.1)
        found = advices._end(session(), asked, DO_NOT_ADD, WHY)
        assert found.action == DO_NOT_ADD
        assert found.recover_hoses == recover
        assert found.reasons[0] == "why"
        assert "3.5 oz" in found.reasons[1]

    def test_with_finish_they_are_recovered_where_that_is_surer(self) -> None:
        short = an_outlook(
            guesses=(Guess(1.0, 0.0, 40.0),), to_come_kg=0.1, within=0.6, safe_kg=0.0
        )
        found = advices._end(session(), short, FINISH, WHY)
        assert found.recover_hoses
        assert found.reasons == (words.hoses_too_much(session(), 0.1), "why")
        sure = replace(short, within=0.7)
        assert advices._end(session(), sure, FINISH, WHY).reasons == (
            "why",
            *words.in_hoses(session(), 0.1),
        )


class TestShortOfTheTarget:
    @staticmethod
    def add(early: Advice | None = None, **known: object) -> Advice:
        return advices._add(session(), an_outlook(**known), early, ("why",))

    def test_charge_is_added(self) -> None:
        found = self.add()
        assert (found.action, found.reasons[0]) == (ADD, "why")
        assert not found.recover_hoses
        assert self.add(early=advices._plain(WAIT, "early")).action == ADD

    def test_the_hoses_may_be_enough(self) -> None:
        sure = {"to_come_kg": 0.05, "expected_gap_k": 0.7, "within": 0.96}
        found = self.add(**sure)
        assert (found.action, found.reasons[:2]) == (FINISH, (words.HOSES_DO, "why"))
        assert self.add(**(sure | {"expected_gap_k": 0.9})).action == ADD
        assert self.add(**(sure | {"within": 0.94})).action == ADD
        assert self.add(**(sure | {"to_come_kg": 0.0})).action == ADD

    def test_a_shot_that_only_just_fits_is_read_for_once_more(self) -> None:
        """10 g fit on a steep unit, though nothing is said to fit."""
        tight = {"safe_kg": 0.0, "expected_gap_k": 1.0}
        found = self.add(**tight)
        assert (found.action, found.reasons) == (READ, (words.READ_SURER,))
        assert self.add(**tight, readings_here=3).action == ADD

    @pytest.mark.parametrize(("passing", "action"), [(0.14, ADD), (0.16, DO_NOT_ADD)])
    def test_the_smallest_shot_is_not_fed_where_it_likely_passes(
        self, passing: float, action: str
    ) -> None:
        """10 g of 4 kg are 4 K on the steep guesses, 0.1 K on the flat ones: 1 K is missing."""
        guesses = (Guess(passing, 0.000625, 1600.0), Guess(1.0 - passing, 0.025, 40.0))
        tight = {"safe_kg": 0.0, "steep_k": 4000.0, "expected_gap_k": 1.0, "guesses": guesses}
        found = self.add(**tight, readings_here=2)
        assert found.action == action
        assert found.reasons[0] == ("why" if action == ADD else words.TOO_COARSE)

    def test_where_nothing_fits_it_is_read_twice_and_then_the_least_is_added(self) -> None:
        """On a unit of 4000 K for 4 kg 10 g are 10 K."""
        tight = {"safe_kg": 0.0, "steep_k": 4000.0, "expected_gap_k": 1.0}
        assert self.add(**tight).reasons == (words.CONFIRM_NEAR,)
        twice = self.add(**tight, readings_here=2)
        assert (twice.action, twice.amount_kg) == (ADD, 0.010)
        early = advices._plain(WAIT, "early")
        assert self.add(early=early, **tight) is early
        none = self.add(**tight, readings_here=2, missing_kg=-0.01)
        assert (none.action, none.reasons[0]) == (FINISH, words.HOSES_DO)

    def test_hoses_are_recovered_where_nothing_fits_with_them(self) -> None:
        unsure = {
            "safe_kg": 0.0,
            "to_come_kg": 0.1,
            "within": 0.5,
            "over": 0.3,
            "guesses": (Guess(1.0, 0.0, 40.0),),
            "subject": subject(bias_k=3.0),
            "readings_here": 2,
            "missing_kg": 0.01,
        }
        found = self.add(**unsure)
        assert (found.action, found.recover_hoses, found.reasons[1]) == (FINISH, True, "why")
        # One in ten guesses is past 2 K with what comes, which is more than what fits.
        guesses = (Guess(0.1, 0.0, 100.0), Guess(0.9, 0.05, 40.0))
        little = unsure | {"guesses": guesses, "subject": subject(), "within": 0.1, "over": 0.02}
        assert self.add(**little).action == ADD
        coarse = self.add(**(unsure | {"over": 0.07, "within": 0.1}))
        assert (coarse.action, coarse.recover_hoses, coarse.reasons[1]) == (FINISH, True, "why")
        assert self.add(**(unsure | {"over": 0.09, "within": 0.1})).action == FINISH
        blind = self.add(**(unsure | {"over": 0.07, "within": 0.1, "blind": True}))
        assert blind.action == FINISH
        full = self.add(**(unsure | {"missing_kg": -0.01, "over": 0.07, "within": 0.1}))
        assert (full.action, full.recover_hoses, full.reasons[1]) == (FINISH, True, "why")

    def test_hoses_that_hide_the_target_are_offered_with_the_shot(self) -> None:
        hidden = self.add(blind=True, to_come_kg=0.41)
        assert (hidden.action, hidden.recover_hoses) == (ADD, True)
        assert words.RECOVER_HOSES in hidden.reasons

    def test_a_doubt_is_read_again_and_then_believed(self) -> None:
        early = advices._plain(WAIT, "early")
        assert advices._doubted(session(), an_outlook(), early, "doubt") is early
        once = advices._doubted(session(), an_outlook(), None, "doubt")
        assert (once.action, once.reasons) == (READ, ("doubt", words.CHEAP_CHECK))
        twice = advices._doubted(session(), an_outlook(readings_here=2), None, "doubt")
        assert (twice.action, twice.reasons) == (DO_NOT_ADD, ("doubt",))


class TestOnAReading:
    """What a reading leads to, by its verdict; 3 K short of 5 ± 2 K."""

    @staticmethod
    def ask(
        verdict: Verdict, outlook: Outlook | None, now_s: float = 500.0, **seen: object
    ) -> Advice:
        since = seen.pop("since_shot_s", None)
        judged = reassessed(SHORT, verdict=verdict, **seen)
        basis = taken(5, judged, since_shot_s=since, shots_before=1)  # type: ignore[arg-type]
        state = replace(session((100.0, 0.04)), readings=(basis,))
        return advices._on_reading(state, basis, judged, outlook, at(now_s))

    def test_an_unknown_one_is_completed_and_an_empty_unit_weighed_in(self) -> None:
        assert self.ask(UNKNOWN, an_outlook()).action == READ
        assert self.ask(UNKNOWN, None, since_shot_s=300.0).action == READ
        empty = self.ask(NEARLY_EMPTY, an_outlook())
        assert (empty.action, len(empty.reasons)) == (WEIGH_IN, 2)

    def test_an_early_one_that_says_no_is_waited_for(self) -> None:
        """375 s are wanted, 300 s passed."""
        for verdict in (OVER, POINTS_ELSEWHERE):
            early = self.ask(verdict, an_outlook(gap_k=-5.0), 420.0, since_shot_s=300.0)
            assert (early.action, early.wait_s) == (WAIT, 55.0)
        assert self.ask(NEARLY_EMPTY, an_outlook(), 420.0, since_shot_s=300.0).action == WEIGH_IN

    def test_one_that_points_elsewhere_ends_it_and_says_what_the_hoses_hold(self) -> None:
        found = self.ask(POINTS_ELSEWHERE, an_outlook(to_come_kg=0.05))
        assert found.action == DO_NOT_ADD
        assert found.reasons[0] != words.NO_GUESS
        assert found.reasons[1].startswith("The hoses still hold about 1.8 oz")
        assert len(self.ask(POINTS_ELSEWHERE, None).reasons) == 1

    def test_one_that_fits_no_unit_is_not_added_to(self) -> None:
        found = self.ask(CALLS_FOR_CHARGE, None)
        assert (found.action, found.reasons) == (DO_NOT_ADD, (words.NO_GUESS,))

    def test_past_the_target_it_is_recovered_but_not_behind_a_starved_valve(self) -> None:
        over = an_outlook(gap_k=-5.0, missing_kg=-0.1)
        assert self.ask(OVER, over).action == RECOVER
        starved = self.ask(OVER, over, superheat_k=12.0, subcooling_k=6.0)
        assert starved.action == DO_NOT_ADD
        assert starved.reasons[0].startswith("Superheat is")
        right = self.ask("on_target", an_outlook(), superheat_k=12.0, subcooling_k=6.0)
        assert right.action == DO_NOT_ADD

    def test_within_the_tolerance_it_is_read_until_two_agree_and_then_finished(self) -> None:
        near = {"gap_k": 0.5, "expected_gap_k": 0.5, "within": 0.99, "missing_kg": 0.01}
        assert self.ask("on_target", an_outlook(**near)).action == FINISH
        still = an_outlook().observations[0]
        moving = an_outlook(
            **near, readings_here=2, observations=(still, replace(still, gap_k=0.5))
        )
        assert self.ask("on_target", moving).reasons == (words.STILL_MOVING,)
        slipped = replace(moving, observations=(replace(still, gap_k=-2.0), still))
        doubted = self.ask("on_target", slipped)
        assert doubted.action == FINISH
        assert "the wrong way" in doubted.reasons[1]

    def test_short_of_it_a_doubt_is_checked_and_else_charge_is_added(self) -> None:
        assert self.ask(CALLS_FOR_CHARGE, an_outlook()).action == ADD
        still = an_outlook().observations[0]
        slipped = an_outlook(observations=(replace(still, gap_k=0.0), still))
        doubted = self.ask(CALLS_FOR_CHARGE, slipped)
        assert (doubted.action, doubted.reasons[1]) == (READ, words.CHEAP_CHECK)
        soon = self.ask(CALLS_FOR_CHARGE, an_outlook(), 320.0, since_shot_s=200.0)
        assert (soon.action, soon.wait_s) == (WAIT, 20.0)


class TestFromTheSessionAlone:
    def test_what_bars_it_goes_first(self) -> None:
        state = session()
        assert advise(replace(state, closed=at(9)), at(9)).reasons == ("This session is closed.",)
        stopped = advise(replace(state, running=False), at(9))
        assert stopped.action == STOP
        by_weight = replace(state, system=valve_unit(method=BY_WEIGHT))
        assert advise(by_weight, at(9)).action == WEIGH_IN
        assert advise(replace(state, decision="leave"), at(9)).action == DO_NOT_ADD

    def test_why_a_reading_is_asked_for(self) -> None:
        state = session()
        assert ground.why_read(replace(state, system=None)) == words.NO_UNIT
        assert ground.why_read(replace(state, readings=())) == words.NO_READING
        stopped = replace(state, readings=(taken(0, SHORT, running=False),))
        assert ground.why_read(stopped) == words.NO_USABLE_READING
        unjudged = replace(state, readings=(taken(0, None),))
        assert ground.why_read(unjudged) == words.NO_HANDBOOK
        assert advise(unjudged, at(9)).reasons == (words.NO_HANDBOOK,)
        assert advise(stopped, at(9)).reasons == (words.NO_USABLE_READING,)

    def test_an_old_reading_starts_no_shot_and_says_so(self) -> None:
        fresh = advise(session(), at(899))
        assert (fresh.action, fresh.too_old) == (ADD, False)
        old = advise(session(), at(901))
        assert (old.action, old.reasons, old.too_old) == (READ, (words.OLD_READING,), True)
        right = replace(session(), readings=(taken(0, assessed(subcooling_k=5.0)),))
        assert advise(right, at(901)).too_old
        assert not advise(right, at(899)).too_old

    def test_a_shot_since_the_reading_comes_before_the_reading(self) -> None:
        assert advise(session((100.0, 0.02)), at(110)).action == WAIT
        read_since = session((100.0, 0.02))
        newer = taken(20, SHORT, shots_before=1, since_shot_s=1100.0)
        read_since = replace(read_since, readings=(*read_since.readings, newer))
        assert advise(read_since, at(1200)).action in (ADD, READ)
        opened = session((100.0, 0.02))
        opened = replace(opened, shots=(replace(opened.shots[0], closed=None),))
        assert advise(opened, at(110)).action == ADD


def test_a_weigh_in_says_the_whole_charge_where_it_is_known() -> None:
    told = advices._weigh_in(session(), "why")
    assert told.action == WEIGH_IN
    assert told.amount_kg is None
    assert told.reasons == (
        "why",
        "The whole charge by weight: 7 lb 7.9 oz by the nameplate. The line set’s share is not "
        "known.",
    )
    unknown = replace(session(), system=valve_unit(nameplate_charge_kg=None))
    assert advices._weigh_in(unknown, "why").reasons == ("why",)
    assert advices._weigh_in(replace(session(), system=None), "why").reasons == ("why",)


def test_json_is_in_grams() -> None:
    found = as_json(
        Advice(ADD, 0.04, 20.0, None, 0.3, 0.1, 0.5, ("why",)),
    )
    assert found["amount_g"] == pytest.approx(40.0)
    assert found["remaining_g"] == pytest.approx(300.0)
    assert found["remaining_low_g"] == pytest.approx(100.0)
    assert found["remaining_high_g"] == pytest.approx(500.0)
    assert found["wait_s"] is None


class TestAgainstTheAdvice:
    """Decided with a reason after the reading that counts."""

    @staticmethod
    def decided(reason: str = "because", kinds: tuple[str, ...] = ("r1", "decision")) -> State:
        entries = []
        for i, eid in enumerate(kinds):
            kind = "decision.made" if eid == "decision" else "reading.taken"
            moment = Moment("run", i, i)
            entries.append(
                Entry(eid, kind, moment, "d", {}, {}, STANDS, amended=False, problems={})
            )
        readings = (taken(0, SHORT), taken(1, SHORT))
        state = replace(opening(valve_unit()), readings=readings, entries=tuple(entries))
        return replace(state, decision_reason=reason)

    @pytest.mark.parametrize(
        ("action", "opens"),
        [
            (DO_NOT_ADD, True),
            (FINISH, True),
            (READ, True),
            (WAIT, False),
            (STOP, False),
            (RECOVER, False),
            (WEIGH_IN, False),
        ],
    )
    def test_a_reason_opens_some_of_it(self, action: str, opens: bool) -> None:
        told = advices._plain(action, "Not now.")  # type: ignore[arg-type]
        assert against.may_start(self.decided(), told) == opens
        assert not against.needs_a_reason(self.decided(), told)
        assert not against.may_start(self.decided(""), told)
        assert against.needs_a_reason(self.decided(""), told) == opens
        assert against.why_no_shot(self.decided(), told) == ("" if opens else "Not now.")
        written = " To add anyway, write why at the decision."
        assert against.why_no_shot(self.decided(""), told) == (
            "Not now." + (written if opens else "")
        )

    def test_only_one_written_after_the_newest_reading(self) -> None:
        told = advices._plain(DO_NOT_ADD, "Not now.")
        assert not against.may_start(self.decided(kinds=("r0", "decision", "r1")), told)
        assert not against.may_start(self.decided(kinds=("r0", "r1")), told)
        assert not against.may_start(replace(self.decided(), readings=()), told)

    def test_never_an_old_reading(self) -> None:
        for action in (ADD, DO_NOT_ADD):
            old = replace(advices._plain(action, "Not now."), too_old=True)
            assert not against.may_start(self.decided(), old)
            assert against.why_no_shot(self.decided(), old) == words.OLD_READING
        assert against.may_start(self.decided(""), advices._plain(ADD, "Add."))

    def test_read_again_is_opened_only_where_the_newest_reading_counts(self) -> None:
        told = advices._plain(READ, "Read.")
        state = self.decided()
        fed = replace(state, shots=session((100.0, 0.05)).shots)
        assert not against.may_start(fed, told)
        assert against.may_start(fed, advices._plain(FINISH, "Enough."))
        early = replace(state.readings[1], since_shot_s=60.0)
        assert not against.may_start(replace(state, readings=(state.readings[0], early)), told)
        assert not against.needs_a_reason(replace(state, readings=()), told)

    def test_without_words_it_says_add_nothing(self) -> None:
        silent = replace(advices._plain(WAIT, ""), reasons=())
        assert against.why_no_shot(self.decided(), silent) == "Add nothing now."


def test_words_of_the_receiver_and_the_hoses() -> None:
    state = session()
    unit = an_outlook()
    for receiver, told in (
        ("", ()),
        ("no", ()),
        ("yes", (words.RECEIVER,)),
        ("unknown", (words.RECEIVER,)),
    ):
        asked = replace(state, unit_texts={"receiver": receiver})
        assert words.may_hide(asked, unit) == told
        assert words.may_hide(asked, replace(unit, quantity="superheat")) == ()
    assert words.may_hide(replace(state, unit_texts={}), unit) == ()
    assert words.in_hoses(state, 0.009) == ()
    assert words.in_hoses(state, 0.011) == (
        "The hoses still hold about 0.4 oz. It goes in at close-out.",
    )
    assert "about 2.0 oz. With it" in words.hoses_too_much(state, 2.0 * OUNCE_KG)
    assert words.liquid_limit(state, 2.0 * OUNCE_KG).startswith("At most about 2.0 oz at once")
    assert words.batch(state, 3.0 * OUNCE_KG, OUNCE_KG).startswith("1.0 oz of the 3.0 oz that")


@pytest.mark.parametrize(
    ("quantity", "told"),
    [
        ("subcooling", "If subcooling is already 5.4 °F or more"),
        ("superheat", "If superheat is already 12.6 °F or less"),
        ("approach", "If approach is already 12.6 °F or less"),
    ],
)
def test_words_of_the_glance(quantity: str, told: str) -> None:
    """Target 5 K, 2 K of it the tolerance: 3 K are 5.4 °F, 7 K are 12.6 °F."""
    assert told in words.glance(session(), an_outlook(quantity=quantity))


def test_words_of_the_flow_name_it_by_the_minute() -> None:
    """An ounce a second is 60 oz a minute; asked for are 30."""
    state = session()
    asked = 0.5 * OUNCE_KG
    fast = words.flow(state, Feed(OUNCE_KG, OUNCE_KG, learned=True), asked)
    assert fast.startswith("The last opening ran 60.0 oz a minute. Open less, to about 30.0 oz")
    first = words.flow(state, Feed(OUNCE_KG, OUNCE_KG, learned=False), asked)
    assert "at most about 30.0 oz a minute" in first
