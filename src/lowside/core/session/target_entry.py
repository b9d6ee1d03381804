"""What a target may be: which method fits the unit, what it needs, and points that make a line."""

from lowside.core.handbook import system
from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.unit_forms import POINTS
from lowside.core.judging.chart_points import NO_LINE, axis_of
from lowside.core.judging.targets import BOUNDARY_K, SUPERHEAT_FLOOR_K
from lowside.core.session.state import State
from lowside.core.session.unit import PRESSURES, chart_points_of, method_text, value_part

USUAL_MOST_K = 20.0 / 1.8
"""Plates give 4 to 18 °F of subcooling (READ: HP23 table 4, RHE-A2 p. 6, HP23 table 12); more is
asked again, since a target too high overcharges. The 20 is ours."""

TYPED_TARGETS: dict[str, str] = {
    system.BY_SUBCOOLING: "maker_subcooling",
    system.BY_SUPERHEAT: "maker_superheat",
    system.BY_APPROACH: "maker_approach",
}


def check_target(
    state: State, fields: Fields, handbook: Handbook, problems: dict[str, str]
) -> None:
    """Adds a sentence beside each field that cannot hold."""
    by_points = fields.texts.get("method", "") == system.BY_POINTS
    if by_points:
        _check_points(fields, problems)
    method = method_text(fields.texts)
    procedure = handbook.procedures.get(state.procedure)
    high_side = method in (system.BY_SUBCOOLING, system.BY_APPROACH, system.BY_LIQUID_PRESSURE)
    if high_side and procedure is not None and not procedure.liquid_port:
        problems["method"] = (
            "This unit has no liquid port, so its high side cannot be read. Fixed orifice: use the "
            "manufacturer’s superheat or the chart. Expansion valve: weigh in only."
        )
    if fields.texts.get("method", "") == system.BY_SUBCOOLING and (
        "maker_subcooling" not in fields.numbers
    ):
        problems.setdefault(
            "maker_subcooling",
            "This method needs the manufacturer’s subcooling. Read it off the nameplate, or choose "
            "another method.",
        )
    high = method == system.BY_SUBCOOLING and _highest_subcooling(fields) > USUAL_MOST_K + 1.0e-9
    if high and fields.texts.get("subcooling_papers", "") != "yes":
        problems["subcooling_papers"] = (
            "Plates usually give 5 to 20 °F (3 to 11 °C). More overcharges the unit if it is a "
            "slip. Read the plate and the unit once more, then answer this."
        )
    if not by_points and method == system.BY_SUPERHEAT and "maker_superheat" not in fields.numbers:
        problems.setdefault(
            "maker_superheat",
            "This method needs the manufacturer’s superheat. Read it off the instructions, or "
            "choose another method.",
        )
    tolerance = fields.numbers.get("maker_tolerance")
    aim = fields.numbers.get(TYPED_TARGETS.get(method, ""))
    if tolerance is not None and aim is not None and tolerance >= aim - BOUNDARY_K:
        problems["maker_tolerance"] = "As wide as the target itself. Read the instructions again."
    superheat = fields.numbers.get("maker_superheat")
    if superheat is not None and superheat < SUPERHEAT_FLOOR_K - BOUNDARY_K:
        # READ: superheat must never be less than 5 °F at a fixed orifice (14ACX p. 26).
        problems["maker_superheat"] = (
            "Below 5 °F (3 °C) liquid reaches the compressor. Read the instructions again, or "
            "weigh in."
        )
    for air in ("outdoor", "indoor"):
        lowest = fields.numbers.get("papers_" + air + "_lowest")
        highest = fields.numbers.get("papers_" + air + "_highest")
        if lowest is not None and highest is not None and lowest >= highest:
            problems.setdefault(
                "papers_" + air + "_highest", "Must be above the coldest. Check which is which."
            )
    metering = state.unit_texts.get("metering", "")
    of_suction = method in (system.BY_SUPERHEAT, system.BY_SUCTION_PRESSURE)
    if metering in (system.TXV, system.EEV) and (
        method == system.BY_CHART or (by_points and of_suction)
    ):
        problems["method"] = (
            "An expansion valve evens out superheat and suction pressure, so the chart says "
            "nothing about its charge. Use the manufacturer’s subcooling."
        )
    if not by_points and method == system.BY_APPROACH and "maker_approach" not in fields.numbers:
        problems.setdefault(
            "maker_approach",
            "This method needs the manufacturer’s approach. Read it off the instructions, or "
            "choose another method.",
        )


def _check_points(fields: Fields, problems: dict[str, str]) -> None:
    """One or more whole points of this unit's chart, on one line."""
    if "points_of" not in fields.texts:
        problems.setdefault("points_of", "Choose one.")
    elif fields.texts["points_of"] in PRESSURES and "points_short" not in fields.texts:
        problems["points_short"] = (
            "Answer it by this unit’s instructions. If they do not say, use another method."
        )
    value = value_part(fields.texts)
    for name in POINTS:
        given = [part for part in ("_outdoor", "_wet_bulb", value) if name + part in fields.numbers]
        if name != POINTS[0] and not given:
            continue
        for part in ("_outdoor", value):
            if part not in given:
                problems.setdefault(
                    name + part, "Needed. A point is a weather and what the chart gives for it."
                )
    points = chart_points_of(fields)
    if points and axis_of(points) == NO_LINE:
        problems.setdefault(
            "point2_outdoor",
            "Through these points goes no line. Let them differ in outdoor air or in wet bulb, not "
            "in both, and give the wet bulb for all or for none.",
        )


def _highest_subcooling(fields: Fields) -> float:
    """Of the target and of the chart's points [K]."""
    names: tuple[str, ...] = ("maker_subcooling",)
    if fields.texts.get("method", "") == system.BY_POINTS:
        names = tuple([name + "_value" for name in POINTS])
    highest = 0.0
    for name in names:
        highest = max(highest, fields.numbers.get(name, 0.0))
    return highest
