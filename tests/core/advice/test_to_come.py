"""What the hoses hold counts as still to come, and a session never tells two stories."""

from dataclasses import replace

import pytest
from advice_cases import at, holding, opening, orifice_unit, read, shoot, valve_unit
from hypothesis import given, settings
from hypothesis import strategies as st

from lowside.core.advice import words as words_of_advice
from lowside.core.advice.advice import ADD, FINISH, RECOVER, Advice, AdvisedAction, advise
from lowside.core.advice.feeding import LEAST_ASKED_S
from lowside.core.handbook.handbook import Handbook
from lowside.core.hoses.contents import usual_conditions
from lowside.core.hoses.run import follow
from lowside.core.hoses.to_come import to_come
from lowside.core.numbers.unit_choice import small_mass
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.block import DO_NOT_ADD
from lowside.core.session.state import Shot

HOSES_KG = 0.055


@pytest.mark.parametrize(
    ("hardware", "kilograms"),
    [
        # COMPUTED: R-410A liquid, 3/16 in bore: 0.95 oz in 60 in at 100 °F, more when cooler.
        ("self-closing-three-port", 2 * 0.95 * 0.02835),
        ("low-side-only-two-hose", 0.95 * 0.02835),
        ("no-liquid-port-two-hose", 0.95 * 0.02835),
        ("one-charging-hose", 0.95 * 0.02835),
    ],
)
def test_hoses_bring_what_their_volume_holds(
    handbook: Handbook, hardware: str, kilograms: float
) -> None:
    conditions = usual_conditions(handbook.tables["R-410A"], 101325.0)
    assert not isinstance(conditions, str)
    procedure = handbook.procedures[hardware]
    found = to_come(procedure, follow(procedure, conditions))  # type: ignore[arg-type]
    assert found.total_kg == pytest.approx(kilograms, abs=0.006)
    assert found.after["disconnect"] == 0.0
    assert 0.0 < found.from_cylinder_kg <= 0.033


def test_what_the_hoses_hold_is_not_missing_any_more(handbook: Handbook) -> None:
    bare = read(opening(valve_unit()), handbook, 60, 7.0, 1.5)
    without = advise(bare, at(60))
    found = advise(holding(bare, HOSES_KG), at(60))
    assert found.action == ADD
    assert found.remaining_kg is not None
    assert without.remaining_kg is not None
    assert found.remaining_kg == pytest.approx(without.remaining_kg - HOSES_KG)
    assert any("hoses still hold about" in reason for reason in found.reasons)


def test_no_shot_when_the_hoses_are_enough(handbook: Handbook) -> None:
    state = read(opening(valve_unit()), handbook, 60, 7.0, 1.5)
    state = read(shoot(state, 100, 0.30), handbook, 1100, 7.0, 4.0)
    assert advise(state, at(1100)).action == ADD
    enough = holding(state, 0.15)
    enough = read(enough, handbook, 1200, 7.0, 4.0)
    found = advise(holding(enough, 0.15), at(1200))
    assert found.action == FINISH
    assert any("It goes in at close-out" in reason for reason in found.reasons)


def test_amount_is_the_same_in_headline_and_reasons(handbook: Handbook) -> None:
    found = advise(read(opening(valve_unit()), handbook, 60, 7.0, 0.5), at(60))
    assert found.amount_kg is not None
    said = small_mass(found.amount_kg, opening(valve_unit()).units)
    assert any(f"{said} at once" in reason for reason in found.reasons)


def test_nobody_is_told_to_open_less_than_a_hand_can_keep(handbook: Handbook) -> None:
    for superheat_k in (2.8, 4.0, 7.0, 12.0):
        state = read(opening(valve_unit()), handbook, 60, superheat_k, 0.5)
        state = read(shoot(state, 100, 0.04, 30.0), handbook, 900, superheat_k, 0.7)
        found = advise(state, at(900))
        assert found.action == ADD
        assert not any("Open less" in reason for reason in found.reasons)


def middle_is_within(found: Advice) -> bool:
    low, middle, high = found.remaining_low_kg, found.remaining_kg, found.remaining_high_kg
    if low is None or middle is None or high is None:
        return low is None and middle is None and high is None
    return low <= middle <= high


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_one_session_tells_one_story(handbook: Handbook, data: st.DataObject) -> None:
    valve = data.draw(st.booleans(), "valve")
    hoses_kg = data.draw(st.sampled_from((0.0, 0.027, 0.055, 0.12)), "hoses")
    value = data.draw(st.floats(0.0, 6.0) if valve else st.floats(5.0, 22.0), "value")
    state = replace(
        opening(
            replace(
                valve_unit() if valve else orifice_unit(),
                nameplate_charge_kg=data.draw(st.sampled_from((1.0, 3.4, 9.0)), "charge"),
            ),
            data.draw(st.sampled_from((0.001, 0.005, OUNCE_KG)), "step"),
        ),
        unit_texts={
            "coil": data.draw(st.sampled_from(("tube_fin", "microchannel", "unknown")), "coil"),
            "receiver": data.draw(st.sampled_from(("no", "unknown")), "receiver"),
        },
        target_texts={"microchannel_papers": "yes"},
    )
    assert state.cylinder is not None
    metered = data.draw(st.booleans(), "restrictor")
    state = replace(state, cylinder=replace(state.cylinder, restrictor=metered))
    seconds = 60.0
    for _ in range(data.draw(st.integers(1, 3), "readings")):
        superheat_k, subcooling_k = (7.0, value) if valve else (value, 2.0)
        state = read(state, handbook, seconds, superheat_k, subcooling_k)
        state = holding(state, hoses_kg)
        value += data.draw(st.floats(-0.5, 1.5), "answer") * (1.0 if valve else -2.0)
        before: float | None = None
        for _ in range(data.draw(st.integers(1, 4), "moments")):
            found = advise(state, at(seconds))
            assert middle_is_within(found)
            if found.remaining_kg is not None:
                assert before is None or found.remaining_kg <= before + 1.0e-12
                before = found.remaining_kg
            if found.action == ADD:
                assert found.amount_kg is not None
                assert found.rate_kg_s is not None
                assert found.remaining_kg is not None
                assert found.remaining_kg > 0.0
                by_flow = found.amount_kg / found.rate_kg_s
                too_quick = by_flow < LEAST_ASKED_S
                assert words_of_advice.TOO_QUICK in found.reasons or not too_quick
                assert found.open_s == (None if too_quick else pytest.approx(by_flow))
            assert found.action != RECOVER or found.amount_kg is None or found.amount_kg > 0.0
            fed = data.draw(st.none() | st.floats(-0.002, 0.1), "fed")
            open_s = data.draw(st.floats(2.0, 60.0), "open")
            seconds += open_s + data.draw(st.floats(1.0, 300.0), "wait")
            shot = Shot("s", at(seconds - open_s), at(seconds), open_s, False, fed)
            state = replace(state, shots=(*state.shots, shot))
        seconds += 900.0


@pytest.mark.parametrize(
    ("superheat_k", "subcooling_k"),
    [
        # 22 °F behind a valve with 16 °F of subcooling; 18.6 °F with subcooling on target.
        (12.2, 8.9),
        (10.3, 5.6),
    ],
)
def test_a_valve_that_starves_behind_liquid_is_neither_recovered_nor_finished(
    handbook: Handbook, superheat_k: float, subcooling_k: float
) -> None:
    state = read(opening(valve_unit()), handbook, 60, superheat_k, subcooling_k, lift_k=16.1)
    found = advise(state, at(60))
    assert found.action == DO_NOT_ADD
    assert "filter drier" in found.reasons[0]
    sound = read(opening(valve_unit()), handbook, 60, 7.0, subcooling_k, lift_k=12.0)
    assert advise(sound, at(60)).action != DO_NOT_ADD


def test_a_flat_unit_that_reads_low_gets_the_shot_that_fits_before_it_is_finished(
    handbook: Handbook,
) -> None:
    """10 ± 3 °F. The hoses are expected to bring up what reads 0.9 of the tolerance low; a flat
    unit moves less than that, so the shot to the middle comes first. At 0.6 it is finished."""

    def at_the_end(subcooling_k: float, *sides: float) -> AdvisedAction:
        state = read(opening(valve_unit()), handbook, 60, 7.0, 1.5, *sides)
        state = read(shoot(state, 100, 0.30), handbook, 1100, 7.0, subcooling_k, *sides)
        for seconds in (1200, 1300, 1400):
            state = read(state, handbook, seconds, 7.0, subcooling_k, *sides)
        return advise(holding(state, 0.08), at(1400)).action

    assert at_the_end(4.1) == ADD
    assert at_the_end(4.6) == FINISH
    # A warm coil and a low lift: what is wrong there is not the charge.
    assert at_the_end(4.1, 16.0, 9.0) == FINISH
