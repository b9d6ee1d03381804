"""Superheat and subcooling as big figures, each against its target on a simple bar."""

from typing import Any, Literal

from lowside.core.judging.by_target import Measured
from lowside.core.judging.charge import Assessment
from lowside.core.judging.findings import DANGER, Unknown, sentence
from lowside.core.judging.plausibility import (
    BELOW_DEW,
    NO_CURRENT,
    NO_LIFT,
    WET_ABOVE_DRY,
    WET_AGAINST_HUMIDITY,
)
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT, Target, TargetQuantity, within
from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.unit_choice import UnitChoice, label, unit_for
from lowside.core.numbers.units import as_shown, show
from lowside.core.session.state import State, Taken

NO_FIGURE = "Not from this reading."

BAR_WIDTH = 320.0
BAND_HALF = 40.0
"""Half the width of the tolerance on the bar, which spans four tolerances either way."""

FigureState = Literal["within", "low", "high", "unknown", "neutral"]
"""How the style sheet shows a figure."""

WITHIN: FigureState = "within"
BELOW: FigureState = "low"
ABOVE: FigureState = "high"
NOT_READ: FigureState = "unknown"
NEUTRAL: FigureState = "neutral"


def figures_of(choice: UnitChoice, taken: Taken) -> list[dict[str, Any]]:
    """Those of a reading; none while it is not judged."""
    return [] if taken.assessment is None else figures_from(choice, taken.assessment)


def figures_from(choice: UnitChoice, assessment: Assessment) -> list[dict[str, Any]]:
    """The figure the charge is judged by first, then the other."""
    superheat = _figure(choice, assessment, SUPERHEAT)
    subcooling = _figure(choice, assessment, SUBCOOLING)
    target = assessment.target
    if isinstance(target, Target) and target.quantity == SUBCOOLING:
        return [subcooling, superheat]
    return [superheat, subcooling]


def without_figures(state: State, eid: str) -> dict[str, str]:
    """Why a saved reading gives no figure, to be seen beside its boxes, by their names."""
    found: dict[str, str] = {}
    for taken in state.readings:
        if taken.eid == eid and taken.assessment is not None:
            measured = taken.assessment.measured
            of = {
                "suction_pressure": measured.superheat_k,
                "liquid_pressure": measured.subcooling_k,
            }
            for name, value in of.items():
                if isinstance(value, Unknown) and value.reason.code in ("out_of_table", NO_LIFT):
                    found[name] = sentence(value.reason, state.units)
            none = measured.superheat_k
            for code, name in ((BELOW_DEW, "suction_line"), (NO_CURRENT, "compressor_amps")):
                if isinstance(none, Unknown) and none.reason.code == code:
                    found[name] = sentence(none.reason, state.units)
            air = taken.assessment.wet_bulb_k
            for code, name in (
                (WET_ABOVE_DRY, "return_dry_bulb"),
                (WET_AGAINST_HUMIDITY, "return_humidity"),
            ):
                if isinstance(air, Unknown) and air.reason.code == code:
                    found["return_wet_bulb"] = sentence(air.reason, state.units)
                    found[name] = found["return_wet_bulb"]
    return found


def _figure(choice: UnitChoice, assessment: Assessment, quantity: TargetQuantity) -> dict[str, Any]:
    name = "Superheat" if quantity == SUPERHEAT else "Subcooling"
    measured = assessment.measured
    value = measured.superheat_k if quantity == SUPERHEAT else measured.subcooling_k
    if isinstance(value, Unknown):
        # What stops everything is said above, once.
        told = value.reason.level == DANGER
        return _without_value(name, NO_FIGURE if told else sentence(value.reason, choice))
    figure = {
        "name": name,
        "state": NEUTRAL,
        "value": show("temperature_difference", value, unit_for("temperature", choice)),
        "unit": unit_for("temperature", choice),
        "word": "",
        "bar": None,
        "note": _saturation_note(choice, measured, quantity),
    }
    target = assessment.target
    if isinstance(target, Target) and target.quantity == quantity:
        _against_target(figure, choice, value, target)
    elif quantity == SUPERHEAT and assessment.expected_superheat_k is not None:
        _against_range(figure, choice, value, assessment.expected_superheat_k)
    return figure


def _without_value(name: str, why: str) -> dict[str, Any]:
    return {
        "name": name,
        "state": NOT_READ,
        "value": "not known",
        "unit": "",
        "word": why,
        "bar": None,
        "note": "",
    }


def _against_target(
    figure: dict[str, Any], choice: UnitChoice, value_k: float, target: Target
) -> None:
    unit = unit_for("temperature_difference", choice)
    shown = as_shown("temperature_difference", value_k, unit)
    gap = shown - as_shown("temperature_difference", target.value_k, unit)
    goal = (
        label("temperature_difference", target.value_k, choice)
        + " ± "
        + label("temperature_difference", target.tolerance_k, choice)
    )
    if within(target, value_k):
        figure["state"] = WITHIN
        figure["word"] = "On target: " + goal
    elif gap < 0.0:
        figure["state"] = BELOW
        low = label("temperature_difference", -gap, choice)
        figure["word"] = "Low by " + low + ": target " + goal
    else:
        figure["state"] = ABOVE
        high = label("temperature_difference", gap, choice)
        figure["word"] = "High by " + high + ": target " + goal
    figure["bar"] = _bar(gap / target.tolerance_k, figure["word"])


def _against_range(
    figure: dict[str, Any], choice: UnitChoice, value_k: float, expected: tuple[float, float]
) -> None:
    lowest, highest = expected
    usual = (
        label("temperature_difference", lowest, choice)
        + " to "
        + label("temperature_difference", highest, choice)
    )
    if value_k < lowest:
        figure["state"] = BELOW
        figure["word"] = "Low. Normal range " + usual
    elif value_k > highest:
        figure["state"] = ABOVE
        figure["word"] = "High. Normal range " + usual
    else:
        figure["word"] = "Normal range " + usual


def _bar(tolerances: float, text: str) -> dict[str, str]:
    """`tolerances`: how many tolerances above (or below, negative) the target the value lies."""
    middle = BAR_WIDTH / 2.0
    mark = middle + tolerances * BAND_HALF
    beyond = ""
    if mark < 10.0:
        beyond = "left"
    elif mark > BAR_WIDTH - 10.0:
        beyond = "right"
    return {
        "band_x": format_decimal(middle - BAND_HALF, 1),
        "band_width": format_decimal(2.0 * BAND_HALF, 1),
        "target_x": format_decimal(middle, 1),
        "mark_x": format_decimal(mark, 1) if beyond == "" else "0",
        "beyond": beyond,
        "text": text,
    }


def _saturation_note(choice: UnitChoice, measured: Measured, quantity: TargetQuantity) -> str:
    """Which saturation temperature the figure was taken from."""
    low = quantity == SUPERHEAT
    saturation = measured.dew_k if low else measured.bubble_k
    if saturation is None:
        return ""
    shown = label("temperature", saturation, choice)
    if low:
        return "Suction line − saturation (dew) " + shown
    return "Saturation (bubble) " + shown + " − liquid line"
