"""A filled-in form in, an event's content and the next page out; the same on server and phone."""

from collections.abc import Mapping
from dataclasses import dataclass

from lowside.core.advice.against import why_no_shot
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    RECOVER_STAGE,
    WEIGH_IN_STAGE,
    off_neighbours,
    walk_neighbours,
    walk_of,
)
from lowside.core.pages import addresses
from lowside.core.pages.addresses import AMEND, CURRENT, FORM, STEP, TIMELINE, Address, parse_path
from lowside.core.pages.form import asked_of
from lowside.core.pages.screen import Attempt
from lowside.core.session.entry import Accepted, accept, accept_amendment, find_entry
from lowside.core.session.events import Moment
from lowside.core.session.state import Entry, State, withdrawal_of
from lowside.core.session.taps import tapped_again

SHOT_FORMS = ("shot_open", "shot_close", "shot_weigh", "shot_unweighed")

PROGRAM = "1"
"""Version of the rules a session was started under, written into its first event."""


ALL_GOOD = "all_good"
"""What the button sends that answers a whole checklist."""

HIDDEN = ("eid", "step", "back", "shot", ALL_GOOD)
"""Fields every form carries beside what the technician typed."""


@dataclass(frozen=True)
class Record:
    """Write this event, then show `next_path`."""

    kind: str
    data: Mapping[str, str]
    next_path: str


@dataclass(frozen=True)
class AlreadyRecorded:
    """The same form was sent before, or its page came up under a second tap: nothing to write,
    show `next_path`."""

    next_path: str


@dataclass(frozen=True)
class Refusal:
    """Write nothing; show `address` again with everything typed and what is wrong."""

    address: Address
    attempt: Attempt


def record_form(
    state: State, address: Address, sent: Mapping[str, str], handbook: Handbook, now: Moment
) -> Record | AlreadyRecorded | Refusal:
    """Decide what a posted form becomes.

    Args:
        state: the session so far, folded with the same handbook.
        address: where it was posted: a FORM page with the form's name, or an AMEND page with the
            entry's eid.
        sent: every field sent, with the hidden `eid`, `step` and `back`.
        handbook: what judges plausibility.
        now: the clocks, which tell a second tap that fell on the next page.
    """
    name = address.about
    typed = _with_the_rest_good(state, name, sent)
    if address.page == AMEND:
        accepted = accept_amendment(state, address.about, typed, handbook)
        name = "amend"
    else:
        accepted = accept(state, address.about, typed, handbook)
    earlier = find_entry(state, typed.get("eid", ""))
    if earlier is not None and _says_the_same(earlier, typed):
        return AlreadyRecorded(_next_path(address, typed, state, handbook))
    if address.page == FORM and tapped_again(state, address.about, now):
        return AlreadyRecorded(_same_path(address, typed, state, handbook))
    if not isinstance(accepted, Accepted):
        attempt = Attempt(name, typed, accepted.problems, accepted.message)
        return Refusal(_address_again(address, typed), attempt)
    if earlier is not None:
        # Back and Save again: the page is older than its own entry.
        message = "This was saved before with other values. Save again to add what it says now."
        return Refusal(_address_again(address, typed), Attempt(name, typed, {}, message))
    against = why_no_shot(state, now) if name == "shot_open" else ""
    if against != "":
        return Refusal(_address_again(address, typed), Attempt(name, typed, {}, against))
    return Record(accepted.kind, accepted.data, _next_path(address, typed, state, handbook))


def _with_the_rest_good(state: State, name: str, sent: Mapping[str, str]) -> Mapping[str, str]:
    """What one tap on “all as it should be” says: every question of the checklist that has no
    answer of its own is answered the way it should be."""
    if sent.get(ALL_GOOD, "") == "" or name not in FORMS:
        return sent
    typed = dict(sent)
    for field in FORMS[name].fields:
        if field.good != "" and typed.get(field.name, "") == "" and asked_of(state, field):
            typed[field.name] = field.good
    return typed


def start_data(typed: Mapping[str, str], handbook: Handbook) -> dict[str, str] | None:
    """Data of a session's first event, or `None` when it names no known procedure."""
    procedure = typed.get("procedure", "")
    if procedure not in handbook.procedures:
        return None
    return {"procedure": procedure, "tables": handbook.version, "rules": PROGRAM}


def _says_the_same(earlier: Entry, typed: Mapping[str, str]) -> bool:
    for name, text in earlier.written.items():
        if name not in ("target", "shot") and typed.get(name, "") != text:
            return False
    for name, text in typed.items():
        ignored = name in HIDDEN or name.endswith("_unit")
        if not ignored and text.strip() != "" and name not in earlier.written:
            return False
    return True


def _address_again(address: Address, typed: Mapping[str, str]) -> Address:
    """The page a refused form came from."""
    if address.page == AMEND:
        return address
    if address.about in SHOT_FORMS:
        return Address(CURRENT, address.sid)
    step = typed.get("step", "")
    if step != "":
        return Address(STEP, address.sid, step)
    if address.about == "void":
        return Address(TIMELINE, address.sid)
    return Address(FORM, address.sid, address.about)


def _same_path(address: Address, typed: Mapping[str, str], state: State, handbook: Handbook) -> str:
    """The page whose button was tapped before it could be read."""
    step = typed.get("step", "")
    if step != "":
        return addresses.step(address.sid, step)
    return _next_path(address, typed, state, handbook)


def _next_path(address: Address, typed: Mapping[str, str], state: State, handbook: Handbook) -> str:
    if address.about == "discard":
        return addresses.home()
    back = parse_path(typed.get("back", ""))
    if address.page == AMEND:
        if back is not None and back.sid == address.sid:
            return addresses.path(back)
        return addresses.timeline(address.sid)
    if typed.get("step", "") != "":
        procedure = handbook.procedures.get(state.procedure)
        if procedure is not None:
            after = off_neighbours(procedure, typed["step"], withdrawal_of(state))[1]
            if after is None:
                after = walk_neighbours(procedure, typed["step"])[1]
            chosen = typed.get("rc_next", "")
            if chosen == "another":
                after = walk_of(procedure, RECOVER_STAGE)[1]
            elif chosen == "weigh_in":
                after = walk_of(procedure, WEIGH_IN_STAGE)[0]
            if after is not None:
                return addresses.step(address.sid, after.id)
        return addresses.current(address.sid)
    if back is not None and back.sid == address.sid:
        return addresses.path(back)
    return addresses.current(address.sid)
