"""One opening: what boils, what may lie in the line, and the flow, by hand calculation."""

from dataclasses import replace

import pytest
from advice_cases import at, valve_unit

from lowside.core.advice import feeding
from lowside.core.advice.feeding import Feed, Suction
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import bubble_pressure, liquid_enthalpy, vapor_enthalpy
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.core.session.state import Shot

THREE_TONS = Suction("R-410A", 3.0 * TON_W, 12.0)
"""10.55 kW. 10 K of its superheat may go: 10 550 W × 2.5e-8 kg/J/K × 10 K are 2.638 g/s. With 9 %
that flashes by itself 2.898 g/s boil."""
BOILS_KG_S = 0.002898


def shot(kilograms: float | None, open_s: float | None = 20.0, *, doubtful: bool = False) -> Shot:
    return Shot("s", at(0), at(20), open_s, doubtful, kilograms)


class TestBoiling:
    def test_goes_with_capacity_density_and_superheat_past_2_k(self) -> None:
        assert feeding.boil_rate(THREE_TONS) == pytest.approx(BOILS_KG_S, rel=1e-3)
        thin = replace(THREE_TONS, share=0.5)
        assert feeding.boil_rate(thin) == pytest.approx(0.5 * BOILS_KG_S, rel=1e-3)
        warmer = replace(THREE_TONS, superheat_k=22.0)
        assert feeding.boil_rate(warmer) == pytest.approx(2.0 * BOILS_KG_S, rel=1e-3)
        small = replace(THREE_TONS, capacity_w=TON_W)
        assert feeding.boil_rate(small) == pytest.approx(BOILS_KG_S / 3.0, rel=1e-3)

    @pytest.mark.parametrize("superheat_k", [None, -1.0, 1.5, 2.0])
    def test_is_none_without_superheat_to_spare(self, superheat_k: float | None) -> None:
        assert feeding.boil_rate(replace(THREE_TONS, superheat_k=superheat_k)) == 0.0

    def test_of_an_unknown_refrigerant_is_that_of_the_slowest(self) -> None:
        """1.3 of 2.5 in the table's unit."""
        unknown = feeding.boil_rate(replace(THREE_TONS, refrigerant="R-1"))
        assert unknown == pytest.approx(BOILS_KG_S * 1.3 / 2.5, rel=1e-3)
        for name in feeding.BOILS:
            assert feeding.boil_rate(replace(THREE_TONS, refrigerant=name)) >= unknown

    def test_what_flashes_is_the_least_of_the_property_tables(self, handbook: Handbook) -> None:
        """Liquid of 25 °C let down to 10 °C."""
        shares = {}
        for name in feeding.BOILS:
            table = handbook.tables[name]
            warm = bubble_pressure(table, 298.15)
            cold = bubble_pressure(table, 283.15)
            assert isinstance(warm, float)
            assert isinstance(cold, float)
            before, liquid = liquid_enthalpy(table, warm), liquid_enthalpy(table, cold)
            vapor = vapor_enthalpy(table, cold)
            assert isinstance(before, float)
            assert isinstance(liquid, float)
            assert isinstance(vapor, float)
            shares[name] = (before - liquid) / (vapor - liquid)
        assert feeding.FLASHES <= min(shares.values()) < feeding.FLASHES + 0.01
        assert min(shares, key=lambda name: shares[name]) == "R-32"


class TestSuctionSide:
    @pytest.mark.parametrize(
        ("capacity_w", "tons"), [(None, 1.5), (0.0, 1.5), (1.0, 1.0 / TON_W), (2.0 * TON_W, 2.0)]
    )
    def test_is_small_where_the_capacity_is_not_known(
        self, capacity_w: float | None, tons: float
    ) -> None:
        found = feeding.suction_of(valve_unit(capacity_w=capacity_w), 8.0)
        assert found.capacity_w == pytest.approx(tons * TON_W)
        assert (found.refrigerant, found.superheat_k, found.parts) == ("R-410A", 8.0, 1.0)

    @pytest.mark.parametrize(("share", "dense"), [(None, 1.0), (1.3, 1.0), (0.8, 0.8)])
    def test_gas_denser_than_rated_counts_as_rated(self, share: float | None, dense: float) -> None:
        assert feeding.suction_of(valve_unit(), 8.0, share, 0.5).share == dense

    @pytest.mark.parametrize("rate_kg_s", [0.004, 0.020, 0.1])
    def test_gas_that_boils_nothing_never_gets_more_than_warmer_gas(self, rate_kg_s: float) -> None:
        hand = Feed(rate_kg_s, rate_kg_s, True)
        wet = feeding.suction_of(valve_unit(), 1.9, 1.0)
        warmer = feeding.suction_of(valve_unit(), 2.0, 0.98)
        assert feeding.most_in_one_opening(wet, hand) == feeding.most_before_reading(wet) == 0.0
        assert feeding.most_in_one_opening(warmer, hand) > 0.0

    @pytest.mark.parametrize(
        ("coil", "accumulator", "parts"),
        [
            ("tube_fin", "no", 1.0),
            ("tube_fin", "", 1.0),
            ("tube_fin", "yes", 0.75),
            ("microchannel", "no", 0.5),
            ("", "", 0.5),
            ("", "yes", 0.375),
        ],
    )
    def test_gets_less_where_ounces_matter_or_an_accumulator_hides_them(
        self, coil: str, accumulator: str, parts: float
    ) -> None:
        """docs/advice.md: half, and three quarters."""
        assert feeding.parts_of({"coil": coil, "accumulator": accumulator}) == parts
        assert feeding.parts_of({}) == 0.5


class TestOneOpening:
    def test_lies_in_the_line_for_a_moment(self) -> None:
        """20 g a ton."""
        assert feeding.held_kg(THREE_TONS) == pytest.approx(0.060)

    @pytest.mark.parametrize(
        ("fastest_kg_s", "most_kg"),
        [(0.020, 0.0771), (0.005, 0.1134), (0.0031, 0.1134), (0.0010, 0.1134)],
    )
    def test_is_what_may_lie_there_and_what_boils_meanwhile(
        self, fastest_kg_s: float, most_kg: float
    ) -> None:
        """At 20 g/s 2.898 g boil of each 20: 60 g ÷ 0.91 ÷ (1 − 0.1449). Never more than 4 oz."""
        flow = Feed(fastest_kg_s, fastest_kg_s, learned=True)
        found = feeding.most_in_one_opening(THREE_TONS, flow)
        assert found == pytest.approx(most_kg, rel=1e-3)

    def test_is_smaller_in_thin_gas_and_where_ounces_matter(self) -> None:
        """Half of 60 g ÷ 0.91 ÷ (1 − 0.0725), and half of 4 oz."""
        fast = Feed(0.020, 0.020, learned=True)
        thin = replace(THREE_TONS, share=0.5)
        assert feeding.most_in_one_opening(thin, fast) == pytest.approx(0.03554, rel=1e-3)
        slow = Feed(0.002, 0.002, learned=True)
        assert feeding.most_in_one_opening(thin, slow) == pytest.approx(2.0 * OUNCE_KG)
        parts = replace(THREE_TONS, parts=0.5)
        assert feeding.most_in_one_opening(parts, fast) == pytest.approx(0.0771 / 2.0, rel=1e-3)
        assert feeding.most_in_one_opening(parts, slow) == pytest.approx(2.0 * OUNCE_KG)

    def test_is_at_most_five_times_what_may_lie_there_however_slow(self) -> None:
        """A fifth of the flow at least is taken not to boil."""
        small = replace(THREE_TONS, capacity_w=0.5 * TON_W)
        slow = Feed(0.0001, 0.0001, learned=True)
        assert feeding.most_in_one_opening(small, slow) == pytest.approx(0.010 / 0.91 / 0.2)

    @pytest.mark.parametrize(
        ("kilograms", "step_kg", "whole"),
        [
            (0.0124, 0.005, 0.010),
            (0.0126, 0.005, 0.015),
            (0.001, 0.005, 0.005),
            (0.0124, 0.0, 0.0124),
        ],
    )
    def test_is_a_whole_number_of_the_scale_s_steps(
        self, kilograms: float, step_kg: float, whole: float
    ) -> None:
        assert feeding.whole_steps(kilograms, step_kg) == pytest.approx(whole)

    @pytest.mark.parametrize(
        ("amount_kg", "seconds"), [(0.040, 10.0), (0.0124, 3.1), (0.0116, None)]
    )
    def test_takes_3_seconds_at_least(self, amount_kg: float, seconds: float | None) -> None:
        found = feeding.seconds_for(amount_kg, 0.004)
        assert found == (None if seconds is None else pytest.approx(seconds))


def test_between_two_readings_2_ounces_a_ton_and_0_8_while_blind() -> None:
    assert feeding.most_before_reading(THREE_TONS) == pytest.approx(6.0 * OUNCE_KG)
    assert feeding.least_blind(THREE_TONS) == pytest.approx(2.4 * OUNCE_KG)
    half = replace(THREE_TONS, parts=0.5)
    assert feeding.most_before_reading(half) == pytest.approx(3.0 * OUNCE_KG)
    assert feeding.least_blind(half) == pytest.approx(1.2 * OUNCE_KG)


@pytest.mark.parametrize(
    ("superheat_k", "pause_s"),
    [(12.0, 60.0), (5.0, 103.5), (4.0, 155.3), (3.0, 240.0), (2.0, 240.0), (None, 240.0)],
)
def test_the_pause_is_until_half_as_much_again_has_boiled_within_1_to_4_minutes(
    superheat_k: float | None, pause_s: float
) -> None:
    """60 g and half of it, at 0.2898 g/s for each kelvin past 2 K."""
    found = feeding.boil_off_s(replace(THREE_TONS, superheat_k=superheat_k))
    assert found == pytest.approx(pause_s, rel=1e-3)


class TestFlowAskedFor:
    def test_is_seven_tenths_of_what_boils_and_a_hand_s_slowest_at_least(self) -> None:
        hand = Feed(0.003, 0.0042, learned=True)
        wet = feeding.rate_to_ask_for(THREE_TONS, hand)
        assert wet == pytest.approx(0.7 * BOILS_KG_S, rel=1e-3)
        dry = replace(THREE_TONS, superheat_k=2.5)
        slow = feeding.rate_to_ask_for(dry, hand)
        assert slow == pytest.approx(1.5 * OUNCE_KG / 60.0, rel=0.02)

    @pytest.mark.parametrize(
        ("seen_g_s", "asked_g_s", "fast", "counts_g_s"),
        [
            (2.9, 2.0, False, 2.9),
            (3.1, 2.0, True, 2.0),
            (1.4, 2.0, False, 1.4),
            (1.3, 2.0, False, 2.0),
            (1.35, 0.7, False, 1.35),
            (1.45, 0.7, True, 0.7),
        ],
    )
    def test_the_last_flow_counts_where_a_hand_may_keep_to_it(
        self, seen_g_s: float, asked_g_s: float, fast: bool, counts_g_s: float
    ) -> None:
        """Up to half as much again, down to two thirds; up to 3 oz a minute, 1.42 g/s, is never too
        fast."""
        seen = Feed(seen_g_s / 1000.0, 0.005, learned=True)
        asked = asked_g_s / 1000.0
        assert feeding.too_fast(seen, asked) == fast
        assert feeding.rate_to_count_on(seen, asked) == pytest.approx(counts_g_s / 1000.0)
        guessed = replace(seen, learned=False)
        assert not feeding.too_fast(guessed, asked)
        assert feeding.rate_to_count_on(guessed, asked) == asked


class TestFlowSeen:
    """A scale with steps of 5 g: 50 g show the flow."""

    def test_is_the_last_heavy_shot_s(self) -> None:
        found = feeding.feed_of([shot(0.2), shot(0.06)], 0.005)
        assert found.learned
        assert found.rate_kg_s == pytest.approx(0.003)
        assert found.fastest_kg_s == pytest.approx(1.4 * 0.003 + 0.0025 / 20.0)

    def test_of_light_shots_is_the_mean_until_they_are_heavy(self) -> None:
        shots = [shot(0.2, 10.0), shot(0.03, 20.0), shot(0.02, 20.0)]
        assert feeding.feed_of(shots, 0.005).rate_kg_s == pytest.approx(0.05 / 40.0)
        shots[2] = shot(0.015, 20.0)
        assert feeding.feed_of(shots, 0.005).rate_kg_s == pytest.approx(0.245 / 50.0)

    @pytest.mark.parametrize(
        "odd",
        [
            shot(None),
            shot(0.1, None),
            shot(0.1, doubtful=True),
            shot(-0.05),
            shot(0.1, 0.0),
            shot(0.1, -5.0),
        ],
    )
    def test_leaves_out_what_shows_no_flow(self, odd: Shot) -> None:
        assert feeding.feed_of([shot(0.06), odd], 0.005) == feeding.feed_of([shot(0.06)], 0.005)
        assert feeding.feed_of([odd], 0.005) == Feed(0.020, 0.020, learned=False)

    def test_is_not_seen_in_less_than_a_second_or_without_weight(self) -> None:
        assert feeding.feed_of([shot(0.01, 0.9)], 0.005, 0.004) == Feed(0.004, 0.004, learned=False)
        assert feeding.feed_of([shot(0.01, 1.1)], 0.005).learned
        assert not feeding.feed_of([shot(0.0)], 0.005).learned
        assert feeding.feed_of([], 0.005) == Feed(0.020, 0.020, learned=False)


@pytest.mark.parametrize(("rate_kg_s", "beyond"), [(0.0465, False), (0.0471, True)])
def test_a_flow_of_which_3_seconds_are_twice_too_much_is_beyond_a_hand(
    rate_kg_s: float, beyond: bool
) -> None:
    """60 g may lie in 3 tons' line, 65.9 g with what flashes. 2.9 g/s boil: at 46.8 g/s, 140.5 g
    come in 3 s and 70.2 g fit."""
    flow = Feed(rate_kg_s, 1.4 * rate_kg_s, learned=True)
    assert feeding.beyond_a_hand(THREE_TONS, flow) == beyond
    assert not feeding.beyond_a_hand(THREE_TONS, replace(flow, learned=False))
    assert not feeding.beyond_a_hand(replace(THREE_TONS, capacity_w=4.0 * TON_W), flow)
    assert feeding.beyond_a_hand(replace(THREE_TONS, capacity_w=2.0 * TON_W), flow)
    assert feeding.beyond_a_hand(replace(THREE_TONS, share=0.7), flow)
    ounces_matter = replace(THREE_TONS, parts=0.5)
    assert feeding.beyond_a_hand(ounces_matter, flow) == beyond
