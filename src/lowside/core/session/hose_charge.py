"""What this session's hoses are joined to, and the charge they still hold for the unit."""

from collections.abc import Sequence
from dataclasses import replace

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import valve_by_id
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure
from lowside.core.hoses.contents import (
    HOSE_BORE_M,
    HOSE_LENGTH_M,
    Conditions,
    conditions_from,
    usual_conditions,
    with_pressures,
)
from lowside.core.hoses.run import follow
from lowside.core.hoses.to_come import ToCome, to_come
from lowside.core.session.at_hoses import CLEARED_TO_SUCTION, OFF_HOSES, off_for_recovery
from lowside.core.session.cylinder import contents_findings
from lowside.core.session.state import (
    State,
    Taken,
    latest_reading,
    recovers_hoses,
    withdrawal_of,
)


def conditions_of(state: State, handbook: Handbook) -> Conditions | None:
    """What the hoses are joined to: pressures as last read, usual ones until then.

    Returns
        `None` when the unit is not known yet or its refrigerant has no numbers there (R-744 in
        warm weather), so that nothing is drawn rather than something made up.
    """
    if state.system is None or state.system.refrigerant not in handbook.tables:
        return None
    table = handbook.tables[state.system.refrigerant]
    withdrawal = withdrawal_of(state)
    atmosphere = state.system.atmosphere_pa
    length, bore = hose_size(state)
    usual = usual_conditions(table, atmosphere, withdrawal, length, bore)
    if isinstance(usual, OutOfRange):
        return None
    latest = latest_reading(state)
    if latest is None:
        return usual
    suction = latest.reading.suction_pressure_pa
    liquid = latest.reading.liquid_pressure_pa
    if suction is None or liquid is None or not 0.0 < suction < liquid:
        return usual
    if suction <= atmosphere:
        # A vacuum may lie outside the table. What matters is that nothing may be loosened then.
        return with_pressures(usual, suction, usual.liquid_pa)
    cylinder = usual.cylinder_pa
    if latest.reading.outdoor_dry_bulb_k is not None:
        warm = bubble_pressure(table, latest.reading.outdoor_dry_bulb_k)
        cylinder = usual.cylinder_pa if isinstance(warm, OutOfRange) else warm
    found = conditions_from(table, suction, liquid, cylinder, atmosphere, withdrawal, length, bore)
    return usual if isinstance(found, OutOfRange) else found


def hose_size(state: State) -> tuple[float, float]:
    """Length and bore of the hoses [m]: as typed, else the usual ones."""
    length = HOSE_LENGTH_M
    bore = HOSE_BORE_M
    if state.cylinder is not None:
        if state.cylinder.hose_length_m is not None:
            length = state.cylinder.hose_length_m
        if state.cylinder.hose_bore_m is not None:
            bore = state.cylinder.hose_bore_m
    return length, bore


def with_handbook(
    state: State,
    handbook: Handbook,
    done_before: Sequence[Sequence[str]],
    before: State | None,
) -> State:
    """The same session with all that only the handbook tells: what the cylinder shows, whether
    there is a liquid port, and what the hoses bring, to every reading and to the whole.

    Args:
        done_before: for each reading, the ids of the steps done before it.
        before: as for `fold`.
    """
    findings = tuple(contents_findings(state, handbook))
    procedure = handbook.procedures.get(state.procedure)
    if procedure is None:
        return replace(state, cylinder_findings=findings)
    low = valve_by_id(procedure, "low")
    state = replace(
        state,
        cylinder_findings=findings,
        liquid_port=procedure.liquid_port,
        low_valve=state.low_valve if low is None else low.title,
    )
    conditions = _conditions_read(state, handbook)
    if conditions is None:
        return state
    if before is not None and (before.procedure, before.hoses_at) == (procedure.id, conditions):
        runs = before.hose_runs
    else:
        runs = follow(procedure, conditions)
    brings = to_come(procedure, runs)
    now_left = _left(brings, list(state.done))
    recovered = now_left if recovers_hoses(state) else 0.0
    # With the unit off they come off emptied elsewhere: nothing of it goes into the unit any more.
    gone = now_left if OFF_HOSES in state.done or off_for_recovery(state) else recovered
    hoseful = brings.total_kg - _left(brings, [CLEARED_TO_SUCTION[1]])
    changes = [used.cleared_after for used in state.used_before if used.cleared_after is not None]
    readings: list[Taken] = []
    for i in range(len(state.readings)):
        left = max(_left(brings, done_before[i]) - gone, 0.0)
        # The hose of a cylinder before was cleared into the unit, and filled again by the next.
        left = left + hoseful * len([one for one in changes if one > i])
        readings.append(replace(state.readings[i], hoses_kg=left))
    return replace(
        state,
        hose_runs=runs,
        hoses_at=conditions,
        readings=tuple(readings),
        hoses_brought_kg=brings.total_kg - now_left + hoseful * len(changes),
        hoses_recovered_kg=recovered,
        hoses_from_cylinder_kg=brings.from_cylinder_kg,
    )


def hoses_bring(state: State, handbook: Handbook) -> ToCome | None:
    """What the hoses of a session bring to the unit; `None` before its first reading, and when
    its procedure or its conditions are not known."""
    procedure = handbook.procedures.get(state.procedure)
    conditions = _conditions_read(state, handbook)
    if procedure is None or conditions is None:
        return None
    return to_come(procedure, follow(procedure, conditions))


def _conditions_read(state: State, handbook: Handbook) -> Conditions | None:
    return conditions_of(state, handbook) if state.readings else None


def _left(brings: ToCome, done: Sequence[str]) -> float:
    """What is still to come [kg] with these steps done."""
    left = brings.total_kg
    for step_id, kilograms in brings.after.items():
        if step_id in done:
            left = kilograms
    return left
