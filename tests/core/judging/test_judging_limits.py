"""Each limit of the judgment on both sides, in the °F and psi of its source (docs/charge.md)."""

from dataclasses import replace

import pytest
from charge_cases import DEGREE, FIXED_UNIT, VALVE_UNIT, kelvin, pascal, reading_of, summer

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import (
    bubble_temperature,
    dew_pressure,
    dew_temperature,
    vapour_density,
)
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_CHART,
    BY_LIQUID_PRESSURE,
    BY_SUBCOOLING,
    BY_SUCTION_PRESSURE,
    BY_SUPERHEAT,
    BY_WEIGHT,
    EEV,
    FIXED,
    TXV,
    ChartPoint,
    Reading,
    System,
)
from lowside.core.judging import conditions
from lowside.core.judging.charge import assess, reason
from lowside.core.judging.chart_points import NO_LINE, OUTDOOR, WET_BULB, axis_of, target_of
from lowside.core.judging.contrary import contrary
from lowside.core.judging.faults import (
    HIGH,
    LOW,
    NORMAL,
    NOT_KNOWN,
    Signs,
    approach_contradicted,
    condensing_below_outdoor,
    finding_of,
    head_level,
    pattern,
    signs_of,
    split_level,
    suction_level,
)
from lowside.core.judging.findings import Finding, Unknown, missing_text
from lowside.core.judging.plausibility import contradictions
from lowside.core.judging.starvation import starved_findings, suction_share, vacuum_findings
from lowside.core.judging.targets import (
    APPROACH,
    SUBCOOLING,
    SUPERHEAT,
    NoTarget,
    Target,
    chart_target,
    expected_superheat,
    needed_to_add,
    still_needed,
    target_for,
    wet_bulb_of,
)
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import FOOT_M, PSI_PA

NOTHING = Reading(None, None, None, None)
UNKNOWN = Unknown(Finding("x", "shows"))
US = UnitChoice("psig", "°F", "lb+oz", "ft")


def codes(found: list[Finding]) -> list[str]:
    return [each.code for each in found]


def air(outdoor: float | None = None, indoor: float | None = None, **rest: float) -> Reading:
    """Air in °F."""
    return replace(
        NOTHING,
        outdoor_dry_bulb_k=None if outdoor is None else kelvin(outdoor),
        return_dry_bulb_k=None if indoor is None else kelvin(indoor),
        **rest,
    )


class TestAirOfTheMethod:
    FIXED_SUBCOOLING = replace(VALVE_UNIT, metering=FIXED)
    APPROACHED = replace(VALVE_UNIT, method=BY_APPROACH)

    @pytest.mark.parametrize(
        ("unit", "outdoor", "code"),
        [
            (VALVE_UNIT, 54.9, "outdoor_cold"),
            (VALVE_UNIT, 55.0, None),
            (VALVE_UNIT, 120.0, None),
            (VALVE_UNIT, 120.1, "outdoor_hot"),
            (FIXED_UNIT, 55.1, None),
            (FIXED_SUBCOOLING, 64.9, "outdoor_cold"),
            (FIXED_SUBCOOLING, 65.0, None),
            (APPROACHED, 64.9, "outdoor_cold"),
            (APPROACHED, 65.0, None),
            (replace(VALVE_UNIT, method=BY_WEIGHT), 10.0, None),
        ],
    )
    def test_outdoors(self, unit: System, outdoor: float, code: str | None) -> None:
        found = conditions.method_limits(unit, air(outdoor))
        assert codes(found) == ([] if code is None else [code])

    @pytest.mark.parametrize(
        ("indoor", "code", "level"),
        [
            (69.9, "indoor_cold", "refuse"),
            (70.0, None, None),
            (80.0, None, None),
            (80.1, "indoor_warm", "warn"),
            (84.0, "indoor_warm", "warn"),
            (84.1, "indoor_hot", "refuse"),
        ],
    )
    def test_indoors(self, indoor: float, code: str | None, level: str | None) -> None:
        found = conditions.method_limits(VALVE_UNIT, air(None, indoor))
        expected = [] if code is None else [(code, level)]
        assert [(each.code, each.level) for each in found] == expected

    @pytest.mark.parametrize(
        ("lowest", "highest", "outdoor", "code", "level"),
        [
            (60.0, None, 59.9, "outdoor_cold_papers", "refuse"),
            (60.0, None, 60.0, None, None),
            (None, 110.0, 110.1, "outdoor_hot_papers", "refuse"),
            (None, 110.0, 110.0, None, None),
            (40.0, None, 50.0, "outdoor_by_papers", "warn"),
            (None, 130.0, 125.0, "outdoor_by_papers", "warn"),
            (None, 130.0, 50.0, "outdoor_cold", "refuse"),
            (40.0, None, 125.0, "outdoor_hot", "refuse"),
        ],
    )
    def test_the_papers_limits_go_first(
        self,
        lowest: float | None,
        highest: float | None,
        outdoor: float,
        code: str | None,
        level: str | None,
    ) -> None:
        unit = replace(
            VALVE_UNIT,
            papers_outdoor_lowest_k=None if lowest is None else kelvin(lowest),
            papers_outdoor_highest_k=None if highest is None else kelvin(highest),
        )
        found = conditions.method_limits(unit, air(outdoor))
        expected = [] if code is None else [(code, level)]
        assert [(each.code, each.level) for each in found] == expected

    @pytest.mark.parametrize(
        ("highest", "indoor", "expected"),
        [
            (90.0, 85.0, ["indoor_by_papers"]),
            (90.0, 79.9, []),
            (90.0, 90.1, ["indoor_hot_papers"]),
            (75.0, 76.0, ["indoor_hot_papers"]),
        ],
    )
    def test_papers_may_let_a_warm_room_through(
        self, highest: float, indoor: float, expected: list[str]
    ) -> None:
        unit = replace(VALVE_UNIT, papers_indoor_highest_k=kelvin(highest))
        found = conditions.method_limits(unit, air(None, indoor))
        assert codes(found) == expected
        assert all(
            fact.value == pytest.approx(kelvin(indoor)) for each in found for fact in each.facts[:1]
        )


class TestReadingsByThemselves:
    def test_a_thermometer_may_err_by_1_3_f_and_a_thousandth_above_0_f(self) -> None:
        """RA3.2 (2008)."""
        assert conditions.thermometer_error(kelvin(100.0)) == pytest.approx(1.4 * DEGREE)
        assert conditions.thermometer_error(kelvin(-20.0)) == pytest.approx(1.3 * DEGREE)

    @pytest.mark.parametrize(("amps", "told"), [(10.0, False), (10.1, True)])
    def test_current_above_the_plate(self, amps: float, told: bool) -> None:
        unit = replace(VALVE_UNIT, rated_a=10.0)
        found = conditions.plates(unit, replace(NOTHING, compressor_a=amps))
        assert codes(found) == (["current_high"] if told else [])
        assert conditions.plates(VALVE_UNIT, replace(NOTHING, compressor_a=99.0)) == []
        assert conditions.plates(unit, NOTHING) == []

    @pytest.mark.parametrize(("static_pa", "told"), [(125.0, False), (126.0, True)])
    def test_static_pressure_above_the_plate(self, static_pa: float, told: bool) -> None:
        unit = replace(VALVE_UNIT, static_limit_pa=125.0)
        found = conditions.plates(unit, replace(NOTHING, static_pa=static_pa))
        assert codes(found) == (["static_high"] if told else [])
        assert conditions.plates(VALVE_UNIT, replace(NOTHING, static_pa=999.0)) == []
        assert conditions.plates(unit, NOTHING) == []

    def test_labels(self) -> None:
        assert conditions.labels(VALVE_UNIT) == []
        assert codes(conditions.labels(replace(VALVE_UNIT, metering=FIXED))) == [
            "fixed_by_subcooling"
        ]
        assert conditions.labels(FIXED_UNIT) == []
        retrofit = replace(VALVE_UNIT, nameplate_refrigerant="R-22")
        assert codes(conditions.labels(retrofit)) == ["retrofit_label"]
        for feet, told in ((80.0, []), (80.1, ["long_line"])):
            line = replace(VALVE_UNIT, line_length_m=feet * FOOT_M)
            assert codes(conditions.labels(line)) == told

    @pytest.mark.parametrize(
        ("psig", "dew", "expected"),
        [
            (450.0, 40.0, []),
            (450.1, 40.0, ["above_rating"]),
            (300.0, 32.0, []),
            (300.0, 31.9, ["freezing"]),
        ],
    )
    def test_pressures_against_plate_and_freezing(
        self, psig: float, dew: float, expected: list[str]
    ) -> None:
        unit = replace(VALVE_UNIT, high_side_limit_pa=450.0 * PSI_PA)
        seen = replace(NOTHING, liquid_pressure_pa=pascal(psig))
        assert codes(conditions.pressures(unit, seen, kelvin(dew))) == expected
        assert conditions.pressures(VALVE_UNIT, replace(seen, liquid_pressure_pa=9e9), None) == []

    def test_the_rating_is_told_as_gauges_show_it(self) -> None:
        unit = replace(VALVE_UNIT, high_side_limit_pa=450.0 * PSI_PA)
        seen = replace(NOTHING, liquid_pressure_pa=pascal(460.0))
        facts = {each.name: each.value for each in conditions.pressures(unit, seen, None)[0].facts}
        assert facts == pytest.approx({"pressure": 460.0 * PSI_PA, "limit": 450.0 * PSI_PA})

    @pytest.mark.parametrize(
        ("bubble", "plate", "code"),
        [
            (138.9, False, None),
            (139.1, False, "plate_first"),
            (139.1, True, None),
            (145.9, True, None),
            (146.1, True, "near_switch"),
            (146.1, False, "near_switch"),
            (None, False, None),
        ],
    )
    def test_near_the_switch_nothing_is_added(
        self, bubble: float | None, plate: bool, code: str | None
    ) -> None:
        unit = replace(VALVE_UNIT, high_side_limit_pa=4.0e6 if plate else None)
        found = conditions.too_near_the_limit(unit, None if bubble is None else kelvin(bubble))
        assert (None if found is None else found.code) == code

    @pytest.mark.parametrize(
        ("supply", "indoor", "told"), [(77.9, 78.0, False), (78.0, 78.0, True), (79.0, 78.0, True)]
    )
    def test_supply_air_no_colder_than_the_room(
        self, supply: float, indoor: float, told: bool
    ) -> None:
        seen = air(None, indoor, supply_dry_bulb_k=kelvin(supply))
        assert codes(conditions.air_and_lines(seen, None)) == (["not_cooling"] if told else [])
        assert conditions.air_and_lines(replace(seen, return_dry_bulb_k=None), None) == []

    @pytest.mark.parametrize(("line", "told"), [(101.3, False), (101.5, True)])
    def test_a_liquid_line_warmer_than_its_dew_point(self, line: float, told: bool) -> None:
        """Dew point 100 °F and 1.4 °F of error."""
        seen = replace(NOTHING, liquid_line_k=kelvin(line))
        found = conditions.air_and_lines(seen, kelvin(100.0))
        assert codes(found) == (["no_liquid"] if told else [])
        assert conditions.air_and_lines(seen, None) == []
        assert conditions.air_and_lines(NOTHING, kelvin(100.0)) == []

    @pytest.mark.parametrize(("line", "told"), [(97.3, False), (97.1, True)])
    def test_a_liquid_line_colder_than_the_air(self, line: float, told: bool) -> None:
        """100 °F, less 1.4 °F of error of both thermometers."""
        seen = air(100.0, liquid_line_k=kelvin(line))
        found = conditions.liquid_below_outdoor(seen)
        assert codes(found) == (["liquid_line_below_outdoor"] if told else [])
        assert conditions.liquid_below_outdoor(replace(seen, outdoor_dry_bulb_k=None)) == []
        assert conditions.liquid_below_outdoor(replace(seen, liquid_line_k=None)) == []

    def test_the_split_needs_both_airs_and_the_wet_bulb(self, handbook: Handbook) -> None:
        """Table RA3.2-3: 76 °F and 63 °F ask for 18.8 to 19 °F; 76 less 57 are 19."""
        seen = air(None, 76.0, supply_dry_bulb_k=kelvin(57.0))
        found = conditions.split_of(seen, kelvin(63.0), handbook.charts)
        assert found is not None
        assert found[0] == pytest.approx(19.0 * DEGREE)
        assert 15.0 * DEGREE < found[1] < 22.0 * DEGREE
        assert conditions.split_of(seen, UNKNOWN, handbook.charts) is None
        assert conditions.split_of(seen, kelvin(20.0), handbook.charts) is None
        for lacking in ("return_dry_bulb_k", "supply_dry_bulb_k"):
            without = replace(seen, **{lacking: None})  # type: ignore[arg-type]
            assert conditions.split_of(without, kelvin(63.0), handbook.charts) is None


class TestSigns:
    @pytest.mark.parametrize(
        ("dew", "indoor", "level"),
        [
            (34.9, 80.0, LOW),
            (35.1, 80.0, NORMAL),
            (57.9, 80.0, NORMAL),
            (58.1, 80.0, HIGH),
            (31.9, None, LOW),
            (32.1, None, NORMAL),
            (59.9, None, NORMAL),
            (60.1, None, HIGH),
        ],
    )
    def test_of_the_low_side(self, dew: float, indoor: float | None, level: str) -> None:
        """45 and 22 °F below return air; freezing and 60 °F without it."""
        found = suction_level(kelvin(dew), None if indoor is None else kelvin(indoor))
        assert found == level

    @pytest.mark.parametrize(
        ("bubble", "outdoor", "level"),
        [
            (104.9, 95.0, LOW),
            (105.1, 95.0, NORMAL),
            (129.9, 95.0, NORMAL),
            (130.1, 95.0, HIGH),
            (99.9, 60.0, NORMAL),
            (100.1, 60.0, HIGH),
        ],
    )
    def test_of_the_high_side(self, bubble: float, outdoor: float, level: str) -> None:
        """10 to 35 °F above outdoor air, and never high below 100 °F."""
        assert head_level(kelvin(bubble), kelvin(outdoor)) == level

    @pytest.mark.parametrize(
        ("split", "level"), [(15.9, LOW), (16.1, NORMAL), (21.9, NORMAL), (22.1, HIGH)]
    )
    def test_of_the_air(self, split: float, level: str) -> None:
        """19 ± 3 °F."""
        assert split_level((split * DEGREE, 19.0 * DEGREE)) == level
        assert split_level(None) == NOT_KNOWN

    @pytest.mark.parametrize(
        ("unit", "target", "subcooling", "level"),
        [
            (FIXED_UNIT, None, 4.9, LOW),
            (FIXED_UNIT, None, 5.1, NORMAL),
            (FIXED_UNIT, None, 17.9, NORMAL),
            (FIXED_UNIT, None, 18.1, HIGH),
            (VALVE_UNIT, None, 6.9, LOW),
            (VALVE_UNIT, None, 7.1, NORMAL),
            (VALVE_UNIT, None, 12.9, NORMAL),
            (VALVE_UNIT, None, 13.1, HIGH),
            (VALVE_UNIT, SUBCOOLING, 13.9, LOW),
            (VALVE_UNIT, SUBCOOLING, 14.1, NORMAL),
            (VALVE_UNIT, SUBCOOLING, 16.1, HIGH),
            (VALVE_UNIT, SUPERHEAT, 13.1, HIGH),
        ],
    )
    def test_of_subcooling(
        self, unit: System, target: str | None, subcooling: float, level: str
    ) -> None:
        """5 to 18 °F; the maker's 10 ± 3 °F; a target of 15 ± 1 °F."""
        of = NoTarget(Finding("x", "shows"))
        aim: Target | NoTarget = of
        if target is not None:
            aim = Target(target, 15.0 * DEGREE, 1.0 * DEGREE, of.reason)  # type: ignore[arg-type]
        found = signs_of(unit, NOTHING, UNKNOWN, subcooling * DEGREE, None, None, aim, None, None)
        assert found.subcooling == level
        assert found.subcooling_k == subcooling * DEGREE
        assert (found.superheat, found.suction, found.head) == (NOT_KNOWN,) * 3
        assert (found.superheat_k, found.dew_k, found.above_outdoor_k, found.split_k) == (0.0,) * 4
        assert not found.split_sure

    @pytest.mark.parametrize(("supply", "sure"), [(50.0, True), (50.4, False)])
    def test_a_split_is_sure_past_both_thermometers_errors(self, supply: float, sure: bool) -> None:
        """20 and 3 °F, and the errors of 1.376 and 1.35 °F: 25.73 °F. 76 less 50 °F are 26 °F."""
        seen = air(95.0, 76.0, supply_dry_bulb_k=kelvin(supply))
        split = ((76.0 - supply) * DEGREE, 20.0 * DEGREE)
        of = NoTarget(Finding("x", "shows"))
        found = signs_of(
            FIXED_UNIT, seen, 8.0, UNKNOWN, kelvin(40.0), kelvin(115.0), of, (4.0, 9.0), split
        )
        assert found.split_sure == sure
        assert found.split_k == split[0]
        assert (found.superheat, found.superheat_k) == (NORMAL, 8.0)
        assert found.dew_k == kelvin(40.0)
        assert (found.head, found.suction) == (NORMAL, NORMAL)
        assert found.above_outdoor_k == pytest.approx(20.0 * DEGREE)
        assert found.subcooling_k == 0.0

    @pytest.mark.parametrize(("bubble", "told"), [(92.3, False), (92.1, True)])
    def test_condensing_colder_than_the_air(self, bubble: float, told: bool) -> None:
        """95 °F, less twice 1.395 °F."""
        found = condensing_below_outdoor(air(95.0), kelvin(bubble), None)
        assert codes(found) == (["condensing_below_outdoor"] if told else [])
        weak = Finding("weak_compressor", "refuse")
        assert condensing_below_outdoor(air(95.0), kelvin(60.0), weak) == []
        other = Finding("undercharge", "shows")
        assert condensing_below_outdoor(air(95.0), kelvin(60.0), other) != []
        assert condensing_below_outdoor(air(), kelvin(60.0), None) == []
        assert condensing_below_outdoor(air(95.0), None, None) == []

    @pytest.mark.parametrize(
        ("maker", "subcooling", "above", "told"),
        [
            (None, 12.0, 9.0, True),
            (None, 11.9, 9.0, False),
            (10.0, 10.0, 9.0, True),
            (10.0, 9.9, 9.0, False),
            (10.0, 10.0, 5.9, False),
        ],
    )
    def test_an_approach_that_subcooling_contradicts(
        self, maker: float | None, subcooling: float, above: float, told: bool
    ) -> None:
        """A target of 5 ± 1 °F; enough are 12 °F, or the maker's."""
        unit = replace(FIXED_UNIT, maker_subcooling_k=None if maker is None else maker * DEGREE)
        target = Target(APPROACH, 5.0 * DEGREE, 1.0 * DEGREE, Finding("x", "shows"))
        seen = air(95.0, liquid_line_k=kelvin(95.0 + above))
        found = approach_contradicted(unit, target, seen, subcooling * DEGREE)
        assert codes(found) == (["approach_contradicted"] if told else [])
        assert approach_contradicted(unit, target, seen, UNKNOWN) == []
        assert approach_contradicted(unit, target, NOTHING, 20.0) == []
        other = replace(target, quantity=SUPERHEAT)
        assert approach_contradicted(unit, other, seen, 20.0) == []


def stand(**known: object) -> Signs:
    at_rest: dict[str, object] = {
        "superheat": NORMAL,
        "subcooling": NORMAL,
        "suction": NORMAL,
        "head": NORMAL,
        "split": NORMAL,
        "superheat_k": 12.0 * DEGREE,
        "subcooling_k": 8.0 * DEGREE,
        "dew_k": kelvin(45.0),
        "above_outdoor_k": 20.0 * DEGREE,
        "split_k": 19.0 * DEGREE,
    }
    return Signs(**(at_rest | known))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("metering", "known", "code"),
    [
        (FIXED, {}, None),
        (FIXED, {"suction": LOW}, "suction_low"),
        (FIXED, {"suction": LOW, "superheat": LOW}, "low_airflow"),
        (FIXED, {"suction": LOW, "superheat": LOW, "subcooling": LOW}, "overfed"),
        (FIXED, {"suction": LOW, "superheat": LOW, "split": LOW}, "low_superheat"),
        (FIXED, {"suction": LOW, "split": HIGH}, "low_airflow"),
        (FIXED, {"suction": LOW, "split": HIGH, "superheat": HIGH}, "airflow_first"),
        (FIXED, {"split": HIGH, "superheat": HIGH, "split_sure": False}, None),
        (FIXED, {"split": HIGH, "subcooling": LOW}, "airflow_first"),
        (FIXED, {"split": HIGH}, None),
        (FIXED, {"head": HIGH}, "high_head"),
        (FIXED, {"head": HIGH, "subcooling": LOW}, "low_outdoor_airflow"),
        (FIXED, {"head": HIGH, "subcooling": HIGH}, "restriction_overcharge"),
        (TXV, {"head": HIGH, "subcooling": HIGH}, "overcharge"),
        (TXV, {"head": HIGH, "subcooling": HIGH, "superheat": HIGH}, "restriction_overcharge"),
        (FIXED, {"head": HIGH, "subcooling": HIGH, "superheat": LOW}, "overcharge"),
        (FIXED, {"subcooling": HIGH}, "subcooling_high"),
        (EEV, {"subcooling": HIGH}, "overcharge"),
        (TXV, {"subcooling": LOW}, "undercharge_valve"),
        (FIXED, {"subcooling": LOW}, None),
        (TXV, {"superheat": LOW}, "valve_floods"),
        (FIXED, {"superheat": LOW, "subcooling": HIGH}, "overcharge"),
        (FIXED, {"suction": HIGH, "head": LOW}, "weak_compressor"),
        (FIXED, {"suction": HIGH}, None),
        (FIXED, {"superheat": HIGH, "subcooling": NOT_KNOWN}, "subcooling_needed"),
        (TXV, {"superheat": HIGH, "subcooling": NOT_KNOWN}, "valve_superheat_high"),
        (TXV, {"superheat": HIGH}, "valve_superheat_high"),
    ],
)
def test_what_the_signs_look_like(
    metering: str, known: dict[str, object], code: str | None
) -> None:
    found = pattern(stand(**known), metering, maker_subcooling=False)  # type: ignore[arg-type]
    assert (None if found is None else found.code) == code


class TestContrary:
    """What does not go with missing charge [°F]."""

    SHORT = Finding("undercharge", "shows")

    @staticmethod
    def ask(metering: str = FIXED, wet: float | None = 60.0, **known: object) -> str | None:
        signs = stand(**({"subcooling": LOW, "subcooling_k": 2.0 * DEGREE} | known))
        found = contrary(
            signs,
            TestContrary.SHORT,
            air(95.0, 80.0),
            UNKNOWN if wet is None else kelvin(wet),
            (5.0 * DEGREE, 20.0 * DEGREE),
            metering,  # type: ignore[arg-type]
        )
        return None if found is None else found.code

    @pytest.mark.parametrize(("lift", "code"), [(31.9, None), (32.1, "low_outdoor_airflow")])
    def test_a_high_side_of_a_whole_charge(self, lift: float, code: str | None) -> None:
        assert self.ask(above_outdoor_k=lift * DEGREE) == code
        assert self.ask(above_outdoor_k=lift * DEGREE, head=NOT_KNOWN) is None

    @pytest.mark.parametrize(
        ("lift", "dew", "wet", "code"),
        [
            (13.9, 53.6, 60.0, "weak_compressor"),
            (13.9, 53.4, 60.0, None),
            (14.1, 53.6, 60.0, None),
            (13.9, 53.6, 67.0, "weak_compressor"),
            (13.9, 53.6, 67.2, None),
            (13.9, 55.6, 69.0, "weak_compressor"),
            (13.9, 53.6, None, "weak_compressor"),
        ],
    )
    def test_both_sides_together(
        self, lift: float, dew: float, wet: float | None, code: str | None
    ) -> None:
        """80 °F less 53.5 °F are 26.5 °F; above 67 °F of wet bulb degree by degree less."""
        found = self.ask(wet=wet, above_outdoor_k=lift * DEGREE, dew_k=kelvin(dew))
        assert found == code
        unseen = self.ask(
            wet=wet, above_outdoor_k=lift * DEGREE, dew_k=kelvin(dew), suction=NOT_KNOWN
        )
        assert unseen is None

    @pytest.mark.parametrize(
        ("superheat", "metering", "code"),
        [(14.9, TXV, "low_airflow"), (15.1, TXV, None), (14.9, FIXED, None)],
    )
    def test_a_cold_coil_behind_a_fed_valve(
        self, superheat: float, metering: str, code: str | None
    ) -> None:
        known = {"suction": LOW, "superheat_k": superheat * DEGREE, "dew_k": kelvin(33.0)}
        assert self.ask(metering, **known) == code
        fed = known | {"subcooling": NORMAL}
        assert self.ask(metering, **fed) is None
        frozen = fed | {"dew_k": kelvin(31.0)}
        assert self.ask(metering, **frozen) == code
        assert self.ask(metering, **(known | {"superheat": NOT_KNOWN})) is None

    @pytest.mark.parametrize(
        ("superheat", "subcooling", "code"),
        [
            (35.1, 10.0, "restriction_possible"),
            (34.9, 10.0, None),
            (35.1, 9.9, None),
        ],
    )
    def test_very_high_superheat_of_an_orifice_with_liquid(
        self, superheat: float, subcooling: float, code: str | None
    ) -> None:
        """15 °F past 20 °F, with 10 °F of subcooling."""
        known: dict[str, object] = {
            "superheat": HIGH,
            "subcooling": NORMAL,
            "superheat_k": superheat * DEGREE,
            "subcooling_k": subcooling * DEGREE,
        }
        assert self.ask(**known) == code
        assert self.ask(TXV, **known) is None


class TestSuctionGas:
    def test_counts_as_rated_at_45_f_and_10_f_of_superheat(self, handbook: Handbook) -> None:
        table = handbook.tables["R-410A"]
        rated = dew_pressure(table, kelvin(45.0))
        assert isinstance(rated, float)
        seen = replace(NOTHING, suction_pressure_pa=rated, suction_line_k=kelvin(55.0))
        assert suction_share(table, seen) == pytest.approx(1.0)
        warmer = replace(seen, suction_line_k=kelvin(85.0))
        assert suction_share(table, warmer) == pytest.approx(514.67 / 544.67)
        wet = replace(seen, suction_line_k=kelvin(40.0))
        without = replace(seen, suction_line_k=None)
        assert suction_share(table, wet) == suction_share(table, without)
        assert suction_share(table, without) == pytest.approx(514.67 / 504.67)

    def test_goes_with_density(self, handbook: Handbook) -> None:
        table = handbook.tables["R-410A"]
        thin, rated = dew_pressure(table, kelvin(0.0)), dew_pressure(table, kelvin(45.0))
        assert isinstance(thin, float)
        assert isinstance(rated, float)
        densities = vapour_density(table, thin), vapour_density(table, rated)
        assert isinstance(densities[0], float)
        assert isinstance(densities[1], float)
        seen = replace(NOTHING, suction_pressure_pa=thin, suction_line_k=kelvin(10.0))
        expected = densities[0] / densities[1] * (459.67 / 469.67) / (504.67 / 514.67)
        assert suction_share(table, seen) == pytest.approx(expected)
        assert suction_share(table, NOTHING) is None
        assert suction_share(table, replace(NOTHING, suction_pressure_pa=9e9)) is None

    @pytest.mark.parametrize(
        ("psig", "share", "told"),
        [
            (20.1, 0.46, False),
            (20.1, 0.44, True),
            (19.9, 0.99, True),
            (20.1, None, False),
            (0.0, 0.1, False),
            (0.1, 0.9, True),
        ],
    )
    def test_is_starved_below_20_psig_or_0_45_of_the_rated(
        self, psig: float, share: float | None, told: bool
    ) -> None:
        seen = replace(NOTHING, suction_pressure_pa=pascal(psig))
        found = starved_findings(VALVE_UNIT, seen, share)
        assert codes(found) == (["starved"] if told else [])
        if told:
            facts = {each.name: each.value / PSI_PA for each in found[0].facts}
            assert facts == pytest.approx({"pressure": psig, "limit": 20.0})
        assert starved_findings(VALVE_UNIT, NOTHING, share) == []

    @pytest.mark.parametrize(("psig", "told"), [(0.1, False), (0.0, True), (-3.0, True)])
    def test_is_a_vacuum_at_or_below_the_air_around(self, psig: float, told: bool) -> None:
        seen = replace(NOTHING, suction_pressure_pa=pascal(psig))
        found = vacuum_findings(VALVE_UNIT, seen)
        assert codes(found) == (["vacuum"] if told else [])
        if told:
            assert found[0].facts[0].value / PSI_PA == pytest.approx(psig, abs=1e-9)
        assert vacuum_findings(VALVE_UNIT, NOTHING) == []


class TestChartedPressure:
    """R-407C boils over several degrees, so bubble and dew are not the same."""

    UNIT = replace(
        FIXED_UNIT,
        refrigerant="R-407C",
        by_points=True,
        chart_points=(ChartPoint(kelvin(95.0), None, 250.0 * PSI_PA),),
        short_below=True,
    )

    @pytest.mark.parametrize(
        ("method", "tolerance", "stated"),
        [
            (BY_LIQUID_PRESSURE, None, 10.0),
            (BY_SUCTION_PRESSURE, None, 5.0),
            (BY_LIQUID_PRESSURE, 3.0, 3.0),
        ],
    )
    @pytest.mark.parametrize("below", [True, False])
    def test_is_a_saturation_temperature_with_the_tolerance_of_the_short_side(
        self, handbook: Handbook, method: str, tolerance: float | None, stated: float, below: bool
    ) -> None:
        """READ: 10 psi for liquid, 5 psi for suction (XP14, table 5)."""
        unit = replace(
            self.UNIT,
            method=method,  # type: ignore[arg-type]
            short_below=below,
            chart_tolerance_pa=None if tolerance is None else tolerance * PSI_PA,
        )
        table = handbook.tables["R-407C"]
        chart = handbook.charts.target_superheat
        found = target_of(unit, air(95.0), UNKNOWN, chart, table)
        assert isinstance(found, Target)
        assert found.quantity == method
        saturation = bubble_temperature if method == BY_LIQUID_PRESSURE else dew_temperature
        middle = saturation(table, pascal(250.0))
        edge = saturation(table, pascal(250.0 + (-stated if below else stated)))
        assert isinstance(middle, float)
        assert isinstance(edge, float)
        assert found.value_k == middle
        assert found.tolerance_k == pytest.approx(abs(middle - edge))
        assert found.short_below == below
        assert found.gauge_pa == pytest.approx(250.0 * PSI_PA)
        facts = {each.name: each.value for each in found.basis.facts}
        assert facts["tolerance"] == pytest.approx(stated * PSI_PA)
        assert facts["target"] == pytest.approx(250.0 * PSI_PA)
        assert facts["outdoor"] == pytest.approx(kelvin(95.0))

    def test_beyond_the_table_there_is_none(self, handbook: Handbook) -> None:
        table = handbook.tables["R-407C"]
        chart = handbook.charts.target_superheat
        top = (table.highest_pa - 101325.0) / PSI_PA
        for psig, short_below, beyond in (
            (top + 1.0, True, True),
            (top - 1.0, False, True),
            (top - 1.0, True, False),
        ):
            unit = replace(
                self.UNIT,
                method=BY_LIQUID_PRESSURE,
                short_below=short_below,
                chart_points=(ChartPoint(kelvin(95.0), None, psig * PSI_PA),),
            )
            found = target_of(unit, air(95.0), UNKNOWN, chart, table)
            assert isinstance(found, NoTarget) == beyond
            if isinstance(found, NoTarget):
                facts = {each.name: each.value for each in found.reason.facts}
                assert facts["highest"] == pytest.approx(top * PSI_PA)
                assert facts["lowest"] == pytest.approx(table.lowest_pa - 101325.0)
                assert facts["pressure"] == pytest.approx(psig * PSI_PA)
        assert isinstance(target_of(self.UNIT, air(95.0), UNKNOWN, chart, None), Target)
        pressure = replace(self.UNIT, method=BY_LIQUID_PRESSURE)
        assert isinstance(target_of(pressure, air(95.0), UNKNOWN, chart, None), NoTarget)

    @pytest.mark.parametrize(
        ("method", "quantity", "published"),
        [
            (BY_SUPERHEAT, SUPERHEAT, 5.0),
            (BY_SUBCOOLING, SUBCOOLING, 3.0),
            (BY_APPROACH, APPROACH, 1.0),
        ],
    )
    def test_other_points_have_the_published_tolerance_or_the_chart_s(
        self, handbook: Handbook, method: str, quantity: str, published: float
    ) -> None:
        unit = replace(
            FIXED_UNIT,
            method=method,  # type: ignore[arg-type]
            by_points=True,
            chart_points=(ChartPoint(kelvin(95.0), None, 6.0),),
        )
        chart = handbook.charts.target_superheat
        found = target_of(unit, air(95.0), UNKNOWN, chart, None)
        assert isinstance(found, Target)
        assert (found.quantity, found.value_k) == (quantity, 6.0)
        assert found.tolerance_k == pytest.approx(published * DEGREE)
        assert found.short_below == (quantity == SUBCOOLING)
        own = target_of(replace(unit, maker_tolerance_k=0.7), air(95.0), UNKNOWN, chart, None)
        assert isinstance(own, Target)
        assert own.tolerance_k == 0.7

    @pytest.mark.parametrize(
        ("points", "axis"),
        [
            (((90.0, 65.0), (100.0, 65.0)), OUTDOOR),
            (((90.0, None), (100.0, None)), OUTDOOR),
            (((90.0, 65.0), (90.0, 67.0)), WET_BULB),
            (((90.0, 65.0), (100.0, 67.0)), NO_LINE),
            (((90.0, 65.0), (90.0, 65.0)), NO_LINE),
            (((90.0, None), (90.0, None)), NO_LINE),
            (((90.0, 65.0), (100.0, None)), NO_LINE),
            (((90.0, 65.0), (90.0, 67.0), (90.0, 65.0)), NO_LINE),
            (((90.0, 65.0), (100.0, 65.0), (100.0, 67.0)), NO_LINE),
            (((90.0, 65.0),), OUTDOOR),
        ],
    )
    def test_points_make_a_line_where_they_differ_in_one_temperature(
        self, points: tuple[tuple[float, float | None], ...], axis: str
    ) -> None:
        assert axis_of(tuple(ChartPoint(outdoor, wet, 1.0) for outdoor, wet in points)) == axis


class TestTargets:
    @pytest.mark.parametrize(
        ("unit", "target", "expected"),
        [
            (VALVE_UNIT, None, (4.0, 25.0)),
            (replace(VALVE_UNIT, maker_superheat_k=10.0 * DEGREE), None, (5.0, 15.0)),
            (VALVE_UNIT, SUPERHEAT, (6.0, 10.0)),
            (VALVE_UNIT, SUBCOOLING, (4.0, 25.0)),
            (replace(FIXED_UNIT, metering="unknown", method=BY_WEIGHT), None, None),
            (FIXED_UNIT, None, None),
        ],
    )
    def test_superheat_expected_of_a_metering_device(
        self,
        handbook: Handbook,
        unit: System,
        target: str | None,
        expected: tuple[float, float] | None,
    ) -> None:
        """RA3.2's metering check, the maker's ± 5 °F, or a target of 8 ± 2 °F."""
        basis = Finding("x", "shows")
        aim: Target | NoTarget = NoTarget(basis)
        if target is not None:
            aim = Target(target, 8.0 * DEGREE, 2.0 * DEGREE, basis)  # type: ignore[arg-type]
        chart = handbook.charts.target_superheat
        found = expected_superheat(unit, air(95.0), kelvin(66.0), aim, chart)
        if expected is None:
            assert found is None
        else:
            assert found == pytest.approx((expected[0] * DEGREE, expected[1] * DEGREE))

    def test_an_orifice_by_another_method_is_held_against_the_chart(
        self, handbook: Handbook
    ) -> None:
        unit = replace(FIXED_UNIT, method=BY_WEIGHT)
        chart = handbook.charts.target_superheat
        nothing = NoTarget(Finding("x", "shows"))
        by_chart = chart_target(FIXED_UNIT, kelvin(95.0), kelvin(66.0), chart)
        assert isinstance(by_chart, Target)
        found = expected_superheat(unit, air(95.0), kelvin(66.0), nothing, chart)
        assert found == pytest.approx(
            (by_chart.value_k - 5.0 * DEGREE, by_chart.value_k + 5.0 * DEGREE)
        )
        assert expected_superheat(unit, air(), kelvin(66.0), nothing, chart) is None

    @pytest.mark.parametrize(
        ("outdoor", "wet", "code"),
        [
            (95.0, 66.0, "target_chart"),
            (119.9, 70.0, "target_formula"),
            (120.1, 70.0, "outside_chart"),
            (54.0, 66.0, "outside_chart"),
            (119.0, 50.0, "no_test"),
            (95.0, 49.0, "no_test"),
            (90.0, 81.0, "outside_chart"),
        ],
    )
    def test_the_chart_s_edges(
        self, handbook: Handbook, outdoor: float, wet: float, code: str
    ) -> None:
        chart = handbook.charts.target_superheat
        found = chart_target(FIXED_UNIT, kelvin(outdoor), kelvin(wet), chart)
        told = found.basis if isinstance(found, Target) else found.reason
        assert told.code == code

    def test_methods_without_their_figure_have_no_target(self, handbook: Handbook) -> None:
        chart = handbook.charts.target_superheat

        def told(unit: System) -> str:
            found = target_for(unit, air(95.0), kelvin(66.0), chart)
            return found.basis.code if isinstance(found, Target) else found.reason.code

        assert told(VALVE_UNIT) == "target_maker_subcooling"
        assert told(replace(VALVE_UNIT, maker_subcooling_k=None)) == "missing"
        approached = replace(FIXED_UNIT, method=BY_APPROACH)
        assert told(approached) == "missing"
        assert told(replace(approached, maker_approach_k=3.0)) == "target_maker_approach"
        by_superheat = replace(FIXED_UNIT, method=BY_SUPERHEAT)
        assert told(by_superheat) == "missing"
        assert told(replace(by_superheat, maker_superheat_k=5.0)) == "target_maker_superheat"
        assert told(replace(by_superheat, metering=TXV)) == "valve_by_superheat"
        assert told(replace(FIXED_UNIT, metering=EEV)) == "valve_by_superheat"
        assert told(replace(FIXED_UNIT, metering="unknown")) == "metering_unknown"
        assert told(FIXED_UNIT) == "target_chart"

    @pytest.mark.parametrize(
        ("unit", "lacking"),
        [
            (replace(VALVE_UNIT, method=BY_WEIGHT), ()),
            (
                replace(VALVE_UNIT, maker_subcooling_k=None),
                ("maker_subcooling", "liquid_pressure", "liquid_line"),
            ),
            (replace(FIXED_UNIT, method=BY_APPROACH), ("maker_approach", "liquid_line")),
            (
                replace(FIXED_UNIT, method=BY_SUPERHEAT),
                ("suction_pressure", "suction_line", "maker_superheat"),
            ),
            (FIXED_UNIT, ("suction_pressure", "suction_line")),
            (
                replace(FIXED_UNIT, method=BY_SUCTION_PRESSURE, by_points=True),
                ("suction_pressure",),
            ),
            (replace(FIXED_UNIT, method=BY_LIQUID_PRESSURE, by_points=True), ("liquid_pressure",)),
            (
                replace(FIXED_UNIT, method=BY_SUPERHEAT, by_points=True),
                ("suction_pressure", "suction_line"),
            ),
        ],
    )
    def test_what_a_method_cannot_do_without(self, unit: System, lacking: tuple[str, ...]) -> None:
        always = () if unit.method == BY_WEIGHT else ("outdoor_dry_bulb", "return_dry_bulb")
        wet = ("wet_bulb_or_humidity",) if unit.method == BY_CHART else ()
        assert still_needed(unit, NOTHING) == lacking + always + wet
        humid = replace(NOTHING, return_humidity=0.5)
        assert still_needed(unit, humid) == lacking + always
        whole = replace(
            reading_none(),
            outdoor_dry_bulb_k=300.0,
            return_dry_bulb_k=300.0,
            return_wet_bulb_k=290.0,
        )
        assert set(still_needed(unit, whole)) <= {
            "maker_subcooling",
            "maker_superheat",
            "maker_approach",
        }

    def test_a_point_with_a_wet_bulb_asks_for_today_s(self) -> None:
        unit = replace(
            FIXED_UNIT,
            method=BY_SUPERHEAT,
            by_points=True,
            chart_points=(ChartPoint(300.0, 290.0, 5.0), ChartPoint(305.0, 290.0, 5.0)),
        )
        assert "wet_bulb_or_humidity" in still_needed(unit, NOTHING)
        assert "wet_bulb_or_humidity" not in still_needed(
            unit, replace(NOTHING, return_wet_bulb_k=290.0)
        )

    @pytest.mark.parametrize(
        ("unit", "lacking"),
        [
            (VALVE_UNIT, ("suction_pressure", "suction_line")),
            (FIXED_UNIT, ("liquid_line",)),
            (
                replace(FIXED_UNIT, method=BY_APPROACH),
                ("suction_pressure", "suction_line", "liquid_pressure"),
            ),
            (
                replace(FIXED_UNIT, method=BY_SUCTION_PRESSURE),
                ("suction_pressure", "suction_line", "liquid_line", "wet_bulb_or_humidity"),
            ),
            (
                replace(FIXED_UNIT, method=BY_SUCTION_PRESSURE, maker_superheat_k=5.0),
                ("suction_pressure", "suction_line", "liquid_line"),
            ),
            (
                replace(VALVE_UNIT, method=BY_LIQUID_PRESSURE),
                ("suction_pressure", "suction_line", "liquid_line", "liquid_pressure"),
            ),
        ],
    )
    def test_what_adding_needs_beside(self, unit: System, lacking: tuple[str, ...]) -> None:
        assert needed_to_add(unit, NOTHING) == lacking
        assert needed_to_add(unit, replace(reading_none(), return_wet_bulb_k=290.0)) == ()

    def test_a_wet_bulb_is_measured_or_from_dry_bulb_and_humidity(self, handbook: Handbook) -> None:
        """80 °F and 51 %: 67 °F (the makers' rating point)."""
        table = handbook.psychrometrics
        measured = air(None, 80.0, return_wet_bulb_k=290.0, return_humidity=0.9)
        assert wet_bulb_of(measured, 101325.0, table) == 290.0
        computed = wet_bulb_of(air(None, 80.0, return_humidity=0.51), 101325.0, table)
        assert computed == pytest.approx(kelvin(67.0), abs=0.2)
        for lacking in (air(None, 80.0), air(None, None, return_humidity=0.5)):
            assert isinstance(wet_bulb_of(lacking, 101325.0, table), Unknown)


def reading_none() -> Reading:
    """A reading with all four instruments on the lines."""
    return Reading(1.0e6, 285.0, 2.5e6, 310.0)


class TestTheWholeJudgment:
    @pytest.mark.parametrize(
        ("superheat", "code"), [(-0.1, "liquid_return"), (1.2, "floodback"), (1.5, None)]
    )
    def test_superheat_within_the_thermometer_s_error_is_none(
        self, handbook: Handbook, superheat: float, code: str | None
    ) -> None:
        """1.35 °F at 50 °F."""
        seen = reading_of(handbook, VALVE_UNIT, superheat, 10.0, **summer())
        found = codes(list(assess(VALVE_UNIT, seen, handbook).findings))
        told = [each for each in found if each in ("liquid_return", "floodback")]
        assert told == ([] if code is None else [code])

    @pytest.mark.parametrize(("superheat", "told"), [(4.9, True), (5.0, False)])
    def test_an_orifice_never_has_less_than_5_f(
        self, handbook: Handbook, superheat: float, told: bool
    ) -> None:
        seen = reading_of(handbook, FIXED_UNIT, superheat, 10.0, 70.0, 220.0, **summer())
        found = codes(list(assess(FIXED_UNIT, seen, handbook).findings))
        assert ("superheat_floor" in found) == told
        valve = reading_of(handbook, VALVE_UNIT, superheat, 10.0, **summer())
        assert "superheat_floor" not in codes(list(assess(VALVE_UNIT, valve, handbook).findings))

    @pytest.mark.parametrize(("above", "told"), [(2.9, True), (3.1, False)])
    def test_a_cool_liquid_line_with_high_superheat_backs_up(
        self, handbook: Handbook, above: float, told: bool
    ) -> None:
        seen = reading_of(handbook, FIXED_UNIT, 35.0, 10.0, 70.0, 220.0, **summer())
        seen = replace(seen, liquid_pressure_pa=None, liquid_line_k=kelvin(95.0 + above))
        found = codes(list(assess(FIXED_UNIT, seen, handbook).findings))
        assert ("liquid_backs_up" in found) == told

    def test_what_is_lacking_is_named_together(self, handbook: Handbook) -> None:
        told = reason(assess(VALVE_UNIT, replace(NOTHING, **summer()), handbook), US)
        assert "liquid pressure and liquid line temperature" in told
        assert missing_text(("liquid_line",)) == "liquid line temperature"
        assert missing_text(("liquid_line", "line_adder", "line_length")) == (
            "liquid line temperature, the manufacturer’s charge per length and the line set length"
        )

    def test_how_far_the_air_is_off_is_kept(self, handbook: Handbook) -> None:
        seen = reading_of(handbook, VALVE_UNIT, 10.0, 10.0, **summer())
        assert assess(VALVE_UNIT, seen, handbook).split_over_k is None
        split = replace(seen, supply_dry_bulb_k=kelvin(58.0))
        expected = conditions.split_of(split, kelvin(66.0), handbook.charts)
        assert expected is not None
        found = assess(VALVE_UNIT, split, handbook).split_over_k
        assert found == pytest.approx(20.0 * DEGREE - expected[1])


class TestWhatCannotBe:
    @pytest.mark.parametrize(
        ("suction", "liquid", "told"), [(200.0, 200.1, False), (200.0, 200.0, True)]
    )
    def test_suction_at_or_above_liquid(
        self, handbook: Handbook, suction: float, liquid: float, told: bool
    ) -> None:
        seen = Reading(pascal(suction), None, pascal(liquid), None)
        found = contradictions(VALVE_UNIT, seen, handbook, US)
        assert [field for field, _ in found] == (["suction_pressure"] if told else [])
        if told:
            assert "200" in found[0][1]

    @pytest.mark.parametrize(("wet", "told"), [(82.7, False), (82.8, True)])
    def test_a_wet_bulb_above_the_dry_bulb(
        self, handbook: Handbook, wet: float, told: bool
    ) -> None:
        """80 °F and twice 1.38 °F."""
        seen = air(None, 80.0, return_wet_bulb_k=kelvin(wet))
        found = contradictions(VALVE_UNIT, seen, handbook, US)
        assert [field for field, _ in found] == (["return_wet_bulb"] if told else [])

    def test_a_suction_line_colder_than_its_gas_can_be(self, handbook: Handbook) -> None:
        """130 psig less 3.5 psi, and 1.34 °F."""
        table = handbook.tables["R-410A"]
        coldest = dew_temperature(table, pascal(126.5))
        assert isinstance(coldest, float)
        for off, told in ((-1.2, False), (-1.5, True)):
            line = coldest + off * DEGREE
            found = contradictions(
                VALVE_UNIT, Reading(pascal(130.0), line, None, None), handbook, US
            )
            assert [field for field, _ in found] == (["suction_line"] if told else [])
        assert (
            contradictions(VALVE_UNIT, Reading(pascal(130.0), None, None, None), handbook, US) == []
        )
        assert contradictions(VALVE_UNIT, Reading(None, 200.0, None, None), handbook, US) == []

    def test_a_pressure_outside_the_table_names_its_bounds(self, handbook: Handbook) -> None:
        table = handbook.tables["R-410A"]
        for pressure, told in (
            (table.lowest_pa, False),
            (table.lowest_pa - 1.0, True),
            (table.highest_pa, False),
            (table.highest_pa + 1.0, True),
        ):
            seen = Reading(None, None, pressure, None)
            found = contradictions(VALVE_UNIT, seen, handbook, US)
            assert [field for field, _ in found] == (["liquid_pressure"] if told else [])


def test_a_finding_names_what_is_not_normal() -> None:
    which = ("superheat", "subcooling", "suction", "head", "split")
    signs = stand(superheat=HIGH, suction=LOW, split=LOW)
    told = finding_of("x", "shows", signs, which)  # type: ignore[arg-type]
    assert [(each.name, each.text) for each in told.signs] == [
        ("superheat", "high"),
        ("low-side saturation", "low"),
        ("air temperature drop", "low"),
    ]
    others = stand(subcooling=LOW, head=HIGH)
    told = finding_of("x", "shows", others, which)  # type: ignore[arg-type]
    assert [(each.name, each.value) for each in told.signs] == [
        ("subcooling", others.subcooling_k),
        ("condensing above outdoor air", others.above_outdoor_k),
    ]
