"""Which fields of a form are folded away until they are wanted."""

from lowside.core.handbook.system import BY_CHART
from lowside.core.handbook.walk_forms import OVERFILLED
from lowside.core.judging.targets import asks_wet_bulb
from lowside.core.session.final_wait import WHY_EARLY
from lowside.core.session.last_end import ALIKE
from lowside.core.session.state import State

MORE_FIELDS: dict[str, tuple[str, ...]] = {
    "pressure_test": ("test_asked", "test_asked_held"),
    "vacuum_held": ("vacuum_limit", "vacuum_limit_time"),
    "tare": ("gauges", "clamps", "wet_bulb_by"),
    "unit": (
        "line_length",
        "line_included",
        "line_adder",
        "short_line",
        "accumulator",
        "high_side_limit",
        "rated_amps",
        "static_limit",
        "retrofit_refrigerant",
        "retrofit_charge",
    ),
    "target": (
        "subcooling_papers",
        "points_of",
        "points_short",
        "points_tolerance",
        "point1_outdoor",
        "point1_wet_bulb",
        "point1_value",
        "point1_pressure",
        "point2_outdoor",
        "point2_wet_bulb",
        "point2_value",
        "point2_pressure",
        "point3_outdoor",
        "point3_wet_bulb",
        "point3_value",
        "point3_pressure",
        "point4_outdoor",
        "point4_wet_bulb",
        "point4_value",
        "point4_pressure",
        "papers_outdoor_lowest",
        "papers_outdoor_highest",
        "papers_indoor_lowest",
        "papers_indoor_highest",
        "papers_stage",
        "papers_wait",
    ),
    "cylinder": (
        "restrictor",
        "cylinder_pressure",
        "cylinder_temperature",
        "hose_length",
        "hose_bore",
    ),
    "reading": (
        "outdoor_dry_bulb",
        "return_dry_bulb",
        "return_wet_bulb",
        "return_humidity",
        "supply_dry_bulb",
        "compressor_amps",
        "static_pressure",
        "drier",
    ),
}
"""Fields kept folded away until wanted."""

MORE_LABELS: dict[str, str] = {
    "pressure_test": "What this unit’s instructions ask",
    "vacuum_held": "What this unit’s instructions ask",
    "unit": "Line set, plates, retrofit label",
    "target": "Points of this unit’s own chart, limits by its instructions",
    "tare": "Your instruments, optional (usual errors where not said)",
    "cylinder": "Restrictor, pressure check, hose size",
    "reading": "More air, current, static pressure, drier",
}

ASKED_ONCE = ("tare",)
"""Forms whose folded fields are asked once: unfolded until the phone remembers each answer."""
ASKED_BACK = (WHY_EARLY, ALIKE, OVERFILLED)
"""Asked only when what was typed gives reason to."""

AIR_FIELDS = ("outdoor_dry_bulb", "return_dry_bulb")
"""What every judgment needs: never folded away, and filled in again from the reading before,
since it moves slowly."""
CHART_FIELDS = ("return_wet_bulb", "return_humidity")
"""What the target-superheat chart is entered with besides: not folded away then."""

AIRFLOW_FIELDS = ("return_wet_bulb", "supply_dry_bulb")
"""What shows low airflow: not folded away at the first reading, before anything is added."""


def family(form_name: str) -> str:
    """The form whose fields these are: both readings have the same."""
    return "reading" if form_name == "final_reading" else form_name


def is_unfolded(state: State, form_name: str, value: str) -> bool:
    """Whether a folded field with this value is reason to show them all: it holds something to be
    seen, or is asked once and not answered. Nobody's own instruments are used in a lesson."""
    asked_once = form_name in ASKED_ONCE and not state.practice
    return (value == "") == asked_once


def kept_back(state: State, name: str) -> bool:
    """Whether a field without an answer is left out: nothing gives reason to ask it here. Where the
    wet bulb comes from counts for the target-superheat chart alone."""
    if name == "wet_bulb_by" and state.system is not None:
        return state.system.method != BY_CHART
    return name in ASKED_BACK


def folded_away_of(state: State, form_name: str) -> tuple[str, ...]:
    """The fields of a form that are folded away now."""
    names = MORE_FIELDS.get(family(form_name), ())
    if family(form_name) != "reading":
        return names
    by_chart = False
    if state.system is not None:
        by_chart = state.system.method == BY_CHART or asks_wet_bulb(state.system)
    shown: tuple[str, ...] = AIR_FIELDS + CHART_FIELDS if by_chart else AIR_FIELDS
    if not state.readings:
        shown = AIRFLOW_FIELDS + shown
    elif form_name == "reading":
        shown = ("drier", *shown)
    return tuple([name for name in names if name not in shown])
