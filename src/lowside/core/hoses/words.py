"""The hose picture in words: what each hose holds, how each valve is set, what moves."""

from collections.abc import Sequence

from lowside.core.handbook.procedure import (
    BELOW_HOSES,
    CLOSED,
    CYLINDER,
    INVERTED,
    LIQUID_LINE,
    LOOSE,
    MACHINE_OUT,
    NITROGEN,
    OFF,
    OPEN,
    OUTSIDE,
    PUMP,
    RECOVERY,
    RECOVERY_CYLINDER,
    STARTED,
    SUCTION,
    TIGHT,
    UPRIGHT,
    Boundary,
    Procedure,
    ValveSetting,
)
from lowside.core.hoses.contents import AIR, TRACE_KG, Conditions, Contents, Hoses, filling_of
from lowside.core.hoses.flow import Flow

PLACES: dict[Boundary, str] = {
    SUCTION: "suction pressure",
    LIQUID_LINE: "liquid pressure",
    CYLINDER: "cylinder pressure",
    OUTSIDE: "no pressure",
}

SETTING_WORDS: dict[ValveSetting, str] = {
    OPEN: "open",
    CLOSED: "closed",
    TIGHT: "tight",
    LOOSE: "loose",
    STARTED: "barely on",
    OFF: "off",
    UPRIGHT: "upright",
    INVERTED: "upside down",
    BELOW_HOSES: "upright, below the hoses",
}
"""How a valve, a nut or the cylinder is set, as a screen says it."""


def in_words(
    procedure: Procedure, conditions: Conditions, hoses: Hoses, flows: Sequence[Flow]
) -> list[str]:
    """The picture as sentences: contents, how each valve is set, what moves."""
    lines: list[str] = []
    for volume in procedure.volumes:
        contents = hoses.contents[volume.id]
        lines.append(
            _capital(volume.title)
            + ": "
            + filling_of(contents)
            + ", "
            + level_word(conditions, contents)
            + "."
        )
    for valve in procedure.valves:
        set_to = hoses.settings[valve.id]
        if valve.b == RECOVERY and set_to == OFF:
            continue
        line = _capital(valve.title) + ": " + SETTING_WORDS[set_to]
        if valve.core and set_to == STARTED:
            line = line + ", not touching the core"
        elif valve.core and set_to == LOOSE:
            line = line + ", pressing the core"
        lines.append(line + ".")
    names = {volume.id: volume.title for volume in procedure.volumes}
    names[SUCTION] = "unit’s suction"
    names[LIQUID_LINE] = "unit’s liquid line"
    names[CYLINDER] = "cylinder"
    names[RECOVERY] = "recovery machine"
    names[MACHINE_OUT] = "recovery machine’s outlet"
    names[RECOVERY_CYLINDER] = "recovery cylinder"
    names[NITROGEN] = "nitrogen cylinder"
    names[PUMP] = "vacuum pump"
    names[OUTSIDE] = "open air"
    for flow in flows:
        if moves(flow):
            stuff = flow.phase if flow.kg > TRACE_KG or flow.steady else AIR
            sentence = (
                _capital(stuff) + " flows from " + names[flow.start] + " to " + names[flow.end]
            )
            if sentence + "." not in lines:
                lines.append(sentence + ".")
    return lines


def level_word(conditions: Conditions, contents: Contents) -> str:
    """Pressure in words: that of what the hose is or was joined to."""
    near = "between pressures"
    for place, pressure in (
        (OUTSIDE, conditions.atmosphere_pa),
        (SUCTION, conditions.suction_pa),
        (CYLINDER, conditions.cylinder_pa),
        (LIQUID_LINE, conditions.liquid_pa),
    ):
        if abs(contents.pressure_pa - pressure) <= 1.0e-6 * pressure:
            near = PLACES[place]
    if near == PLACES[LIQUID_LINE] and conditions.suction_pa == conditions.liquid_pa:
        return "pressure of a unit that is off"
    return near


def moves(flow: Flow) -> bool:
    """Whether a flow is worth showing."""
    return flow.steady or flow.kg > TRACE_KG or flow.air > 0.0


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def and_line(before: str, line: str) -> str:
    """The lines of the step beside a ring, with one more."""
    if line in ("", before):
        return before
    return line if before == "" else before + "," + line
