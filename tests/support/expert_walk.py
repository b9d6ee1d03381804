"""Plays one row of the expert's table of recovery and weigh-in through the real forms.

See `tests/data/expert_walks.csv`. A row begins with everything answered as it should be. `changes`
says what differs, part by part: `form.field=value`, an empty value for a field left out, `form=-`
for a form that was never sent, `+form.field=value` for a form sent after the rest.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from expert import YES, Bench

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.refrigerants import flammable
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.recording import Refusal, record_form
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS

WALKS = Path(__file__).parents[1] / "data" / "expert_walks.csv"

UNIT = {
    "metering": "txv",
    "coil": "tube_fin",
    "receiver": "no",
    "nameplate_charge": "6 lb",
    "line_length": "15 ft",
    "line_included": "15 ft",
    "line_adder": "0.6 oz/ft",
}
CYLINDER = {"cylinder_label": "C", "cylinder_tare": "7 lb", "withdrawal": "invert"}
BEFORE: dict[str, dict[str, str]] = {
    "job": {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"},
    "unit": UNIT,
    "machine": {"mode": "cooling", "compressor": "full", "kind": "split"},
}
ORDER = {
    "weigh_in": {
        "weigh_ready": dict.fromkeys(
            ("locked", "emptied", "hoses_off", "qualified", "protected"), "yes"
        ),
        "pressure_test": {
            "test_pressure": "150 psig",
            "test_end": "150 psig",
            "test_held": "15 min",
            "leak": "none_found",
        },
        "weigh_total": {"coil_adder": "0 lb", "drier_adder": "0 lb"},
        "cylinder": CYLINDER,
        "start_weight": {"gross": "27 lb"},
        "vacuum_held": {
            "vacuum_reached": "300 microns",
            "vacuum_end": "450 microns",
            "vacuum_time": "20 min",
        },
    },
    "recovery": {
        "recovery_ready": dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes"),
        "recovery_cylinder": {
            "rc_water": "47.7 lb",
            "rc_tare": "27 lb",
            "rc_service": "400 psig",
            "rc_date": "06/2024",
            "rc_date_means": "tested",
            "rc_label": "RC-1",
        },
        "recovery_contents": {"rc_before": "27 lb", "rc_inside": "empty"},
        "recovery_after": {
            "rc_after": "31 lb",
            "rc_left": "0 psig",
            "rc_what": "whole",
            "rc_next": "weigh_in",
        },
    },
}
READY = ("weigh_ready", "recovery_ready")
MACHINE_ON = "rec_run"
"""The step whose “done” is asked for: the recovery machine was started."""


@dataclass
class Walk:
    """What the forms of a row hold."""

    before: dict[str, dict[str, str]]
    later: dict[str, dict[str, str]] = field(default_factory=dict)
    checks: dict[str, str] = field(default_factory=dict)
    straight: bool = False
    """The answers before the walk were saved before the unit's refrigerant was."""


def forms_of(row: Mapping[str, str], handbook: Handbook) -> Walk:
    """Every form as the row has it."""
    found = Walk({name: dict(typed) for name, typed in (BEFORE | ORDER[row["walk"]]).items()})
    found.before["unit"] = {"refrigerant": row["refrigerant"]} | found.before["unit"]
    if "cylinder" in found.before:
        found.before["cylinder"]["cylinder_refrigerant"] = row["refrigerant"]
    if flammable(handbook.refrigerants[row["refrigerant"]]):
        for name in READY:
            if name in found.before:
                found.before[name] |= dict.fromkeys(FLAMMABLE_QUESTIONS, "yes")
        if "recovery_contents" in found.before:
            found.before["recovery_contents"]["rc_flammable"] = "yes"
    for change in row["changes"].split(";"):
        _change(found, change.strip())
    return found


def _change(walk: Walk, change: str) -> None:
    if change == "":
        return
    name, _, value = change.partition("=")
    later = name.startswith("+")
    form, _, inside = name.removeprefix("+").partition(".")
    if form == "checks":
        walk.checks[inside] = value
    elif form == "flammable":
        walk.straight = True
        for ready in READY:
            for question in FLAMMABLE_QUESTIONS if inside == "" else (inside,):
                if ready in walk.before and value in ("", "-"):
                    walk.before[ready].pop(question, None)
                elif ready in walk.before:
                    walk.before[ready][question] = value
    elif later:
        usual = walk.before.get(form, {})
        walk.later.setdefault(form, dict(usual))
        if inside != "":
            walk.later[form][inside] = value
    elif value == "-":
        walk.before.pop(form)
    elif value == "":
        walk.before[form].pop(inside, None)
    else:
        walk.before[form][inside] = value


def play_walk(row: Mapping[str, str], handbook: Handbook) -> tuple[bool, str]:
    """Whether the form asked was taken, and why not."""
    walk = forms_of(row, handbook)
    typed = {}
    for part in row["typed"].split(";"):
        name, _, value = part.strip().partition("=")
        if name != "":
            typed[name] = value
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": "hand-valved-three-port"})
    if walk.checks:
        bench.book.write("checks.answered", YES | walk.checks)
    asked = row["ask"]
    own: dict[str, str] = {}
    for form, fields in walk.before.items():
        if form == asked and form not in walk.later:
            own = fields
            break
        if walk.straight and form in READY:
            bench.book.write(FORMS[form].kind, fields)
        else:
            _send(bench, form, fields)
        if row["walk"] == "recovery" and asked == "done" and form == "recovery_contents":
            break
    for form, fields in walk.later.items():
        _send(bench, form, fields)
    return _ask(bench, asked, {**own, **typed})


def _send(bench: Bench, form: str, fields: Mapping[str, str]) -> None:
    """What was refused is not on record, as in a session; a later form meets that."""
    bench.form(form, {name: value for name, value in fields.items() if value != ""})


def _ask(bench: Bench, form: str, typed: Mapping[str, str]) -> tuple[bool, str]:
    if form == "done":
        bench.book.wait(10)
        outcome = record_form(
            bench.state(),
            Address(FORM, bench.book.sid, "done"),
            {"eid": "x-done", "step": MACHINE_ON},
            bench.handbook,
            bench.now(),
        )
        if isinstance(outcome, Refusal):
            return False, outcome.attempt.message
        return True, ""
    taken = bench.form(form, {name: value for name, value in typed.items() if value != ""})
    return taken, bench.refused
