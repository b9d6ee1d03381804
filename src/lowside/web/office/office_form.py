"""The office's forms: no script is on its pages, so the page itself says where to go on."""

from collections.abc import Mapping
from typing import Any

from lowside.core.handbook.fields import Form
from lowside.core.pages.form import Posting, Prefill, form_context
from lowside.core.pages.recording import SAVED_BEFORE
from lowside.core.pages.screen import Attempt, Screen
from lowside.core.session.entry import kept_data


def office_form(screen: Screen, form: Form, filling: Prefill, posting: Posting) -> dict[str, Any]:
    """A form for `office/_refused.html`.

    Returns
        The form, and `refused`: what kept it from being saved, "" when nothing did. That sentence
        takes the focus, so the keyboard goes on at the form and not at the top of the page.
    """
    context = form_context(screen, form, filling, posting)
    fields = [*context["fields"], *context["more"]]
    wrong = [str(field["label"]) for field in fields if field["problem"]]
    refused = context["message"]
    if refused == "" and wrong:
        refused = f"Not saved. Look at: {', '.join(wrong)}."
    return context | {"message": "", "refused": refused}


def saved_before(
    form: Form, typed: Mapping[str, str], written: Mapping[str, str]
) -> Attempt | None:
    """What to show when this very form was saved already, and says something else now.

    Args:
        written: what is written of it.
    """
    if kept_data(form, written) == kept_data(form, typed):
        return None
    return Attempt(form.name, typed, {}, SAVED_BEFORE)
