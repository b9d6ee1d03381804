"""A form as the templates show it: every field with its unit, value, hint and problem."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lowside.core.handbook.fields import CHOICE, NUMBER, REFRIGERANT, Field
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import BY_CHART
from lowside.core.numbers.unit_choice import label, small_mass_unit, unit_for
from lowside.core.pages import addresses
from lowside.core.session.events import CROCKFORD_32
from lowside.core.session.state import STANDS, State

MORE_FIELDS: dict[str, tuple[str, ...]] = {
    "unit": (
        "line_length",
        "line_included",
        "line_adder",
        "accumulator",
        "high_side_limit",
        "rated_amps",
        "static_limit",
        "retrofit_refrigerant",
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
    ),
}
"""Fields kept folded away until wanted."""

MORE_LABELS: dict[str, str] = {
    "unit": "Line set, plates, retrofit label",
    "cylinder": "Restrictor, pressure check, size of the hoses",
    "reading": "Supply air, current, static pressure",
}

AIR_FIELDS = ("outdoor_dry_bulb", "return_dry_bulb")
"""What every judgement needs: never folded away, and filled in again from the reading before,
since it moves slowly."""
CHART_FIELDS = ("return_wet_bulb", "return_humidity")
"""What the target-superheat chart is entered with besides: not folded away then."""

ONE_AT_A_TIME = ("reading", "final_reading", "note", "shot_open", "shot_close")
"""Forms that record something new each time, so what was entered last is not filled in again."""

LONG_TEXTS = ("text", "explanation")


@dataclass(frozen=True)
class Attempt:
    """A form that was refused: what was typed, and what is wrong with it."""

    form: str
    typed: Mapping[str, str]
    problems: Mapping[str, str]
    message: str = ""


def nth_eid(fresh: str, n: int) -> str:
    """The n-th event id made from one fresh ULID: its last three characters count the forms.

    The same form of the same page always has the same id, so two taps are one event; two forms
    of one page never share one.
    """
    return (
        fresh[:23]
        + CROCKFORD_32[n // 1024 % 32]
        + CROCKFORD_32[n // 32 % 32]
        + CROCKFORD_32[n % 32]
    )


def small_form(
    sid: str, form_name: str, eid: str, step: str = "", back: str = "", button: str = ""
) -> dict[str, Any]:
    """A form that is only its button."""
    return {
        "action": addresses.form(sid, form_name),
        "eid": eid,
        "step": step,
        "back": back,
        "button": button if button != "" else FORMS[form_name].button,
    }


def full_form(
    state: State,
    handbook: Handbook,
    form_name: str,
    eid: str,
    step: str,
    back: str,
    attempt: Attempt | None,
) -> dict[str, Any]:
    """A form with its fields, filled with what was typed, else with what stands, else with
    suggestions."""
    form = FORMS[form_name]
    tried = attempt if attempt is not None and attempt.form == form_name else None
    known: Mapping[str, str] = {}
    suggest = False
    if tried is not None:
        known = tried.typed
    elif _family(form_name) == "reading":
        known = _air_of_before(state)
    elif form_name not in ONE_AT_A_TIME:
        standing = entered_last(state, form.kind)
        known = standing if standing is not None else remembered(state, form_name)
        suggest = standing is None
    context = filled(state, handbook, form_name, form.fields, known, suggest, tried)
    context["action"] = addresses.form(state.sid, form_name)
    context["eid"] = eid
    context["step"] = step
    context["back"] = back
    context["draft"] = state.sid + "/" + form_name + "/" + step
    context["button"] = form.button
    return context


def filled(
    state: State,
    handbook: Handbook,
    form_name: str,
    fields: Sequence[Field],
    known: Mapping[str, str],
    suggest: bool,
    tried: Attempt | None,
) -> dict[str, Any]:
    """The fields of a form, those folded away apart."""
    problems = tried.problems if tried is not None else {}
    folded_away = _folded_away(state, form_name)
    shown = []
    more = []
    more_open = False
    for field in fields:
        if not _asked(state, field):
            continue
        described = _field(state, handbook, field, known, suggest, problems.get(field.name, ""))
        if field.name in folded_away:
            more.append(described)
            more_open = more_open or described["value"] != "" or described["problem"] != ""
        else:
            shown.append(described)
    return {
        "message": tried.message if tried is not None else "",
        "fields": shown,
        "more": more,
        "more_label": MORE_LABELS.get(_family(form_name), ""),
        "more_open": more_open,
    }


def remembered(state: State, form_name: str) -> Mapping[str, str]:
    """What holds although nobody entered it here: the units a session starts with, and what the
    last visit wrote of the unit."""
    visit = state.last_visit
    if visit is not None and form_name == "unit":
        return visit.unit
    if visit is not None and form_name == "machine":
        return visit.machine
    if visit is not None and form_name == "target":
        return visit.target
    if form_name != "units":
        return {}
    choice = state.units
    return {
        "pressure": choice.pressure,
        "temperature": choice.temperature,
        "mass": choice.mass,
        "length": choice.length,
    }


def entered_last(state: State, kind: str) -> Mapping[str, str] | None:
    """The data of the last standing entry of a kind."""
    found: Mapping[str, str] | None = None
    for entry in state.entries:
        if entry.kind == kind and entry.status == STANDS:
            found = entry.data
    return found


def _air_of_before(state: State) -> Mapping[str, str]:
    """Outdoor and return air as last typed: they move slowly, and stand there to be changed."""
    names: list[str] = []
    for name in AIR_FIELDS + CHART_FIELDS:
        names.append(name)
        names.append(name + "_unit")
    found: dict[str, str] = {}
    for entry in state.entries:
        if entry.kind in ("reading.taken", "reading.final") and entry.status == STANDS:
            for name in names:
                if name in entry.data:
                    found[name] = entry.data[name]
    return found


def _asked(state: State, field: Field) -> bool:
    """Whether this unit is asked this; a question already answered stays."""
    if field.name != "microchannel_papers":
        return True
    return state.unit_texts.get("coil", "") == "microchannel"


def _family(form_name: str) -> str:
    return "reading" if form_name == "final_reading" else form_name


def _folded_away(state: State, form_name: str) -> tuple[str, ...]:
    names = MORE_FIELDS.get(_family(form_name), ())
    if _family(form_name) != "reading":
        return names
    by_chart = state.system is not None and state.system.method == BY_CHART
    shown = AIR_FIELDS + CHART_FIELDS if by_chart else AIR_FIELDS
    return tuple([name for name in names if name not in shown])


def _field(
    state: State,
    handbook: Handbook,
    field: Field,
    known: Mapping[str, str],
    suggest: bool,
    problem: str,
) -> dict[str, Any]:
    value = known.get(field.name, field.suggestion if suggest else "")
    described: dict[str, Any] = {
        "name": field.name,
        "label": field.label,
        "hint": _hint(state, field),
        "required": field.required,
        "problem": problem,
        "value": value,
        "unit": "",
        "ounces": "",
        "choices": [],
        "short": False,
    }
    if field.kind == CHOICE:
        described["kind"] = "choice"
        described["choices"] = _choices(field.choices, value)
        described["short"] = all(len(text) <= 12 for _, text in field.choices)
    elif field.kind == REFRIGERANT:
        described["kind"] = "select"
        names = tuple((name, name) for name in handbook.refrigerants)
        described["choices"] = _choices(names, value)
    elif field.kind == NUMBER:
        unit = known.get(field.name + "_unit", "")
        described["unit"] = unit if unit != "" else _unit(state, field)
        described["kind"] = "mass2" if described["unit"] == "lb+oz" else "number"
        described["ounces"] = known.get(field.name + "_oz", "")
    else:
        described["kind"] = "long" if field.name in LONG_TEXTS else "text"
    return described


def _choices(choices: Sequence[tuple[str, str]], value: str) -> list[dict[str, Any]]:
    return [{"value": code, "label": text, "on": code == value} for code, text in choices]


def _unit(state: State, field: Field) -> str:
    if field.name == "scale_resolution":
        return small_mass_unit(state.units)
    return unit_for(field.quantity, state.units) if field.quantity != "" else ""


def _hint(state: State, field: Field) -> str:
    """The field's own hint; the scale and air temperatures also say what they showed last."""
    if field.name == "scale_before" and state.last_scale_kg is not None:
        return "Leave empty if it still reads " + label("mass", state.last_scale_kg, state.units)
    if field.name not in MORE_FIELDS["reading"]:
        return field.hint
    last = ""
    for entry in state.entries:
        if entry.kind in ("reading.taken", "reading.final") and entry.status == STANDS:
            typed = entry.data.get(field.name, "")
            if typed != "":
                last = typed + " " + entry.data.get(field.name + "_unit", "")
    if last == "":
        return field.hint
    if field.hint == "":
        return "Last time " + last
    return field.hint + ". Last time " + last
