"""What every page of a session carries: its head, its alerts, the tools at any time."""

from typing import Any, Literal

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.procedure import walk_with
from lowside.core.pages import addresses
from lowside.core.pages.addresses import CURRENT_STEP, Address
from lowside.core.pages.form import small_form
from lowside.core.pages.home import NEW_SESSION, unit_name
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import ticket_number, title_of
from lowside.core.session import block, gate
from lowside.core.session.block import Block
from lowside.core.session.state import State, open_shot
from lowside.core.session.unit import designation
from lowside.core.session.walk import step_now

AlertLevel = Literal["stop", "warn"]
"""How an alert looks and is read out."""

STOP_FORM = 1
"""Number of the stop button's form on a page (see `Screen.eid`)."""


def head(state: State) -> dict[str, Any]:
    """The strip on top: which unit, which refrigerant, which ticket."""
    return {
        "home": addresses.home(),
        "where": unit_name(state) if state.job is not None else NEW_SESSION,
        "refrigerant": designation(state.unit_texts),
        "practice": state.practice,
        "ticket": ticket_number(state.sid),
    }


def alerts(state: State) -> list[dict[str, Any]]:
    """What must not be overlooked on any page."""
    if state.closed is not None:
        return []
    shown = []
    for each in gate.blocks(state):
        if each.instead == block.STOP:
            shown.append(block_alert(state, each, "stop", "Stop."))
        elif each.instead == block.WEIGH_IN and each.code != "reading_weigh_in":
            shown.append(block_alert(state, each, "stop", "Do not add."))
    return shown


def valve_is_open(state: State) -> list[dict[str, Any]]:
    """Said first on every page but the one that has the clock and the button to end the shot."""
    if open_shot(state) is None:
        return []
    told = alert("stop", "Valve is open.", "Close it, then end the shot.")
    return [told | {"href": addresses.current(state.sid), "link": "Go to the open valve"}]


def block_alert(state: State, one: Block, level: AlertLevel, word: str) -> dict[str, Any]:
    """A reason not to add, with the way to the form that answers it."""
    return with_form(state, alert(level, word, one.sentence, one.cure), one.form)


def with_form(state: State, shown: dict[str, Any], form: str) -> dict[str, Any]:
    """An alert with the way to the form that answers it, if there is one."""
    if form != "":
        shown["href"] = addresses.form(state.sid, form)
        shown["link"] = "Open “" + title_of(FORMS[form].kind) + "”"
    return shown


def alert(level: AlertLevel, word: str, text: str, cure: str = "") -> dict[str, Any]:
    """One alert."""
    return {"level": level, "word": word, "text": text, "cure": cure, "href": "", "link": ""}


WITH_THE_UNIT_RUNNING = ("wi_run", "wi_rest", "wi_off")
"""Steps of the walks at which the unit runs. At the others it is locked out."""


def _locked_out(screen: Screen, address: Address) -> bool:
    """Whether the page is a walk's step with the unit off, where nobody stops it any more."""
    procedure = screen.procedure
    if procedure is None or address.page not in (CURRENT_STEP, addresses.STEP):
        return False
    step_id = address.about
    if address.page == CURRENT_STEP:
        now = step_now(procedure, screen.state)
        step_id = "" if now is None else now.id
    return step_id not in WITH_THE_UNIT_RUNNING and len(walk_with(procedure, step_id)) > 0


def tools(screen: Screen, address: Address) -> dict[str, Any]:
    """Links and the stop button, on every page of an open session."""
    state = screen.state
    stop = None
    if state.closed is None and not _locked_out(screen, address):
        back = addresses.path(address)
        if address.page not in (CURRENT_STEP, addresses.STEP):
            back = addresses.current(state.sid)
        name = "system_stopped" if state.running else "system_started"
        stop = small_form(screen, name, STOP_FORM, back=back)
    return {
        "stop": stop,
        "reading": addresses.form(state.sid, "reading"),
        "note": addresses.form(state.sid, "note"),
        "photo": "" if state.practice else addresses.form(state.sid, "photo"),
        "timeline": addresses.timeline(state.sid),
        "open": state.closed is None,
    }
