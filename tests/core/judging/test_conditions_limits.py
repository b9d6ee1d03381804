"""Air, plates, pressures and lines: each limit on both sides, in the °F and psi of its source
(docs/charge.md), and the figures that a sentence tells."""

from dataclasses import replace

import pytest
from charge_cases import (
    DEGREE,
    FIXED_UNIT,
    NOTHING,
    UNKNOWN,
    VALVE_UNIT,
    air,
    codes,
    facts_of,
    kelvin,
    lines_read,
    pascal,
)

from lowside.core.handbook.charts import TARGET_SPLIT
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import (
    dew_pressure,
    dew_temperature,
    vapor_density,
)
from lowside.core.handbook.system import (
    BY_APPROACH,
    BY_SUPERHEAT,
    BY_WEIGHT,
    FIXED,
    ChartPoint,
    Reading,
    System,
)
from lowside.core.judging import conditions
from lowside.core.judging.by_target import gross_approach
from lowside.core.judging.charge import assess
from lowside.core.judging.chart_points import (
    value_by_points,
)
from lowside.core.judging.faults import (
    condensing_below_outdoor,
)
from lowside.core.judging.findings import REFUSE, WARN, Finding, Unknown
from lowside.core.judging.plausibility import (
    not_of_a_running_unit,
    one_wet_bulb,
    out_of_table,
    pressure_of,
)
from lowside.core.judging.starvation import starved_findings, suction_share, vacuum_findings
from lowside.core.judging.targets import (
    APPROACH,
    SUPERHEAT,
    NoTarget,
    Target,
)
from lowside.core.numbers.units import FOOT_M, PSI_PA


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

    @pytest.mark.parametrize(
        ("amps", "level"), [(10.0, ""), (10.1, WARN), (14.0, WARN), (14.1, REFUSE)]
    )
    def test_current_above_the_plate(self, amps: float, level: str) -> None:
        """Above 1.4 times the plate's it refuses: our choice (`conditions.FAR_OVER_RATED`)."""
        unit = replace(VALVE_UNIT, rated_a=10.0)
        found = conditions.plates(unit, replace(NOTHING, compressor_a=amps))
        assert [(each.code, each.level) for each in found if level] == (
            [("current_high", level)] if level else []
        )
        assert (found == []) == (level == "")
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
        assert codes(conditions.air_and_lines(seen, UNKNOWN)) == (["not_cooling"] if told else [])
        assert conditions.air_and_lines(replace(seen, return_dry_bulb_k=None), UNKNOWN) == []

    @pytest.mark.parametrize(("line", "told"), [(101.3, False), (101.5, True)])
    def test_a_liquid_line_warmer_than_its_dew_point(self, line: float, told: bool) -> None:
        """Dew point 100 °F and 1.4 °F of error."""
        seen = replace(NOTHING, liquid_line_k=kelvin(line))
        found = conditions.air_and_lines(seen, kelvin(100.0))
        assert codes(found) == (["no_liquid"] if told else [])
        assert conditions.air_and_lines(seen, UNKNOWN) == []
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
        found = conditions.split_of(seen, kelvin(63.0), handbook.charts[TARGET_SPLIT])
        assert found is not None
        assert found[0] == pytest.approx(19.0 * DEGREE)
        assert 15.0 * DEGREE < found[1] < 22.0 * DEGREE
        assert conditions.split_of(seen, UNKNOWN, handbook.charts[TARGET_SPLIT]) is None
        for lacking in ("return_dry_bulb_k", "supply_dry_bulb_k"):
            without = replace(seen, **{lacking: None})  # type: ignore[arg-type]
            assert conditions.split_of(without, kelvin(63.0), handbook.charts[TARGET_SPLIT]) is None

    @pytest.mark.parametrize(
        ("dry", "wet", "supply", "expected"),
        [
            (75.0, 50.0, 46.0, 23.6),
            (75.0, 46.0, 46.0, 23.6),
            (80.0, 54.0, 50.0, 25.0),  # its row begins at 55 °F
            (80.5, 55.0, 50.0, 24.85),  # the row of 81 °F at 57 °F
            (82.0, 77.0, 72.0, 9.7),
            (82.0, 77.0, 72.4, None),  # damp air cools less: how much less nobody says
            (69.0, 46.0, 46.0, None),
            (85.0, 60.0, 46.0, None),
        ],
    )
    def test_the_split_off_its_table_is_held_against_its_edge(
        self, handbook: Handbook, dry: float, wet: float, supply: float, expected: float | None
    ) -> None:
        """Table RA3.2-3 has 50 to 76 °F of wet bulb, and no dry bulb outside 70 to 84 °F."""
        seen = air(None, dry, supply_dry_bulb_k=kelvin(supply))
        found = conditions.split_of(seen, kelvin(wet), handbook.charts[TARGET_SPLIT])
        if expected is None:
            assert found is None
        else:
            assert found == pytest.approx(((dry - supply) * DEGREE, expected * DEGREE))


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
        densities = vapor_density(table, thin), vapor_density(table, rated)
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
            assert facts == pytest.approx({"pressure": psig})
        assert starved_findings(VALVE_UNIT, NOTHING, share) == []

    @pytest.mark.parametrize(("psig", "told"), [(0.1, False), (0.0, True), (-3.0, True)])
    def test_is_a_vacuum_at_or_below_the_air_around(self, psig: float, told: bool) -> None:
        seen = replace(NOTHING, suction_pressure_pa=pascal(psig))
        found = vacuum_findings(VALVE_UNIT, seen)
        assert codes(found) == (["vacuum"] if told else [])
        if told:
            assert found[0].facts[0].value / PSI_PA == pytest.approx(psig, abs=1e-9)
        assert vacuum_findings(VALVE_UNIT, NOTHING) == []


class TestWhatCannotBe:
    @pytest.mark.parametrize(
        ("suction", "liquid", "told"), [(200.0, 200.1, False), (200.0, 200.0, True)]
    )
    def test_suction_at_or_above_liquid(
        self, handbook: Handbook, suction: float, liquid: float, told: bool
    ) -> None:
        seen = Reading(pascal(suction), None, pascal(liquid), None)
        wrong = not_of_a_running_unit(VALVE_UNIT, seen, handbook.tables["R-410A"])
        assert (wrong is not None) == told
        if wrong is not None:
            assert wrong.code == "no_lift"
            assert facts_of(wrong) == pytest.approx(
                {"suction": 200.0 * PSI_PA, "liquid": 200.0 * PSI_PA}
            )

    def test_a_vacuum_on_both_sides_is_an_empty_unit(self, handbook: Handbook) -> None:
        table = handbook.tables["R-410A"]
        for psig, told in ((0.0, False), (0.1, True)):
            seen = Reading(pascal(psig), None, pascal(psig), None)
            assert (not_of_a_running_unit(VALVE_UNIT, seen, table) is not None) == told

    @pytest.mark.parametrize(("wet", "told"), [(82.7, False), (82.8, True)])
    def test_a_wet_bulb_above_the_dry_bulb(
        self, handbook: Handbook, wet: float, told: bool
    ) -> None:
        """80 °F and twice 1.38 °F."""
        seen = air(None, 80.0, return_wet_bulb_k=kelvin(wet))
        wet_bulb = one_wet_bulb(VALVE_UNIT, seen, handbook)
        assert isinstance(wet_bulb, Unknown) == told
        if isinstance(wet_bulb, Unknown):
            assert wet_bulb.reason.code == "wet_above_dry"
            assert facts_of(wet_bulb.reason) == pytest.approx(
                {"wet_bulb": kelvin(wet), "dry_bulb": kelvin(80.0)}
            )

    def test_a_suction_line_colder_than_its_gas_can_be(self, handbook: Handbook) -> None:
        """130 psig less 3.5 psi, and 1.34 °F."""
        table = handbook.tables["R-410A"]
        coldest = dew_temperature(table, pascal(126.5))
        assert isinstance(coldest, float)
        for off, told in ((-1.2, False), (-1.5, True)):
            line = coldest + off * DEGREE
            seen = Reading(pascal(130.0), line, None, None)
            assert (not_of_a_running_unit(VALVE_UNIT, seen, table) is not None) == told
        for seen in (Reading(pascal(130.0), None), Reading(None, 200.0)):
            assert not_of_a_running_unit(VALVE_UNIT, seen, table) is None

    def test_a_pressure_outside_the_table_names_its_bounds(self, handbook: Handbook) -> None:
        table = handbook.tables["R-410A"]
        for pressure, told in (
            (table.lowest_pa, False),
            (table.lowest_pa - 1.0, True),
            (table.highest_pa, False),
            (table.highest_pa + 1.0, True),
        ):
            seen = Reading(None, None, pressure, None)
            subcooling = assess(VALVE_UNIT, seen, handbook).measured.subcooling_k
            assert isinstance(subcooling, Unknown)
            assert (subcooling.reason.code == "out_of_table") == told


class TestTheFigureSaid:
    """A finding tells what was read and the limit, each as its instrument shows it."""

    def test_of_air_and_lines(self) -> None:
        (cold,) = conditions.method_limits(VALVE_UNIT, air(50.0))
        assert facts_of(cold) == pytest.approx({"outdoor": kelvin(50.0), "limit": kelvin(55.0)})
        (warm,) = conditions.method_limits(VALVE_UNIT, air(None, 82.0))
        assert facts_of(warm) == pytest.approx({"return_air": kelvin(82.0), "limit": kelvin(80.0)})
        papers = replace(VALVE_UNIT, papers_outdoor_lowest_k=kelvin(40.0))
        (let,) = conditions.method_limits(papers, air(50.0))
        assert facts_of(let)["limit"] == pytest.approx(kelvin(55.0))
        (barred,) = conditions.method_limits(papers, air(39.0))
        assert facts_of(barred)["limit"] == pytest.approx(kelvin(40.0))
        seen = air(95.0, 78.0, supply_dry_bulb_k=kelvin(79.0), liquid_line_k=kelvin(90.0))
        warm_supply, vapor = conditions.air_and_lines(seen, kelvin(80.0))
        assert facts_of(warm_supply) == {"supply": kelvin(79.0), "return_air": kelvin(78.0)}
        assert facts_of(vapor) == {"liquid_line": kelvin(90.0), "dew": kelvin(80.0)}
        (below,) = conditions.liquid_below_outdoor(seen)
        assert facts_of(below) == {"liquid_line": kelvin(90.0), "outdoor": kelvin(95.0)}
        (colder,) = condensing_below_outdoor(seen, kelvin(85.0), None)
        assert facts_of(colder) == {"condensing": kelvin(85.0), "outdoor": kelvin(95.0)}
        split = conditions.split_finding("split_low", "warn", (8.0, 10.0))
        assert facts_of(split) == pytest.approx(
            {"split": 8.0, "target": 10.0, "tolerance": 3.0 * DEGREE}
        )

    def test_of_plates_and_pressures(self, handbook: Handbook) -> None:
        unit = replace(VALVE_UNIT, rated_a=10.0, static_limit_pa=125.0, line_length_m=30.0)
        current, static = conditions.plates(
            unit, replace(NOTHING, compressor_a=11.0, static_pa=130.0)
        )
        assert facts_of(current) == {"current": 11.0, "limit": 10.0}
        assert facts_of(static) == {"static": 130.0, "limit": 125.0}
        (long,) = conditions.labels(unit)
        assert facts_of(long) == pytest.approx({"length": 30.0, "limit": 80.0 * FOOT_M})
        (freezing,) = conditions.pressures(unit, NOTHING, 270.0)
        assert facts_of(freezing) == {"coil": 270.0}
        near = conditions.too_near_the_limit(unit, 340.0)
        assert near is not None
        assert facts_of(near) == {"condensing": 340.0}
        table = handbook.tables["R-410A"]
        told = out_of_table(VALVE_UNIT, "liquid_pressure", pascal(900.0), table)
        assert facts_of(told) == pytest.approx(
            {
                "pressure": 900.0 * PSI_PA,
                "lowest": table.lowest_pa - 101325.0,
                "highest": table.highest_pa - 101325.0,
            }
        )
        coldest = dew_temperature(table, pascal(130.0))
        assert isinstance(coldest, float)
        below = not_of_a_running_unit(VALVE_UNIT, Reading(pascal(130.0), 270.0), table)
        assert below is not None
        assert facts_of(below) == pytest.approx(
            {"suction_line": 270.0, "pressure": 130.0 * PSI_PA, "dew": coldest}
        )
        assert pressure_of(lines_read(), "suction_pressure") == 1.0e6
        assert pressure_of(lines_read(), "liquid_pressure") == 2.5e6

    def test_outside_a_chart_s_points(self) -> None:
        unit = replace(FIXED_UNIT, method=BY_SUPERHEAT, by_points=True)
        two = (ChartPoint(300.0, 290.0, 5.0), ChartPoint(310.0, 290.0, 9.0))
        over = value_by_points(replace(unit, chart_points=two), 311.0, 290.0)
        assert isinstance(over, Unknown)
        assert over.reason.code == "outside_points"
        assert facts_of(over.reason) == {"today": 311.0, "lowest": 300.0, "highest": 310.0}
        damp = value_by_points(replace(unit, chart_points=two), 305.0, 292.0)
        assert isinstance(damp, Unknown)
        assert damp.reason.code == "outside_point"
        assert facts_of(damp.reason) == {"today": 292.0, "lowest": 290.0, "highest": 290.0}
        assert damp.reason.facts[0].text == "return air wet bulb"
        assert value_by_points(replace(unit, chart_points=two), 305.0, 290.5) == pytest.approx(7.0)
        wet = (ChartPoint(300.0, 288.0, 5.0), ChartPoint(300.0, 292.0, 9.0))
        by_wet = replace(unit, chart_points=wet)
        assert value_by_points(by_wet, 300.5, 289.0) == pytest.approx(6.0)
        hot = value_by_points(by_wet, 302.0, 289.0)
        assert isinstance(hot, Unknown)
        assert hot.reason.facts[0].text == "outdoor air"
        dry = value_by_points(by_wet, 300.0, 295.0)
        assert isinstance(dry, Unknown)
        assert facts_of(dry.reason) == {"today": 295.0, "lowest": 288.0, "highest": 292.0}
        assert value_by_points(by_wet, 300.0, UNKNOWN) == UNKNOWN
        for lacking in (value_by_points(by_wet, None, 290.0), value_by_points(unit, 300.0, 290.0)):
            assert isinstance(lacking, Unknown)
            assert lacking.reason.code == "missing"
        half = (ChartPoint(300.0, None, 5.0), ChartPoint(310.0, 290.0, 9.0))
        mixed = value_by_points(replace(unit, chart_points=half), 305.0, 290.0)
        assert isinstance(mixed, Unknown)
        assert mixed.reason.code == "points_no_line"
        crossed = (ChartPoint(300.0, 288.0, 5.0), ChartPoint(310.0, 290.0, 9.0))
        no_line = value_by_points(replace(unit, chart_points=crossed), 305.0, 288.0)
        assert isinstance(no_line, Unknown)
        assert no_line.reason.code == "points_no_line"

    @pytest.mark.parametrize(
        ("above", "told"), [(19.9, False), (20.1, True), (-9.9, False), (-10.1, True)]
    )
    def test_of_a_gross_approach(self, above: float, told: bool) -> None:
        """15 °F off a target of 5 °F."""
        target = Target(APPROACH, 5.0 * DEGREE, 1.0 * DEGREE, Finding("x", "shows"))
        seen = air(95.0, liquid_line_k=kelvin(95.0 + above))
        found = gross_approach(target, seen)
        assert codes(found) == (["approach_gross"] if told else [])
        assert gross_approach(NoTarget(Finding("x", "shows")), seen) == []
        assert gross_approach(replace(target, quantity=SUPERHEAT), seen) == []
        assert gross_approach(target, NOTHING) == []
