"""What a target may be: which method fits the unit, what it needs, and points that make a line."""

from lowside.core.handbook import system
from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.chart_points import in_line
from lowside.core.session.state import State
from lowside.core.session.unit import chart_points_of, method_text


def check_target(
    state: State, fields: Fields, handbook: Handbook, problems: dict[str, str]
) -> None:
    """Adds a sentence beside each field that cannot hold."""
    by_points = fields.texts.get("method", "") == system.BY_POINTS
    if by_points:
        _check_points(fields, problems)
    method = method_text(fields.texts)
    procedure = handbook.procedures.get(state.procedure)
    if method == system.BY_SUBCOOLING and procedure is not None and not procedure.liquid_port:
        problems["method"] = (
            "This unit has no liquid port, so subcooling cannot be read. Fixed orifice: use the "
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
    if not by_points and method == system.BY_SUPERHEAT and "maker_superheat" not in fields.numbers:
        problems.setdefault(
            "maker_superheat",
            "This method needs the manufacturer’s superheat. Read it off the service papers, or "
            "choose another method.",
        )
    for air in ("outdoor", "indoor"):
        lowest = fields.numbers.get("papers_" + air + "_lowest")
        highest = fields.numbers.get("papers_" + air + "_highest")
        if lowest is not None and highest is not None and lowest >= highest:
            problems.setdefault(
                "papers_" + air + "_highest", "Must be above the coldest. Check which is which."
            )
    metering = state.unit_texts.get("metering", "")
    by_superheat = method == system.BY_CHART or (by_points and method == system.BY_SUPERHEAT)
    if by_superheat and metering in (system.TXV, system.EEV):
        problems["method"] = (
            "An expansion valve holds superheat by itself, so the chart says nothing about its "
            "charge. Use the manufacturer’s subcooling."
        )
    if not by_points and method == system.BY_APPROACH and "maker_approach" not in fields.numbers:
        problems.setdefault(
            "maker_approach",
            "This method needs the manufacturer’s approach. Read it off the service papers, or "
            "choose another method.",
        )


def _check_points(fields: Fields, problems: dict[str, str]) -> None:
    """One or two whole points of this unit's chart, on one line."""
    if "points_of" not in fields.texts:
        problems.setdefault("points_of", "Choose one.")
    for name in ("point1", "point2"):
        given = [
            part for part in ("_outdoor", "_wet_bulb", "_value") if name + part in fields.numbers
        ]
        if name == "point2" and not given:
            continue
        for part in ("_outdoor", "_value"):
            if part not in given:
                problems.setdefault(
                    name + part, "Needed. A point is a weather and what the chart gives for it."
                )
    points = chart_points_of(fields.numbers)
    if len(points) == 2 and not in_line(points[0], points[1]):
        problems.setdefault(
            "point2_outdoor",
            "Between these two points lies no line. Let them differ in outdoor air or in wet "
            "bulb, not in both, and give the wet bulb for both or for neither.",
        )
