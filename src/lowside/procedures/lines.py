"""Which line of a step's list each of its actions is in, so that the picture has the list's
numbers.

The lines are prose, so their words are looked for. An action whose line is not found has no number:
its ring stays.
"""

import re
from collections.abc import Sequence
from dataclasses import replace

from lowside.core.handbook.procedure import Action, Procedure, Step

_MANIFOLD = "|both manifold|all four manifold"
_OFF = "|every hose|both hoses|hose, tee"
_LOOSE = "|loose nut"
_VALVES = {
    "low": "low-side manifold valve|the manifold valve|charging valve|^close it" + _MANIFOLD,
    "high": "high-side manifold valve" + _MANIFOLD,
    "charge": "charge valve" + _MANIFOLD,
    "vacuum": "vacuum valve|all four manifold",
    "vacuum_cap": r"\bcap\b",
    "port_valve": "hand valve",
    "blue_end": "blue hose-end|hose-end valves",
    "red_end": "red hose-end|hose-end valves",
    "yellow_end": "yellow hose-end|hose-end valves",
    "blue_nut": r"\bblue\b|the tee" + _OFF,
    "red_nut": r"\bred\b|screw it onto the liquid port" + _LOOSE + _OFF,
    "yellow_nut": r"\byellow\b|(onto|on|from) the cylinder|that nut" + _LOOSE + _OFF,
    "blue_body_nut": "blue nut at the manifold" + _LOOSE,
    "red_body_nut": "red nut at the manifold" + _LOOSE,
    "yellow_body_nut": "yellow nut at the manifold" + _LOOSE,
    "red_on_suction": "red hose end.*(suction port|off)|wrong port",
    "yellow_on_suction": "yellow hose end.*(suction port|off)|wrong port",
    "blue_on_recovery": "recovery machine" + _OFF,
    "cylinder_valve": "cylinder valve|its valve",
    "cylinder_position": "cylinder",
}
_SETTINGS = {
    "open": "open|crack",
    "closed": "clos",
    "tight": "tight|onto|screw|on the liquid port",
    "loose": "loose",
    "off": r"\boff\b|unscrew|take",
    "started": "start its nut",
    "inverted": "upside down",
    "upright": "upright",
    "below": "upright",
}


def with_lines(procedure: Procedure) -> Procedure:
    """The procedure with the line of each action."""
    return replace(
        procedure,
        steps=tuple(_step(step) for step in procedure.steps),
        off_steps=tuple(_step(step) for step in procedure.off_steps),
    )


def _step(step: Step) -> Step:
    found: list[Action] = []
    last = 1
    for action in step.actions:
        line = _line(step.do, action, last)
        last = max(line, last)
        found.append(replace(action, line=str(line) if line > 0 else ""))
    return replace(step, actions=tuple(found))


def _line(do: Sequence[str], action: Action, last: int) -> int:
    """From the last action's line on, else before it; 0: in none."""
    said = [i + 1 for i, text in enumerate(do) if _says(text, action)]
    onward = [line for line in said if line >= last]
    return (onward + said + [0])[0]


def _says(text: str, action: Action) -> bool:
    low = text.lower()
    valve = _VALVES.get(action.valve)
    if valve is None or re.search(valve, low) is None:
        return False
    return re.search(_SETTINGS[action.to], low) is not None
