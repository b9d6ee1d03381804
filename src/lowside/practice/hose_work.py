"""What the steps at the hoses did in a practice session: air let in, refrigerant let out.

The session's own steps, in the order they were done, run through the core's hose model at the
practice unit's pressures. A step done is done: correcting its entry later does not undo it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.handbook.procedure import (
    BOUNDARIES,
    CHARGE_PAGE,
    CYLINDER,
    HOSE,
    LIQUID_LINE,
    OUTSIDE,
    SUCTION,
    Procedure,
    is_off_step,
    last_with_actions,
    off_steps_for,
    position,
    step_by_id,
)
from lowside.core.handbook.saturation import OutOfRange, PropertyTable
from lowside.core.handbook.system import DIP_TUBE
from lowside.core.hoses.contents import (
    AIR,
    LIQUID,
    Conditions,
    bare,
    conditions_from,
    unit_off,
    volumes_of,
)
from lowside.core.hoses.run import StepRun, run_step


@dataclass(frozen=True)
class Handling:
    """One step at the hoses: when [practice s], what is wrong with it, what it moved."""

    at_s: float
    title: str
    skipped: tuple[str, ...]
    """Titles of the steps that should have come before and did not."""
    sentences: tuple[str, ...]
    """What the hose model says of it and had not said before."""
    air_pa_m3: float
    """Air pushed into the unit, pressure times volume."""
    released_kg: float
    """Refrigerant let into the open air, the trace of a purge included."""
    released_liquid_kg: float
    from_cylinder_kg: float
    """The part of it that had come from the cylinder; the rest came from the unit."""
    into_unit_kg: float
    """Refrigerant the unit got from the hoses, less what it gave them; the shots not counted."""
    out_of_cylinder_kg: float
    """Refrigerant the cylinder gave the hoses, less what it got back; the shots not counted."""


class HoseWork:
    """The hoses of one practice session, from bare to wherever the steps have brought them."""

    def __init__(self, procedure: Procedure, conditions: Conditions) -> None:
        self.handlings: list[Handling] = []
        self._procedure = procedure
        self._conditions = conditions
        self._hoses = bare(procedure, conditions)
        self._final = last_with_actions(procedure)
        self._done: list[str] = []
        self._said: list[str] = []
        self._origins: dict[str, str] = {}
        self._has_shot = False

    def do(self, step_id: str, at_s: float) -> Handling | None:
        """A step was marked done; `None` when it turns no valve.

        The charging step turns its valve with the first shot, not when it is ticked off.
        """
        step = step_by_id(self._procedure, step_id)
        if step is None or not step.actions:
            return None
        if step.page == CHARGE_PAGE:
            self._done.append(step_id)
            return None
        return self._run(step_id, at_s)

    def shoot(self, at_s: float) -> Handling | None:
        """The low handwheel was opened on the liquid; only the first time moves what was left."""
        if self._has_shot:
            return None
        self._has_shot = True
        for step in self._procedure.steps:
            if step.page == CHARGE_PAGE:
                return self._run(step.id, at_s)
        return None

    def released_kg(self) -> float:
        """Let into the open air so far [kg]."""
        return sum(each.released_kg for each in self.handlings)

    def from_cylinder_kg(self) -> float:
        """The part of it that came from the cylinder [kg]."""
        return sum(each.from_cylinder_kg for each in self.handlings)

    def out_of_cylinder_kg(self) -> float:
        """What the cylinder lost beside the shots so far [kg]."""
        return sum(each.out_of_cylinder_kg for each in self.handlings)

    def hosefuls(self, air_pa_m3: float) -> float:
        """Air as a number of hoses full of it at the pressure of the place."""
        sizes = volumes_of(self._procedure, self._conditions)
        hoses = [sizes[volume.id] for volume in self._procedure.volumes if volume.kind == HOSE]
        return air_pa_m3 / (self._conditions.atmosphere_pa * max(hoses))

    def _run(self, step_id: str, at_s: float) -> Handling | None:
        step = step_by_id(self._procedure, step_id)
        if step is None:
            return None
        conditions = self._conditions
        off = off_steps_for(self._procedure, conditions.withdrawal)
        if is_off_step(self._procedure, step_id) and step_id != off[0].id:
            conditions = unit_off(conditions)
        last = step_id in (self._final, off[-1].id if off else "")
        made = run_step(self._procedure, conditions, self._hoses, step, last)
        self._hoses = made.after
        skipped = self._skipped(step_id)
        self._done.append(step_id)
        handling = self._handling(made, at_s, step.title, skipped, step.page == CHARGE_PAGE)
        self.handlings.append(handling)
        return handling

    def _handling(
        self, made: StepRun, at_s: float, title: str, skipped: tuple[str, ...], in_shot: bool
    ) -> Handling:
        air = released = liquid = cylinder = into_unit = out = 0.0
        if not in_shot:
            into_unit = _gained(made, (SUCTION, LIQUID_LINE))
            out = -_gained(made, (CYLINDER,))
        for one in made.turns:
            for flow in one.flows:
                origin = self._origins.get(flow.start, flow.start)
                if flow.end not in BOUNDARIES:
                    self._origins[flow.end] = origin
                elif flow.end in (SUCTION, LIQUID_LINE):
                    air += flow.air
                elif flow.end == OUTSIDE and flow.phase != AIR:
                    released += flow.kg
                    liquid += flow.kg if flow.phase == LIQUID else 0.0
                    cylinder += flow.kg if origin == CYLINDER else 0.0
        return Handling(
            at_s, title, skipped, self._fresh(made), air, released, liquid, cylinder, into_unit, out
        )

    def _fresh(self, made: StepRun) -> tuple[str, ...]:
        sentences = [each.sentence for turn in made.turns for each in turn.hazards]
        sentences += [each.sentence for each in made.hazards]
        fresh = [each for each in dict.fromkeys(sentences) if each not in self._said]
        self._said.extend(fresh)
        return tuple(fresh)

    def _skipped(self, step_id: str) -> tuple[str, ...]:
        """The charging step is none: whoever adds nothing never does it."""
        before = self._procedure.steps[: position(self._procedure, step_id)]
        if is_off_step(self._procedure, step_id):
            off = off_steps_for(self._procedure, self._conditions.withdrawal)
            ids = [step.id for step in off]
            before = off[: ids.index(step_id)] if step_id in ids else ()
        return tuple(
            step.title
            for step in before
            if step.actions and step.page != CHARGE_PAGE and step.id not in self._done
        )


def _gained(made: StepRun, boundaries: Sequence[str]) -> float:
    """Refrigerant these took in over a step, less what they gave [kg]."""
    after = sum(made.after.received_kg.get(name, 0.0) for name in boundaries)
    return after - sum(made.before.received_kg.get(name, 0.0) for name in boundaries)


def hose_work(
    procedure: Procedure | None,
    table: PropertyTable,
    pressures_pa: Sequence[float],
    atmosphere_pa: float,
) -> HoseWork | None:
    """Bare hoses at a practice unit.

    Args:
        pressures_pa: of suction line, liquid line and cylinder [Pa absolute].

    Returns
        `None` for a procedure that is not there any more, or pressures outside the table: then
        the hoses do nothing.
    """
    suction, liquid, cylinder = pressures_pa
    found = conditions_from(table, suction, liquid, cylinder, atmosphere_pa, DIP_TUBE)
    if procedure is None or isinstance(found, OutOfRange):
        return None
    return HoseWork(procedure, found)
