"""The cylinder: what is in it, whether it is what its label says, and whether the weights agree.

Whether it lost weight between two jobs is `ledger.py`'s question.
"""

from dataclasses import dataclass

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.refrigerants import Refrigerant
from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_pressure,
    dew_pressure,
)
from lowside.core.handbook.system import DIP_TUBE, INVERT, Reading, System, Withdrawal
from lowside.core.judging.conditions import LIQUID_GAUGE_PA, SLACK_K, thermometer_error
from lowside.core.judging.findings import DANGER, REFUSE, SHOWS, WARN, Fact, Finding
from lowside.core.numbers.units import FAHRENHEIT_OFFSET
from lowside.core.session.ledger import ROUNDING_KG, STEPS_ALLOWED
from lowside.core.session.state import (
    Cylinder,
    State,
    shots_of_cylinder,
    step_of,
    sum_of_shots,
    taken_out,
    unweighed_of,
)

HOTTEST_K = (125.0 + FAHRENHEIT_OFFSET) * 5.0 / 9.0
"""Cylinders are not to get above 125 °F. From memory of cylinder labels; not looked up."""

HOSES_KG = 0.060
"""What the hoses may hold between the first weighing and the last [kg]: two 5 ft hoses of 3/16 in
bore full of R-410A liquid at 100 °F are 54 g (computed: 0.189 oz/ft), rounded up."""

HOW_LIQUID_COMES_OUT: dict[Withdrawal, str] = {
    INVERT: "Turn the cylinder upside down and secure it so it cannot fall.",
    DIP_TUBE: "Leave the cylinder upright: its dip tube draws liquid.",
}


@dataclass(frozen=True)
class Disagreement:
    """Two ways to the same weight that differ by more than they may [kg]."""

    first: str
    second: str
    difference_kg: float
    """First minus second."""
    allowed_kg: float


@dataclass(frozen=True)
class Reconciliation:
    """The three ways of knowing what left the cylinder [kg], held against each other."""

    lines: tuple[tuple[str, float], ...]
    """Name and weight [kg] of everything known, for the screen."""
    disagreements: tuple[Disagreement, ...]
    findings: tuple[Finding, ...]
    """Disagreements, then what is missing; or that all agrees."""
    disagrees: bool
    """Whether someone must say what explains it."""


def net_kg(gross_kg: float, tare_kg: float) -> float:
    """Refrigerant inside [kg]: gross minus the tare stamped on the collar."""
    return gross_kg - tare_kg


def left_in_cylinder(state: State) -> float | None:
    """Refrigerant left by the start weight and the weighed shots fed from it [kg]."""
    if state.start_weight is None or state.cylinder is None:
        return None
    fed = sum_of_shots(shots_of_cylinder(state))
    return net_kg(state.start_weight.kg, state.cylinder.tare_kg) - fed


def left_beside_hoses(state: State) -> float | None:
    """The same less what the hoses took from the cylinder [kg], by the hose model: an estimate to
    show, and the most that a shot is advised. It blocks nothing."""
    left = left_in_cylinder(state)
    return None if left is None else max(left - state.hoses_from_cylinder_kg, 0.0)


def enough(left_kg: float, low_kg: float, high_kg: float) -> Finding | None:
    """Whether `left_kg` [kg] covers an estimate of `low_kg` to `high_kg`; `None` when it does."""
    net = Fact("net", "mass", left_kg)
    if left_kg <= ROUNDING_KG:
        return Finding("cylinder_empty", REFUSE, (net,))
    if left_kg < low_kg:
        return Finding("not_enough", WARN, (net, Fact("needed", "mass", low_kg)))
    if left_kg < high_kg:
        return Finding("barely_enough", WARN, (net, Fact("needed", "mass", high_kg)))
    return None


def contents_findings(
    cylinder: Cylinder | None,
    system: System | None,
    latest: Reading | None,
    handbook: Handbook | None,
) -> tuple[Finding, ...]:
    """What is known of the cylinder: heat, contents by pressure, the high side above it, and how
    its refrigerant must leave it.

    Args:
        cylinder: the one in use.
        system: gauges count from its site's atmosphere, so before the unit is known the pressure is
            not judged.
        latest: the newest reading, if any.
        handbook: property tables and refrigerants.
    """
    if cylinder is None or handbook is None:
        return ()
    found: list[Finding] = []
    temperature = cylinder.temperature_k
    if temperature is not None and temperature > HOTTEST_K + SLACK_K:
        facts = (
            Fact("temperature", "temperature", temperature),
            Fact("limit", "temperature", HOTTEST_K),
        )
        found.append(Finding("cylinder_hot", DANGER, facts))
    table = handbook.tables.get(cylinder.refrigerant)
    gauge = cylinder.pressure_pa
    if table is not None and system is not None:
        atmosphere = system.atmosphere_pa
        if gauge is not None and temperature is not None:
            found.append(resting_pressure(table, gauge, temperature, atmosphere))
        elif gauge is not None or temperature is not None:
            found.append(Finding("contents_half", WARN))
        cold = None if latest is None else _colder_than_suction(cylinder, table, latest, atmosphere)
        if cold is not None:
            found.append(cold)
        if gauge is not None and latest is not None:
            above = high_side_above(gauge + atmosphere, latest.liquid_pressure_pa, atmosphere)
            if above is not None:
                found.append(above)
    refrigerant = handbook.refrigerants.get(cylinder.refrigerant)
    if refrigerant is not None:
        found.append(withdrawal(refrigerant, cylinder.withdrawal))
    return tuple(found)


def _colder_than_suction(
    cylinder: Cylinder, table: PropertyTable, latest: Reading, atmosphere: float
) -> Finding | None:
    """A cylinder that is not above the suction pressure: the unit would run into it. By the
    measured pressure, else by its temperature, else as cold as the air outdoors (common practice,
    no source): it was on the truck, and is beside the unit now."""
    by = "its temperature"
    temperature = cylinder.temperature_k
    if temperature is None:
        by = "the outdoor air"
        temperature = latest.outdoor_dry_bulb_k
    pressure = None if temperature is None else bubble_pressure(table, temperature)
    if cylinder.pressure_pa is not None:
        by = "its pressure"
        pressure = cylinder.pressure_pa + atmosphere
    suction_pa = latest.suction_pressure_pa
    if suction_pa is None or pressure is None or isinstance(pressure, OutOfRange):
        return None
    if pressure > suction_pa:
        return None
    return Finding(
        "cylinder_cold",
        REFUSE,
        (
            Fact("by", "text", text=by),
            Fact("cylinder", "gauge_pressure", pressure - atmosphere),
            Fact("suction", "gauge_pressure", suction_pa - atmosphere),
        ),
    )


def resting_pressure(
    table: PropertyTable, gauge_pa: float, temperature_k: float, atmosphere_pa: float
) -> Finding:
    """A resting cylinder's pressure against saturation at its temperature.

    With liquid inside it must lie between dew and bubble pressure, widened by the errors RA3.2
    allows: ±(0.1 % + 1.3 °F) of the thermometer, ±7 psi of the gauge.

    Args:
        table: of the refrigerant on the label.
        gauge_pa: measured [Pa gauge].
        temperature_k: of the cylinder after at least four hours at rest [K].
        atmosphere_pa: of the site [Pa].
    """
    error = thermometer_error(temperature_k)
    lowest = dew_pressure(table, temperature_k - error)
    highest = bubble_pressure(table, temperature_k + error)
    if isinstance(lowest, OutOfRange) or isinstance(highest, OutOfRange):
        return Finding(
            "contents_out_of_table",
            WARN,
            (
                Fact("temperature", "temperature", temperature_k),
                Fact("refrigerant", "text", text=table.refrigerant),
            ),
        )
    lowest_gauge = lowest - LIQUID_GAUGE_PA - atmosphere_pa
    highest_gauge = highest + LIQUID_GAUGE_PA - atmosphere_pa
    code = "contents_agree"
    if gauge_pa > highest_gauge:
        code = "contents_high"
    elif gauge_pa < lowest_gauge:
        code = "contents_low"
    return Finding(
        code,
        SHOWS if code == "contents_agree" else REFUSE,
        (
            Fact("pressure", "gauge_pressure", gauge_pa),
            Fact("refrigerant", "text", text=table.refrigerant),
            Fact("temperature", "temperature", temperature_k),
            Fact("lowest", "gauge_pressure", lowest_gauge),
            Fact("highest", "gauge_pressure", highest_gauge),
        ),
    )


def high_side_above(
    cylinder_pa: float, liquid_pa: float | None, atmosphere_pa: float
) -> Finding | None:
    """The running unit's high side has more pressure than the cylinder, so it cannot be fed there.

    Absolute pressures [Pa]. Common practice, no source; the physics is which pressure is higher.
    """
    if liquid_pa is None or liquid_pa <= cylinder_pa:
        return None
    return Finding(
        "high_side_above_cylinder",
        WARN,
        (
            Fact("liquid", "gauge_pressure", liquid_pa - atmosphere_pa),
            Fact("cylinder", "gauge_pressure", cylinder_pa - atmosphere_pa),
        ),
    )


def withdrawal(refrigerant: Refrigerant, how: Withdrawal) -> Finding:
    """How the refrigerant must leave this cylinder."""
    return Finding(
        "liquid_only" if refrigerant.liquid_only else "liquid_preferred",
        SHOWS,
        (
            Fact("refrigerant", "text", text=refrigerant.designation),
            Fact("how", "text", text=HOW_LIQUID_COMES_OUT[how]),
        ),
    )


def reconcile_session(state: State) -> Reconciliation:
    """Start minus end against the sum of shots against the scale's running total.

    Two weighings may differ by two scale steps, as in the ledger; each shot adds one (two readings,
    half a step each). Start and end are of the bare cylinder, so what the hoses took from it is in
    no shot: up to `HOSES_KG`, or twice what the hose model says where that is more, never the other
    way round. With unweighed shots the
    sum is only a lower limit.
    """
    taken = _taken(state)
    of_cylinder = shots_of_cylinder(state)
    shots = sum_of_shots(of_cylinder)
    unweighed = unweighed_of(of_cylinder)
    scale = _scale_total(state)
    step = step_of(state.scale)
    in_hoses = max(HOSES_KG, 2.0 * state.hoses_from_cylinder_kg)
    weighed = len([shot for shot in of_cylinder if shot.amount_kg is not None])
    shot_steps = step * weighed
    disagreements: list[Disagreement] = []
    if taken is not None and state.scale is not None:
        _compare(
            disagreements,
            ("Start minus end", taken),
            ("the sum of shots", shots),
            STEPS_ALLOWED * step + shot_steps,
            None if unweighed > 0 else in_hoses,
        )
    if taken is not None and scale is not None:
        _compare(
            disagreements,
            ("Start minus end", taken),
            ("the scale’s running total", scale),
            (STEPS_ALLOWED + 1.0) * step,
            in_hoses,
        )
    if scale is not None:
        _compare(
            disagreements,
            ("The scale’s running total", scale),
            ("the sum of shots", shots),
            step + shot_steps,
            None if unweighed > 0 else 0.0,
        )
    return Reconciliation(
        lines=_weight_lines(state, taken, shots, scale),
        disagreements=tuple(disagreements),
        findings=tuple(_weight_findings(state, disagreements)),
        disagrees=len(disagreements) > 0,
    )


def _taken(state: State) -> float | None:
    """By start and end; what was weighed in is compared by the weigh-in."""
    if state.start_weight is None or state.end_weight is None or state.lots:
        return None
    return state.start_weight.kg - state.end_weight.kg


def _scale_total(state: State) -> float | None:
    if state.scale is None or state.last_scale_kg is None:
        return None
    return taken_out(state.scale.mode, state.scale.reading_kg, state.last_scale_kg)


def _compare(
    found: list[Disagreement],
    first: tuple[str, float],
    second: tuple[str, float],
    allowed_kg: float,
    more_kg: float | None,
) -> None:
    """`more_kg`: by how much the first may also be larger; `None`: by any amount."""
    difference = first[1] - second[1]
    if difference < -allowed_kg - ROUNDING_KG:
        found.append(Disagreement(first[0], second[0], difference, allowed_kg))
    elif more_kg is not None and difference > allowed_kg + more_kg + ROUNDING_KG:
        found.append(Disagreement(first[0], second[0], difference, allowed_kg + more_kg))


def _weight_findings(state: State, disagreements: list[Disagreement]) -> list[Finding]:
    found = [
        Finding(
            "weights_disagree",
            WARN,
            (
                Fact("first", "text", text=each.first),
                Fact("second", "text", text=each.second),
                Fact("difference", "mass", abs(each.difference_kg)),
                Fact("allowed", "mass", each.allowed_kg),
            ),
        )
        for each in disagreements
    ]
    if state.start_weight is None:
        found.append(Finding("no_start_weight", WARN))
    if state.end_weight is None:
        found.append(Finding("no_end_weight", WARN))
    if state.scale is None:
        found.append(Finding("no_scale_step", WARN))
    unweighed = unweighed_of(shots_of_cylinder(state))
    if unweighed == 1:
        found.append(Finding("one_unweighed_shot", WARN))
    elif unweighed > 1:
        found.append(
            Finding("unweighed_shots", WARN, (Fact("count", "text", text=str(unweighed)),))
        )
    if state.scale is not None and state.last_scale_kg is None:
        found.append(Finding("scale_lost", WARN))
    if not found:
        found.append(Finding("weights_agree", SHOWS))
    return found


HOSES_RECOVERED = "off_recover"
"""Step after which the hoses are empty."""


def _weight_lines(
    state: State, taken: float | None, shots: float, scale: float | None
) -> tuple[tuple[str, float], ...]:
    lines: list[tuple[str, float]] = []
    if state.start_weight is not None:
        lines.append(("Start weight", state.start_weight.kg))
    if state.end_weight is not None:
        lines.append(("End weight", state.end_weight.kg))
    if taken is not None:
        lines.append(("Start minus end", taken))
    if shots_of_cylinder(state):
        of = ", this cylinder" if state.used_before else ""
        lines.append(("Sum of shots" + of, shots))
    if scale is not None:
        lines.append(("Scale’s running total", scale))
    hoses = state.hoses_from_cylinder_kg
    known = taken is not None and hoses > 0.0 and state.hoses_brought_kg > 0.0
    if state.hoses_brought_kg > 0.0:
        lines.append(("Hoses, cleared into the unit", state.hoses_brought_kg))
    if state.hoses_weighed_kg is not None:
        lines.append(("Hoses, recovered, weighed", state.hoses_weighed_kg))
    elif state.hoses_recovered_kg > 0.0 and HOSES_RECOVERED in state.done:
        lines.append(("Hoses, recovered, estimate", state.hoses_recovered_kg))
    if known:
        lines.append(("Hoses, filled from the cylinder", hoses))
    if taken is not None and shots_of_cylinder(state):
        if known:
            lines.append(("Difference to shots and hoses", taken - shots - hoses))
        else:
            lines.append(("Difference to the shots", taken - shots))
    return tuple(lines)
