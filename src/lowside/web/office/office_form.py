"""The office's forms: no script is on its pages, so the page itself says where to go on."""

from typing import Any

from lowside.core.handbook.fields import Form
from lowside.core.pages.form import Posting, Prefill, form_context
from lowside.core.pages.screen import Screen


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
