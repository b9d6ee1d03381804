"""A step's page: what to do, why, what to enter, and what is known that helps."""

from collections.abc import Sequence
from typing import Any

from lowside.core.advice.advice import advise
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    OPEN,
    Caution,
    Procedure,
    Step,
    cautions_of,
    is_off_step,
    neighbors,
    off_neighbors,
    off_steps_for,
    steps_of_stage,
    walk_neighbors,
    walk_with,
)
from lowside.core.judging.charge import CALLS_FOR_CHARGE
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.pages import addresses
from lowside.core.pages.acts import acts
from lowside.core.pages.another_cylinder import before_another, purge_again
from lowside.core.pages.facts import facts_for, findings_for
from lowside.core.pages.figures import figures_of
from lowside.core.pages.form import amend_form, full_form, small_form
from lowside.core.pages.hoses import (
    AtHoses,
    at_hoses,
    dangers_here,
    hoses_of_step,
    picture_of_step,
    size_words,
    way_out_is_open,
)
from lowside.core.pages.hoses_left import hose_alerts
from lowside.core.pages.known import known_context, said_at, said_before, warnings_here
from lowside.core.pages.not_yet import is_ahead, not_yet
from lowside.core.pages.parts import WITH_THE_UNIT_RUNNING, alert
from lowside.core.pages.screen import Screen
from lowside.core.pages.sheet import SAVE_ALL, steps_beside, walk_of_page
from lowside.core.pages.undo import undo_context
from lowside.core.pages.waiting import hold_form_of, wait_of
from lowside.core.pages.walk_pictures import picture_of_walk
from lowside.core.pages.walks import is_shut, walk_alerts, walk_facts, ways, words_hidden
from lowside.core.pages.wording import clock_time
from lowside.core.session import gate
from lowside.core.session.entry import why_undecidable
from lowside.core.session.final_wait import reason_of
from lowside.core.session.overriding import needs_a_reason
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    DECIDED_TO_LEAVE,
    Entry,
    State,
    find_entry,
    is_empty,
    latest_reading,
    shot_to_weigh,
    withdrawal_of,
)
from lowside.core.session.walk import step_now

STEP_FORM = 2
DONE_FORM = 3
DISCARD_FORM = 10
"""Numbers of the step's forms on a page (see `Screen.eid`)."""

TITLES_FROM = 3
"""From this many cautions on their titles come before the list. Our choice."""

SHORTENED = (
    "maker_first",
    "pressure",
    "venting",
    "electricity",
    "moving_parts",
    "asphyxiation",
    "cylinder_heat",
)
"""Cautions that are one line after the step where they first matter. The others (liquid, cold,
fire, vacuum) are in full at every act they belong to. Our choice."""
AT_AN_OPEN_VALVE = ("slugging", "cold_burn", "flammable_charge")
"""Cautions of the act at hand while liquid is fed."""

ONE_TAP = (
    "done",
    "hoses_recover",
    "system_stopped",
    "system_started",
    "shot_close",
    "shot_unweighed",
    "hold",
)
"""Forms that are only their button."""

RED_RELIEF = (
    "Keep the high-side manifold valve closed. The red hose’s end is its relief. If it is closed "
    "and the hose is not cleared, open it again. "
)
"""Whatever it ends in, as “Low side closed, cylinder open” says. Common practice, no source."""

FIGURE_FORMS = ("decide", "record")
"""Forms that show the latest reading's figures."""


def step_context(screen: Screen, procedure: Procedure, step: Step) -> dict[str, Any]:
    """Part of the context of `field/step.html` (and of `field/charge.html`)."""
    state = screen.state
    at = at_hoses(state, screen.handbook, procedure, step)
    latest = latest_reading(state)
    shut = is_shut(state, step, screen.now)
    figures: list[dict[str, Any]] = []
    if step.form in FIGURE_FORMS and latest is not None and not shut:
        figures = figures_of(state.units, latest)
    beside = steps_beside(procedure, state, step)
    hidden = words_hidden(state, procedure, step, screen.now)
    form = None
    parts: list[dict[str, Any]] = []
    done_form = None
    if state.closed is None and step.form != "" and not shut:
        back = addresses.step(state.sid, step.id)
        form = full_form(screen, step.form, STEP_FORM, step.id, back)
        read = _reading_of(state, step)
        if read is not None and screen.refused(step.form) is None:
            form = amend_form(screen, read, FORMS[step.form], STEP_FORM, back)
        parts = [_part(screen, procedure, one) for one in beside]
        if parts:
            form["button"] = SAVE_ALL
        if step.form == "decide":
            form = _as_buttons(state, form)
    elif state.closed is None and step.id not in state.done and not shut:
        done_form = small_form(screen, "done", DONE_FORM, step.id)
    return {
        "title": step.title,
        "page": "step",
        "step": _step(screen, procedure, step),
        "walk": walk_of_page(state, procedure, step),
        "facts": facts_for(screen, step.form) + walk_facts(screen, step),
        "figures": figures,
        "reading_href": add_to_reading(state) if figures else "",
        "findings_now": findings_for(screen, said_at(procedure, step)),
        "form": form,
        "parts": parts,
        "others": " ".join([one.id for one in beside]),
        "known": known_context(screen, step.form),
        "done_form": done_form,
        "wait": wait_of(state, procedure, step, screen.now),
        "hold": None if hidden else hold_form_of(screen, step),
        "stop_near": (at is not None and step.form == "") or step.id in WITH_THE_UNIT_RUNNING,
        "links": {
            "units": addresses.form(state.sid, "units"),
            "units_line": units_line(state.units),
        },
        "hoses": _hoses(state, at)
        if at is not None
        else (None if hidden else picture_of_walk(state, screen.handbook, procedure, step)),
        "hoses_href": addresses.hoses(state.sid, step.id) if at is not None else "",
        "step_alerts": walk_alerts(screen, procedure, step)
        + before_another(state, step.form)
        + purge_again(state, procedure, step)
        + _step_alerts(screen, procedure, step)
        + _hoses_left(screen, step)
        + _dangers(state, step, at),
        "discard": small_form(screen, "discard", DISCARD_FORM) if is_empty(state) else None,
        "way_out": _way_out(state, procedure, step),
        "undo": undo_context(screen),
        "ways": ways(state, procedure, step),
    }


def _as_buttons(state: State, form: dict[str, Any]) -> dict[str, Any]:
    """The decision as two buttons; the one that the readings call for stands out. “Do not add” is
    the first, so that it is what a keyboard's own key sends. Where no reason opens it, none is
    asked for, but what was typed stays."""
    latest = latest_reading(state)
    called = DECIDED_TO_LEAVE
    shut = why_undecidable(state) != ""
    if latest is not None and latest.assessment is not None and not shut:
        adds = latest.assessment.verdict == CALLS_FOR_CHARGE
        called = DECIDED_TO_ADD if adds and needs_a_reason(latest) is None else called
    labels: dict[str, str] = {}
    for field in FORMS["decide"].fields:
        for code, text in field.choices:
            labels[code] = text
    form["answers"] = [
        {
            "value": code,
            "label": labels[code],
            "style": "primary" if code == called else "secondary",
        }
        for code in (DECIDED_TO_LEAVE, DECIDED_TO_ADD)
    ]
    said = [one for one in form["fields"] if one["kind"] != "choice"]
    form["fields"] = [one for one in said if one["value"] != ""] if shut else said
    return form


def _part(screen: Screen, procedure: Procedure, step: Step) -> dict[str, Any]:
    """A later step of a page that has several: its fields with its own words and cautions."""
    back = addresses.step(screen.sid, step.id)
    form = full_form(screen, step.form, STEP_FORM, step.id, back)
    fields: list[dict[str, Any]] = form["fields"]
    return {
        "step": _step(screen, procedure, step),
        "form": form | {"fields": [one | {"focus": False} for one in fields]},
        "facts": facts_for(screen, step.form),
    }


def hoses_context(screen: Screen, procedure: Procedure, step: Step) -> dict[str, Any] | None:
    """Part of the context of `field/hoses.html`; `None` where there is nothing to draw."""
    state = screen.state
    at = at_hoses(state, screen.handbook, procedure, step)
    if at is None:
        return None
    return {
        "title": "Hoses: " + step.title,
        "page": "hoses",
        "heading": step.title,
        "hoses": hoses_of_step(at, size_words(state), state.units),
        "back": addresses.step(state.sid, step.id),
    }


def _hoses(state: State, at: AtHoses | None) -> dict[str, Any] | None:
    """The hoses' picture, where the step is one at the hoses and their contents can be known.

    Not beside the shots, where every tap counts: there a link leads to it.
    """
    if at is None or at.step.page == CHARGE_PAGE:
        return None
    return picture_of_step(at, size_words(state), state.units)


def units_line(choice: UnitChoice) -> str:
    """`psig, °F, lb+oz, ft`."""
    return ", ".join((choice.pressure, choice.temperature, choice.mass, choice.length))


def _way_out(state: State, procedure: Procedure, step: Step) -> dict[str, str] | None:
    """The link to the close-out with the unit off, from every step with hoses on."""
    if state.closed is not None or not procedure.off_steps:
        return None
    if is_off_step(procedure, step.id) or not way_out_is_open(procedure, step):
        return None
    label = "Unit must stay off? Close out with the unit off"
    if not state.running:
        label = "Unit stays off: close out with the unit off"
    return {"href": addresses.step(state.sid, procedure.off_steps[0].id), "label": label}


def _dangers(state: State, step: Step, at: AtHoses | None) -> list[dict[str, Any]]:
    """What speaks against this step now: what it lets into the suction, and how the unit is then;
    one that heats into the blue hose; what the hose model says at the pressures read last."""
    if state.closed is not None:
        return []
    found: list[dict[str, Any]] = []
    why, cure = "", "Wait until the unit runs in cooling, or close out with the unit off (below)."
    codes = [one.code for one in gate.blocks(state)]
    if "wrong_refrigerant" in codes and (_opens(step, "low") or step.id == "clear_hoses"):
        why = "It lets another refrigerant into the unit."
        cure = "Close out with the unit off (below)."
    elif not state.running and _opens(step, "low"):
        why = "It lets liquid into the suction, and the unit is off."
    elif (step.actions or step.id == "wi_off") and "heating_large_line" in codes:
        why = "The blue hose would see high pressure there."
    elif "reading_stop" in codes and _opens(step, "low"):
        why = "It lets liquid into the suction, and the last reading is a stop."
        cure = "Find the cause and read again, or close out with the unit off (below)."
    if _opens(step, "high") and _opens(step, "low"):
        cure = RED_RELIEF + cure
    if why != "" and (step.stage == "Close out" or step.id == "wi_off"):
        found.append(alert("stop", "Danger.", "Do not do this step now. " + why, cure))
    if at is not None:
        for danger in dangers_here(at):
            found.append(alert("stop", "Danger.", danger.sentence, danger.cure))
    return found


def _hoses_left(screen: Screen, step: Step) -> list[dict[str, Any]]:
    """At the steps that clear the hoses into the unit: whether that is right on this one."""
    opens = [one for one in step.actions if one.to == OPEN]
    if step.stage != "Close out" or not opens:
        return []
    return hose_alerts(screen.state, advise(screen.state, screen.now), True)


def _opens(step: Step, valve: str) -> bool:
    return any(one.valve == valve and one.to == OPEN for one in step.actions)


def _step(screen: Screen, procedure: Procedure, step: Step) -> dict[str, Any]:
    state = screen.state
    before, after = neighbors(procedure, step.id)
    of_stage = steps_of_stage(procedure, step.stage)
    if is_off_step(procedure, step.id):
        withdrawal = withdrawal_of(state)
        before, after = off_neighbors(procedure, step.id, withdrawal)
        of_stage = off_steps_for(procedure, withdrawal)
    if walk_with(procedure, step.id):
        before, after = walk_neighbors(procedure, step.id)
        of_stage = walk_with(procedure, step.id)
    number = [other.id for other in of_stage].index(step.id) + 1
    first_open = step_now(procedure, state)
    safety_class = "" if state.refrigerant is None else state.refrigerant.safety_class
    cautions = cautions_of(step, screen.handbook.cautions, safety_class)
    in_full = _in_full(procedure, step, cautions)
    short = [caution for caution in cautions if caution not in in_full]
    if said_before(state, procedure, step):
        told = warnings_here(screen, procedure, step)
        short = [Caution("", word, text) for word, text in told] + short
    return {
        "id": step.id,
        "title": step.title,
        "progress": step.stage + ", step " + str(number) + " of " + str(len(of_stage)),
        "done_line": _done_line(state, step),
        "ahead": "“" + first_open.title + "” is not done yet."
        if first_open is not None and is_ahead(procedure, step, first_open)
        else "",
        "ahead_href": addresses.current(state.sid),
        "cautions": _texts(in_full),
        "cautions_short": _texts(short),
        "caution_titles": _titles(step, in_full),
        "do": [] if words_hidden(state, procedure, step, screen.now) else acts(state, step),
        "why": step.why,
        "done_when": step.done_when,
        "previous": addresses.step(state.sid, before.id) if before is not None else "",
        "previous_title": before.title if before is not None else "",
        "next": addresses.step(state.sid, after.id) if after is not None else "",
        "next_title": after.title if after is not None else "",
    }


def _in_full(procedure: Procedure, step: Step, cautions: Sequence[Caution]) -> list[Caution]:
    """The cautions that the page says in full; the others are one line that opens."""
    earlier: list[str] = []
    for before in _way_with(procedure, step):
        if before.id == step.id:
            break
        earlier.extend(before.cautions)
    found: list[Caution] = []
    for caution in cautions:
        if caution.code not in SHORTENED or caution.code not in earlier:
            found.append(caution)
    return found


def _way_with(procedure: Procedure, step: Step) -> Sequence[Step]:
    """All steps of the way this one is on, in order."""
    if is_off_step(procedure, step.id):
        return procedure.off_steps
    walk = walk_with(procedure, step.id)
    return walk if walk else procedure.steps


def cautions_at_valve(screen: Screen, step: Step) -> dict[str, Any]:
    """What must be in sight while the valve is open, and what is one line then."""
    safety_class = "" if screen.state.refrigerant is None else screen.state.refrigerant.safety_class
    cautions = cautions_of(step, screen.handbook.cautions, safety_class)
    return {
        "full": _texts([one for one in cautions if one.code in AT_AN_OPEN_VALVE]),
        "short": _texts([one for one in cautions if one.code not in AT_AN_OPEN_VALVE]),
    }


def _texts(cautions: Sequence[Caution]) -> list[dict[str, str]]:
    return [
        {
            "title": caution.title,
            "text": caution.text,
            # Several on one line: what one says ends before the next begins.
            "short": caution.title[:-1] + ";" if i < len(cautions) - 1 else caution.title,
        }
        for i, caution in enumerate(cautions)
    ]


def _titles(step: Step, cautions: Sequence[Caution]) -> list[str]:
    """What the cautions in full are about, said first: they come after the form, and one or two
    after a short list follow soon enough."""
    if step.form == "" and len(cautions) < TITLES_FROM:
        return []
    return [caution.title for caution in cautions]


def _done_line(state: State, step: Step) -> str:
    eid = state.done.get(step.id, "")
    for entry in state.entries:
        if entry.eid == eid and eid != "":
            return "Done " + clock_time(entry.moment)
    return ""


def _step_alerts(screen: Screen, procedure: Procedure, step: Step) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    attempt = screen.attempt
    if attempt is not None and _has_no_field_here(screen.state, attempt.form):
        found.append(alert("warn", "Not saved.", attempt.message))
    if not said_before(screen.state, procedure, step):
        for word, sentence in warnings_here(screen, procedure, step):
            found.append(alert("warn", word, sentence))
    found.extend(not_yet(screen.state, procedure, step))
    return found


def _has_no_field_here(state: State, form: str) -> bool:
    """Whether this page has no fields beside which to say why the form was refused."""
    if form == "shot_weigh":
        return shot_to_weigh(state) is None
    return form in ONE_TAP


def _reading_of(state: State, step: Step) -> Entry | None:
    """The reading that completed this step, while it is still the newest: the form then corrects it
    or adds to it, and a value that was forgotten does not cost the others."""
    if step.form not in ("reading", "final_reading") or not state.readings:
        return None
    newest = state.readings[len(state.readings) - 1]
    if newest.eid != state.done.get(step.id, "") or newest.shots_before != len(state.shots):
        return None
    if reason_of(state, newest.eid) != "":
        return None  # It was too early: what is read later is another reading.
    return find_entry(state, newest.eid)


def add_to_reading(state: State) -> str:
    """Where the newest reading is corrected or added to; "" when there is none, or a shot since."""
    if state.closed is not None or not state.readings:
        return ""
    newest = state.readings[len(state.readings) - 1]
    if newest.shots_before != len(state.shots):
        return ""
    return addresses.amend(state.sid, newest.eid)
