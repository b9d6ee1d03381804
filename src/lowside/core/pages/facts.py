"""Facts, warnings and findings beside a step's form."""

from typing import Any, Literal

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.procedure import is_off_step
from lowside.core.judging.charge import target_text
from lowside.core.judging.findings import (
    DANGER,
    REFUSE,
    SHOWS,
    WARN,
    Finding,
    Grade,
    lead,
    sentence,
)
from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass
from lowside.core.pages.figures import figures_from
from lowside.core.pages.form import entered_last, remembered
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import METHOD_NAMES, day
from lowside.core.session import cylinder as cylinders
from lowside.core.session.last_end import end_of, read_then
from lowside.core.session.ledger import left_kg, warnings_now
from lowside.core.session.other_cylinder import WEIGH_IT, was_weighed
from lowside.core.session.state import (
    State,
    Taken,
    latest_reading,
    shots_of_cylinder,
    sum_of_shots,
)

FindingStyle = Literal["stop", "warn", "shows"]

FINDING_STYLES: dict[Grade, FindingStyle] = {
    DANGER: "stop",
    REFUSE: "stop",
    WARN: "warn",
    SHOWS: "shows",
}


def fact(name: str, value: str) -> dict[str, str]:
    """One line of a list of facts."""
    return {"name": name, "value": value}


def facts_for(screen: Screen, form_name: str) -> list[dict[str, str]]:
    """What is known that helps with this step's form."""
    state = screen.state
    if form_name == "start_weight":
        return _start_weight(screen)
    if form_name in ("unit", "machine", "target"):
        filled_in = _from_last_visit(screen, form_name)
        return filled_in + _last_end(screen) if form_name == "unit" else filled_in
    if form_name in ("reading", "final_reading"):
        return _target(state) + _last_end(screen)
    if form_name == "decide":
        return _last_end(screen)
    if form_name == "end_weight":
        return _expected_end(screen)
    if form_name in ("reconcile", "record"):
        return reconcile_facts(state)
    return []


def warnings_for(screen: Screen, form_name: str) -> list[tuple[str, str]]:
    """Word and sentence of each warning that belongs beside this step's form."""
    if form_name not in ("start_weight", "cylinder"):
        return []
    found = [
        ("Check the cylinder.", warning.sentence(screen.units))
        for warning in warnings_now(screen.state, screen.cylinder_uses)
    ]
    if was_weighed(screen.state):
        found.append(("Another cylinder: weigh it.", WEIGH_IT))
    return found


def findings_for(screen: Screen, form_name: str) -> list[dict[str, Any]]:
    """What the latest reading, the cylinder or the weights say, beside the form it matters to."""
    state = screen.state
    if form_name in ("start_weight", "cylinder"):
        return [finding_context(state.units, finding) for finding in state.cylinder_findings]
    if form_name == "reconcile":
        found = list(cylinders.reconcile_session(state).findings)
        return [finding_context(state.units, finding) for finding in found]
    if form_name not in ("decide", "record"):
        return []
    return finding_contexts(state, latest_reading(state))


def finding_contexts(state: State, taken: Taken | None) -> list[dict[str, Any]]:
    """The findings of a reading in words, the gravest first."""
    found: list[dict[str, Any]] = []
    if taken is None or taken.assessment is None:
        return found
    for finding in taken.assessment.findings:
        told = finding_context(state.units, finding)
        last = found[len(found) - 1] if found else None
        if last is not None and told["level"] == "shows" and told["word"] == last["word"]:
            # “Undercharged” by the target and by the signs: said once.
            last["text"] = last["text"] + " " + told["text"]
        else:
            found.append(told)
    return found


def finding_context(choice: UnitChoice, finding: Finding) -> dict[str, Any]:
    """One finding in words."""
    return {
        "level": "good" if _is_good_news(finding) else FINDING_STYLES[finding.level],
        "word": lead(finding),
        "text": sentence(finding, choice),
    }


def _is_good_news(finding: Finding) -> bool:
    """Only “on target” is. An undercharged unit is not, though nothing speaks against adding."""
    return finding.level == SHOWS and finding.code.startswith("on_target")


def reconcile_facts(state: State) -> list[dict[str, str]]:
    """The weights against each other."""
    return [
        fact(name, label("mass", kilograms, state.units))
        for name, kilograms in cylinders.reconcile_session(state).lines
    ]


def _from_last_visit(screen: Screen, form_name: str) -> list[dict[str, str]]:
    visit = screen.last_visit
    if visit is None or not remembered(screen, form_name):
        return []
    if entered_last(screen.state, FORMS[form_name].kind) is not None:
        return []
    return [fact("Filled in from the visit on", day(visit.started) + ". Check it.")]


def _last_end(screen: Screen) -> list[dict[str, str]]:
    """How the last visit left the unit: to compare with, never to be recorded as measured now."""
    visit = screen.last_visit
    assessment = None if visit is None else end_of(visit, screen.units, screen.handbook)
    if visit is None or assessment is None:
        return []
    told = ""
    for figure in figures_from(screen.units, assessment):
        if figure["unit"] != "":
            told = told + figure["name"] + " " + figure["value"] + " " + figure["unit"] + ". "
            told = told + (figure["word"] + ". " if figure["word"] != "" else "")
    outdoor = read_then(visit.reading, "outdoor_dry_bulb")
    if outdoor is not None:
        told = told + "Outdoor air " + label("temperature", outdoor, screen.units) + "."
    return [fact("Last visit, " + day(visit.started), told)]


def _start_weight(screen: Screen) -> list[dict[str, str]]:
    state = screen.state
    facts: list[dict[str, str]] = []
    before = left_kg(state, screen.cylinder_uses)
    if before is not None:
        facts.append(fact("End weight of its last job", label("mass", before, state.units)))
    if state.cylinder is not None and state.start_weight is not None:
        net = cylinders.net_kg(state.start_weight.kg, state.cylinder.tare_kg)
        facts.append(fact("Refrigerant inside", label("mass", net, state.units)))
    return facts


def _target(state: State) -> list[dict[str, str]]:
    if state.system is None:
        return []
    facts = [fact("Judged by", METHOD_NAMES[state.system.method])]
    latest = latest_reading(state)
    if latest is not None and latest.assessment is not None:
        facts.append(fact("Target", target_text(latest.assessment, state.units)))
    return facts


def _expected_end(screen: Screen) -> list[dict[str, str]]:
    state = screen.state
    if state.start_weight is None:
        return []
    hoses = state.hoses_from_cylinder_kg
    fed = sum_of_shots(shots_of_cylinder(state))
    expected = state.start_weight.kg - fed - hoses
    facts = [
        fact("Start weight", label("mass", state.start_weight.kg, state.units)),
        fact("Sum of shots", small_mass(fed, state.units)),
    ]
    if hoses > 0.0:
        facts.append(fact("Hoses, filled from the cylinder", small_mass(hoses, state.units)))
    weight = label("mass", expected, state.units)
    if hoses > 0.0 and _closed_out_unit_off(screen):
        # With the unit off nothing draws the hose empty: some of its liquid may be back inside.
        weight = weight + " to " + label("mass", expected + hoses, state.units)
    facts.append(fact("Expected end weight", weight))
    return facts


def _closed_out_unit_off(screen: Screen) -> bool:
    procedure = screen.handbook.procedures.get(screen.state.procedure)
    if procedure is None:
        return False
    return any(is_off_step(procedure, step_id) for step_id in screen.state.done)
