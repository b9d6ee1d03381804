"""Sessions for the tests of the advice: units, readings and shots without a form in between."""

from dataclasses import replace

from gliding import at_midpoint

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import COOLING, FULL_STAGE, SPLIT, Machine
from lowside.core.handbook.system import (
    BY_SUBCOOLING,
    BY_SUPERHEAT,
    FIXED,
    TXV,
    Reading,
    System,
)
from lowside.core.judging.charge import assess
from lowside.core.numbers.units import TON_W
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.state import Cylinder, ScaleSetting, Shot, State, Taken, Weight
from lowside.practice.technician import CHECKED

OUTDOOR_K = 308.15
INDOOR_K = 299.8


def valve_unit(**changes: object) -> System:
    unit = System(
        refrigerant="R-410A",
        metering=TXV,
        method=BY_SUBCOOLING,
        atmosphere_pa=101325.0,
        capacity_w=3.0 * TON_W,
        maker_subcooling_k=10.0 / 1.8,
        nameplate_charge_kg=3.4,
    )
    return replace(unit, **changes)  # type: ignore[arg-type]


def orifice_unit() -> System:
    return valve_unit(
        metering=FIXED, method=BY_SUPERHEAT, maker_subcooling_k=None, maker_superheat_k=7.0
    )


def opening(unit: System, step_kg: float = 0.005) -> State:
    """A session in which everything up to the first reading was done."""
    return replace(
        fold(()),
        system=unit,
        cylinder=Cylinder("4", unit.refrigerant, 5.0, "dip_tube", None, None),
        start_weight=Weight("w", at(0), 15.0),
        scale=ScaleSetting("counts_down", 15.0, step_kg),
        decision="add",
        unit_texts={"coil": "tube_fin", "receiver": "no"},
        machine=Machine(COOLING, FULL_STAGE, SPLIT),
        checks=CHECKED,
    )


def at(seconds: float) -> Moment:
    return Moment("run", int(seconds * 1000), int(seconds * 1000))


def holding(state: State, kilograms: float) -> State:
    """The same session with hoses that hold this much for the unit at every reading."""
    held = tuple(replace(taken, hoses_kg=kilograms) for taken in state.readings)
    return replace(state, readings=held)


def read(
    state: State,
    handbook: Handbook,
    seconds: float,
    superheat_k: float,
    subcooling_k: float,
    depression_k: float = 19.0,
    lift_k: float = 12.0,
    supply_k: float | None = None,
    drier: str = "",
) -> State:
    """The same session with one more reading."""
    assert state.system is not None
    table = handbook.tables[state.system.refrigerant]
    low, cold, _ = at_midpoint(table, INDOOR_K - depression_k)
    high, _, hot = at_midpoint(table, OUTDOOR_K + lift_k)
    reading = Reading(
        suction_pressure_pa=low,
        suction_line_k=cold + superheat_k,
        liquid_pressure_pa=high,
        liquid_line_k=hot - subcooling_k,
        outdoor_dry_bulb_k=OUTDOOR_K,
        return_dry_bulb_k=INDOOR_K,
        return_wet_bulb_k=292.0,
        supply_dry_bulb_k=supply_k,
        drier=drier,
    )
    closed = state.shots[-1].closed if state.shots else None
    taken = Taken(
        eid=f"r{len(state.readings)}",
        moment=at(seconds),
        reading=reading,
        final=False,
        shots_before=len(state.shots),
        added_kg=sum(shot.amount_kg or 0.0 for shot in state.shots),
        since_shot_s=None if closed is None else seconds - closed.mono / 1000.0,
        running=True,
        assessment=assess(state.system, reading, handbook),
    )
    return replace(state, readings=(*state.readings, taken))


def shoot(state: State, seconds: float, kilograms: float, open_s: float = 20.0) -> State:
    """The same session with one more shot, closed at `seconds`."""
    shot = Shot("s", at(seconds - open_s), at(seconds), open_s, False, kilograms)
    return replace(state, shots=(*state.shots, shot))
