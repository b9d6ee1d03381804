"""The way back from a tap that was wrong: the last entry can be voided where its page led."""

from typing import Any

from lowside.core.handbook.procedure import step_by_id
from lowside.core.pages import addresses
from lowside.core.pages.form import small_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import clock_time, title_of
from lowside.core.session.state import STANDS, Entry, State

UNDO_FORM = 8
"""Number of the form on its page (see `Screen.eid`)."""

UNDONE = (
    "shot.opened",
    "shot.closed",
    "shot.weighed",
    "shot.unweighed",
    "step.done",
    "reading.taken",
    "reading.final",
    "hoses.recover",
    "system.stopped",
    "system.started",
    "hold.started",
    "photo.taken",
)
"""Kinds that have an undo. Any other entry is voided on the timeline."""


def undo_context(screen: Screen) -> dict[str, Any] | None:
    """The last entry and the form that voids it; `None` when there is nothing to undo."""
    state = screen.state
    last = _last(state)
    if state.closed is not None or last is None or last.kind not in UNDONE:
        return None
    back = addresses.current(state.sid)
    step = last.data.get("step", "")
    title = title_of(last.kind)
    if step != "":
        back = addresses.step(state.sid, step)
        known = None if screen.procedure is None else step_by_id(screen.procedure, step)
        if known is not None:
            title = title + ": " + known.title
    return {
        "target": last.eid,
        "line": title + ", " + clock_time(last.moment),
        "form": small_form(screen, "void", UNDO_FORM, back=back, button="Undo"),
    }


def _last(state: State) -> Entry | None:
    """The newest entry by hand, unless it is voided; a practice unit and the
    office write their own."""
    found: Entry | None = None
    for entry in state.entries:
        if not entry.kind.startswith("practice.") and not entry.kind.startswith("office."):
            found = entry
    if found is None or found.status != STANDS:
        return None
    return found
