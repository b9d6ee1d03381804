"""The record of a session: what was found, done, added and left, on one page."""

from collections.abc import Mapping
from typing import Any

from lowside.core.handbook.fields import NUMBER, REFRIGERANT, choice_text
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import metering_from
from lowside.core.judging.by_weight import weigh_in
from lowside.core.judging.charge import target_text
from lowside.core.judging.findings import Unknown, sentence
from lowside.core.numbers.unit_choice import label
from lowside.core.pages import addresses
from lowside.core.pages.facts import fact, finding_contexts, reconcile_facts
from lowside.core.pages.figures import figures_of
from lowside.core.pages.form import entered_last
from lowside.core.pages.timeline import entry_lines, photo_of
from lowside.core.pages.walks import walk_parts
from lowside.core.pages.wording import (
    METERING_NAMES,
    METHOD_NAMES,
    day_and_time,
)
from lowside.core.session import cylinder as cylinders
from lowside.core.session.amount import amount
from lowside.core.session.events import FIRST_KIND
from lowside.core.session.final_wait import reason_of
from lowside.core.session.overriding import gone_against
from lowside.core.session.since_read import since_read
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    NOT_DECIDED,
    Cylinder,
    State,
    Taken,
    Weight,
    find_entry,
    last_shot_lacks,
    latest_reading,
    sum_of_lots,
    unweighed_shots,
)
from lowside.core.session.unit import designation

CIRCUIT_LABELS = ("Outdoor coil", "Liquid receiver", "Suction accumulator")
"""The unit's answers that permission rests on."""
CAPS = "caps_checked"
"""The question that is answered with the signature."""


def ticket_context(state: State, handbook: Handbook) -> dict[str, Any]:
    """Part of the context of `field/ticket.html` and of the office's session page."""
    latest = latest_reading(state)
    since = since_read(state)
    final = latest if since == "" else None
    parts = [
        _part("Job", _job(state)),
        _part("Unit", _unit(state)),
        _part("Unit type and mode", _machine(state)),
        _part("Checks", _checks(state)),
        _part("Cylinder", _cylinder(state)),
        _part("Charge", _charge(state)),
        *[_part(title, facts) for title, facts in walk_parts(state)],
        _part("First reading", _reading(state, state.readings[0]) if state.readings else []),
    ]
    way = {"href": addresses.current(state.sid), "label": "Back to the session"}
    if state.closed is not None and last_shot_lacks(state):
        way["label"] = "Finish the last shot"
    elif state.closed is not None:
        way = {"href": addresses.home(), "label": "All sessions"}
    return {
        "title": "Session record",
        "page": "record",
        "status_line": _status(state),
        "added": _added(state),
        "compared": _compared(state, final),
        "target_line": _target_line(state, latest),
        "parts": [part for part in parts if part["facts"]],
        "not_read": since,
        "figures": figures_of(state.units, final) if final is not None else [],
        "findings_now": finding_contexts(state, final),
        "notes": [day_and_time(moment) + " " + text for moment, text in state.notes],
        "pictures": _pictures(state),
        "flags": list(state.flags),
        "basis": _basis(state, handbook),
        "next": way,
    }


def _added(state: State) -> dict[str, str] | None:
    """The one amount that went into the unit, and by what it is known."""
    found = amount(state)
    lots = sum_of_lots(state.lots)
    if lots == 0.0 and not state.shots:
        return None if state.closed is None else {"amount": "Nothing", "line": "No shot was given."}
    told = label("mass", found.added_kg, state.units)
    if found.at_least:
        told = "At least " + told if found.added_kg > 0.0 else "Not known"
    elif found.by_weights:
        told = "About " + told
    line = "By the scale before and after each shot."
    by_shots = found.added_kg - lots
    if lots > 0.0 and by_shots > 0.0:
        line = label("mass", lots, state.units) + " weighed in, "
        line = line + label("mass", by_shots, state.units) + " by shots."
    elif lots > 0.0:
        line = "Weighed in."
    missed = unweighed_shots(state)
    if missed > 0:
        line = "Shots without a weight: " + str(missed) + "."
    start, end = state.start_weight, state.end_weight
    if start is not None and end is not None and not state.used_before and start.first is None:
        lost = label("mass", start.kg - end.kg, state.units)
        line = line + " The cylinder lost " + lost + ", hoses included."
    return {"amount": told, "line": line}


def _compared(state: State, latest: Taken | None) -> list[dict[str, str]]:
    """The figures before the first shot and at the end, side by side."""
    rows: list[dict[str, str]] = []
    if latest is None or len(state.readings) < 2:
        return rows
    before = figures_of(state.units, state.readings[0])
    after = figures_of(state.units, latest)
    for i, figure in enumerate(after):
        if i < len(before) and before[i]["name"] == figure["name"]:
            rows.append(
                {"name": figure["name"], "before": _value(before[i]), "after": _value(figure)}
            )
    return rows


def _value(figure: dict[str, Any]) -> str:
    value: str = figure["value"]
    return value if figure["unit"] == "" else value + " " + figure["unit"]


def _target_line(state: State, latest: Taken | None) -> str:
    if latest is None or latest.assessment is None:
        return ""
    return "Target: " + target_text(latest.assessment, state.units) + "."


def _part(title: str, facts: list[dict[str, str]]) -> dict[str, Any]:
    return {"title": title, "facts": facts}


def _status(state: State) -> str:
    if state.closed is not None:
        return "Closed " + day_and_time(state.closed) + ", signed by " + state.signed_by
    return "Still open"


def _job(state: State) -> list[dict[str, str]]:
    if state.job is None:
        return []
    facts = [
        fact("Site", state.job.site),
        fact("Unit", state.job.unit_label),
        fact("Technician", state.job.technician),
        fact("Elevation", label("length", state.job.elevation_m, state.units)),
    ]
    if state.started is not None:
        facts.append(fact("Started", day_and_time(state.started)))
    return facts


def _unit(state: State) -> list[dict[str, str]]:
    texts = state.unit_texts
    if "refrigerant" not in texts:
        return []
    facts = [
        fact("Refrigerant", designation(texts)),
        fact("Metering device", METERING_NAMES[metering_from(texts.get("metering", ""))]),
    ]
    of = ""
    if designation(texts) != texts["refrigerant"]:
        of = " of " + texts["refrigerant"]
        facts.append(
            fact("On the nameplate", texts["refrigerant"] + "; a retrofit label overrides it")
        )
    nameplate = state.unit_numbers.get("nameplate_charge")
    if nameplate is not None:
        facts.append(fact("Nameplate charge", label("mass", nameplate, state.units) + of))
    if state.system is not None:
        method = METHOD_NAMES[state.system.method]
        if state.system.by_points:
            method = method + ", by points of this unit’s own chart"
        facts.append(fact("Judged by", method))
        full = weigh_in(state.system)
        if not isinstance(full, Unknown):
            facts.append(fact("Full charge by weight", label("mass", full.total_kg, state.units)))
    facts.extend(_by_papers(state))
    return facts


def _by_papers(state: State) -> list[dict[str, str]]:
    """What was typed from its instructions: limits, which went before the published ones, and
    points of its chart."""
    entered = entered_last(state, "target.set")
    if entered is None:
        return []
    facts: list[dict[str, str]] = []
    for field in FORMS["target"].fields:
        typed = entered.get(field.name, "")
        from_papers = field.name.startswith("papers_") or field.name.startswith("point")
        if not from_papers or typed == "":
            continue
        shown = typed + " " + entered.get(field.name + "_unit", "")
        for code, words in field.choices:
            if code == typed:
                shown = words
        facts.append(fact(field.label, shown))
    return facts


def _machine(state: State) -> list[dict[str, str]]:
    """How it ran and what its circuit is, as answered."""
    entered = entered_last(state, "machine.set")
    facts = _answers("machine", entered if entered is not None else {})
    return facts + [
        each for each in _answers("unit", state.unit_texts) if each["name"] in CIRCUIT_LABELS
    ]


def _checks(state: State) -> list[dict[str, str]]:
    """The leak check, and every other check that was not a plain yes, with the reason given."""
    told = {name: text for name, text in state.checks.items() if text != "yes"}
    signed = entered_last(state, "session.closed")
    facts = _answers("preconditions", told)
    if signed is not None and signed.get(CAPS, "") == "no":
        facts.extend(_answers("record", {CAPS: "no"}))
    return facts


def _answers(form_name: str, texts: Mapping[str, str]) -> list[dict[str, str]]:
    """Questions and answers of a form that were answered, in its order."""
    facts: list[dict[str, str]] = []
    for field in FORMS[form_name].fields:
        text = texts.get(field.name, "")
        if text == "" or field.kind in (NUMBER, REFRIGERANT):
            continue
        facts.append(fact(field.label, choice_text(field.choices, text)))
    return facts


def _cylinder(state: State) -> list[dict[str, str]]:
    facts: list[dict[str, str]] = []
    for used in state.used_before:
        facts.extend(_weighed(state, used.cylinder, used.start, used.end))
    return facts + _weighed(state, state.cylinder, state.start_weight, state.end_weight)


def _weighed(
    state: State, cylinder: Cylinder | None, start: Weight | None, end: Weight | None
) -> list[dict[str, str]]:
    if cylinder is None:
        return []
    facts = [
        fact("Cylinder", cylinder.label + ", " + cylinder.refrigerant),
        fact("Tare", label("mass", cylinder.tare_kg, state.units)),
    ]
    if start is not None:
        facts.append(fact("Start weight", label("mass", start.kg, state.units)))
    if end is not None:
        facts.append(fact("End weight", label("mass", end.kg, state.units)))
        left = cylinders.net_kg(end.kg, cylinder.tare_kg)
        facts.append(fact("Left inside", label("mass", left, state.units)))
    return facts


def _charge(state: State) -> list[dict[str, str]]:
    facts = []
    if state.decision != NOT_DECIDED:
        decision = "add charge" if state.decision == DECIDED_TO_ADD else "do not add"
        facts.append(fact("Decision", decision))
    if state.decision_reason != "":
        facts.append(fact("Reason", state.decision_reason))
        against = gone_against(state)
        if against is not None:
            facts.append(fact("Against the readings", sentence(against, state.units)))
    if state.shots:
        facts.append(fact("Shots", str(len(state.shots))))
    facts.extend(reconcile_facts(state))
    if state.explanation != "":
        facts.append(fact("Explanation", state.explanation))
    latest = latest_reading(state)
    why = "" if latest is None else reason_of(state, latest.eid)
    if why != "":
        facts.append(fact("Final reading was early", why))
    return facts


def _reading(state: State, taken: Taken) -> list[dict[str, str]]:
    choice = state.units
    if taken.assessment is None:
        return []
    figures = figures_of(choice, taken)
    facts = [fact("Read at", day_and_time(taken.moment))]
    for figure in figures:
        facts.append(fact(figure["name"], _value(figure)))
    entry = find_entry(state, taken.eid)
    if entry is not None:
        facts.extend(_answers("reading", entry.data))
    outdoor = taken.reading.outdoor_dry_bulb_k
    if outdoor is not None:
        facts.append(fact("Outdoor air", label("temperature", outdoor, choice)))
    return facts


def _pictures(state: State) -> list[dict[str, str]]:
    """The photos, each with when it was taken and what it shows."""
    found: list[dict[str, str]] = []
    for entry in state.entries:
        href = photo_of(state, entry)
        if href != "":
            line = " ".join([day_and_time(entry.moment), *entry_lines(entry, {})])
            found.append({"href": href, "line": line})
    return found


def _basis(state: State, handbook: Handbook) -> str:
    recorded = ""
    for entry in state.entries:
        if entry.kind == FIRST_KIND:
            recorded = entry.data.get("tables", "")
    basis = "Judged by property tables " + handbook.version
    if recorded not in ("", handbook.version):
        basis = basis + "; the session began with " + recorded
    if state.scale is not None and "" in (state.scale.gauges, state.scale.clamps):
        basis = basis + ". Gauges or clamps not said: usual errors were assumed"
    return basis + ". The manufacturer’s instructions and the law where you work come first."
