"""A fixed orifice charged by subcooling or approach: charge lowers its superheat too, by 2 °F for
1 % (from memory). Down to the floor of 5 °F (READ, 14ACX p. 26) it may, and no further."""

from dataclasses import replace

import pytest
from advice_cases import opening, orifice_unit, valve_unit
from expert import Bench
from outlook_cases import NOTHING, a_target, assessed, taken
from walked import before_reading, did

from lowside.core.advice import feeding
from lowside.core.advice.outlook import Outlook, outlook_of, without_hoses
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import BY_SUBCOOLING, System
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import SUPERHEAT, Target

ORIFICE = replace(orifice_unit(), method=BY_SUBCOOLING, maker_superheat_k=None)
VALVE = valve_unit(maker_superheat_k=None)


def one(unit: System, superheat_k: float | Unknown, target: Target | None = None) -> Outlook:
    """From one reading that is 3.5 K short."""
    judged = assessed(
        target=a_target() if target is None else target, superheat_k=superheat_k, subcooling_k=1.5
    )
    state = replace(opening(unit), readings=(taken(0, judged),))
    found = outlook_of(state, state.readings[0])
    assert found is not None
    return found


@pytest.mark.parametrize(("superheat_f", "share"), [(7.0, 0.01), (5.4, 0.002), (5.0, 0), (4.0, 0)])
def test_caps_what_goes_in_before_the_next_reading(superheat_f: float, share: float) -> None:
    seen = one(ORIFICE, superheat_f / 1.8)
    assert seen.most_kg == pytest.approx(share * seen.full_charge_kg, rel=0.005)
    assert seen.safe_kg == seen.most_kg < one(VALVE, superheat_f / 1.8).safe_kg
    assert without_hoses(seen).safe_kg == seen.most_kg


def test_does_not_cap_where_there_is_enough_or_by_its_own_target_or_behind_a_valve() -> None:
    assert one(ORIFICE, 12.0).safe_kg == one(VALVE, 12.0).safe_kg
    for found in (
        one(orifice_unit(), 8.0, Target(SUPERHEAT, 7.0, 2.8, NOTHING)),
        one(VALVE, 3.0),
        one(ORIFICE, Unknown(NOTHING)),
    ):
        assert found.most_kg == pytest.approx(feeding.most_before_reading(found.suction))


def test_it_falls_to_its_floor_and_is_held_by_nothing_above() -> None:
    assert one(ORIFICE, 8.0).least_superheat_k == pytest.approx(5.0 / 1.8)
    assert one(VALVE, 8.0).least_superheat_k == pytest.approx(4.5)


def bench_with(handbook: Handbook, superheat_f: float, metering: str) -> Bench:
    """A unit of 8 lb whose subcooling is 6 °F short. Dew is 42.44 °F, bubble 106 °F."""
    unit = {"metering": metering, "nameplate_charge": "8 lb"}
    target = {"method": "subcooling", "maker_subcooling": "10 °F"}
    bench = before_reading(handbook, unit, target, resolution="0.25 oz")
    did(
        bench,
        "reading",
        suction_pressure="124 psig",
        suction_line=f"{42.44 + superheat_f:.2f} °F",
        liquid_pressure="348 psig",
        liquid_line="102 °F",
        outdoor_dry_bulb="90 °F",
        return_dry_bulb="77 °F",
        return_wet_bulb="64 °F",
    )
    bench.form("decide", {"decision": "add"})
    return bench


@pytest.mark.parametrize(
    ("superheat_f", "metering", "action"),
    [
        (5.4, "fixed", "do_not_add"),
        (5.4, "txv", "add"),
        (7.0, "fixed", "add"),
    ],
)
def test_without_room_for_the_smallest_shot_none_is_asked(
    handbook: Handbook, superheat_f: float, metering: str, action: str
) -> None:
    bench = bench_with(handbook, superheat_f, metering)
    told = bench.advice()
    assert told.action == action
    if action == "do_not_add":
        assert "near its floor" in told.reasons[0]
        assert not bench.form("shot_open", {})
