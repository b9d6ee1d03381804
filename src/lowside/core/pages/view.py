"""State in, page out: which template shows an address, and everything it prints.

`view` does all logic and formatting; templates only place what is here.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from lowside.core.handbook.forms import FORM_OF_KIND, FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    charging_step,
    is_off_step,
    off_steps_for,
    step_by_id,
    walk_with,
)
from lowside.core.pages import addresses
from lowside.core.pages.addresses import (
    AMEND,
    CURRENT_STEP,
    FORM,
    HOME,
    HOSES,
    STEP,
    TICKET,
    TIMELINE,
    Address,
)
from lowside.core.pages.another_cylinder import before_another
from lowside.core.pages.charging import charge_context
from lowside.core.pages.form import amend_form, full_form
from lowside.core.pages.home import home_context
from lowside.core.pages.hoses_left import RECOVER_FORM, RECOVERY_LEAD
from lowside.core.pages.page import NO_SESSION, NoPage, Page
from lowside.core.pages.parts import alerts, head, tools, valve_is_open
from lowside.core.pages.screen import Screen
from lowside.core.pages.step import add_to_reading, hoses_context, step_context
from lowside.core.pages.ticket import ticket_context
from lowside.core.pages.timeline import timeline_context
from lowside.core.pages.walks import walk_page_alerts
from lowside.core.pages.wording import clock_seconds, title_of
from lowside.core.session.state import State, find_entry, last_shot_lacks, withdrawal_of
from lowside.core.session.steady import by_the_record
from lowside.core.session.walk import step_now

PAGE_FORM = 2
"""Number of the one form of a form's own page (see `Screen.eid`)."""


def home(states: Sequence[State], handbook: Handbook, fresh: str, older: str = "") -> Page:
    """The first page; `states` newest first, `older` the address of more open ones."""
    return Page("field/home.html", home_context(states, handbook, fresh, older))


def view(screen: Screen, address: Address) -> Page | NoPage:
    """The page of one session at an address; not HOME."""
    screen = replace(screen, now=by_the_record(screen.state, screen.now))
    state = screen.state
    if address.page == HOME or state.started is None:
        return NO_SESSION
    told = valve_is_open(state) + alerts(state)
    if address.page == FORM:
        told = told + before_another(state, address.about)
    context: dict[str, Any] = {
        "head": head(state),
        "alerts_now": told,
        "tools": tools(screen, address),
    }
    if address.page == TIMELINE:
        return Page("field/timeline.html", context | timeline_context(screen, address.about))
    if address.page == TICKET:
        return Page("field/ticket.html", context | _record(screen))
    if address.page == FORM:
        return _form_page(screen, address, context)
    if address.page == AMEND:
        return _amend_page(screen, address, context)
    return _step_page(screen, address, context)


def _step_page(screen: Screen, address: Address, context: dict[str, Any]) -> Page | NoPage:
    state = screen.state
    procedure = screen.procedure
    if procedure is None:
        return NoPage(
            "This version does not have this session’s steps. Its timeline is still here: "
            + addresses.timeline(state.sid)
        )
    step = step_now(procedure, state)
    if address.page in (STEP, HOSES):
        step = step_by_id(procedure, address.about)
        if step is None:
            return NoPage("There is no such step. Go back to the session.")
        off = [one.id for one in off_steps_for(procedure, withdrawal_of(state))]
        if is_off_step(procedure, step.id) and step.id not in off:
            return NoPage("This step is for another kind of cylinder. Go back to the session.")
        if address.page == HOSES:
            pictures = hoses_context(screen, procedure, step)
            if pictures is None:
                return NoPage("There is no picture of the hoses here. Go back to the session.")
            return Page("field/hoses.html", context | pictures)
    if address.page == CURRENT_STEP and state.closed is not None:
        step = charging_step(procedure) if last_shot_lacks(state) else None
    if step is None:
        return Page("field/ticket.html", context | _record(screen))
    part = step_context(screen, procedure, step)
    if walk_with(procedure, step.id):
        part["alerts_now"] = valve_is_open(state) + walk_page_alerts(state)
    if step.form == "record" and part["form"] is not None:
        return Page("field/ticket.html", context | part | _record(screen) | {"signing": part})
    if step.page != CHARGE_PAGE:
        return Page("field/step.html", context | part)
    charge = charge_context(screen, step)
    if charge["valve"] is None:
        return Page("field/charge.html", context | part | charge)
    return Page("field/shot.html", context | part | charge | {"alerts_now": alerts(state)})


def _record(screen: Screen) -> dict[str, Any]:
    """The record to read; `signing` is the step at which it is signed, on the same page."""
    return ticket_context(screen.state, screen.handbook) | {"signing": None}


def _form_page(screen: Screen, address: Address, context: dict[str, Any]) -> Page | NoPage:
    if address.about not in FORMS or address.about == "void":
        return NoPage("There is no such form. Go back to the session.")
    title = title_of(FORMS[address.about].kind)
    back = addresses.current(screen.sid)
    own = {
        "title": title,
        "page": "form",
        "heading": title,
        "lead": RECOVERY_LEAD if address.about == RECOVER_FORM else "",
        "reading_href": add_to_reading(screen.state) if address.about == "reading" else "",
        "form": full_form(screen, address.about, PAGE_FORM, "", back),
        "back": back,
    }
    return Page("field/form.html", context | own)


def _amend_page(screen: Screen, address: Address, context: dict[str, Any]) -> Page | NoPage:
    entry = find_entry(screen.state, address.about)
    form = None if entry is None else FORM_OF_KIND.get(entry.kind)
    if entry is None or form is None:
        return NoPage("There is no such entry. Go back to the timeline.")
    back = addresses.timeline(screen.sid)
    own = {
        "title": "Correct an entry",
        "page": "form",
        "heading": "Correct: " + title_of(entry.kind) + " of " + clock_seconds(entry.moment),
        "reading_href": "",
        "lead": "The new values count from now on. The old ones stay on the timeline.",
        "form": amend_form(screen, entry, form, PAGE_FORM, back),
        "back": back,
    }
    return Page("field/form.html", context | own)
