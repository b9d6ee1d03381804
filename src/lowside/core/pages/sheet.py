"""Steps that share a page: walks from one step at the hoses to the next, and forms that follow each
other with nothing for the hands between them, saved by one tap.

Each of those forms becomes an entry of its own, in order, as if it had a page of its own. A part
in which nothing was typed is no mistake: its own page comes next.
"""

from typing import Any

from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    Procedure,
    Step,
    position,
    steps_of_stage,
)
from lowside.core.pages import addresses
from lowside.core.session.state import State

SHEETS: dict[str, tuple[str, ...]] = {
    "The unit": ("unit", "machine", "target"),
    "Cylinder and weight": ("cylinder", "start_weight"),
    "Scale and baseline": ("tare", "reading"),
    "Weights": ("end_weight", "reconcile"),
}
"""Titles of pages, and names of the forms that share one when their steps are neighbors. No two
forms of one have a field of the same name."""

SAVE_ALL = "Save this page"

WITH = "with"
"""The hidden field that names the other steps of the page, in order."""
PART = "part"
"""Which part of a page a form is; no page sends it."""


def sheet_title(step: Step) -> str:
    """Title of the page that this step shares; "" when it has a page of its own."""
    for title, forms in SHEETS.items():
        if step.form in forms:
            return title
    return ""


def forms_with(form_name: str) -> tuple[str, ...]:
    """All forms of the page this one is on; empty when it shares none."""
    for forms in SHEETS.values():
        if form_name in forms:
            return forms
    return ()


def steps_beside(procedure: Procedure, state: State, step: Step) -> list[Step]:
    """The steps after this one that its page asks too. A step that is done is corrected alone."""
    found: list[Step] = []
    at = position(procedure, step.id)
    if state.closed is not None or step.id in state.done or at < 0:
        return found
    forms = forms_with(step.form)
    for after in procedure.steps[at + 1 :]:
        if after.form not in forms or after.id in state.done:
            break
        found.append(after)
    return found


GROUP_TITLES: dict[str, str] = {"Connect": "Hook up and purge", "Close out": "Close out the hoses"}


def walk_of_page(state: State, procedure: Procedure, step: Step) -> dict[str, Any] | None:
    """The steps at the hoses that follow each other are one page, which walks from one to the next:
    what is done, what is at hand, what comes. Forms that share a page have its title too."""
    shared = sheet_title(step)
    if shared != "" and position(procedure, step.id) >= 0:
        return {"title": shared, "before": [], "before_line": "", "after": []}
    if step.stage not in GROUP_TITLES or not _walked(step):
        return None
    of_stage = steps_of_stage(procedure, step.stage)
    at = [other.id for other in of_stage].index(step.id)
    first = at
    while first > 0 and _walked(of_stage[first - 1]):
        first = first - 1
    last = at
    while last + 1 < len(of_stage) and _walked(of_stage[last + 1]):
        last = last + 1
    if first == last:
        return None
    before = [
        {
            "title": one.title,
            "href": addresses.step(state.sid, one.id),
            "done": one.id in state.done,
        }
        for one in of_stage[first:at]
    ]
    after = [one.title for one in of_stage[at + 1 : last + 1]]
    done = len([one for one in before if one["done"]])
    return {
        "title": GROUP_TITLES[step.stage],
        "before": before,
        "before_line": str(done) + " of " + str(last - first + 1) + " done",
        "after": after,
    }


def _walked(step: Step) -> bool:
    """Whether the step is one of a walk: nothing to type, or the reading in the close-out."""
    return step.form in ("", "final_reading") and step.page != CHARGE_PAGE
