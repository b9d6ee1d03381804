"""Units this phone or shop knows: one tap begins a session at one of them, and the page says what
was done there before a hose goes on."""

from typing import Any

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.procedure import (
    Procedure,
    Step,
    neighbors,
    steps_of_stage,
    walk_neighbors,
    walk_with,
)
from lowside.core.numbers.unit_choice import small_mass
from lowside.core.numbers.units import IN_WORDS
from lowside.core.pages.facts import warnings_for
from lowside.core.pages.form import entered_last, hoses_here, small_form, technician_here
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import day
from lowside.core.session.last_visit import (
    known_cylinders,
    known_units,
    visits_before,
)
from lowside.core.session.ledger import ROUNDING_KG
from lowside.core.session.state import STANDS, State
from lowside.core.session.unit import designation

MOST_SHOWN = 6
FIRST_FORM = 20
"""Number of the first of these forms on the page (see `Screen.eid`)."""
FORMS_BEFORE_HOSES = ("unit", "machine", "preconditions")
"""Forms beside which the unit's past is said."""


def known_context(screen: Screen, form_name: str) -> list[dict[str, Any]]:
    """The units or cylinders to choose from where one is asked for and not yet known: only
    cylinders of the unit's refrigerant."""
    if form_name == "cylinder":
        return _cylinders(screen)
    found: list[dict[str, Any]] = []
    if form_name != "job" or screen.state.job is not None:
        return found
    for visit in known_units(screen.visits)[:MOST_SHOWN]:
        if len(visit.job) == 0:
            continue
        job = dict(visit.job)
        job["technician"] = technician_here(screen)
        found.append(
            {
                "title": visit.unit_label + ", " + visit.site,
                "line": day(visit.started) + " · " + visit.unit.get("refrigerant", ""),
                "form": small_form(screen, "job", FIRST_FORM + len(found), "job"),
                "typed": [{"name": name, "value": text} for name, text in job.items()],
            }
        )
    return found


def _cylinders(screen: Screen) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    if screen.state.cylinder is not None:
        return found
    wanted = designation(screen.state.unit_texts)
    for visit in known_cylinders(screen.visits):
        typed = dict(visit.cylinder) | hoses_here(screen)
        fits = wanted in ("", typed.get("cylinder_refrigerant", ""))
        if not fits or len(found) == MOST_SHOWN:
            continue
        tare = typed.get("cylinder_tare", "") + " " + typed.get("cylinder_tare_unit", "")
        if typed.get("cylinder_tare_unit", "") == IN_WORDS:
            tare = typed.get("cylinder_tare", "")
        found.append(
            {
                "title": typed["cylinder_label"] + ", " + typed.get("cylinder_refrigerant", ""),
                "line": "Tare " + tare + " · used " + day(visit.started),
                "form": small_form(screen, "cylinder", FIRST_FORM + len(found), "cylinder"),
                "typed": [{"name": name, "value": text} for name, text in typed.items()],
            }
        )
    return found


def said_at(procedure: Procedure, step: Step) -> str:
    """The form whose warnings belong on this page: what the cylinder and its weight say is also
    said where their page led, before a hose goes on."""
    before = neighbors(procedure, step.id)[0]
    if walk_with(procedure, step.id):
        before = walk_neighbors(procedure, step.id)[0]
    if before is not None and before.form == "start_weight":
        return before.form
    return step.form


def warnings_here(screen: Screen, procedure: Procedure, step: Step) -> list[tuple[str, str]]:
    """Word and sentence of each warning of the cylinder and of the unit's past on this page."""
    said = said_at(procedure, step)
    return warnings_for(screen, said) + warnings_of_unit(screen, step.form)


def warnings_of_unit(screen: Screen, form_name: str) -> list[tuple[str, str]]:
    """Charge that was added here before, and another refrigerant than last time."""
    found: list[tuple[str, str]] = []
    before = visits_before(screen.visits, screen.state)
    if form_name not in FORMS_BEFORE_HOSES or not before:
        return found
    told: list[str] = []
    for visit in before:
        on = " on " + day(visit.started)
        if visit.added_kg > ROUNDING_KG:
            least = "at least " if visit.unknown_shots > 0 else ""
            told.append(least + small_mass(visit.added_kg, screen.units) + on)
        elif visit.unknown_shots > 0:
            told.append("an amount that was not weighed" + on)
    if told:
        found.append(
            (
                "Find the leak.",
                "Charge was added here before: "
                + ", ".join(told)
                + ". A sealed system does not use up refrigerant.",
            )
        )
    was = before[len(before) - 1].unit.get("refrigerant", "")
    now = screen.state.unit_texts.get("refrigerant", "")
    if now != "" and was not in ("", now):
        found.append(
            (
                "Check the nameplate.",
                "The last visit wrote " + was + ", this session says " + now + ".",
            )
        )
    return found


CYLINDER_KINDS = (FORMS["cylinder"].kind, FORMS["start_weight"].kind)


def said_before(state: State, procedure: Procedure, step: Step) -> bool:
    """Whether this page's warnings were in full when its form or its step was at hand, so that one
    line is enough now. Not for a cylinder that came after the hoses were hooked up."""
    entered = step.form != "" and entered_last(state, FORMS[step.form].kind) is not None
    if state.start_weight is None or not (entered or step.id in state.done):
        return False
    connected = state.done.get(steps_of_stage(procedure, "Connect")[0].id, "")
    after = False
    for entry in state.entries:
        if after and entry.status == STANDS and entry.kind in CYLINDER_KINDS:
            return False
        after = after or entry.eid == connected
    return True
