"""The outlook's parts, each against hand calculation or docs/advice.md."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, orifice_unit, shoot, valve_unit
from outlook_cases import NOTHING, a_target, an_outlook, assessed, taken

from lowside.core.advice import outlook as outlooks
from lowside.core.advice.feeding import Feed
from lowside.core.advice.instruments import error_k
from lowside.core.advice.outlook import (
    Outlook,
    hoses_blind,
    outlook_of,
    over_after,
    past_with_hoses,
    wait_after,
    without_hoses,
)
from lowside.core.advice.prior import slopes_of
from lowside.core.advice.response import Guess
from lowside.core.handbook.system import Reading, System
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import (
    APPROACH,
    LIQUID_PRESSURE,
    SUBCOOLING,
    SUCTION_PRESSURE,
    SUPERHEAT,
    NoTarget,
    Target,
)
from lowside.core.numbers.units import POUND_KG, TON_W
from lowside.core.session.state import Shot, State, Taken

UNKNOWN = Unknown(NOTHING)
SUPERHEAT_TARGET = Target(SUPERHEAT, 7.0, 2.8, NOTHING)
APPROACH_TARGET = Target(APPROACH, 3.0, 0.5, NOTHING)
AIR = Reading(None, None, None, 310.0, outdoor_dry_bulb_k=308.0, return_dry_bulb_k=300.0)


def short(number: int, subcooling_k: float, **changes: object) -> Taken:
    """A reading with this subcooling; the target is 5 ± 2 K."""
    return taken(number, assessed(subcooling_k=subcooling_k), **changes)


def of(state: State, *readings: Taken) -> Outlook:
    found = outlook_of(replace(state, readings=readings), readings[-1])
    assert found is not None
    return found


def one(
    target: Target, unit: System | None = None, reading: Reading = AIR, **seen: object
) -> Outlook:
    """The outlook from one reading judged by this target."""
    state = opening(valve_unit() if unit is None else unit)
    return of(state, taken(0, assessed(target=target, **seen), reading))


class TestHeadroom:
    """How far from its target a reading can get, before it shows nothing more."""

    def test_of_subcooling_is_the_target_itself(self) -> None:
        found = one(a_target()).subject
        assert (found.quantity, found.target_k, found.headroom_k) == (SUBCOOLING, 5.0, 5.0)
        assert one(a_target(value_k=1.0)).subject.headroom_k == 2.0

    @pytest.mark.parametrize(
        ("dew_k", "target_k", "headroom_k"),
        [(280.0, 7.0, 15.0), (None, 7.0, 21.0), (297.0, 3.0, 7.0), (297.0, 7.0, 5.6)],
    )
    def test_of_superheat_is_to_the_warmest_the_gas_can_get(
        self, dew_k: float | None, target_k: float, headroom_k: float
    ) -> None:
        """Return air 300 K and 2 K on the way; 28 K of superheat where that is not known, 10 K at
        least; and never less than both tolerances of 2.8 K."""
        target = replace(SUPERHEAT_TARGET, value_k=target_k)
        found = one(target, orifice_unit(), dew_k=dew_k).subject
        assert (found.quantity, found.target_k) == (SUPERHEAT, target_k)
        assert found.headroom_k == pytest.approx(headroom_k)

    def test_of_superheat_without_return_air(self) -> None:
        found = one(SUPERHEAT_TARGET, orifice_unit(), replace(AIR, return_dry_bulb_k=None))
        assert found.subject.headroom_k == 21.0

    @pytest.mark.parametrize(("bubble_k", "headroom_k"), [(320.0, 9.0), (309.0, 1.0), (None, 7.0)])
    def test_of_approach_is_to_condensing(self, bubble_k: float | None, headroom_k: float) -> None:
        """Target 3 ± 0.5 K, outdoor air 308 K. Condensing is taken to be 10 K above outdoor air
        where it is not known, and both tolerances are the least."""
        found = one(APPROACH_TARGET, bubble_k=bubble_k).subject
        assert (found.quantity, found.target_k) == (SUBCOOLING, 3.0)
        assert found.headroom_k == pytest.approx(headroom_k)

    @pytest.mark.parametrize("quantity", [SUCTION_PRESSURE, LIQUID_PRESSURE])
    def test_of_a_pressure_is_20_k_of_saturation(self, quantity: str) -> None:
        target = Target(quantity, 282.0, 1.0, NOTHING, short_below=True)  # type: ignore[arg-type]
        found = one(target, dew_k=280.0, bubble_k=280.0)
        assert found.gap_k == 2.0
        assert (found.subject.quantity, found.subject.target_k) == (SUBCOOLING, 20.0)
        assert found.subject.headroom_k == 20.0


class TestSubject:
    def test_takes_unit_scale_and_instruments_from_the_session(self) -> None:
        found = one(a_target()).subject
        state = opening(valve_unit())
        assert found.step_kg == 0.005
        assert found.tolerance_k == 2.0
        assert found.bias_k == error_k(state.scale, valve_unit(), SUBCOOLING)
        assert found.slopes == slopes_of(SUBCOOLING, 3.4, 3.0 * TON_W, state.unit_texts)
        assert of(replace(state, scale=None), short(0, 2.0)).subject.step_kg == 0.0
        orifice = one(SUPERHEAT_TARGET, orifice_unit()).subject
        assert orifice.slopes == slopes_of(SUPERHEAT, 3.4, 3.0 * TON_W, state.unit_texts)

    def test_a_maker_s_superheat_is_a_valve_s_setting_only_beside_subcooling(self) -> None:
        unit = valve_unit(maker_superheat_k=5.0)
        assert one(a_target(), unit).subject.valve_setting_k == 5.0
        assert one(SUPERHEAT_TARGET, unit).subject.valve_setting_k is None

    @pytest.mark.parametrize(
        ("known", "full_kg"),
        [
            ({}, 3.4),
            ({"line_length_m": 15.0, "line_included_m": 5.0, "line_adder_kg_per_m": 0.05}, 3.9),
            ({"line_length_m": 5.0, "line_included_m": 35.0, "line_adder_kg_per_m": 0.05}, 1.9),
            ({"line_length_m": 5.0, "line_included_m": 45.0, "line_adder_kg_per_m": 0.05}, 3.4),
            ({"line_included_m": 5.0, "line_adder_kg_per_m": 0.05}, 3.4),
            ({"line_length_m": 15.0, "line_adder_kg_per_m": 0.05}, 3.4),
            ({"line_length_m": 15.0, "line_included_m": 5.0}, 3.4),
            ({"nameplate_charge_kg": None}, 7.5 * POUND_KG),
            ({"nameplate_charge_kg": 0.0}, 7.5 * POUND_KG),
            ({"nameplate_charge_kg": None, "capacity_w": 2.0 * TON_W}, 5.0 * POUND_KG),
            ({"nameplate_charge_kg": None, "capacity_w": None}, 7.5 * POUND_KG),
            ({"nameplate_charge_kg": None, "capacity_w": 0.0}, 7.5 * POUND_KG),
        ],
    )
    def test_the_whole_charge_is_nameplate_and_line_set_or_two_and_a_half_pounds_a_ton(
        self, known: dict[str, float | None], full_kg: float
    ) -> None:
        """A line set that would take half of the charge off is not believed. Nothing known of the
        capacity: 3 tons."""
        found = one(a_target(), valve_unit(**known))
        assert found.full_charge_kg == pytest.approx(full_kg, rel=0.005)


class TestObservations:
    def test_count_what_went_in_by_weight_or_else_by_time(self) -> None:
        """0.1 kg in 20 s, then 10 s without a weight: 0.05 kg."""
        state = shoot(opening(valve_unit()), 100, 0.1, open_s=20.0)
        unweighed = Shot("u", at(1200), at(1210), 10.0, False, None)
        state = replace(state, shots=(*state.shots, unweighed))
        unknown = Shot("u", at(1300), at(1310), None, True, None)
        state = replace(state, shots=(*state.shots, unknown))
        found = of(
            state,
            short(0, 1.0),
            short(1, 2.0, shots_before=1, since_shot_s=500.0),
            short(2, 3.0, shots_before=2, since_shot_s=600.0),
            short(3, 3.0, shots_before=3, since_shot_s=700.0),
        )
        added = [each.added_kg for each in found.observations]
        assert added == pytest.approx([0.0, 0.1, 0.15, 0.15])
        assert [each.gap_k for each in found.observations] == [4.0, 3.0, 2.0, 2.0]
        assert [each.since_shot_s for each in found.observations] == [None, 500.0, 600.0, 700.0]
        assert found.readings_here == 2
        assert found.gap_k == 2.0

    def test_an_open_shot_does_not_count_yet(self) -> None:
        state = shoot(opening(valve_unit()), 100, 0.1)
        state = replace(state, shots=(*state.shots, Shot("o", at(900), None, None, False, 0.2)))
        found = of(state, short(0, 1.0), short(1, 2.0, shots_before=2))
        assert found.observations[1].added_kg == pytest.approx(0.1)

    def test_what_was_cleared_from_the_hoses_counts_as_gone_in(self) -> None:
        state = opening(valve_unit())
        found = of(state, short(0, 1.0, hoses_kg=0.06), short(1, 2.0, hoses_kg=0.02))
        assert found.observations[1].added_kg == pytest.approx(0.04)
        filled = of(state, short(0, 1.0, hoses_kg=0.02), short(1, 2.0, hoses_kg=0.06))
        assert filled.observations[1].added_kg == 0.0

    def test_leave_out_what_cannot_be_compared(self) -> None:
        other = taken(2, assessed(target=SUPERHEAT_TARGET))
        found = of(
            opening(valve_unit()),
            short(0, 1.0, running=False),
            taken(1, None),
            other,
            short(3, 1.5, since_shot_s=50.0),
            taken(4, assessed(subcooling_k=UNKNOWN)),
            taken(5, assessed(target=NoTarget(NOTHING))),
            short(6, 2.0, since_shot_s=70.0),
            short(7, 2.5),
        )
        assert [each.gap_k for each in found.observations] == [3.0, 2.5]

    def test_end_with_the_reading_that_is_asked_for(self) -> None:
        readings = (short(0, 1.0), short(1, 2.0), short(2, 3.0))
        found = outlook_of(replace(opening(valve_unit()), readings=readings), readings[1])
        assert found is not None
        assert [each.gap_k for each in found.observations] == [4.0, 3.0]

    def test_superheat_is_a_valve_s_only_where_there_is_one(self) -> None:
        assert one(a_target()).observations[0].valve_superheat_k == 6.0
        assert one(a_target(), valve_unit(metering="eev")).observations[0].valve_superheat_k == 6.0
        assert one(a_target(), orifice_unit()).observations[0].valve_superheat_k is None
        assert one(a_target(), superheat_k=UNKNOWN).observations[0].valve_superheat_k is None

    def test_nothing_can_be_said_without_unit_target_or_reading(self) -> None:
        state = replace(opening(valve_unit()), readings=(short(0, 2.0),))
        assert outlook_of(state, short(0, 2.0)) is not None
        assert outlook_of(replace(state, system=None), short(0, 2.0)) is None
        assert outlook_of(state, taken(0, None)) is None
        assert outlook_of(state, taken(0, assessed(target=NoTarget(NOTHING)))) is None
        stopped = replace(state, readings=(short(0, 2.0, running=False),))
        assert outlook_of(stopped, stopped.readings[0]) is None
        full = shoot(state, 30, 3.3)
        sunk = (short(0, 1.0), short(1, 1.0, shots_before=1, since_shot_s=900.0))
        assert outlook_of(replace(full, readings=sunk), sunk[1]) is None


class TestFlow:
    def test_is_taken_for_a_careless_hand_or_a_restrictor_before_a_shot(self) -> None:
        state = opening(valve_unit())
        assert of(state, short(0, 2.0)).flow == Feed(0.020, 0.020, learned=False)
        assert state.cylinder is not None
        metered = replace(state, cylinder=replace(state.cylinder, restrictor=True))
        assert of(metered, short(0, 2.0)).flow == Feed(
            0.004, 0.004, learned=False, slowest_kg_s=0.002
        )
        assert of(replace(state, cylinder=None), short(0, 2.0)).flow.rate_kg_s == 0.020

    def test_seen_after_the_reading_changes_nothing_before_it(self) -> None:
        """5 g/s before the reading, 10 g/s after it; half of the scale's step of 5 g in 20 s."""
        state = shoot(shoot(opening(valve_unit()), 100, 0.1), 2000, 0.1, open_s=10.0)
        found = of(state, short(0, 1.0), short(1, 2.0, shots_before=1, since_shot_s=900.0))
        assert found.flow.rate_kg_s == pytest.approx(0.010)
        assert found.counted_kg_s == pytest.approx(1.4 * 0.005 + 0.0025 / 20.0)


class TestLeastSuperheat:
    def test_of_an_orifice_is_the_far_side_of_its_target(self) -> None:
        assert one(SUPERHEAT_TARGET, orifice_unit()).least_superheat_k == pytest.approx(4.2)

    def test_of_an_orifice_by_another_target_is_the_floor(self) -> None:
        """5 °F. It holds no superheat as a valve does."""
        assert one(a_target(), orifice_unit()).least_superheat_k == pytest.approx(25.0 / 9.0)

    def test_of_a_valve_is_its_maker_s_or_a_usual_one(self) -> None:
        assert one(a_target(), valve_unit(maker_superheat_k=5.0)).least_superheat_k == 5.0
        assert one(a_target()).least_superheat_k == pytest.approx(4.5)

    @pytest.mark.parametrize(
        ("before_k", "after_k", "fed_kg", "least_k"),
        [
            (8.0, 7.2, 0.2, 6.2),
            (8.0, 6.8, 0.2, 4.5),
            (8.0, 9.0, 0.2, 8.0),
            (8.0, 7.8, 0.0, 4.5),
        ],
    )
    def test_is_what_the_valve_held_while_charge_went_in(
        self, before_k: float, after_k: float, fed_kg: float, least_k: float
    ) -> None:
        """It held when it fell by less than 1 K; then it may fall by 1 K more."""
        state = shoot(opening(valve_unit()), 100, fed_kg)
        first = taken(0, assessed(subcooling_k=1.0, superheat_k=before_k))
        second = taken(
            1,
            assessed(subcooling_k=2.0, superheat_k=after_k),
            shots_before=1,
            since_shot_s=900.0,
        )
        assert of(state, first, second).least_superheat_k == pytest.approx(least_k)
        unseen = replace(first, assessment=assessed(subcooling_k=1.0, superheat_k=UNKNOWN))
        assert of(state, unseen, second).least_superheat_k == pytest.approx(4.5)


class TestRange:
    @staticmethod
    def below(found: Outlook, missing_kg: float) -> float:
        """Weight of what is missing below this, with the instruments' error as three points."""
        total = 0.0
        for guess in found.guesses:
            middle = guess.missing * found.full_charge_kg - found.to_come_kg
            off = 1.2 * found.subject.bias_k / guess.slope_k * found.full_charge_kg
            for place, weight in ((middle - off, 0.3), (middle, 0.4), (middle + off, 0.3)):
                total += weight * guess.weight if place < missing_kg else 0.0
        return total

    @pytest.mark.parametrize("hoses_kg", [0.0, 0.06])
    def test_leaves_8_of_100_on_either_side_and_half_below_its_middle(
        self, hoses_kg: float
    ) -> None:
        found = of(opening(valve_unit()), short(0, 2.0, hoses_kg=hoses_kg))
        for value, share in ((found.low_kg, 0.08), (found.missing_kg, 0.5), (found.high_kg, 0.92)):
            assert self.below(found, value - 1e-9) <= share <= self.below(found, value + 1e-9)
        assert found.low_kg < found.missing_kg < found.high_kg

    def test_a_unit_is_as_steep_as_one_in_ten_and_its_slope_the_middle_one(self) -> None:
        found = one(a_target())
        steeper = sum(g.weight for g in found.guesses if g.slope_k > found.steep_k)
        assert (
            steeper
            <= 0.1
            < steeper + sum(g.weight for g in found.guesses if g.slope_k == found.steep_k)
        )
        middle = found.slope_k_per_kg * found.full_charge_kg
        flatter = sum(g.weight for g in found.guesses if g.slope_k < middle - 1e-6)
        not_steeper = sum(g.weight for g in found.guesses if g.slope_k < middle + 1e-6)
        assert flatter < 0.5 <= not_steeper

    def test_one_opening_of_a_blind_unit_ends_at_the_far_side_for_a_steep_one(self) -> None:
        """0.8 of 5 K and 0.8 of 2 K, less the hoses."""
        found = of(opening(valve_unit()), short(0, 0.5, hoses_kg=0.02))
        assert found.blind
        assert found.opening_kg == pytest.approx(5.6 * 3.4 / found.steep_k - 0.02)
        assert not one(a_target()).blind

    def test_no_more_than_two_ounces_a_ton_before_the_next_reading(self) -> None:
        """A flat unit, far from its target: 6 oz for 3 tons are 170 g."""
        state = shoot(opening(valve_unit(nameplate_charge_kg=8.0)), 100, 0.16)
        state = shoot(state, 2000, 0.16)
        found = of(
            state,
            short(0, 1.7),
            short(1, 1.9, shots_before=1, since_shot_s=1500.0),
            short(2, 2.1, shots_before=2, since_shot_s=1500.0),
        )
        assert found.answered
        assert found.missing_kg > 0.3
        assert found.safe_kg == pytest.approx(0.170, abs=0.001)

    def test_with_nothing_to_come_it_is_as_if_the_hoses_held_nothing(self) -> None:
        state = shoot(opening(valve_unit()), 100, 0.1)

        def held(hoses_kg: float) -> Outlook:
            first = short(0, 1.5, hoses_kg=hoses_kg)
            second = short(1, 2.9, shots_before=1, since_shot_s=1500.0, hoses_kg=hoses_kg)
            return of(state, first, second)

        full, empty = held(0.05), held(0.0)
        assert full.to_come_kg == 0.05
        assert full.missing_kg == pytest.approx(empty.missing_kg - 0.05)
        assert full.within != pytest.approx(empty.within, rel=0.01)
        kept = without_hoses(full)
        for name in (
            "missing_kg",
            "low_kg",
            "high_kg",
            "to_come_kg",
            "safe_kg",
            "opening_kg",
            "within",
            "over",
            "expected_gap_k",
        ):
            assert getattr(kept, name) == pytest.approx(getattr(empty, name)), name
        assert full.expected_gap_k < kept.expected_gap_k


class TestWithRoundFigures:
    """4 kg, target 5 ± 2 K, 0.3 kg missing; one guess, 40 K for a whole charge."""

    ON_TARGET = (Guess(0.8, 0.0, 40.0), Guess(0.2, 0.5, 40.0))

    @pytest.mark.parametrize(("to_come_kg", "past"), [(0.0, 0.0), (0.19, 0.0), (0.21, 0.8)])
    def test_the_hoses_alone_may_take_it_past(self, to_come_kg: float, past: float) -> None:
        """2 K are a twentieth of the charge, 0.2 kg."""
        asked = an_outlook(guesses=self.ON_TARGET, to_come_kg=to_come_kg)
        assert past_with_hoses(asked) == pytest.approx(past)

    @pytest.mark.parametrize(
        ("fed_kg", "to_come_kg", "over"),
        [(0.19, 0.0, 0.0), (0.21, 0.0, 0.8), (0.12, 0.12, 0.8), (0.12, 0.09, 0.56)],
    )
    def test_what_is_fed_and_the_hoses_count_together(
        self, fed_kg: float, to_come_kg: float, over: float
    ) -> None:
        """With 0.09 kg to come, which is a quarter off, three of ten points stay within."""
        asked = an_outlook(guesses=self.ON_TARGET, to_come_kg=to_come_kg)
        assert over_after(asked, fed_kg) == pytest.approx(over)

    def test_hoses_that_hide_the_target_are_told(self) -> None:
        """0.8 of 5 K at 10 K a kilogram are 0.4 kg."""
        assert hoses_blind(an_outlook(blind=True, to_come_kg=0.41))
        assert not hoses_blind(an_outlook(blind=True, to_come_kg=0.39))
        assert not hoses_blind(an_outlook(blind=False, to_come_kg=0.41))

    @pytest.mark.parametrize(
        ("superheat_k", "fed_kg", "left_k"),
        [
            (10.0, 0.0, 10.0),
            (10.0, -0.1, 10.0),
            (10.0, 0.04, 10.0 - 2.0 / 1.8),
            (10.0, 0.4, 4.0),
            (3.0, 0.04, 3.0),
            (None, 0.04, None),
        ],
    )
    def test_superheat_falls_by_2_f_for_a_hundredth_of_the_charge_down_to_what_is_held(
        self, superheat_k: float | None, fed_kg: float, left_k: float | None
    ) -> None:
        start = an_outlook(suction=replace(an_outlook().suction, superheat_k=superheat_k))
        found = start.suction_after(fed_kg)
        assert found.superheat_k == (None if left_k is None else pytest.approx(left_k, abs=0.01))
        assert found.capacity_w == start.suction.capacity_w

    @pytest.mark.parametrize(
        ("fed_kg", "constants"),
        [(0.0, 0.0), (-0.1, 0.0), (0.02, 0.0), (0.04, 0.405), (0.08, 1.099), (0.16, 1.792)],
    )
    def test_the_wait_is_until_a_fifth_of_the_tolerance_is_still_to_come(
        self, fed_kg: float, constants: float
    ) -> None:
        """A steep unit moves 60 K for 4 kg, so 0.6 K for 40 g: of these 0.4 K may be to come after
        ln(0.6 / 0.4) time constants of 150 s."""
        assert an_outlook().wait_for(fed_kg) == pytest.approx(150.0 * constants, rel=0.03)

    def test_what_may_be_the_last_addition_is_waited_for_in_full(self) -> None:
        """From 0.6 of the 0.3 kg that are missing on."""
        assert an_outlook().wait_for(0.181) == 375.0
        assert an_outlook().wait_for(0.179) < 375.0
        assert an_outlook(blind=True).wait_for(0.3) == 0.0

    def test_a_wait_is_the_papers_or_between_4_and_15_minutes(self) -> None:
        state = opening(valve_unit())
        assert wait_after(state, None, 0.1) == 240.0
        assert wait_after(state, an_outlook(), 0.02) == 240.0
        assert wait_after(state, an_outlook(), 0.181) == 375.0
        assert wait_after(state, an_outlook(full_wait_s=2000.0), 0.3) == 900.0
        papers = opening(valve_unit(papers_wait_s=1200.0))
        assert wait_after(papers, an_outlook(), 0.02) == 1200.0
        assert wait_after(papers, None, 0.02) == 1200.0
        assert wait_after(replace(state, system=None), None, 0.0) == 240.0

    @pytest.mark.parametrize(
        ("settling_s", "wait_s"), [(70.0, 300.0), (150.0, 375.0), (340.0, 850.0), (400.0, 900.0)]
    )
    def test_a_full_wait_is_two_and_a_half_constants_within_5_to_15_minutes(
        self, settling_s: float, wait_s: float
    ) -> None:
        assert outlooks._full_wait(settling_s) == pytest.approx(wait_s)

    def test_before_any_shot_a_unit_settles_as_the_middle_one_does(self) -> None:
        found = one(a_target())
        assert found.settling_s == 150.0
        assert found.full_wait_s == 375.0
        assert one(a_target(), valve_unit(papers_wait_s=1200.0)).full_wait_s == 1200.0


def test_the_suction_side_is_that_of_the_last_reading() -> None:
    found = one(a_target(), superheat_k=9.0, suction_share=0.8).suction
    assert (found.refrigerant, found.superheat_k, found.share) == ("R-410A", 9.0, 0.8)
    assert found.capacity_w == 3.0 * TON_W
    assert found.parts == 1.0
    assert one(a_target(), superheat_k=UNKNOWN).suction.superheat_k is None
