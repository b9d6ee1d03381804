"""Calls on paper: a machine, a checklist and a reading; the apprentice says what to do.

What is right is not written here: the forms go through the same core as at work, and its advice is
the answer. `calls.json` holds what was typed. A simulated unit cannot show these: they are about
the machine, its mode, its instructions, the law and the person, or about a reading it never gives.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from random import Random

from lowside.core.advice.advice import ADD, FINISH, RECOVER, Advice, AdvisedAction
from lowside.core.advice.against import advice_now
from lowside.core.handbook.fields import CHOICE, NUMBER
from lowside.core.handbook.forms import FORMS
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.charging import RECOVER_WORD, WORDS
from lowside.core.pages.recording import Record, record_form, start_data
from lowside.core.session.block import DO_NOT_ADD, GRAVEST_FIRST, WAIT
from lowside.core.session.events import Event, Moment, hlc
from lowside.core.session.fold import fold
from lowside.core.session.state import State, shot_to_weigh
from lowside.library import load_handbook
from lowside.practice.score import Point

FILE = Path(__file__).with_name("calls.json")
PROCEDURE = "hand-valved-three-port"
START_MS = 1_795_620_000_000
"""2026-11-25 [ms since 1970-01-01 UTC]. Our choice: nothing depends on the day."""
SHOWN = {
    "unit": "On the nameplate",
    "machine": "What runs, and how",
    "target": "By its instructions",
    "preconditions": "Looked at before any gauge",
    "cylinder": "The cylinder",
    "start_weight": "On the scale, bare, before the hose went on",
    "reading": "The readings",
}
"""Forms whose answers the apprentice sees. The others are the same in every call."""
ACTS = {
    "reading": "A reading was taken.",
    "shot_open": "A shot was given.",
    "system_stopped": "The unit has stopped.",
    "system_started": "The unit runs again.",
}


@dataclass(frozen=True)
class Call:
    """One call: forms in their order, with seconds before each and what was typed."""

    id: str
    number: int
    moves: tuple[tuple[float, str, Mapping[str, str]], ...]
    also: Mapping[str, str]
    """Other actions that the advice's own sentences name -> the words that name them."""


@dataclass(frozen=True)
class Played:
    """What the program knows, and what it says, when the last form of a call was sent."""

    state: State
    now: Moment
    advice: Advice


@lru_cache(maxsize=1)
def calls() -> tuple[Call, ...]:
    """Every call. Their order is mixed, so that a number says nothing."""
    data = json.loads(FILE.read_text("utf-8"))
    usual = data["usual"]
    found = []
    mixed = sorted(data["calls"], key=lambda one: str(one["id"]))
    Random(len(mixed)).shuffle(mixed)
    for number, one in enumerate(mixed, start=1):
        moves = []
        for wait_s, form, typed in one["moves"]:
            whole = {**usual.get(form, {}), **typed}
            kept = {name: text for name, text in whole.items() if text != ""}
            moves.append((float(wait_s), str(form), kept))
        found.append(Call(one["id"], number, tuple(moves), one.get("also", {})))
    return tuple(found)


def call_by_id(call_id: str) -> Call | None:
    """The call, `None` when none has that id."""
    return next((one for one in calls() if one.id == call_id), None)


@lru_cache(maxsize=128)
def played(call_id: str) -> Played:
    """The call through the real forms.

    Raises
        LookupError: there is no such call, or a form of it is refused.
    """
    call = call_by_id(call_id)
    if call is None:
        raise LookupError(call_id)
    handbook = load_handbook()
    at = START_MS
    events: list[Event] = []

    def write(kind: str, data: Mapping[str, str]) -> None:
        number = len(events) + 1
        eid = f"{call.id}-{number}"
        mono = at - START_MS
        events.append(
            Event(call.id, "paper", number, eid, hlc(at, 0), at, 0, mono, "paper", kind, data)
        )

    write("session.started", start_data({"procedure": PROCEDURE}, handbook) or {})
    for wait_s, form, typed in call.moves:
        at += int(wait_s * 1000)
        state = fold(events, handbook)
        shot = shot_to_weigh(state)
        sent = {**typed, "eid": f"{call.id}-{len(events) + 1}", "step": ""}
        sent["shot"] = "" if shot is None else shot.eid
        now = Moment("paper", at - START_MS, at, 0)
        outcome = record_form(state, Address(FORM, call.id, form), sent, handbook, now)
        if not isinstance(outcome, Record):
            raise LookupError(f"{call.id}: {form} is refused")
        write(outcome.kind, outcome.data)
    state = fold(events, handbook)
    now = Moment("paper", at - START_MS, at, 0)
    return Played(state, now, advice_now(state, now))


def title_of(call: Call) -> str:
    """What kind of machine it is; never what is wrong with it."""
    typed = _typed(call)
    kind = _label("machine", "kind", typed["machine"].get("kind", "split"))
    metering = _label("unit", "metering", typed["unit"].get("metering", ""))
    return f"{typed['unit'].get('refrigerant', '')}, {kind}, {metering}"


def facts_of(call: Call) -> list[tuple[str, list[tuple[str, str]]]]:
    """What the apprentice finds: each form's title with its questions and answers."""
    typed = _typed(call)
    found = []
    for name, title in SHOWN.items():
        form = FORMS[name]
        answers = []
        for field in form.fields:
            value = typed[name].get(field.name, "")
            if value == "" or (name == "preconditions" and not _asked(field.name, typed)):
                continue
            if field.kind == CHOICE:
                value = _label(name, field.name, value)
            elif field.kind == NUMBER:
                value = value.replace("-", "\N{MINUS SIGN}")
            unit = typed[name].get(field.name + "_unit", "")
            answers.append((field.label, value + (" " + unit if unit else "")))
        if answers:
            found.append((title, answers))
    return found


def acts_of(call: Call) -> list[str]:
    """What was done since the checks, and when; empty where that is one reading."""
    found: list[str] = []
    waited_s = 0.0
    for wait_s, form, _ in call.moves:
        waited_s += wait_s
        if form == "preconditions":
            waited_s = 0.0
        if form in ACTS:
            minutes = int(waited_s / 60.0 + 0.5)
            found.append((f"After {minutes} min: " if minutes > 0 else "") + ACTS[form])
            waited_s = 0.0
    return found if len(found) > 1 else []


def word_of(advice: Advice) -> str:
    """The advice as the field page heads it."""
    if advice.action == FINISH and advice.recover_hoses:
        return RECOVER_WORD
    return WORDS[advice.action]


def point(call: Call, advice: Advice, guess: str) -> Point:
    """The score of a guess, with its reason. Another act that the advice names is right too. One
    that keeps charge out, but is another than what is to be done, is half right."""
    reason = advice.reasons[0] if advice.reasons else ""
    if guess == advice.action:
        return Point(2, 2, "You said so too. " + reason)
    if guess in call.also:
        return Point(2, 2, "What you said is right too. " + reason)
    if guess == ADD:
        return Point(0, 2, "Nothing may go in now. " + reason)
    if _keeps_out(advice.action, guess):
        return Point(1, 2, "Half right: that keeps charge out too. " + reason)
    return Point(0, 2, reason)


def _keeps_out(action: AdvisedAction, guess: str) -> bool:
    """Whether a guess harms nobody where something else is to be done. “Wait” means that charge
    goes in later."""
    if action in (RECOVER, FINISH):
        return guess == DO_NOT_ADD
    if guess == WAIT:
        return action == DO_NOT_ADD
    return action in GRAVEST_FIRST and guess in GRAVEST_FIRST


def _typed(call: Call) -> dict[str, Mapping[str, str]]:
    """What was typed last into each form that is shown."""
    found: dict[str, Mapping[str, str]] = {name: {} for name in SHOWN}
    for _, form, typed in call.moves:
        found[form] = typed
    return found


def _asked(field: str, typed: Mapping[str, Mapping[str, str]]) -> bool:
    """Whether a question of the checklist is asked of this refrigerant."""
    handbook = load_handbook()
    if not field.startswith("flammable_"):
        return True
    known = handbook.refrigerants.get(typed["unit"].get("refrigerant", ""))
    return known is not None and known.safety_class in ("A2L", "A3")


def _label(form: str, name: str, value: str) -> str:
    for field in FORMS[form].fields:
        if field.name == name:
            return dict(field.choices).get(value, value)
    return value
