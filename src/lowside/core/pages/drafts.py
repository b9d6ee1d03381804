"""What was typed and not saved: the phone puts it back, but not where it is no longer true."""

from lowside.core.advice.ground import OLD_READING_S
from lowside.core.handbook.forms import FORMS
from lowside.core.pages.screen import Screen
from lowside.core.pages.sheet import forms_with
from lowside.core.session.other_cylinder import OF_A_CYLINDER
from lowside.core.session.reads import begun
from lowside.core.session.state import READING_KINDS

OF_BEFORE = "Typed earlier and not saved, no longer true: "


def kept_under(name: str) -> dict[str, str]:
    """The name under which the phone keeps what is typed into a form. `holds`: it goes back only
    where this is still the same; `fresh`: only for so many seconds; `stale`: what is said before
    what was typed where it does not; each "" where it always goes back."""
    return {"draft": name, "holds": "", "fresh": "", "stale": ""}


NO_DRAFT = kept_under("")
"""Nothing is kept."""


def draft_of(screen: Screen, form_name: str) -> dict[str, str]:
    """The same for a form of a session: a reading is of its moment, a weight of its cylinder."""
    kinds = [FORMS[name].kind for name in (form_name, *forms_with(form_name))]
    draft = kept_under(screen.sid + "/" + form_name)
    reads = any(kind in READING_KINDS for kind in kinds)
    if reads or any(kind in OF_A_CYLINDER for kind in kinds):
        state = screen.state
        draft["holds"] = str(begun(state.entries)) + "/" + str(len(state.used_before))
        draft["stale"] = OF_BEFORE
    if reads:
        draft["fresh"] = str(int(OLD_READING_S))
    return draft
