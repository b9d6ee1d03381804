"""How the weight of a guess is made, against the formulas of docs/advice.md written down again."""

from collections.abc import Sequence

import pytest
from outlook_cases import seen, subject

from lowside.core.advice import response
from lowside.core.advice.decay import decay, time_constants_until
from lowside.core.advice.prior import Slopes
from lowside.core.advice.response import Guess, Observation, Subject, learn
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT

SETTLING_S = (70.0, 150.0, 400.0)
ORIFICE = subject(
    quantity=SUPERHEAT,
    target_k=7.0,
    tolerance_k=2.8,
    headroom_k=20.0,
    slopes=Slopes((80.0, 160.0), (0.6, 0.4)),
)


def students_t(off_k: float, variance: float) -> float:
    """Five degrees of freedom, without the factor that all have."""
    return float((1.0 + off_k**2 / (5.0 * variance)) ** -3.0)


def bent(straight: float, shape: tuple[float, float, float], unit: Subject) -> float:
    """The gap [K] where a straight line says `straight`."""
    ceiling, power, bend = shape
    if straight <= 0.0:
        return straight
    if unit.quantity == SUPERHEAT:
        return straight / (1.0 + (straight / ceiling) ** 2) ** 0.5
    if power > 1.0:
        return ceiling * (1.0 - max(1.0 - straight / (power * ceiling), 0.0) ** power)
    line = straight * (1.0 + bend * straight / unit.headroom_k)
    return float(line / (1.0 + (line / ceiling) ** 4) ** 0.25)


def shapes_of(unit: Subject) -> list[tuple[float, float, float]]:
    if unit.quantity == SUPERHEAT:
        return [(share * unit.headroom_k, 1.0, 0.0) for share in response.SUPERHEAT_CEILINGS]
    return [(share * unit.headroom_k, p, b) for share, p, b in response.SUBCOOLING_SHAPES]


def first_weight(missing: float) -> float:
    """Missing at the first reading: as likely up to 0.42, none from 0.60; too much to 0.25, half as
    likely."""
    if missing < 0.0:
        return 0.5 if missing >= -0.25 else 0.0
    return min(max((0.60 - missing) / 0.18, 0.0), 1.0)


def expected(
    unit: Subject, readings: Sequence[Observation], blind: int
) -> tuple[list[float], list[float]]:
    """Weights of the pairs in their order, and of the settling times."""
    last = readings[-1]
    before = response._charge_before(readings)
    reach = response._reach(unit, readings, before)
    most = 0.60 - (last.added_kg - readings[0].added_kg) / unit.full_charge_kg
    share = 0.05 if unit.quantity == SUBCOOLING else 0.10
    pairs: list[float] = []
    settling = [0.0, 0.0, 0.0]
    for slope, likely in zip(unit.slopes.kelvin, unit.slopes.weights, strict=True):
        for missing, width in response._tried(unit, slope, reach, most):
            whole = (last.added_kg - readings[0].added_kg) / unit.full_charge_kg
            start = likely * width * first_weight(missing + whole)
            if start == 0.0:
                continue
            pairs.append(0.0)
            for shape in shapes_of(unit):
                starts = start
                if last.valve_superheat_k is not None:
                    beyond = missing - response._onset(unit, slope, shape)
                    starts *= response._starving(unit, last.valve_superheat_k, beyond)
                for k, constant in enumerate(SETTLING_S):
                    weight = starts * response.SETTLING_WEIGHTS[k]
                    shown: list[float] = []
                    for i, reading in enumerate(readings):
                        to_go = missing + (last.added_kg - reading.added_kg) / unit.full_charge_kg
                        gap = bent(slope * to_go, shape, unit)
                        if before[i] >= 0 and reading.since_shot_s is not None:
                            gap += (shown[before[i]] - gap) * decay(reading.since_shot_s / constant)
                        shown.append(gap)
                        noise = 0.30**2 + (share * reading.gap_k) ** 2
                        noise += (slope * 0.4 * unit.step_kg / unit.full_charge_kg) ** 2
                        noise += blind * 0.5**2 if i < blind else 0.0
                        weight *= students_t(reading.gap_k - gap, noise)
                    pairs[-1] += weight
                    settling[k] += weight
    return [w / sum(pairs) for w in pairs], [w / sum(settling) for w in settling]


@pytest.mark.parametrize(
    ("unit", "readings", "blind"),
    [
        (subject(), [seen(0.0, 3.0)], 0),
        (subject(), [seen(0.0, -2.0)], 0),
        (subject(step_kg=0.02), [seen(0.0, 3.4), seen(0.1, 2.6, 300.0)], 0),
        (subject(), [seen(0.0, 3.4, None, 9.0), seen(0.1, 2.6, 300.0, 16.0)], 0),
        (
            subject(valve_setting_k=5.0),
            [seen(0.0, 4.9, None, 14.0), seen(0.1, 4.7, 900.0, 12.0), seen(0.2, 3.0, 600.0, 9.0)],
            2,
        ),
        (
            ORIFICE,
            [seen(0.0, 9.0), seen(0.1, 6.5, 200.0), seen(0.1, 6.0, 500.0), seen(0.2, 4.0, 150.0)],
            0,
        ),
    ],
)
def test_a_guess_weighs_what_the_formula_says(
    unit: Subject, readings: list[Observation], blind: int
) -> None:
    learned = learn(unit, readings)
    assert learned is not None
    weights, settling = expected(unit, readings, blind)
    assert [guess.weight for guess in learned.guesses] == pytest.approx(weights, rel=1e-9)
    assert learned.settling == pytest.approx(settling, rel=1e-9)


def test_readings_below_no_subcooling_are_first_moved_by_what_the_instruments_show() -> None:
    """Twice 1.25 K below no subcooling: past 0.25 K of pressure drop 0.7 of it is the instruments',
    so 0.7 K."""
    low = [seen(0.0, 6.0), seen(0.1, 6.5, 900.0), seen(0.2, 3.0, 600.0)]
    moved = response._without_offset(subject(), low)
    assert [each.gap_k for each in moved] == pytest.approx([5.3, 5.8, 2.3])
    learned = learn(subject(), low)
    assert learned is not None
    weights, _ = expected(subject(), moved, 2)
    assert [guess.weight for guess in learned.guesses] == pytest.approx(weights, rel=1e-9)
    little = [seen(0.0, 5.2), seen(0.1, 5.2, 900.0)]
    assert response._without_offset(subject(), little) == little
    short_of_liquid = subject(headroom_k=5.5)
    assert response._without_offset(short_of_liquid, low) == low


def test_what_no_guess_explains_is_not_guessed() -> None:
    """Nine tenths of the charge went in, and it is still short: no unit ran without that."""
    assert learn(subject(), [seen(0.0, 3.0), seen(3.6, 3.0, 900.0)]) is None
    assert learn(subject(), [seen(0.0, 3.0), seen(0.4, 3.0, 900.0)]) is not None


class TestShapes:
    """4 kg, target 5 K."""

    def test_near_the_target_every_shape_has_the_slope(self) -> None:
        for unit in (subject(), ORIFICE):
            for shape in response._shapes(unit):
                near = response.gap_at(0.001, 40.0, shape, unit)
                assert near == pytest.approx(0.04, rel=0.01)
                assert response.gap_at(-0.1, 40.0, shape, unit) == pytest.approx(-4.0)

    def test_subcooling_ends_at_none_and_superheat_at_what_the_gas_can_get(self) -> None:
        for shape in response._shapes(subject()):
            assert response.gap_at(0.6, 200.0, shape, subject()) == pytest.approx(5.0, rel=0.051)
        ends = [response.gap_at(0.6, 9000.0, shape, ORIFICE) for shape in response._shapes(ORIFICE)]
        assert ends == pytest.approx([14.0, 20.0, 32.0, 80.0], rel=0.01)

    @pytest.mark.parametrize(("power", "end"), [(2.0, 0.25), (1.5, 0.1875)])
    def test_liquid_by_a_power_is_gone_at_that_many_times_the_target(
        self, power: float, end: float
    ) -> None:
        """40 K: 5 K are an eighth of the charge. At half of the way 0.5 to that power is left."""
        shape = (5.0, power, 0.0)
        assert shape in response._shapes(subject())
        assert response._onset(subject(), 40.0, shape) == pytest.approx(end)
        assert response.gap_at(end, 40.0, shape, subject()) == pytest.approx(5.0)
        half = response.gap_at(0.5 * end, 40.0, shape, subject())
        assert half == pytest.approx(5.0 * (1.0 - 0.5**power))
        assert response.gap_at(2.0 * end, 40.0, shape, subject()) == pytest.approx(5.0)

    def test_a_straight_one_ends_where_its_line_does_and_a_bent_one_before(self) -> None:
        straight, curved = response._shapes(subject())[2:]
        assert response._onset(subject(), 42.0, straight) == pytest.approx(0.125)
        onset = response._onset(subject(), 42.0, curved)
        line = 42.0 * onset
        assert line * (1.0 + 0.7 * line / 5.0) == pytest.approx(5.25)
        assert onset < 0.1
        assert response.gap_at(0.02, 42.0, curved, subject()) > response.gap_at(
            0.02, 42.0, straight, subject()
        )


class TestStarving:
    """A valve holds 6.5 ± 4 K, or what its manufacturer says ± 2 K; a starved one 25 to 220 K for a
    whole charge more than it lost its liquid by."""

    @pytest.mark.parametrize(
        ("superheat", "beyond", "off", "spread"),
        [
            (6.5, 0.0, 0.0, 4.0),
            (6.5, -0.3, 0.0, 4.0),
            (10.5, 0.0, 4.0, 4.0),
            (2.5, 0.0, 4.0, 4.0),
            (10.5, 0.1, 0.0, 4.0),
            (36.5, 0.1, 8.0, 4.0),
            (7.0, 0.1, 2.0, 4.0),
        ],
    )
    def test_superheat_says_how_far_the_flat_part_is(
        self, superheat: float, beyond: float, off: float, spread: float
    ) -> None:
        found = response._starving(subject(), superheat, beyond)
        assert found == pytest.approx(students_t(off, spread**2))

    def test_a_known_setting_counts_more_closely(self) -> None:
        known = subject(valve_setting_k=5.0)
        assert response._starving(known, 5.0, 0.0) == 1.0
        assert response._starving(known, 9.0, 0.0) == pytest.approx(students_t(4.0, 4.0))


class TestWhatIsTried:
    def test_about_a_reading_by_three_and_a_half_of_its_spread(self) -> None:
        """4 K short: 0.3 K and 5 % of 4 K are a spread of 0.36 K."""
        spread = (0.30**2 + 0.2**2) ** 0.5
        low, high = response._reach(subject(), [seen(0.0, 4.0)], [-1])
        assert (low, high) == pytest.approx((4.0 - 3.5 * spread, 4.0 + 3.5 * spread))

    def test_and_as_far_below_as_the_slowest_unit_may_still_have_to_go(self) -> None:
        """400 s after the shot the slowest has 0.368 of its way before it: it came down 2 K, so
        2 K × 0.368 / 0.632 more."""
        came = [seen(0.0, 6.0), seen(0.1, 4.0, 400.0)]
        still = response._reach(subject(), [seen(0.0, 4.0)], [-1])
        low, high = response._reach(subject(), came, [-1, 0])
        assert low == pytest.approx(still[0] - 2.0 * 0.3679 / 0.6321, rel=1e-3)
        assert high == pytest.approx(still[1])
        risen = [seen(0.0, 3.0), seen(0.1, 4.0, 400.0)]
        assert response._reach(subject(), risen, [-1, 0]) == pytest.approx(still)
        untimed = [seen(0.0, 6.0), seen(0.1, 4.0)]
        assert response._reach(subject(), untimed, [-1, 0]) == pytest.approx(still)

    @pytest.mark.parametrize(
        ("reach", "low", "high"),
        [
            ((-2.0, -1.0), -0.05, -0.025),
            ((-20.0, -1.0), -0.3, -0.025),
            ((-20.0, -16.0), -0.3, -0.298),
            ((-1.0, 1.0), -0.025, 0.05),
            ((1.0, 2.0), 0.015, 0.1),
            ((1.0, 2.9), 0.015, 0.145),
        ],
    )
    def test_evenly_between_the_least_and_the_most_the_reading_allows(
        self, reach: tuple[float, float], low: float, high: float
    ) -> None:
        """40 K for a whole charge, target 5 K. Before it is flat at most twice what a straight line
        says and at least 0.6 of it; past the target the line is straight, to 0.3 of the charge."""
        tried = response._tried(subject(), 40.0, reach, 0.6)
        width = (high - low) / 26
        assert [w for _, w in tried] == pytest.approx([width] * 26)
        assert [m for m, _ in tried] == pytest.approx([low + (i + 0.5) * width for i in range(26)])

    def test_where_it_may_be_flat_more_closely_before_the_flat_part(self) -> None:
        """2.2 × 5 K at 40 K: flat from 0.275 on."""
        tried = response._tried(subject(), 40.0, (2.0, 3.1), 0.6)
        assert len(tried) == 26
        assert [w for _, w in tried[:18]] == pytest.approx([(0.275 - 0.03) / 18] * 18)
        assert [w for _, w in tried[18:]] == pytest.approx([(0.6 - 0.275) / 8] * 8)
        assert sum(w for _, w in tried) == pytest.approx(0.57)

    @pytest.mark.parametrize(("slope", "most"), [(18.0, 0.6), (40.0, 0.25)])
    def test_evenly_where_the_flat_part_is_out_of_reach(self, slope: float, most: float) -> None:
        tried = response._tried(subject(), slope, (2.0, 3.1), most)
        low = 0.6 * 2.0 / slope
        assert [w for _, w in tried] == pytest.approx([(most - low) / 26] * 26)

    def test_no_more_than_can_be_missing(self) -> None:
        tried = response._tried(subject(), 40.0, (1.0, 2.0), 0.08)
        assert tried[-1][0] + 0.5 * tried[-1][1] == pytest.approx(0.08)
        nothing = response._tried(subject(), 40.0, (2.0, 4.0), 0.01)
        assert sum(w for _, w in nothing) == pytest.approx(0.002)

    def test_a_reading_that_is_all_flat_is_tried_evenly(self) -> None:
        far = response._tried(subject(), 400.0, (30.0, 31.0), 0.6)
        assert len({round(w, 9) for _, w in far}) == 1


def test_each_reading_came_from_the_last_one_with_less_charge() -> None:
    amounts = (0.0, 0.1, 0.1, 0.3, 0.2, 0.3)
    readings = [seen(amount, 3.0) for amount in amounts]
    assert response._charge_before(readings) == [-1, 0, 0, 2, 2, 4]


def test_a_weighed_shot_strays_by_a_step_over_the_root_of_six() -> None:
    """Two readings, each rounded to the step."""
    found = response._weighing_error(subject(step_kg=0.1), 60.0)
    assert found == pytest.approx((60.0 * 0.1 / 4.0) ** 2 / 6.0, rel=0.05)


class TestOnPlateau:
    """0.8 of 5 K is 4 K."""

    @pytest.mark.parametrize(
        ("gaps", "count"),
        [
            ((3.9,), 0),
            ((4.1,), 1),
            ((3.9, 4.5), 0),
            ((4.5, 4.6, 3.9), 2),
            ((5.5, 5.5, 4.9), 3),
            ((5.5, 5.5, 4.7), 2),
            ((5.5, 5.5, 4.7, 5.2), 4),
            ((5.5, 5.5, 4.7, 5.0), 2),
            ((5.5, 5.5, 3.0, 5.2, 3.0), 4),
            ((5.2, 5.8, 4.9, 4.5), 3),
        ],
    )
    def test_ends_with_the_first_reading_that_shows_liquid(
        self, gaps: tuple[float, ...], count: int
    ) -> None:
        """0.7 K nearer than the mean of those before, unless a later one comes back to 0.4 K."""
        readings = [seen(0.1 * i, gap) for i, gap in enumerate(gaps)]
        assert response.on_plateau(subject(), readings) == count
        assert response.on_plateau(subject(quantity=SUPERHEAT), readings) == 0


class TestQuantiles:
    PAIRS = ((3.0, 0.2), (1.0, 0.5), (2.0, 0.3))

    @pytest.mark.parametrize(
        ("share", "value"), [(0.1, 1.0), (0.5, 1.0), (0.51, 2.0), (0.79, 2.0), (0.9, 3.0)]
    )
    def test_the_value_below_which_that_share_lies(self, share: float, value: float) -> None:
        assert response.quantile(self.PAIRS, share) == value

    def test_several_at_once_and_the_largest_where_weight_is_lacking(self) -> None:
        assert response.quantiles(self.PAIRS, (0.1, 0.2, 0.6, 0.95)) == [1.0, 1.0, 2.0, 3.0]
        short = [(value, 0.5 * weight) for value, weight in self.PAIRS]
        assert response.quantiles(short, (0.2, 0.4, 0.6, 0.9)) == [1.0, 2.0, 3.0, 3.0]


def test_the_instruments_spread_what_is_missing_to_both_sides() -> None:
    """0.5 K at 60 K is 0.0083 of the charge; 1.2 times that at 0.3 of the weight each. The variance
    is that of a normal distribution, but for a seventh."""
    spread = response.missing_with_bias([Guess(0.5, 0.1, 60.0)], 0.5)
    assert [value for value, _ in spread] == pytest.approx([0.09, 0.1, 0.11])
    assert [weight for _, weight in spread] == pytest.approx([0.15, 0.20, 0.15])
    variance = sum(w / 0.5 * (v - 0.1) ** 2 for v, w in spread)
    assert variance == pytest.approx((0.5 / 60.0) ** 2, rel=1.0 / 7.0)


def test_time_until_little_is_left_turns_the_exponential_round() -> None:
    for left in (0.9, 0.7, 0.5, 0.3, 0.2, 0.1, 0.04, 0.01, 0.001):
        assert decay(time_constants_until(left)) == pytest.approx(left, rel=1e-9)
    assert time_constants_until(0.0001) == 8.0
    assert time_constants_until(1.0) == 0.0
    assert time_constants_until(3.0) == 0.0
    assert decay(0.0) == 1.0
    assert decay(-0.5) == 1.0
    assert decay(-2.0) == 1.0
    assert decay(8.0) == 0.0
    assert decay(7.9) > 0.0
