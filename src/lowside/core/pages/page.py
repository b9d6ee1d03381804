"""A page as it is handed to the templates, and what is shown where there is none."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Page:
    """A template's name and its context: strings, ints, bools, lists and dicts of these."""

    template: str
    context: Mapping[str, Any]


@dataclass(frozen=True)
class NoPage:
    """There is nothing at this address; `sentence` says what to do."""

    sentence: str


NO_PAGE = NoPage("There is no page at this address.")
NO_SESSION = NoPage("There is no such session on this device.")


NOT_SAVED = "Not saved"
"""Heading of the page after a form that could not be kept."""


def missing(no_page: NoPage, title: str = "Not found") -> Page:
    """The page that says why there is nothing here."""
    context = {"title": title, "page": "missing", "text": no_page.sentence}
    return Page("field/missing.html", context)


def not_stored(title: str, sentence: str) -> Page:
    """The page in place of an answer when nothing was kept. It keeps the draft of its form."""
    context = {"title": title, "page": "not_stored", "text": sentence}
    return Page("field/not_stored.html", context)
