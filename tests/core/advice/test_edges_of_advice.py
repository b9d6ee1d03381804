"""Small parts of the advice against figures worked out by hand."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, orifice_unit, read, valve_unit

from lowside.core.advice import glance, words
from lowside.core.advice.feeding import Feed
from lowside.core.advice.outlook import Outlook, outlook_of
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import System
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.state import State

POUND_A_MINUTE = 16.0 * OUNCE_KG / 60.0


def looked(handbook: Handbook, unit: System) -> tuple[State, Outlook]:
    state = read(opening(unit), handbook, 0, 14.0, 1.5)
    outlook = outlook_of(state, state.readings[-1])
    assert outlook is not None
    return state, outlook


@pytest.mark.parametrize(
    ("quantity", "blind", "gap", "shown"),
    [
        (SUBCOOLING, False, 5.0, 8.0),
        (SUBCOOLING, True, 5.0, 5.9),
        (SUBCOOLING, True, 2.2, 8.0),
        (SUPERHEAT, False, 5.0, 12.0),
        (SUPERHEAT, True, 5.0, 14.1),
    ],
)
def test_the_gauges_stop_an_opening_at_the_target_s_near_edge(
    handbook: Handbook, quantity: str, blind: bool, gap: float, shown: float
) -> None:
    """Target 10 K, tolerance 2 K. A reading that hid the charge shows it once it moved 0.9 K."""
    _, outlook = looked(handbook, valve_unit())
    asked = replace(
        outlook, quantity=quantity, blind=blind, gap_k=gap, target_k=10.0, tolerance_k=2.0
    )
    assert glance.limit_value_k(asked) == pytest.approx(shown)


def test_what_went_in_since_the_reading_is_no_longer_missing(handbook: Handbook) -> None:
    state, outlook = looked(handbook, valve_unit())
    ounces = replace(outlook, low_kg=4 * OUNCE_KG, missing_kg=8 * OUNCE_KG, high_kg=16 * OUNCE_KG)
    assert words.missing(state, ounces, 0.0) == (
        "Still missing: 4.0 oz to 16.0 oz, most likely about 8.0 oz."
    )
    assert words.missing(state, ounces, 3 * OUNCE_KG) == (
        "Still missing: 1.0 oz to 13.0 oz, most likely about 5.0 oz."
    )
    assert words.missing(state, ounces, 6 * OUNCE_KG) == (
        "Still missing: 0.0 oz to 10.0 oz, most likely about 2.0 oz."
    )
    assert words.missing(state, ounces, 20 * OUNCE_KG) == (
        "Still missing: 0.0 oz to 0.0 oz, most likely about 0.0 oz."
    )


@pytest.mark.parametrize(
    ("seen", "says"),
    [
        (Feed(POUND_A_MINUTE, POUND_A_MINUTE, learned=False), "Its flow is not known yet"),
        (Feed(9.0 * POUND_A_MINUTE, 9.0 * POUND_A_MINUTE, learned=True), "Open less"),
        (Feed(0.1 * POUND_A_MINUTE, 0.1 * POUND_A_MINUTE, learned=True), "is fine"),
        (Feed(0.9 * POUND_A_MINUTE, 0.9 * POUND_A_MINUTE, learned=True), "Keep to that"),
    ],
)
def test_the_words_about_the_flow_fit_what_was_seen(
    handbook: Handbook, seen: Feed, says: str
) -> None:
    state, _ = looked(handbook, orifice_unit())
    text = words.flow(state, seen, POUND_A_MINUTE)
    assert says in text
    assert ("The last opening ran" in text) == seen.learned
    assert state.readings[0].moment == at(0)
