"""The field pages' addresses, both ways: the server and the phone answer the same ones."""

from dataclasses import dataclass
from typing import Literal

PageName = Literal["home", "current", "step", "form", "timeline", "amend", "ticket", "hoses"]

HOME: PageName = "home"
CURRENT_STEP: PageName = "current"
STEP: PageName = "step"
FORM: PageName = "form"
TIMELINE: PageName = "timeline"
AMEND: PageName = "amend"
TICKET: PageName = "ticket"
HOSES: PageName = "hoses"

FORM_TARGETS: tuple[PageName, ...] = (FORM, AMEND)
"""Pages that take a posted form."""
PRACTICE = "/practice"
"""Where practice sessions' pages are: only the server answers there."""


@dataclass(frozen=True)
class Address:
    """A field page: which page, of what session, about what (step, form, entry or place)."""

    page: PageName
    sid: str = ""
    about: str = ""


def path(address: Address) -> str:
    """`/`, `/s/SID`, `/s/SID/step/baseline`, …"""
    if address.page == HOME:
        return "/"
    base = "/s/" + address.sid
    if address.page == CURRENT_STEP:
        return base
    if address.about == "":
        return base + "/" + address.page
    return base + "/" + address.page + "/" + address.about


def parse_path(text: str) -> Address | None:
    """The page at a path, or `None` when there is none."""
    if text == "/":
        return Address(HOME)
    parts = text.split("/")
    if len(parts) < 3 or parts[0] != "" or parts[1] != "s" or parts[2] == "":
        return None
    if len(parts) == 3:
        return Address(CURRENT_STEP, parts[2])
    if len(parts) == 4:
        for page in (TIMELINE, TICKET):
            if page == parts[3]:
                return Address(page, parts[2])
    if len(parts) == 5 and parts[4] != "":
        for page in (STEP, FORM, AMEND, HOSES, TIMELINE):
            if page == parts[3]:
                return Address(page, parts[2], parts[4])
    return None


def in_practice(session_path: str) -> str:
    """A session's page as a practice session has it: `/practice/s/SID`."""
    return PRACTICE + session_path


def home() -> str:
    return "/"


def current(sid: str) -> str:
    """The session's open step."""
    return path(Address(CURRENT_STEP, sid))


def step(sid: str, step_id: str) -> str:
    return path(Address(STEP, sid, step_id))


def hoses(sid: str, step_id: str) -> str:
    """All pictures of the hoses for a step."""
    return path(Address(HOSES, sid, step_id))


def form(sid: str, form_name: str) -> str:
    """A form outside the steps (a reading at any time, a note, units), and where it is posted."""
    return path(Address(FORM, sid, form_name))


def timeline(sid: str, up_to: int = 0) -> str:
    """Its newest entries, or those up to the one with this number from the first, 1."""
    return path(Address(TIMELINE, sid, str(up_to) if up_to > 0 else ""))


def ticket(sid: str) -> str:
    return path(Address(TICKET, sid))


def photo(sid: str, name: str) -> str:
    """The picture itself, which is no page."""
    return "/photo/" + sid + "/" + name + ".jpg"


def amend(sid: str, eid: str) -> str:
    return path(Address(AMEND, sid, eid))
