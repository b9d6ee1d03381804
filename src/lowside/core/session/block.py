"""A reason not to add charge: what it is, what ends it, and what the technician does instead."""

from dataclasses import dataclass
from typing import Literal

Instead = Literal["stop", "weigh_in", "do_not_add", "wait"]
"""What is done instead of adding, the gravest first."""

STOP: Instead = "stop"
WEIGH_IN: Instead = "weigh_in"
"""Nothing is added to what is inside: recover, evacuate, weigh in the whole charge."""
DO_NOT_ADD: Instead = "do_not_add"
WAIT: Instead = "wait"

GRAVEST_FIRST: tuple[Instead, ...] = (STOP, WEIGH_IN, DO_NOT_ADD, WAIT)

NO_LIQUID = "Leave the cylinder valve as it is."
"""What a stop asks for, beside the low side closed, while no liquid is in the hose to the cylinder:
to open the valve would spray at a loose nut, or fill a hose that is cleared."""
KEEP_OPEN = (
    "Leave the cylinder valve open, or open it again: liquid in the hose must never be trapped "
    "between two closed valves."
)
"""What it asks for beside that from “Liquid to the manifold” on. Trapped liquid passes 5000 psi
with little heat (Plumbing & HVAC Canada, “Trapped refrigerant”, READ). That the cylinder stays open
as the relief: common practice, no source; no manufacturer’s text was found for one."""

BlockCode = Literal[
    "stopped",
    "wrong_refrigerant",
    "cylinder_hot",
    "cylinder_contents",
    "cylinder_cold",
    "cylinder_empty",
    "reading_stop",
    "reading_weigh_in",
    "reading_unknown",
    "apart",
    "corrected_apart",
    "reading_refused",
    "reading_reason",
    "machine_unanswered",
    "port_unanswered",
    "heating_large_line",
    "heating",
    "not_held",
    "papers_stage",
    "mode_over",
    "leaked_ductless",
    "by_weight",
    "by_weight_only",
    "circuit_unanswered",
    "receiver",
    "no_liquid_port",
    "microchannel_papers",
    "blend_shifted",
    "checks_unanswered",
    "not_qualified",
    "unprotected",
    "mixed_refrigerant",
    "airflow",
    "outdoor_coil",
    "steady",
    "not_searched",
    "leaking",
    "emptied",
    "recovered",
    "recovery_begun",
    "weighed_in",
    "flammable_detector",
    "flammable_air",
    "flammable_ground",
    "flammable_gear",
    "flammable_covers",
    "closed",
    "hoses_off",
    "closed_out",
    "no_target",
    "no_cylinder",
    "not_weighed",
    "not_joined",
    "no_baseline",
    "undecided",
    "leave",
]


@dataclass(frozen=True)
class Block:
    """A reason not to add charge, and what ends it."""

    code: BlockCode
    sentence: str
    cure: str
    instead: Instead = DO_NOT_ADD
    form: str = ""
    """Name in `forms.FORMS` of the form that answers it; empty where none does."""
    on_target: bool = False
    """It blocks a shot that is not advised: no alert, for the advice says it beside “enough”."""
