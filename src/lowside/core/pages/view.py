"""State in, page out: which template shows an address, and everything it prints.

`view` does all logic and formatting; templates only place what is here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lowside.core.handbook.forms import FORM_OF_KIND, FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import CHARGE_PAGE, open_step, step_by_id
from lowside.core.pages import addresses
from lowside.core.pages.addresses import (
    AMEND,
    CURRENT,
    FORM,
    HOME,
    HOSES,
    STEP,
    TICKET,
    TIMELINE,
    Address,
)
from lowside.core.pages.charging import charge_context
from lowside.core.pages.form import Attempt, filled, full_form, nth_eid
from lowside.core.pages.home import home_context
from lowside.core.pages.parts import alerts, head, tools
from lowside.core.pages.step import hoses_context, step_context
from lowside.core.pages.ticket import ticket_context
from lowside.core.pages.timeline import timeline_context
from lowside.core.pages.wording import clock_seconds, title_of
from lowside.core.session.entry import find_entry
from lowside.core.session.events import Moment
from lowside.core.session.last_visit import last_visit
from lowside.core.session.ledger import CylinderUse
from lowside.core.session.state import LastVisit, State


@dataclass(frozen=True)
class Page:
    """A template's name and its context: strings, ints, bools, lists and dicts of these."""

    template: str
    context: Mapping[str, Any]


@dataclass(frozen=True)
class NoPage:
    """There is nothing at this address; `sentence` says what to do."""

    sentence: str


def home(states: Sequence[State], handbook: Handbook, fresh: str) -> Page:
    """The first page; `states` newest first."""
    return Page("field/home.html", home_context(states, handbook, fresh))


def view(
    state: State,
    address: Address,
    handbook: Handbook,
    now: Moment,
    fresh: str,
    cylinder_uses: Sequence[CylinderUse] = (),
    attempt: Attempt | None = None,
    visits: Sequence[LastVisit] = (),
) -> Page | NoPage:
    """The page of one session at an address.

    Args:
        state: the session, folded with the same handbook.
        address: which page; not HOME.
        now: the clocks, for running times.
        fresh: an unused ULID from which the forms' event ids are made.
        cylinder_uses: earlier sessions' use of cylinders, for the leak check between jobs.
        attempt: a refused form to show again.
        visits: what other sessions say of units, so that facts are not asked twice.
    """
    state = replace(state, last_visit=last_visit(visits, state))
    if address.page == HOME or state.started is None:
        return NoPage("There is no such session on this device.")
    context: dict[str, Any] = {
        "head": head(state),
        "alerts_now": alerts(state),
        "tools": tools(state, address, fresh),
    }
    if address.page == TIMELINE:
        procedure = handbook.procedures.get(state.procedure)
        part = timeline_context(state, procedure, fresh, attempt)
        return Page("field/timeline.html", context | part)
    if address.page == TICKET:
        return Page("field/ticket.html", context | ticket_context(state, handbook))
    if address.page == FORM:
        return _form_page(state, address, handbook, fresh, attempt, context)
    if address.page == AMEND:
        return _amend_page(state, address, handbook, fresh, attempt, context)
    return _step_page(state, address, handbook, now, fresh, cylinder_uses, attempt, context)


def _step_page(
    state: State,
    address: Address,
    handbook: Handbook,
    now: Moment,
    fresh: str,
    cylinder_uses: Sequence[CylinderUse],
    attempt: Attempt | None,
    context: dict[str, Any],
) -> Page | NoPage:
    procedure = handbook.procedures.get(state.procedure)
    if procedure is None:
        return NoPage(
            "This session follows steps this version does not have. Its timeline is still here: "
            + addresses.timeline(state.sid)
        )
    step = open_step(procedure, state.done)
    if address.page in (STEP, HOSES):
        step = step_by_id(procedure, address.about)
        if step is None:
            return NoPage("There is no such step. Go back to the session.")
        if address.page == HOSES:
            pictures = hoses_context(state, procedure, step, handbook)
            if pictures is None:
                return NoPage("There is no picture of the hoses here. Go back to the session.")
            return Page("field/hoses.html", context | pictures)
    if step is None or (address.page == CURRENT and state.closed is not None):
        return Page("field/ticket.html", context | ticket_context(state, handbook))
    part = step_context(state, procedure, step, handbook, now, fresh, cylinder_uses, attempt)
    if step.page != CHARGE_PAGE:
        return Page("field/step.html", context | part)
    part = part | charge_context(state, step, handbook, now, fresh, attempt)
    return Page("field/charge.html", context | part)


def _form_page(
    state: State,
    address: Address,
    handbook: Handbook,
    fresh: str,
    attempt: Attempt | None,
    context: dict[str, Any],
) -> Page | NoPage:
    if address.about not in FORMS or address.about == "void":
        return NoPage("There is no such form. Go back to the session.")
    back = addresses.current(state.sid)
    form = full_form(state, handbook, address.about, nth_eid(fresh, 2), "", back, attempt)
    kind = FORMS[address.about].kind
    return Page(
        "field/form.html",
        context
        | {
            "title": title_of(kind),
            "page": "form",
            "heading": title_of(kind),
            "lead": "",
            "form": form,
            "back": back,
        },
    )


def _amend_page(
    state: State,
    address: Address,
    handbook: Handbook,
    fresh: str,
    attempt: Attempt | None,
    context: dict[str, Any],
) -> Page | NoPage:
    entry = find_entry(state, address.about)
    if entry is None or entry.kind not in FORM_OF_KIND:
        return NoPage("There is no such entry. Go back to the timeline.")
    form = FORM_OF_KIND[entry.kind]
    known = attempt.typed if attempt is not None else entry.data
    fields = filled(state, handbook, form.name, form.fields, known, False, attempt)
    back = addresses.timeline(state.sid)
    fields["action"] = addresses.amend(state.sid, entry.eid)
    fields["eid"] = nth_eid(fresh, 2)
    fields["step"] = ""
    fields["back"] = back
    fields["draft"] = state.sid + "/amend/" + entry.eid
    fields["button"] = "Save the correction"
    return Page(
        "field/form.html",
        context
        | {
            "title": "Correct an entry",
            "page": "form",
            "heading": "Correct: " + title_of(entry.kind) + " of " + clock_seconds(entry.moment),
            "lead": "The old values stay on the timeline’s record; the new ones count from now on.",
            "form": fields,
            "back": back,
        },
    )
