"""Targets: the chart and its holes, the rule of thumb, the manufacturer's figures, the weigh-in."""

from dataclasses import replace

import pytest
from charge_cases import DEGREE, FIXED_UNIT, STANDARD_PA, VALVE_UNIT, kelvin
from hypothesis import given
from hypothesis import strategies as st

from lowside.core.handbook.charts import (
    BEYOND,
    HOLE,
    TARGET_SPLIT,
    TARGET_SUPERHEAT,
    Chart,
    NoValue,
    look_up,
)
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import (
    BY_CHART,
    BY_SUBCOOLING,
    BY_SUPERHEAT,
    EEV,
    FIXED,
    METERING_UNKNOWN,
    TXV,
    Reading,
    System,
)
from lowside.core.judging.by_weight import WeighIn, weigh_in
from lowside.core.judging.findings import Unknown, sentence
from lowside.core.judging.targets import (
    SUBCOOLING,
    SUPERHEAT,
    NoTarget,
    Target,
    chart_target,
    expected_superheat,
    formula_superheat,
    target_for,
    wet_bulb_of,
    within,
)
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import FOOT_M, OUNCE_KG

FAHRENHEIT = UnitChoice()


def chart_of(handbook: Handbook) -> Chart:
    return handbook.charts[TARGET_SUPERHEAT]


def at(handbook: Handbook, outdoor: float, wet_bulb: float) -> Target | NoTarget:
    return chart_target(FIXED_UNIT, kelvin(outdoor), kelvin(wet_bulb), chart_of(handbook))


MAKERS_CELLS = (
    (75, 62, 15),
    (75, 66, 21),
    (85, 64, 11),
    (85, 66, 15),
    (85, 68, 19),
    (95, 64, 6),
    (95, 66, 10),
    (95, 68, 14),
    (105, 70, 13),
    (60, 58, 18),
)
MAKERS_DASHES = ((95, 62), (100, 64), (110, 66), (115, 68))


@pytest.mark.parametrize(("outdoor", "wet_bulb", "superheat"), MAKERS_CELLS)
def test_the_chart_agrees_with_two_makers_charts(
    handbook: Handbook, outdoor: int, wet_bulb: int, superheat: int
) -> None:
    """READ: charging charts of two manufacturers (38VTA, 14ACX), whole degrees; ours to 1 °F."""
    found = at(handbook, outdoor, wet_bulb)
    assert isinstance(found, Target)
    assert found.quantity == SUPERHEAT
    assert found.value_k / DEGREE == pytest.approx(superheat, abs=1.0)


@pytest.mark.parametrize(("outdoor", "wet_bulb"), MAKERS_DASHES)
def test_where_two_makers_print_a_dash_there_is_no_test(
    handbook: Handbook, outdoor: int, wet_bulb: int
) -> None:
    """READ: the same two charts. RA3.2 (2008, READ): a dash is no valid test, warm the house or
    come back. The rule of thumb must not fill it in."""
    found = at(handbook, outdoor, wet_bulb)
    assert isinstance(found, NoTarget)
    assert found.reason.code == "no_test"
    assert found.reason.level == "refuse"


def test_examples_of_a_trade_article(handbook: Handbook) -> None:
    """READ: a trade article on target superheat: wet bulb 66, outdoor 90 gives 13 °F by chart;
    wet bulb 62, outdoor 100 is below 5 °F and not usable."""
    found = at(handbook, 90, 66)
    assert isinstance(found, Target)
    assert found.value_k / DEGREE == pytest.approx(13.0, abs=1.0)
    assert isinstance(at(handbook, 100, 62), NoTarget)


@pytest.mark.parametrize(
    ("wet_bulb", "outdoor", "superheat"), [(64.0, 96.0, 8.0), (66.0, 90.0, 14.0)]
)
def test_the_rule_of_thumb(wet_bulb: float, outdoor: float, superheat: float) -> None:
    """READ: the same article, (3 WB − 80 − DB) / 2: 64 and 96 give 8 °F."""
    found = formula_superheat(kelvin(outdoor), kelvin(wet_bulb))
    assert found / DEGREE == pytest.approx(superheat, abs=1e-9)


def test_the_rule_of_thumb_stays_within_its_stated_error_of_the_chart(handbook: Handbook) -> None:
    """COMPUTED over every cell: within 3 °F in 95 %, within 6.4 °F everywhere."""
    chart = chart_of(handbook)
    gaps = [
        abs(formula_superheat(row, column) - value) / DEGREE
        for row, values in zip(chart.rows_k, chart.values_k, strict=True)
        for column, value in zip(chart.columns_k, values, strict=True)
        if value is not None
    ]
    assert len(gaps) == 1054
    assert max(gaps) == pytest.approx(6.4, abs=0.05)
    assert len([gap for gap in gaps if gap <= 3.0 + 1e-9]) / len(gaps) == pytest.approx(
        0.949, abs=0.002
    )


def test_the_rule_of_thumb_is_announced_and_wider(handbook: Handbook) -> None:
    """Only just beyond the chart, and its own error is added to the tolerance."""
    found = at(handbook, 90, 77)
    assert isinstance(found, Target)
    assert found.basis.code == "target_formula"
    assert found.basis.level == "warn"
    assert found.value_k / DEGREE == pytest.approx(30.5)
    assert found.tolerance_k / DEGREE == pytest.approx(8.0)
    assert "A rule of thumb gives 30.5 °F" in sentence(found.basis, FAHRENHEIT)


@pytest.mark.parametrize(
    ("outdoor", "wet_bulb"), [(54, 60), (90, 82), (116, 62), (125, 80), (115, 77), (60, 49)]
)
def test_far_outside_the_chart_there_is_no_target(
    handbook: Handbook, outdoor: int, wet_bulb: int
) -> None:
    found = at(handbook, outdoor, wet_bulb)
    assert isinstance(found, NoTarget)
    assert found.reason.level == "refuse"


def test_a_hole_does_not_shrink_by_interpolation(handbook: Handbook) -> None:
    """Between a cell with a value and one without there is no value."""
    chart = chart_of(handbook)
    assert isinstance(look_up(chart, kelvin(95), kelvin(64)), float)
    assert look_up(chart, kelvin(95), kelvin(62.5)) == NoValue(HOLE)
    assert look_up(chart, kelvin(95), kelvin(49.9)) == NoValue(BEYOND)
    assert look_up(chart, float("nan"), kelvin(60)) == NoValue(BEYOND)


@given(outdoor=st.floats(55.0, 115.0), wet_bulb=st.floats(50.0, 76.0))
def test_between_cells_the_chart_stays_between_them(
    handbook: Handbook, outdoor: float, wet_bulb: float
) -> None:
    chart = chart_of(handbook)
    value = look_up(chart, kelvin(outdoor), kelvin(wet_bulb))
    if isinstance(value, NoValue):
        assert value.code == HOLE
        return
    low = look_up(chart, kelvin(int(outdoor)), kelvin(int(wet_bulb)))
    high = look_up(chart, kelvin(min(int(outdoor) + 1, 115)), kelvin(int(wet_bulb)))
    across = look_up(chart, kelvin(int(outdoor)), kelvin(min(int(wet_bulb) + 1, 76)))
    corners = [each for each in (low, high, across) if isinstance(each, float)]
    assert min(corners) - 2.5 * DEGREE <= value <= max(corners) + 2.5 * DEGREE


def test_the_chart_falls_with_outdoor_heat_and_rises_with_wet_bulb(handbook: Handbook) -> None:
    """No cell of a recalled table has slipped: it is monotone both ways, and its holes lie in the
    hot and dry corner only."""
    values = chart_of(handbook).values_k
    for i, row in enumerate(values):
        for j, value in enumerate(row):
            if value is None:
                assert i == len(values) - 1 or values[i + 1][j] is None
                assert j == 0 or row[j - 1] is None
                continue
            assert value >= 5.0 * DEGREE - 1e-9
            if j > 0 and (left := row[j - 1]) is not None:
                assert value > left
            if i > 0 and (above := values[i - 1][j]) is not None:
                assert value < above


def test_the_target_split_follows_one_smooth_formula(handbook: Handbook) -> None:
    """COMPUTED: a recalled table whose every cell fits one formula within 0.06 °F has no slipped
    cell. This shows consistency only; no published copy was found."""
    chart = handbook.charts[TARGET_SPLIT]
    for row, values in zip(chart.rows_k, chart.values_k, strict=True):
        for column, value in zip(chart.columns_k, values, strict=True):
            if value is None:
                continue
            dry = row / DEGREE - 459.67
            wet = column / DEGREE - 459.67
            fitted = (
                -70.3177
                + 0.548593 * dry
                + 2.200318 * wet
                - 0.0228076 * wet * wet
                - 0.00006623 * dry * wet
            )
            assert value / DEGREE == pytest.approx(fitted, abs=0.06)


# Which method gives which target


def test_the_makers_figure_is_the_target(handbook: Handbook) -> None:
    chart = chart_of(handbook)
    found = target_for(VALVE_UNIT, Reading(), 290.0, chart)
    assert isinstance(found, Target)
    assert (found.quantity, found.value_k) == (SUBCOOLING, 10.0 * DEGREE)
    unit = System("R-22", FIXED, BY_SUPERHEAT, STANDARD_PA, maker_superheat_k=6.0)
    found = target_for(unit, Reading(), 290.0, chart)
    assert isinstance(found, Target)
    assert (found.quantity, found.value_k) == (SUPERHEAT, 6.0)


@pytest.mark.parametrize("method", [BY_CHART, BY_SUPERHEAT])
@pytest.mark.parametrize("metering", [TXV, EEV])
def test_a_valve_is_not_charged_by_superheat(
    handbook: Handbook, metering: str, method: str
) -> None:
    """The valve holds superheat itself (RA3.2 uses subcooling for it, READ)."""
    unit = System("R-410A", metering, method, STANDARD_PA, maker_superheat_k=6.0)
    found = target_for(unit, Reading(outdoor_dry_bulb_k=300.0), 290.0, chart_of(handbook))
    assert isinstance(found, NoTarget)
    assert found.reason.code == "valve_by_superheat"


def test_an_unknown_metering_device_is_asked_for(handbook: Handbook) -> None:
    unit = System("R-410A", METERING_UNKNOWN, BY_CHART, STANDARD_PA)
    found = target_for(unit, Reading(outdoor_dry_bulb_k=300.0), 290.0, chart_of(handbook))
    assert isinstance(found, NoTarget)
    assert found.reason.code == "metering_unknown"


def test_a_valve_should_hold_four_to_twenty_five_degrees(handbook: Handbook) -> None:
    """READ: RA3.2 (2008), metering check, installer, when the manufacturer gives no range."""
    target = target_for(VALVE_UNIT, Reading(), 290.0, chart_of(handbook))
    found = expected_superheat(VALVE_UNIT, Reading(), 290.0, target, chart_of(handbook))
    assert found is not None
    assert (found[0] / DEGREE, found[1] / DEGREE) == (pytest.approx(4.0), pytest.approx(25.0))
    unit = replace(VALVE_UNIT, maker_superheat_k=10.0 * DEGREE)
    found = expected_superheat(unit, Reading(), 290.0, target, chart_of(handbook))
    assert found is not None
    assert (found[0] / DEGREE, found[1] / DEGREE) == (pytest.approx(5.0), pytest.approx(15.0))


def test_a_fixed_orifice_by_weight_is_still_held_against_the_chart(handbook: Handbook) -> None:
    unit = replace(FIXED_UNIT, method=BY_SUBCOOLING, maker_subcooling_k=5.0)
    reading = Reading(outdoor_dry_bulb_k=kelvin(95))
    target = target_for(unit, reading, kelvin(68), chart_of(handbook))
    found = expected_superheat(unit, reading, kelvin(68), target, chart_of(handbook))
    assert found is not None
    assert (found[0] + found[1]) / 2.0 / DEGREE == pytest.approx(14.0, abs=1.0)


def test_the_tolerance_itself_passes(handbook: Handbook) -> None:
    target = target_for(VALVE_UNIT, Reading(), 290.0, chart_of(handbook))
    assert isinstance(target, Target)
    assert within(target, (10.0 + 3.0) * DEGREE)
    assert not within(target, (10.0 + 3.001) * DEGREE)


# Wet bulb from humidity, through the reading


@pytest.mark.parametrize(
    ("dry", "humidity", "wet", "within_f"),
    [(100.0, 0.13, 65.0, 0.3), (75.0, 0.498, 62.5, 0.1)],
)
def test_published_wet_bulbs(
    handbook: Handbook, dry: float, humidity: float, wet: float, within_f: float
) -> None:
    """READ: ASHRAE Fundamentals 2017, chapter 1, example 1 (100/65 °F is 13 %, printed to a whole
    percent); a psychrometric text (75/62.5 °F is about 50 %, computed 49.8)."""
    reading = Reading(return_dry_bulb_k=kelvin(dry), return_humidity=humidity)
    found = wet_bulb_of(reading, STANDARD_PA, handbook.psychrometrics)
    assert isinstance(found, float)
    assert found / DEGREE - 459.67 == pytest.approx(wet, abs=within_f)


def test_humidity_that_cannot_be_gives_no_wet_bulb(handbook: Handbook) -> None:
    reading = Reading(return_dry_bulb_k=kelvin(75.0), return_humidity=1.2)
    found = wet_bulb_of(reading, STANDARD_PA, handbook.psychrometrics)
    assert isinstance(found, Unknown)
    assert found.reason.code == "wet_bulb_out_of_table"


# Weighing in


def weighed(length_ft: float | None, included_ft: float | None, oz_per_ft: float | None) -> System:
    return System(
        "R-410A",
        TXV,
        BY_SUBCOOLING,
        STANDARD_PA,
        nameplate_charge_kg=100.0 * OUNCE_KG,
        line_length_m=None if length_ft is None else length_ft * FOOT_M,
        line_included_m=None if included_ft is None else included_ft * FOOT_M,
        line_adder_kg_per_m=None if oz_per_ft is None else oz_per_ft * OUNCE_KG / FOOT_M,
    )


@pytest.mark.parametrize(
    ("length", "included", "adder", "ounces"),
    [
        (25.0, 13.5 / 0.27, 0.27, -6.75),
        (25.0, 15.0, 0.60, 6.0),
        (15.0, 15.0, 0.60, 0.0),
    ],
)
def test_line_set_examples(length: float, included: float, adder: float, ounces: float) -> None:
    """READ: a manufacturer's manual (38C series p. 27, table 4): 25 ft of 1/4 in at 0.27 oz/ft
    against a 13.5 oz allowance is −6.75 oz; 3/8 in is 0.60 oz/ft, so 10 ft beyond what is covered
    is 6 oz. RA3.2.3 (2013, READ): nameplate corrected for the line length."""
    unit = replace(weighed(length, included, adder), short_line_takes_off=True)
    found = weigh_in(unit)
    assert isinstance(found, WeighIn)
    assert found.line_kg is not None
    assert found.line_kg / OUNCE_KG == pytest.approx(ounces, abs=1e-9)
    assert found.total_kg / OUNCE_KG == pytest.approx(100.0 + ounces)


def test_whether_a_short_line_set_takes_charge_off_is_asked() -> None:
    """READ: manufacturers conflict, XPG20 and 38HQ take off, MMY p. 121 adds nothing."""
    short = weighed(10.0, 15.0, 0.60)
    unasked = weigh_in(short)
    assert isinstance(unasked, Unknown)
    assert unasked.reason.code == "short_line_unasked"
    takes = weigh_in(replace(short, short_line_takes_off=True))
    leaves = weigh_in(replace(short, short_line_takes_off=False))
    assert isinstance(takes, WeighIn)
    assert isinstance(leaves, WeighIn)
    assert takes.total_kg / OUNCE_KG == pytest.approx(97.0)
    assert leaves.total_kg / OUNCE_KG == pytest.approx(100.0)


def test_a_half_given_line_set_is_not_guessed() -> None:
    found = weigh_in(weighed(25.0, None, None))
    assert isinstance(found, Unknown)
    assert sentence(found.reason, FAHRENHEIT) == (
        "Still missing: the length the nameplate charge covers and the manufacturer’s charge per "
        "length."
    )


def test_no_line_set_at_all_leaves_the_nameplate() -> None:
    assert weigh_in(weighed(None, None, None)) == WeighIn(100.0 * OUNCE_KG, None, 100.0 * OUNCE_KG)
