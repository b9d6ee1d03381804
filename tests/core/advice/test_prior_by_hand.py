"""What is believed of a unit before it answers, against docs/advice.md and hand calculation."""

from collections.abc import Sequence
from itertools import pairwise
from math import exp, log

import pytest

from lowside.core.advice import prior
from lowside.core.advice.prior import slopes_of
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT
from lowside.core.numbers.units import OUNCE_KG, TON_W

THREE_TONS_W = 3.0 * TON_W
FORTY_OUNCES_A_TON_KG = 120.0 * OUNCE_KG


def middle(values: Sequence[float], weights: Sequence[float]) -> float:
    """The weighted middle of a ladder whose steps are ratios."""
    return exp(sum(w * log(v) for v, w in zip(values, weights, strict=True)) / sum(weights))


def ounces(texts: dict[str, str]) -> float:
    """The middle of what is believed: charge for 1 °F of subcooling [oz a ton]."""
    believed = slopes_of(SUBCOOLING, FORTY_OUNCES_A_TON_KG, THREE_TONS_W, texts)
    fahrenheit = [kelvin * 1.8 for kelvin in believed.kelvin]
    return middle([40.0 / slope for slope in fahrenheit], believed.weights)


@pytest.mark.parametrize(
    ("coil", "receiver", "stated"),
    [
        ("tube_fin", "no", 0.45),
        ("tube_fin", None, 0.45),
        ("tube_fin", "yes", 0.3),
        ("tube_fin", "unknown", 0.3),
        ("", "no", 0.3),
        (None, None, 0.3),
        ("microchannel", "no", 0.11),
        ("microchannel", "unknown", 0.11),
    ],
)
def test_the_middle_of_what_is_believed_is_the_documented(
    coil: str | None, receiver: str | None, stated: float
) -> None:
    """The table of priors in docs/advice.md."""
    texts = {name: text for name, text in (("coil", coil), ("receiver", receiver)) if text}
    assert ounces(texts) == pytest.approx(stated, rel=0.17)


def test_a_slope_is_the_charge_a_ton_over_the_ounces_for_a_degree() -> None:
    """40 oz a ton: 0.05 oz for 1 °F makes 800 °F of a whole charge, 1.35 oz makes 29.6 °F."""
    believed = slopes_of(SUBCOOLING, FORTY_OUNCES_A_TON_KG, THREE_TONS_W, {})
    assert believed.kelvin[0] == pytest.approx(29.63 / 1.8, rel=1e-3)
    assert believed.kelvin[-1] == pytest.approx(800.0 / 1.8, rel=1e-3)
    twice = slopes_of(SUBCOOLING, 2.0 * FORTY_OUNCES_A_TON_KG, THREE_TONS_W, {})
    assert twice.kelvin == pytest.approx([2.0 * each for each in believed.kelvin])
    larger = slopes_of(SUBCOOLING, FORTY_OUNCES_A_TON_KG, 2.0 * THREE_TONS_W, {})
    assert larger.kelvin == pytest.approx([0.5 * each for each in believed.kelvin])


def test_weights_belong_to_their_slopes() -> None:
    """With a tube-and-fin coil 0.60 oz for 1 °F is the likeliest, and 0.05 oz the least likely."""
    believed = slopes_of(SUBCOOLING, FORTY_OUNCES_A_TON_KG, THREE_TONS_W, {"coil": "tube_fin"})
    by_slope = dict(zip(believed.kelvin, believed.weights, strict=True))
    likeliest = max(by_slope, key=lambda slope: by_slope[slope])
    assert 40.0 / (likeliest * 1.8) == pytest.approx(0.60)
    assert min(by_slope.values()) == by_slope[max(by_slope)]


@pytest.mark.parametrize(
    ("coil", "stated"), [("tube_fin", 85.0), ("", 85.0), ("microchannel", 150)]
)
def test_superheat_is_believed_as_documented_whatever_the_charge(coil: str, stated: float) -> None:
    believed = slopes_of(SUPERHEAT, 1.0, THREE_TONS_W, {"coil": coil})
    assert middle(believed.kelvin, believed.weights) == pytest.approx(stated, rel=0.1)
    assert (believed.kelvin[0], believed.kelvin[-1]) == pytest.approx((28.0, 450.0), rel=0.001)
    assert believed == slopes_of(SUPERHEAT, 9.0, TON_W, {"coil": coil})


@pytest.mark.parametrize(
    "weights",
    [
        prior.TUBE_FIN,
        prior.MICROCHANNEL,
        prior.NOT_LOOKED_AT,
        prior.SUPERHEAT_TUBE_FIN,
        prior.SUPERHEAT_MICROCHANNEL,
    ],
)
def test_a_ladder_s_weights_have_one_hump_and_make_one(weights: tuple[float, ...]) -> None:
    assert sum(weights) == pytest.approx(1.0)
    assert min(weights) > 0.0
    top = weights.index(max(weights))
    assert list(weights[: top + 1]) == sorted(weights[: top + 1])
    assert list(weights[top:]) == sorted(weights[top:], reverse=True)


@pytest.mark.parametrize("ladder", [prior.SUBCOOLING_OZ, prior.SUPERHEAT_SLOPES_K])
def test_a_ladder_s_steps_are_alike(ladder: tuple[float, ...]) -> None:
    """No slope lies further from the next than half as much again, or 1.6 times at the end."""
    for low, high in pairwise(ladder):
        assert 1.35 < high / low < 1.61


def test_superheat_s_slopes_are_each_the_root_of_two_times_the_last() -> None:
    """Rounded to the figures of a slide rule: within 1.1 %."""
    for place, slope in enumerate(prior.SUPERHEAT_SLOPES_K):
        assert slope == pytest.approx(28.0 * 2.0 ** (0.5 * place), rel=0.011)
