"""What no lesson shows, and why. Everything else that keeps charge out has one."""

_A_GAP = "It is no fault of a unit: an answer or an entry is missing, and its page asks for it."
_A_STATE = "It is a state of the session after a walk or at its end, which every lesson may reach."

NOT_SHOWN: dict[str, str] = {
    "machine_unanswered": _A_GAP,
    "port_unanswered": _A_GAP,
    "circuit_unanswered": _A_GAP,
    "checks_unanswered": _A_GAP,
    "no_target": _A_GAP,
    "no_cylinder": _A_GAP,
    "not_weighed": _A_GAP,
    "no_baseline": _A_GAP,
    "reading_unknown": _A_GAP,
    "undecided": _A_GAP,
    "no_liquid_port": "A practice unit has both ports; what to do without one is weigh-in.",
    "leave": _A_STATE,
    "closed": _A_STATE,
    "hoses_off": _A_STATE,
    "emptied": _A_STATE,
    "recovered": _A_STATE,
    "recovery_begun": _A_STATE,
    "weighed_in": _A_STATE,
}
"""Code of a reason not to add -> why no lesson shows it."""
