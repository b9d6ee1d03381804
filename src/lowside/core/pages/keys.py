"""What one tap enters beside a box."""

from lowside.core.handbook.fields import NUMBER, Field
from lowside.core.numbers.arithmetic import BadNumber, format_decimal, nearest, parse_decimal
from lowside.core.pages.figures import without_figures
from lowside.core.pages.screen import Screen
from lowside.core.session.events import age_s
from lowside.core.session.state import READING_KINDS, STANDS, Entry, State
from lowside.core.session.steady import BREAK_S

USUAL_KEYS: dict[str, dict[str, list[str]]] = {
    "scale_resolution": {"oz": ["0.1", "0.25", "0.5", "1"], "g": ["1", "2", "5", "10"]},
    "capacity": {"ton": ["1.5", "2", "2.5", "3", "3.5", "4", "5"]},
}
"""Usual smallest steps of a scale and nominal sizes of units, to enter with one tap. Our choice;
any other can be typed."""

DRIFTS = ("outdoor_dry_bulb", "return_dry_bulb", "return_wet_bulb")
"""Air filled in from before: a degree more or less is one tap."""


def keys_of(screen: Screen, field: Field, unit: str, value: str) -> list[str]:
    """What one tap enters. Into an empty box: a usual figure, or what an instrument showed last, if
    no break came since. Into one filled in from before: a degree more or less. The hand still looks
    at each instrument: no tap answers two fields."""
    if field.kind != NUMBER:
        return []
    if value != "":
        return _a_degree_off(value) if field.name in DRIFTS else []
    if field.name in USUAL_KEYS:
        return USUAL_KEYS[field.name].get(unit, [])
    last = typed_right(screen.state, field.name)
    if last is None or last.data.get(field.name + "_unit", "") != unit:
        return []
    if age_s(last.moment, screen.now) > BREAK_S:
        return []
    return [last.data[field.name]]


def _a_degree_off(value: str) -> list[str]:
    number = parse_decimal(value)
    if isinstance(number, BadNumber):
        return []
    decimals = 0 if number == nearest(number) else 1
    return [format_decimal(number - 1.0, decimals), format_decimal(number + 1.0, decimals)]


def typed_last(state: State, name: str) -> Entry | None:
    """The newest reading that has this field."""
    found: Entry | None = None
    for entry in state.entries:
        is_reading = entry.kind in READING_KINDS and entry.status == STANDS
        if is_reading and entry.data.get(name, "") != "":
            found = entry
    return found


def typed_right(state: State, name: str) -> Entry | None:
    """The same; `None` where that reading says that this number cannot be."""
    entry = typed_last(state, name)
    if entry is None or name in without_figures(state, entry.eid):
        return None
    return entry
