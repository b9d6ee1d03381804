"""What this session's hoses are joined to, and the charge they still hold for the unit."""

from collections.abc import Mapping, Sequence

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Procedure
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure
from lowside.core.handbook.system import INVERT, Reading, System
from lowside.core.hoses.contents import (
    HOSE_BORE_M,
    HOSE_LENGTH_M,
    Conditions,
    conditions_from,
    usual_conditions,
    with_pressures,
)
from lowside.core.hoses.run import StepRun, follow
from lowside.core.hoses.to_come import ToCome, to_come
from lowside.core.session.at_hoses import CLEARED_TO_SUCTION, OFF_HOSES, off_for_recovery
from lowside.core.session.state import (
    RECOVERS_HOSES,
    Cylinder,
    Entry,
    State,
    UsedCylinder,
    latest_reading,
)


def conditions_of(state: State, handbook: Handbook) -> Conditions | None:
    """What the hoses of this session are joined to, as `joined_to` says."""
    latest = latest_reading(state)
    read = None if latest is None else latest.reading
    return joined_to(state.system, state.cylinder, read, handbook)


def joined_to(
    system: System | None,
    cylinder: Cylinder | None,
    read: Reading | None,
    handbook: Handbook | None,
) -> Conditions | None:
    """What the hoses are joined to: pressures as last read, usual ones until then.

    Returns
        `None` when the unit is not known yet or its refrigerant has no numbers there (R-744 in
        warm weather), so that nothing is drawn rather than something made up.
    """
    if handbook is None or system is None or system.refrigerant not in handbook.tables:
        return None
    table = handbook.tables[system.refrigerant]
    withdrawal = INVERT if cylinder is None else cylinder.withdrawal
    atmosphere = system.atmosphere_pa
    length, bore = hose_size(cylinder)
    usual = usual_conditions(table, atmosphere, withdrawal, length, bore)
    if isinstance(usual, OutOfRange):
        return None
    if read is None:
        return usual
    suction = read.suction_pressure_pa
    liquid = read.liquid_pressure_pa
    if suction is None or liquid is None or not 0.0 < suction < liquid:
        return usual
    if suction <= atmosphere:
        # A vacuum may lie outside the table. What matters is that nothing may be loosened then.
        return with_pressures(usual, suction, usual.liquid_pa)
    resting = usual.cylinder_pa
    if read.outdoor_dry_bulb_k is not None:
        warm = bubble_pressure(table, read.outdoor_dry_bulb_k)
        resting = usual.cylinder_pa if isinstance(warm, OutOfRange) else warm
    found = conditions_from(table, suction, liquid, resting, atmosphere, withdrawal, length, bore)
    return usual if isinstance(found, OutOfRange) else found


def hose_size(cylinder: Cylinder | None) -> tuple[float, float]:
    """Length and bore of the hoses [m]: as typed, else the usual ones."""
    length = HOSE_LENGTH_M
    bore = HOSE_BORE_M
    if cylinder is not None:
        if cylinder.hose_length_m is not None:
            length = cylinder.hose_length_m
        if cylinder.hose_bore_m is not None:
            bore = cylinder.hose_bore_m
    return length, bore


class HoseCharge:
    """What a session's hoses hold for the unit [kg]: now, and at each of its readings."""

    def __init__(
        self,
        brings: ToCome,
        done: Mapping[str, str],
        entries: Sequence[Entry],
        walk: Mapping[str, Fields],
        used: Sequence[UsedCylinder],
    ) -> None:
        left = brings.left_kg(list(done))
        self._brings = brings
        self._changes = [one.readings_until for one in used if one.cleared != ""]
        self._hoseful_kg = brings.total_kg - brings.left_kg([CLEARED_TO_SUCTION[1]])
        self.brought_kg = brings.total_kg - left + self._hoseful_kg * len(self._changes)
        self.recovered_kg = left if RECOVERS_HOSES in walk else 0.0
        off = OFF_HOSES in done or off_for_recovery(entries, done)
        # With the unit off they come off emptied elsewhere: nothing goes into the unit any more.
        self._gone_kg = left if off else self.recovered_kg

    def at_reading(self, i: int, done: Sequence[str]) -> float:
        """At the reading in place `i`, with these steps done before it."""
        left = max(self._brings.left_kg(done) - self._gone_kg, 0.0)
        # The hose of a cylinder before was cleared into the unit, and filled again by the next.
        return left + self._hoseful_kg * len([one for one in self._changes if one > i])


def followed(
    procedure: Procedure | None, at: Conditions | None, before: State | None
) -> tuple[StepRun, ...]:
    """The procedure followed at these conditions, by what was folded `before` where that is the
    same; empty where something is not known."""
    if procedure is None or at is None:
        return ()
    if before is not None and (before.procedure, before.hoses_at) == (procedure.id, at):
        return before.hose_runs
    return follow(procedure, at)


def hoses_bring(state: State, handbook: Handbook) -> ToCome | None:
    """What the hoses of a session bring to the unit; `None` before its first reading, and when
    its procedure or its conditions are not known."""
    procedure = handbook.procedures.get(state.procedure)
    conditions = conditions_of(state, handbook) if state.readings else None
    if procedure is None or conditions is None:
        return None
    return to_come(procedure, followed(procedure, conditions, state))
