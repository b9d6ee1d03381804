"""The cylinder: what is left, whether its contents are what the label says, and whether the
weights agree at the end."""

from dataclasses import dataclass

from lowside.core.findings import REFUSE, WARN, Fact, Finding
from lowside.core.handbook import Handbook
from lowside.core.plausibility import LIQUID_GAUGE_PA, THERMOMETER_K
from lowside.core.saturation import OutOfRange, bubble_pressure, dew_pressure
from lowside.core.state import State, added_kg, taken_out, unweighed_shots
from lowside.core.unit_choice import UnitChoice, label

STEPS_ALLOWED = 2.0
"""Scale steps by which the difference of two weighings may be off: half a step of rounding and half
a step of zero in each. Common practice, no source."""

HOSE_FILL_KG = 0.05
"""Liquid that may have filled the cylinder's hose before the scale was set, and went into the unit
when the hose was cleared: 5 ft of ¼ in bore hold 1.7 oz of R-410A liquid (computed)."""


@dataclass(frozen=True)
class Reconciliation:
    """The three ways the charge added was weighed [kg]; `None` where one is missing."""

    by_weights_kg: float | None
    """Start minus end weight of the bare cylinder."""
    by_shots_kg: float | None
    """Sum of the shots; `None` when one was not weighed."""
    by_scale_kg: float | None
    """What the scale showed last against what it showed when it was set."""
    allowed_kg: float
    """By how much two of them may differ."""
    unweighed: int
    problems: tuple[tuple[str, float], ...]
    """Code and difference [kg] of each pair that disagrees."""

    @property
    def disagrees(self) -> bool:
        """Whether someone must say what explains it."""
        return len(self.problems) > 0


SENTENCES: dict[str, str] = {
    "cylinder_lost_more": (
        "The cylinder lost {amount} more than the shots say: a leak, a shot that was not noted, or "
        "a weighing that was off."
    ),
    "shots_say_more": (
        "The shots say {amount} more than the cylinder lost: a shot weighed wrongly, or the bare "
        "weighings had something else on the scale."
    ),
    "scale_drifted": (
        "The scale moved {amount} outside the shots: it drifted, was touched, or something leaked."
    ),
}


def net_kg(gross_kg: float, tare_kg: float) -> float:
    """Refrigerant inside a cylinder [kg]."""
    return gross_kg - tare_kg


def left_kg(state: State) -> float | None:
    """Refrigerant left by the start weight and the weighed shots [kg]."""
    if state.start_weight is None or state.cylinder is None:
        return None
    return net_kg(state.start_weight.kg, state.cylinder.tare_kg) - added_kg(state)


def reconcile_session(state: State) -> Reconciliation:
    """Compare start and end weight, shots and scale."""
    allowed = 0.0
    if state.scale is not None:
        allowed = STEPS_ALLOWED * state.scale.resolution_kg
    by_weights = None
    if state.start_weight is not None and state.end_weight is not None:
        by_weights = state.start_weight.kg - state.end_weight.kg
    unweighed = unweighed_shots(state)
    by_shots = None if unweighed > 0 else added_kg(state)
    by_scale = _scale_total_kg(state)
    problems: list[tuple[str, float]] = []
    if by_weights is not None and by_shots is not None:
        if by_weights - by_shots > allowed + HOSE_FILL_KG:
            problems.append(("cylinder_lost_more", by_weights - by_shots))
        elif by_shots - by_weights > allowed:
            problems.append(("shots_say_more", by_shots - by_weights))
    if by_scale is not None and by_shots is not None and abs(by_scale - by_shots) > allowed:
        problems.append(("scale_drifted", abs(by_scale - by_shots)))
    return Reconciliation(by_weights, by_shots, by_scale, allowed, unweighed, tuple(problems))


def problem_sentences(reconciliation: Reconciliation, choice: UnitChoice) -> list[str]:
    """What disagrees, in the user's units."""
    return [
        SENTENCES[code].replace("{amount}", label("mass", difference, choice))
        for code, difference in reconciliation.problems
    ]


def contents_findings(state: State, handbook: Handbook) -> list[Finding]:
    """A resting cylinder's pressure against saturation at its temperature.

    Between dew less, and bubble plus, what gauge and thermometer can be off, it agrees. Basis of
    the gauge check in RA3.2, 2008 (read).
    """
    cylinder = state.cylinder
    if cylinder is None or cylinder.pressure_pa is None or cylinder.temperature_k is None:
        return []
    if state.system is None:
        return []
    table = handbook.tables.get(cylinder.refrigerant)
    if table is None:
        return []
    shared = (
        Fact("refrigerant", "text", text=cylinder.refrigerant),
        Fact("temperature", "temperature", cylinder.temperature_k),
    )
    highest = bubble_pressure(table, cylinder.temperature_k + THERMOMETER_K)
    lowest = dew_pressure(table, cylinder.temperature_k - THERMOMETER_K)
    expected = bubble_pressure(table, cylinder.temperature_k)
    if (
        isinstance(highest, OutOfRange)
        or isinstance(lowest, OutOfRange)
        or isinstance(expected, OutOfRange)
    ):
        return [Finding("cylinder_unreadable", WARN, shared)]
    facts = (
        *shared,
        Fact("pressure", "gauge_pressure", cylinder.pressure_pa),
        Fact("expected", "gauge_pressure", expected - state.system.atmosphere_pa),
    )
    absolute = cylinder.pressure_pa + state.system.atmosphere_pa
    if absolute > highest + LIQUID_GAUGE_PA:
        return [Finding("cylinder_over", REFUSE, facts)]
    if absolute < lowest - LIQUID_GAUGE_PA:
        return [Finding("cylinder_under", REFUSE, facts)]
    return []


def _scale_total_kg(state: State) -> float | None:
    """What left the cylinder since the scale was set, by the scale alone [kg]."""
    if state.scale is None or state.last_scale_kg is None:
        return None
    return taken_out(state.scale.mode, state.scale.reading_kg, state.last_scale_kg)
