"""A hand that closes late every time: what it runs over by is taken off the next advised weight."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, valve_unit
from outlook_cases import an_outlook, assessed, subject, taken

from lowside.core.advice import advice as advices
from lowside.core.advice import feeding, plan
from lowside.core.advice.feeding import Feed
from lowside.core.session.state import Shot


def shot(advised_kg: float | None, fed_kg: float | None) -> Shot:
    return Shot("s", at(0), at(20), 20.0, False, fed_kg, planned_kg=advised_kg)


@pytest.mark.parametrize(
    ("shots", "over"),
    [
        ([(0.020, 0.026), (0.030, 0.039)], 90.0 / 75.0),
        ([(0.020, 0.026), (0.030, 0.039)] * 4, 285.0 / 225.0),
        ([(0.020, 0.026)], 1.0),
        ([(0.020, 0.026), (None, 0.039), (0.030, None)], 1.0),
        ([(0.020, 0.010), (0.030, 0.025)], 1.0),
        ([(0.020, 0.300), (0.020, 0.020)], 80.0 / 60.0),
    ],
)
def test_it_is_learned_from_two_shots_on_and_never_asks_for_more(
    shots: list[tuple[float | None, float | None]], over: float
) -> None:
    """As if one more shot of their middle size had been met: 65 + 25 g for 50 + 25. A slip counts
    as twice its advice."""
    assert feeding.runs_over([shot(*each) for each in shots]) == pytest.approx(over)


def test_shots_before_a_restrictor_say_nothing_of_the_hand_with_it() -> None:
    state = replace(opening(valve_unit()), shots=(shot(0.02, 0.03), shot(0.02, 0.03)))
    assert feeding.flow_of(state, 2).over == pytest.approx(80.0 / 60.0)
    assert feeding.flow_of(state, 1).over == 1.0
    assert state.cylinder is not None
    fitted = replace(state, cylinder=replace(state.cylinder, restrictor=True, fitted_after=2))
    assert feeding.flow_of(fitted, 2).over == 1.0


@pytest.mark.parametrize(
    ("over", "amount_kg"), [(1.0, 0.050), (1.2, 0.050), (1.5, 0.040), (2.0, 0.030)]
)
def test_the_next_shot_is_what_will_really_go_in(over: float, amount_kg: float) -> None:
    """60 g less 2 s at 5.6 g/s are 48.8 g. So 1.2 is no more than what closing late brings."""
    state = replace(opening(valve_unit()), readings=(taken(0, assessed(subcooling_k=2.0)),))
    flow = Feed(0.004, 0.0056, learned=True, over=over)
    found = advices._shot(state, an_outlook(flow=flow), 0.060, ("why",))
    assert found.amount_kg == pytest.approx(amount_kg)
    said = [reason for reason in found.reasons if "run over" in reason]
    assert bool(said) == (over > 1.15)
    if over == 1.5:
        assert said[0].startswith("Your shots run over by 0.7 oz.")


def test_the_smallest_shot_of_such_a_hand_is_larger() -> None:
    flow = Feed(0.004, 0.0056, learned=True, over=1.5)
    coarse = an_outlook(flow=flow, subject=subject(step_kg=0.020))
    assert plan.least_kg(an_outlook(flow=flow)) == pytest.approx(0.015)
    assert plan.least_kg(coarse) == pytest.approx(0.030)
    assert plan.least_kg(replace(coarse, flow=replace(flow, over=1.0))) == 0.020
    assert plan.whole_kg(an_outlook(safe_kg=0.012, flow=flow)) == pytest.approx(0.015)
