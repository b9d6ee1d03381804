"""Pairs of numbers that cannot both be right, and ice: nothing is added on them."""

from dataclasses import replace

import pytest
from charge_cases import (
    DEGREE,
    NOTHING,
    VALVE_UNIT,
    air,
    codes,
    facts_of,
    kelvin,
    reading_of,
    summer,
)

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import CALLS_FOR_CHARGE, ON_TARGET, POINTS_ELSEWHERE, assess
from lowside.core.judging.conditions import thermometer_error
from lowside.core.judging.findings import REFUSE
from lowside.core.judging.together import apart, do_not_go_together, iced


@pytest.mark.parametrize(
    ("outdoor", "indoor", "warms"),
    [
        (90.0, 77.0, 13.0 / 3.0),
        (107.0, 77.0, 10.0),
        # Warmer indoors than out, or as warm: only what an attic or the sun adds.
        (65.0, 80.0, 3.0),
        (80.0, 77.0, 3.0),
        (None, 77.0, 3.0),
    ],
)
def test_suction_gas_gets_no_warmer_than_return_air_and_what_its_line_adds(
    outdoor: float | None, indoor: float, warms: float
) -> None:
    """Both thermometers may err as RA3.2 lets them."""
    most = kelvin(indoor + warms) + thermometer_error(kelvin(indoor))
    most = most + thermometer_error(most + thermometer_error(most))
    seen = air(outdoor, indoor)
    for line, told in ((most - 0.01, []), (most + 0.01, ["line_above_air"])):
        found = do_not_go_together(replace(seen, suction_line_k=line), None, None)
        assert codes(found) == told
    assert facts_of(found[0]) == {"suction_line": line, "return_air": kelvin(indoor)}


def test_a_coil_that_cools_is_colder_than_return_air() -> None:
    seen = air(95.0, 70.0)
    for dew, told in ((60.0, []), (60.1, ["coil_near_return"])):
        assert codes(do_not_go_together(seen, kelvin(dew), None)) == told


def test_supply_air_is_no_colder_than_the_coil() -> None:
    error = thermometer_error(kelvin(50.0)) / DEGREE
    for coil, told in ((50.0 + error - 0.01, []), (50.0 + error + 0.01, ["supply_below_coil"])):
        seen = air(95.0, 78.0, supply_dry_bulb_k=kelvin(50.0))
        assert codes(do_not_go_together(seen, None, kelvin(coil))) == told


def test_without_return_air_nothing_is_said() -> None:
    seen = replace(NOTHING, suction_line_k=kelvin(150.0), outdoor_dry_bulb_k=kelvin(90.0))
    assert do_not_go_together(seen, kelvin(90.0), kelvin(90.0)) == []


def test_a_false_superheat_is_no_ground_for_adding(handbook: Handbook) -> None:
    """The suction clamp in the sun: subcooling says short, superheat says 53 °F."""
    sun = reading_of(handbook, VALVE_UNIT, 53.0, 4.0, 124.0, 348.0, **summer(90.0, 77.0, 64.0))
    judged = assess(VALVE_UNIT, sun, handbook)
    assert judged.verdict == POINTS_ELSEWHERE
    assert judged.reason_finding.code == "line_above_air"
    assert apart(judged.findings)
    # Not “undercharged” beside it.
    assert {finding.level for finding in judged.findings} == {REFUSE}
    shade = reading_of(handbook, VALVE_UNIT, 16.0, 4.0, 124.0, 348.0, **summer(90.0, 77.0, 64.0))
    sound = assess(VALVE_UNIT, shade, handbook)
    assert sound.verdict == CALLS_FOR_CHARGE
    assert not apart(sound.findings)


def test_below_freezing_a_coil_that_is_not_starved_bars_adding(handbook: Handbook) -> None:
    """READ: 25 to 30 °F of superheat undercharged, 8 to 12 normal (U-5 IOM p. 17)."""
    for superheat, verdict in ((19.9, POINTS_ELSEWHERE), (20.0, CALLS_FOR_CHARGE)):
        cold = reading_of(handbook, VALVE_UNIT, superheat, 4.0, 95.0, **summer(dry=73.0))
        judged = assess(VALVE_UNIT, cold, handbook)
        assert judged.verdict == verdict
        told = codes(list(judged.findings))
        # Never both: “thaw it” as the reason, and the warning that says less.
        assert ("iced" in told) != ("freezing" in told)
        assert ("iced" in told) != any(code.startswith("undercharge") for code in told)


def test_ice_bars_adding_only(handbook: Handbook) -> None:
    """READ: a manual's example on target has 21 °F and 15 °F of superheat (18-BC53D2-6 p. 28)."""
    right = reading_of(handbook, VALVE_UNIT, 16.0, 10.0, 98.0, **summer(dry=73.0))
    judged = assess(VALVE_UNIT, right, handbook)
    assert judged.verdict == ON_TARGET
    assert "iced" not in codes(list(judged.findings))


def test_ice_is_judged_by_both_figures() -> None:
    found = iced(kelvin(30.0), 19.9 * DEGREE)
    assert found is not None
    assert facts_of(found) == {"coil": kelvin(30.0), "superheat": 19.9 * DEGREE}
    assert iced(kelvin(32.0), 5.0 * DEGREE) is None
    assert iced(kelvin(10.0), 20.1 * DEGREE) is None


@pytest.mark.parametrize(("dew_f", "limit"), [(31.9, 10.5), (31.0, 15.0), (30.0, 20.0)])
def test_right_below_freezing_only_a_fed_coil_is_iced(dew_f: float, limit: float) -> None:
    """The fins are warmer than the refrigerant: common practice, no source. The limits are ours."""
    assert iced(kelvin(dew_f), (limit - 0.1) * DEGREE) is not None
    assert iced(kelvin(dew_f), (limit + 0.1) * DEGREE) is None


def test_no_dew_point_says_no_ice() -> None:
    assert iced(None, 5.0 * DEGREE) is None
