"""A form as the templates show it: every field with its unit, value, hint and problem."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lowside.core.advice.ground import OLD_READING_S
from lowside.core.handbook.fields import CHOICE, FILE, NUMBER, REFRIGERANT, Field, Form
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.refrigerants import flammable
from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass_unit, unit_for
from lowside.core.numbers.units import IN_WORDS, show
from lowside.core.pages import addresses
from lowside.core.pages.drafts import draft_of, kept_under
from lowside.core.pages.figures import without_figures
from lowside.core.pages.folded import (
    AIR_FIELDS,
    ASKED_BACK,
    CHART_FIELDS,
    MORE_LABELS,
    family,
    folded_away_of,
    is_unfolded,
    kept_back,
)
from lowside.core.pages.keys import keys_of, typed_last, typed_right
from lowside.core.pages.screen import SHOWN, Attempt, Screen
from lowside.core.pages.sheet import forms_with
from lowside.core.pages.wording import ago, day
from lowside.core.session.events import age_s
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS, questions_for
from lowside.core.session.last_end import text_then
from lowside.core.session.last_visit import HOSE_FACTS, LastVisit, begun_on, newest
from lowside.core.session.ledger import left_kg
from lowside.core.session.shots import PLANNED
from lowside.core.session.state import GROSS, STANDS, Entry, State, recovers_hoses
from lowside.core.session.steady import after_a_break, still_counts
from lowside.core.session.walk import LOTS, WALK_KINDS

ONE_AT_A_TIME = ("reading", "final_reading", "note", "shot_open", "shot_close", "shot_weigh")
"""Forms that record something new each time, so what was entered last is not filled in again."""

JUDGED_BY = (
    "suction_pressure",
    "suction_line",
    "liquid_pressure",
    "liquid_line",
    "outdoor_dry_bulb",
    "return_dry_bulb",
    "maker_subcooling",
    "maker_approach",
)
"""May be left empty, but then the charge is not judged. The last two are of units so judged."""

TYPED_AT_ONCE = ("scale_after", "gross")
"""What a page of one number asks: it takes the focus by itself."""

CAPS_STEP = "caps"
"""The step that is done when the ports are leak-checked and capped."""

LONG_TEXTS = ("text", "explanation", "comment")


@dataclass(frozen=True)
class Prefill:
    """What a form's fields show: texts by name, and what is wrong with them."""

    known: Mapping[str, str]
    attempt: Attempt | None
    before: LastVisit | None = None
    """Whose last reading is said beside the boxes."""


@dataclass(frozen=True)
class Posting:
    """Where a form is sent, and what is sent along."""

    action: str
    eid: str
    step: str
    back: str
    draft: Mapping[str, str]
    """How the phone keeps what is typed until it is saved."""
    button: str


def small_form(
    screen: Screen, form_name: str, number: int, step: str = "", back: str = "", button: str = ""
) -> dict[str, Any]:
    """A form that is only its button; `number` is the form's on its page."""
    return {
        "action": addresses.form(screen.sid, form_name),
        "eid": screen.eid(number),
        "step": step,
        "back": back,
        "button": button if button != "" else FORMS[form_name].button,
    }


def full_form(screen: Screen, form_name: str, number: int, step: str, back: str) -> dict[str, Any]:
    """A form with its fields, filled with what was typed, else with what was saved."""
    form = FORMS[form_name]
    posting = Posting(
        addresses.form(screen.sid, form_name),
        screen.eid(number),
        step,
        back,
        draft_of(screen, form_name),
        form.button,
    )
    return form_context(screen, form, _filling(screen, form), posting)


def amend_form(screen: Screen, entry: Entry, form: Form, number: int, back: str) -> dict[str, Any]:
    """The form of an entry, filled with what it says, to correct it."""
    attempt = screen.refused("amend")
    if attempt is None:
        attempt = Attempt("amend", entry.data, without_figures(screen.state, entry.eid))
    posting = Posting(
        addresses.amend(screen.sid, entry.eid),
        screen.eid(number),
        "",
        back,
        kept_under(screen.sid + "/amend/" + entry.eid),
        "Save the correction",
    )
    return form_context(screen, form, Prefill(attempt.typed, attempt), posting)


def _filling(screen: Screen, form: Form) -> Prefill:
    tried = screen.refused(form.name)
    if tried is None:
        tried = _refused_above(screen, form)
    if tried is not None:
        return Prefill(tried.typed, tried, _before(screen, form))
    if family(form.name) == "reading":
        return Prefill(_air_of_before(screen), None, _before(screen, form))
    if form.name == "photo":
        # A kind that was forgotten would cost the chosen file: no page can fill that in again.
        first = entered_last(screen.state, form.kind) is None
        return Prefill({"photo_kind": "nameplate" if first else "other"}, None)
    undone = form.kind in WALK_KINDS and form.kind not in screen.state.walk
    if form.name in ONE_AT_A_TIME or undone or form.kind in LOTS:
        return Prefill({}, None)
    saved = entered_last(screen.state, form.kind)
    if saved is not None and form.name == "preconditions":
        again = after_a_break(screen.state, screen.now)
        return Prefill({n: t for n, t in saved.items() if n != "steady" or not again}, None)
    if saved is not None:
        return Prefill(saved, None)
    return Prefill(remembered(screen, form.name), None)


def _before(screen: Screen, form: Form) -> LastVisit | None:
    return screen.last_visit if family(form.name) == "reading" else None


def _refused_above(screen: Screen, form: Form) -> Attempt | None:
    """What was typed into this part of a page whose first part was refused."""
    above = screen.attempt
    if above is None or above.form == form.name:
        return None
    if above.form not in forms_with(form.name):
        return None
    return Attempt(form.name, above.typed, above.problems)


def form_context(screen: Screen, form: Form, filling: Prefill, posting: Posting) -> dict[str, Any]:
    """The fields of a form, those folded away apart."""
    tried = Attempt(form.name, {}, {}) if filling.attempt is None else filling.attempt
    folded_away = folded_away_of(screen.state, form.name)
    shown: list[dict[str, Any]] = []
    more: list[dict[str, Any]] = []
    more_open = False
    for field in form.fields:
        if not asked_of(screen.state, field):
            continue
        described = _field(screen, field, filling, tried.problems.get(field.name, ""))
        answer, problem = described["value"], described["problem"]
        if answer == "" and problem == "" and kept_back(screen.state, field.name):
            continue
        if field.name in folded_away:
            more.append(described)
            more_open = more_open or problem != "" or is_unfolded(screen.state, form.name, answer)
        else:
            # Only the first box takes the focus: a page begins at its top.
            if len(shown) > 0:
                described["focus"] = False
            shown.append(described)
    return {
        "message": tried.message,
        "fields": shown,
        "more": more,
        "more_label": MORE_LABELS.get(family(form.name), ""),
        "more_open": more_open,
        "action": posting.action,
        "eid": posting.eid,
        "shown": tried.typed.get(SHOWN, screen.shown),
        "step": posting.step,
        "back": posting.back,
        "button": posting.button,
        "answers": [],
        "has_file": form.name == "photo",
        "checks": [] if _answered(form, filling) else _checks(screen, form),
    } | dict(posting.draft)


def _answered(form: Form, filling: Prefill) -> bool:
    """Whether somebody has answered something here already: then the answers are shown."""
    if filling.attempt is not None:
        return True
    for field in form.fields:
        if field.good != "" and filling.known.get(field.name, "") != "":
            return True
    return False


def _checks(screen: Screen, form: Form) -> list[str]:
    """What one tap says: each question of a checklist with the answer it should have."""
    found: list[str] = []
    for field in form.fields:
        if field.good != "" and asked_of(screen.state, field):
            for code, text in field.choices:
                if code == field.good:
                    found.append(field.label if code == "yes" else text)
            if field.name == "steady" and still_counts(screen.state, screen.now):
                found[len(found) - 1] = field.label + ": by the countdown"
    return found


def remembered(screen: Screen, form_name: str) -> Mapping[str, str]:
    """What holds although nobody entered it here: the units a session starts with, and what the
    last visit wrote of the unit, of its technician and of the scale."""
    visit = screen.last_visit
    if form_name == "job":
        return {"technician": technician_here(screen)}
    here = visit_here(screen, True)
    if form_name == "tare" and here is not None:
        return here.scale
    if form_name == "cylinder":
        return hoses_here(screen)
    if form_name == "record":
        return _signing(screen.state)
    if visit is not None and form_name == "unit":
        return visit.unit
    if visit is not None and form_name == "machine":
        return visit.machine
    if visit is not None and form_name == "target":
        return visit.target
    if form_name != "units":
        return {}
    choice = screen.units
    return {
        "pressure": choice.pressure,
        "temperature": choice.temperature,
        "mass": choice.mass,
        "length": choice.length,
    }


def visit_here(screen: Screen, weighed: bool) -> LastVisit | None:
    """The last session that this session's device began: another device's technician, scale and
    hoses are somebody else's. Where `weighed`, the last that got to the scale."""
    here = begun_on(screen.state)
    visits = [visit for visit in screen.visits if visit.dev == here]
    return newest([visit for visit in visits if not weighed or "scale_mode" in visit.scale])


def technician_here(screen: Screen) -> str:
    """Who worked in it."""
    last = visit_here(screen, False)
    return last.job.get("technician", "") if last is not None else ""


def hoses_here(screen: Screen) -> dict[str, str]:
    """The size of its hoses, where it was typed."""
    last = visit_here(screen, True)
    found: dict[str, str] = {}
    for name in HOSE_FACTS:
        if last is not None and last.cylinder.get(name, "") != "":
            found[name] = last.cylinder[name]
    return found


def _signing(state: State) -> Mapping[str, str]:
    """Who works here, and what the step at the caps has answered."""
    known: dict[str, str] = {}
    if state.job is not None:
        known["signed_by"] = state.job.technician
    if CAPS_STEP in state.done:
        known["caps_checked"] = "yes"
    return known


def entered_last(state: State, kind: str) -> Mapping[str, str] | None:
    """The data of the last entry of a kind that is not voided."""
    found: Mapping[str, str] | None = None
    for entry in state.entries:
        if entry.kind == kind and entry.status == STANDS:
            found = entry.data
    return found


def _air_of_before(screen: Screen) -> Mapping[str, str]:
    """Outdoor and return air as last typed, so that one tap on “save” says that they are as before.
    Not what cannot be, and not for longer than the reading would permit a shot: weather moves
    slowly, but the wet bulb indoors falls while a unit runs. The limit is our choice; instructions
    let a unit settle 10 to 20 min after each change (read in several)."""
    found: dict[str, str] = {}
    for name in AIR_FIELDS + CHART_FIELDS:
        entry = typed_right(screen.state, name)
        if entry is not None and age_s(entry.moment, screen.now) <= OLD_READING_S:
            found[name] = entry.data[name]
            found[name + "_unit"] = entry.data.get(name + "_unit", "")
    return found


def asked_of(state: State, field: Field) -> bool:
    """Whether this unit is asked this; a question already answered stays."""
    if field.name == "rc_flammable":
        return state.refrigerant is not None and flammable(state.refrigerant)
    if field.name in FLAMMABLE_QUESTIONS:
        asked = field.name in questions_for(state.refrigerant)
        return asked or state.checks.get(field.name, "") != ""
    if field.name in PLANNED:
        return False
    if field.name == "hoses_weighed":
        return recovers_hoses(state)
    if field.name != "microchannel_papers":
        return True
    return state.unit_texts.get("coil", "") == "microchannel"


def _field(screen: Screen, field: Field, filling: Prefill, problem: str) -> dict[str, Any]:
    known = filling.known
    value = known.get(field.name, "")
    then = _value_then(screen, field, filling.before)
    same = _weight_then(screen, field) if field.name == "gross" else then
    described: dict[str, Any] = {
        "name": field.name,
        "label": field.label,
        "hint": _hint(screen, field, filling.before, then),
        "keys": keys_of(screen, field, _unit(screen.units, field), value),
        "then": same if value == "" else "",
        "focus": field.name in TYPED_AT_ONCE and value == "",
        "mark": "" if field.required else _mark(field),
        "problem": problem,
        "value": value,
        "unit": "",
        "signed": _may_be_below_zero(screen.state, field),
        "choices": [],
        "short": False,
    }
    if field.kind == CHOICE:
        described["kind"] = "choice"
        described["choices"] = _choices(field.choices, value)
        described["short"] = all(len(text) <= 12 for _, text in field.choices)
    elif field.kind == REFRIGERANT:
        described["kind"] = "select"
        names = tuple((name, name) for name in screen.handbook.refrigerants)
        described["choices"] = _choices(names, value)
    elif field.kind == NUMBER:
        unit = known.get(field.name + "_unit", "")
        described["unit"] = unit if unit != "" else _unit(screen.units, field)
        described["kind"] = "number"
        if described["unit"] in ("lb+oz", IN_WORDS):
            described["kind"] = "weight"
            described["unit"] = IN_WORDS
            described["value"] = _one_box(value, known.get(field.name + "_oz", ""), unit)
    elif field.kind == FILE:
        described["kind"] = "file"
    else:
        described["kind"] = "long" if field.name in LONG_TEXTS else "text"
    return described


def _one_box(pounds: str, ounces: str, unit: str) -> str:
    """A weight in one box, also one that an older entry has in two."""
    if unit != "lb+oz":
        return pounds
    said = pounds + " lb" if pounds.strip() != "" else ""
    if ounces.strip() != "":
        said = said + " " + ounces + " oz"
    return said.strip()


def _mark(field: Field) -> str:
    """What is said of a field that may be left empty."""
    if field.name in ASKED_BACK:
        return ""
    return "needed to judge" if field.name in JUDGED_BY else "optional"


def _may_be_below_zero(state: State, field: Field) -> bool:
    """Whether the scale may show less than zero: not one that shows the cylinder with its hose."""
    gross = state.scale is not None and state.scale.mode == GROSS
    return field.lowest < 0.0 and (field.name == "scale_reading" or not gross)


def _choices(choices: Sequence[tuple[str, str]], value: str) -> list[dict[str, Any]]:
    return [{"value": code, "label": text, "on": code == value} for code, text in choices]


def _unit(choice: UnitChoice, field: Field) -> str:
    if field.name == "scale_resolution":
        return small_mass_unit(choice)
    return unit_for(field.quantity, choice) if field.quantity != "" else ""


def _value_then(screen: Screen, field: Field, before: LastVisit | None) -> str:
    """What a reading’s field said at the end of the last visit, until this one has read it."""
    if before is None or typed_last(screen.state, field.name) is not None:
        return ""
    return text_then(before.reading, field, _unit(screen.units, field))


def _weight_then(screen: Screen, field: Field) -> str:
    """What the cylinder weighed at the end of its last job, before it is weighed here."""
    before = left_kg(screen.state, screen.cylinder_uses)
    if before is None or screen.state.start_weight is not None:
        return ""
    return show("mass", before, _unit(screen.units, field))


def _hint(screen: Screen, field: Field, before: LastVisit | None, then: str) -> str:
    """The field's own hint; the scale and a reading's fields also say what they showed last."""
    state = screen.state
    if field.name == "scale_before" and state.scale is not None and state.last_scale_kg is None:
        return "Read it now: the last shot was not weighed. It says when to close the valve"
    if field.name == "scale_before" and state.last_scale_kg is not None:
        return "Leave empty if it still reads " + label("mass", state.last_scale_kg, state.units)
    if field.name == "scale_after" and state.shot_before_kg is not None:
        return "It read " + label("mass", state.shot_before_kg, state.units) + " before"
    if field.name == "steady" and state.system is not None:
        wait = state.system.papers_wait_s
        if wait is not None:
            return "This unit’s instructions ask for " + label("duration", wait, state.units)
    told = _last_value(screen, field, before, then)
    return field.hint + (". " if "" not in (field.hint, told) else "") + told


def _last_value(screen: Screen, field: Field, before: LastVisit | None, then: str) -> str:
    """What a reading's field showed last, here or at the end of the last visit."""
    last = typed_last(screen.state, field.name)
    if last is not None:
        typed = last.data[field.name] + " " + last.data.get(field.name + "_unit", "")
        return "Last " + typed.strip() + ", " + ago(age_s(last.moment, screen.now))
    if before is None or then == "":
        return ""
    return "On " + day(before.started) + " it was " + then + " " + _unit(screen.units, field)
