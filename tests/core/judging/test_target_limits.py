"""Targets, charted pressures and the verdict: each limit on both sides, in the °F and psi of its
source (docs/charge.md)."""

from dataclasses import replace

import pytest
from charge_cases import (
    DEGREE,
    FIXED_UNIT,
    NOTHING,
    UNKNOWN,
    US,
    VALVE_UNIT,
    air,
    codes,
    kelvin,
    lines_read,
    pascal,
    reading_of,
    summer,
)

from lowside.core.handbook.charts import TARGET_SPLIT, TARGET_SUPERHEAT
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import (
    bubble_temperature,
    dew_temperature,
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
    TXV,
    ChartPoint,
    System,
)
from lowside.core.judging import conditions
from lowside.core.judging.charge import assess, reason
from lowside.core.judging.chart_points import (
    NO_LINE,
    OUTDOOR,
    WET_BULB,
    axis_of,
    target_of,
)
from lowside.core.judging.findings import Finding, Unknown, missing_text
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
from lowside.core.numbers.units import PSI_PA


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
        chart = handbook.charts[TARGET_SUPERHEAT]
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
        chart = handbook.charts[TARGET_SUPERHEAT]
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
        chart = handbook.charts[TARGET_SUPERHEAT]
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
            (replace(VALVE_UNIT, maker_superheat_k=8.0 * DEGREE), None, (4.0, 13.0)),
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
        """RA3.2's metering check, the manufacturer's ± 5 °F but never below that check's 4 °F, or a
        target of 8 ± 2 °F."""
        basis = Finding("x", "shows")
        aim: Target | NoTarget = NoTarget(basis)
        if target is not None:
            aim = Target(target, 8.0 * DEGREE, 2.0 * DEGREE, basis)  # type: ignore[arg-type]
        chart = handbook.charts[TARGET_SUPERHEAT]
        found = expected_superheat(unit, air(95.0), kelvin(66.0), aim, chart)
        if expected is None:
            assert found is None
        else:
            assert found == pytest.approx((expected[0] * DEGREE, expected[1] * DEGREE))

    def test_an_orifice_by_another_method_is_held_against_the_chart(
        self, handbook: Handbook
    ) -> None:
        unit = replace(FIXED_UNIT, method=BY_WEIGHT)
        chart = handbook.charts[TARGET_SUPERHEAT]
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
            (55.1, 78.0, "target_formula"),
            (54.9, 78.0, "outside_chart"),
            (90.0, 78.0, "target_formula"),
            (119.0, 50.0, "no_test"),
            (95.0, 49.0, "no_test"),
            (90.0, 81.0, "outside_chart"),
        ],
    )
    def test_the_chart_s_edges(
        self, handbook: Handbook, outdoor: float, wet: float, code: str
    ) -> None:
        chart = handbook.charts[TARGET_SUPERHEAT]
        found = chart_target(FIXED_UNIT, kelvin(outdoor), kelvin(wet), chart)
        told = found.basis if isinstance(found, Target) else found.reason
        assert told.code == code

    def test_methods_without_their_figure_have_no_target(self, handbook: Handbook) -> None:
        chart = handbook.charts[TARGET_SUPERHEAT]

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
            lines_read(),
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
            (
                FIXED_UNIT,
                ("suction_pressure", "suction_line", "liquid_line", "wet_bulb_or_humidity"),
            ),
            (
                replace(FIXED_UNIT, maker_superheat_k=5.0),
                ("suction_pressure", "suction_line", "liquid_line"),
            ),
            (
                replace(FIXED_UNIT, method=BY_SUPERHEAT, maker_superheat_k=5.0),
                ("suction_pressure", "suction_line", "liquid_line", "wet_bulb_or_humidity"),
            ),
            (
                replace(FIXED_UNIT, method=BY_APPROACH),
                (
                    "suction_pressure",
                    "suction_line",
                    "liquid_line",
                    "liquid_pressure",
                    "wet_bulb_or_humidity",
                ),
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
        assert needed_to_add(unit, replace(lines_read(), return_wet_bulb_k=290.0)) == ()

    def test_a_wet_bulb_is_measured_or_from_dry_bulb_and_humidity(self, handbook: Handbook) -> None:
        """80 °F and 51 %: 67 °F (the manufacturers' rating point)."""
        table = handbook.psychrometrics
        measured = air(None, 80.0, return_wet_bulb_k=290.0, return_humidity=0.9)
        assert wet_bulb_of(measured, 101325.0, table) == 290.0
        computed = wet_bulb_of(air(None, 80.0, return_humidity=0.51), 101325.0, table)
        assert computed == pytest.approx(kelvin(67.0), abs=0.2)
        for lacking in (air(None, 80.0), air(None, None, return_humidity=0.5)):
            assert isinstance(wet_bulb_of(lacking, 101325.0, table), Unknown)


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
        self.backs_up(handbook, 35.0, above, told)

    @pytest.mark.parametrize(
        ("superheat", "above", "told"), [(38.5, 9.9, True), (38.5, 10.1, False), (34.0, 9.9, False)]
    )
    def test_behind_a_starved_coil_a_warmer_line_does(
        self, handbook: Handbook, superheat: float, above: float, told: bool
    ) -> None:
        """The chart gives about 12 °F ± 5."""
        self.backs_up(handbook, superheat, above, told)

    def backs_up(self, handbook: Handbook, superheat: float, above: float, told: bool) -> None:
        seen = reading_of(handbook, FIXED_UNIT, superheat, 10.0, 70.0, 220.0, **summer())
        seen = replace(seen, liquid_pressure_pa=None, liquid_line_k=kelvin(95.0 + above))
        found = codes(list(assess(FIXED_UNIT, seen, handbook).findings))
        assert ("liquid_backs_up" in found) == told

    def test_what_is_lacking_is_named_together(self, handbook: Handbook) -> None:
        told = reason(assess(VALVE_UNIT, replace(NOTHING, **summer()), handbook), US)
        assert told == (
            "Still missing: liquid pressure, liquid line temperature, suction pressure and suction "
            "line temperature."
        )
        assert missing_text(("liquid_line",)) == "liquid line temperature"
        assert missing_text(("liquid_line", "line_adder", "line_length")) == (
            "liquid line temperature, the manufacturer’s charge per length and the line set length"
        )

    def test_how_far_the_air_is_off_is_kept(self, handbook: Handbook) -> None:
        seen = reading_of(handbook, VALVE_UNIT, 10.0, 10.0, **summer())
        assert assess(VALVE_UNIT, seen, handbook).split_over_k is None
        split = replace(seen, supply_dry_bulb_k=kelvin(57.0))
        expected = conditions.split_of(split, kelvin(66.0), handbook.charts[TARGET_SPLIT])
        assert expected is not None
        found = assess(VALVE_UNIT, split, handbook).split_over_k
        assert found == pytest.approx(21.0 * DEGREE - expected[1])
