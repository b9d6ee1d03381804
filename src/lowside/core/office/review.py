"""The office's review of a session: comments and the sign-off, each an event with its writer.

A sign-off covers what was there. When anything else is written later, or arrives later, the
session needs a look again.
"""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.fields import Field, Form, text_field
from lowside.core.judging.charge import Assessment, Verdict
from lowside.core.numbers.units import label
from lowside.core.session.corrections import owners
from lowside.core.session.events import Moment, writer_of
from lowside.core.session.state import STANDS, State

COMMENT = Form(
    "comment",
    "office.commented",
    "Save the comment",
    (Field("comment", "Comment", required=True, longest=1000),),
)

SIGN_OFF = Form(
    "sign_off",
    "office.signed_off",
    "Sign off",
    (text_field("signed", "Signed off by", required=True), Field("remark", "Remark", longest=500)),
)

JUDGED = ("verdict", "superheat", "subcooling", "tables")
"""What a sign-off keeps of how the session was judged then."""

ENTRIES = "entries"
"""How many entries a sign-off is made for: one written before it may arrive after it."""
ARRIVED = "Entries arrived since. Look again, then sign off."


@dataclass(frozen=True)
class Comment:
    eid: str
    moment: Moment
    by: str
    text: str


@dataclass(frozen=True)
class SignOff:
    """Who signed off, when, and how the session was judged then, as it was shown."""

    moment: Moment
    signed: str
    remark: str
    judged: tuple[tuple[str, str], ...]
    flags: tuple[str, ...] | None
    """Codes of the flags it was shown with; `None` in older entries."""


@dataclass(frozen=True)
class Review:
    comments: tuple[Comment, ...]
    signed: SignOff | None
    changed_since: bool
    """Something was written to the session after the sign-off, or arrived after it."""

    @property
    def is_signed(self) -> bool:
        return self.signed is not None and not self.changed_since


def review_of(state: State) -> Review:
    """What the office wrote of a session that still counts."""
    comments: list[Comment] = []
    signed: SignOff | None = None
    changed = False
    covered = ""
    signs = any(entry.kind == SIGN_OFF.kind for entry in state.entries)
    others = not_the_offices(state) if signs else set()
    for entry in state.entries:
        if entry.kind == SIGN_OFF.kind and entry.status == STANDS:
            judged = [(name, entry.data[name]) for name in JUDGED if name in entry.data]
            signed = SignOff(
                entry.moment,
                entry.data.get("signed", ""),
                entry.data.get("remark", ""),
                tuple(judged),
                tuple(entry.data["flags"].split()) if "flags" in entry.data else None,
            )
            changed = False
            covered = entry.data.get(ENTRIES, "")
        elif entry.kind == COMMENT.kind and entry.status == STANDS:
            text = entry.data.get("comment", "")
            comments.append(Comment(entry.eid, entry.moment, entry.data.get("by", ""), text))
        elif entry.eid in others:
            changed = True
    if covered != "":
        changed = covered != covers_now(state)
    return Review(tuple(comments), signed, changed)


def covers_now(state: State) -> str:
    """What a sign-off keeps as ENTRIES."""
    return str(len(not_the_offices(state)))


def not_the_offices(state: State) -> set[str]:
    """Entries that are not the office's own, nor voids of those, nor a choice of units."""
    owned = owners(state.entries)
    return {
        one.eid
        for one in state.entries
        if not one.kind.startswith("office.")
        and one.kind != "units.set"
        and not (one.kind == "event.voided" and one.eid in owned)
    }


def offices_own(state: State, writer: str) -> set[str]:
    """The office's entries that it may void on the server `writer`, and the voids of those."""
    owned = owners(state.entries)
    return {
        one.eid
        for one in state.entries
        if owned.get(one.eid, "") == writer_of(writer) == writer_of(one.dev)
        and (one.kind == "event.voided" or one.kind.startswith("office."))
    }


def without_effect(state: State) -> set[str]:
    """Voids and corrections of the office's entries, or of a session's start, by whoever may not:
    some are from before that was refused."""
    owned = owners(state.entries)
    return {
        one.eid
        for one in state.entries
        if one.eid in owned
        and one.kind in ("event.voided", "event.amended")
        and (one.kind == "event.amended" or owned[one.eid] != writer_of(one.dev))
    }


def judged_now(
    state: State, assessment: Assessment | None, tables: str, signed: SignOff | None = None
) -> dict[str, str]:
    """How the last reading is judged, as text: a sign-off keeps it, the page shows it beside, in
    the degrees of the one that is `signed`. Another choice of units since changes no figure."""
    degrees = state.units.temperature
    for name, text in () if signed is None else signed.judged:
        for one in ("°F", "°C") if name in ("superheat", "subcooling") else ():
            degrees = one if text.endswith(" " + one) else degrees
    found: dict[str, str] = {"tables": tables}
    if assessment is None:
        return found
    found["verdict"] = VERDICT_NAMES[assessment.verdict]
    for name, value in (
        ("superheat", assessment.measured.superheat_k),
        ("subcooling", assessment.measured.subcooling_k),
    ):
        if isinstance(value, float):
            found[name] = label("temperature_difference", value, degrees)
    return found


VerdictName = Literal[
    "Undercharged",
    "On target",
    "Overcharged",
    "Another fault",
    "Nearly empty",
    "Unsafe",
    "Not known",
]
"""How a reading is judged, in words."""

VERDICT_NAMES: dict[Verdict, VerdictName] = {
    "add": "Undercharged",
    "on_target": "On target",
    "over": "Overcharged",
    "do_not_add": "Another fault",
    "weigh_in": "Nearly empty",
    "stop": "Unsafe",
    "unknown": "Not known",
}
