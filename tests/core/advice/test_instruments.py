"""Which instruments are used is asked once, and decides how sure the advice is."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, orifice_unit, read, shoot, valve_unit

from lowside.core.advice.advice import advise
from lowside.core.advice.instruments import error_k
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import BY_CHART, System
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT, TargetQuantity
from lowside.core.session.state import ScaleSetting


def tools(gauges: str = "", clamps: str = "", wet_bulb: str = "") -> ScaleSetting:
    return ScaleSetting("gross", 15.0, 0.005, gauges, clamps, wet_bulb)


def by_chart() -> System:
    return replace(orifice_unit(), method=BY_CHART)


def test_nothing_said_is_half_of_what_the_standard_allows() -> None:
    assert error_k(None, valve_unit(), SUBCOOLING) == pytest.approx(0.45, abs=0.005)
    assert error_k(tools(), valve_unit(), SUBCOOLING) == error_k(None, valve_unit(), SUBCOOLING)
    assert error_k(None, by_chart(), SUPERHEAT) == pytest.approx(0.84, abs=0.01)


def test_better_instruments_are_believed_more_and_worse_ones_less() -> None:
    usual = error_k(None, valve_unit(), SUBCOOLING)
    assert error_k(tools("digital", "clamp"), valve_unit(), SUBCOOLING) < usual
    assert error_k(tools("dial", "strap"), valve_unit(), SUBCOOLING) > 1.5 * usual
    plain = error_k(tools(), by_chart(), SUPERHEAT)
    assert error_k(tools("", "", "humidity"), by_chart(), SUPERHEAT) > plain
    assert error_k(tools("", "", "humidity"), valve_unit(), SUBCOOLING) == usual


def test_the_range_follows_the_instruments(handbook: Handbook) -> None:
    state = read(opening(valve_unit()), handbook, 60, 7.0, 2.0)
    state = read(shoot(state, 100, 0.15), handbook, 1100, 7.0, 4.0)
    widths = []
    for scale in (tools("digital", "clamp"), tools(), tools("dial", "strap")):
        found = advise(replace(state, scale=scale), at(1100))
        assert found.remaining_low_kg is not None
        assert found.remaining_high_kg is not None
        widths.append(found.remaining_high_kg - found.remaining_low_kg)
    assert widths[0] < widths[1] < widths[2]


@pytest.mark.parametrize(
    ("scale", "quantity", "charted", "stated"),
    [
        (tools("digital", "clamp"), SUBCOOLING, False, 0.34),
        (tools("dial", "strap"), SUBCOOLING, False, 0.75),
        (tools(), SUPERHEAT, False, 0.56),
        (tools(), SUPERHEAT, True, 0.84),
        (tools(), SUBCOOLING, True, 0.45),
        (tools("odd", "odd", "odd"), SUPERHEAT, True, 0.84),
        (tools("", "", "psychrometer"), SUPERHEAT, True, (0.56**2 + 0.45**2) ** 0.5),
        (tools("", "", "humidity"), SUPERHEAT, True, (0.56**2 + 0.80**2) ** 0.5),
    ],
)
def test_the_documented_error_of_each_kind(
    scale: ScaleSetting, quantity: TargetQuantity, charted: bool, stated: float
) -> None:
    """The table of priors in docs/advice.md [K]."""
    unit = by_chart() if charted else valve_unit()
    assert error_k(scale, unit, quantity) == pytest.approx(stated, abs=0.01)
