"""What may be recorded: every form passes here before it becomes an event, on phone and server.

A refusal says, beside each field, what is wrong and what to do. Nothing is recorded then, and the
caller keeps everything typed.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from lowside.core.handbook.fields import REFRIGERANT, Fields, Form, read_fields, typed_names
from lowside.core.handbook.forms import FORM_OF_KIND, FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import (
    HEATING,
    HELD_UNANSWERED,
    PORT_UNANSWERED,
    asks_for_held,
    machine_from,
)
from lowside.core.handbook.procedure import step_by_id
from lowside.core.judging.charge import CALLS_FOR_CHARGE, reason
from lowside.core.judging.findings import sentence
from lowside.core.session import cylinder as cylinders
from lowside.core.session import gate, recovering, scale_entry, weighing, weight_entry
from lowside.core.session.block import BlockCode
from lowside.core.session.corrections import amend_data, owners
from lowside.core.session.flammability import questions_for
from lowside.core.session.other_cylinder import as_before, why_not_another
from lowside.core.session.overriding import needs_a_reason
from lowside.core.session.photos import check_photo
from lowside.core.session.reads import SHOTS_KNOWN
from lowside.core.session.shots import PLANNED
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    STANDS,
    Entry,
    State,
    find_entry,
    is_empty,
    latest_reading,
    open_shot,
)
from lowside.core.session.target_entry import check_target
from lowside.core.session.unit_entry import check_unit
from lowside.core.session.walk import (
    LOTS,
    MACHINE_ON,
    OF_A_RECOVERY_CYLINDER,
    RECOVERED_KIND,
    walk_then,
)

OPENED_BY_DECIDING: tuple[BlockCode, ...] = ("undecided", "leave", "reading_reason")
"""Blocks that the decision itself ends."""

REFERENCES = ("step", "shot")
"""What an entry is about; a correction leaves it as it was, and what was planned too."""
EMPTY_FOR = ("weigh_ready", "pressure_test", "vacuum_held")
"""Forms of a unit with nothing in it."""
NOT_WHILE_OPEN = (
    "shot_open",
    "done",
    "reading",
    "final_reading",
    "end_weight",
    "record",
    "recovery_ready",
    "weigh_ready",
)
"""Forms of what is done with the valve closed: with a shot open the gauges show the liquid that
goes in, and a bare cylinder has no hose."""
OF_A_SHOT = ("shot_weigh", "shot_unweighed")
AFTER_CLOSING = ("note", "photo", "units", "void", "shot_close", *OF_A_SHOT)
"""What a closed session takes. Another phone may have signed while a valve was open."""


@dataclass(frozen=True)
class Accepted:
    """Ready to become an event."""

    kind: str
    data: Mapping[str, str]


@dataclass(frozen=True)
class Refused:
    """Sentences by field name; `message` is for the form as a whole."""

    problems: Mapping[str, str]
    message: str = ""


def accept(
    state: State, form_name: str, typed: Mapping[str, str], handbook: Handbook
) -> Accepted | Refused:
    """Check one filled-in form against the session so far.

    Args:
        state: the session, `fold`ed with the same handbook.
        form_name: a key of `FORMS`.
        typed: everything the form sent; names the form does not have are ignored, but `step`, and
            with a shot's scale reading `shot`.
        handbook: for refrigerants and the plausibility of readings.
    """
    form = FORMS.get(form_name)
    if form is None:
        return Refused({}, "This program has no such form. Go back to the session.")
    if state.closed is not None and form_name not in AFTER_CLOSING:
        return Refused({}, "This session is closed. Add a note, or start a new session.")
    if form_name in NOT_WHILE_OPEN and open_shot(state) is not None:
        return Refused({}, "A shot is still open. Close the valve and end that shot first.")
    stray = _check_step(state, form, typed, handbook)
    if stray != "":
        return Refused({}, stray)
    problems, message = _check(state, form, typed, handbook)
    if problems or message != "":
        return Refused(problems, message)
    return Accepted(form.kind, kept_data(form, typed))


def accept_amendment(
    state: State, eid: str, typed: Mapping[str, str], handbook: Handbook
) -> Accepted | Refused:
    """Check the corrected data of an entry that was saved before."""
    entry = find_entry(state, eid)
    if entry is None or entry.kind not in FORM_OF_KIND:
        return Refused({}, "There is no such entry to correct.")
    if entry.status != STANDS:
        return Refused({}, "That entry is void. Restore it first.")
    form = FORM_OF_KIND[entry.kind]
    typed = {name: text for name, text in typed.items() if name not in PLANNED}
    fields = read_fields(form, typed)
    problems = dict(fields.problems)
    as_then = _as_then(state, entry)
    message = _check_values(as_then, form, fields, handbook, problems)
    if entry.kind == "cylinder.set" and is_newest(state, entry):
        weight_entry.check_tare(state, fields, problems)
    if entry.kind == "recovery.cylinder" and not problems:
        walk = dict(as_then.walk) | {entry.kind: fields}
        if RECOVERED_KIND in walk:
            # Overfilled, by what its collar says?
            then = replace(as_then, walk=walk)
            over: dict[str, str] = {}
            told = recovering.check_after(then, walk[RECOVERED_KIND], handbook, over)
            message = told if message == "" else message
            if "rc_after" in over:
                problems["rc_water"] = over["rc_after"]
    data = kept_data(form, typed)
    for name in (*REFERENCES, *PLANNED, SHOTS_KNOWN):
        if name in entry.data:
            data[name] = entry.data[name]
    accepted = Accepted("event.amended", amend_data(eid, data))
    told = scale_entry.check_corrected(state, accepted.data) if fields.numbers else ""
    if told != "":
        problems.setdefault(form.fields[0].name, told)
    if problems or message != "":
        return Refused(problems, message)
    return accepted


def _as_then(state: State, entry: Entry) -> State:
    """By the cylinder it was; of a recovery by its own and by what was inside then."""
    if entry.kind in OF_A_RECOVERY_CYLINDER:
        return replace(as_before(state, entry.eid), walk=walk_then(state, entry))
    for used in state.used_before:
        if entry.eid in [weight.eid for weight in (used.start, used.end) if weight is not None]:
            return replace(state, cylinder=used.cylinder, start_weight=used.start, scale=used.scale)
    return state


def is_newest(state: State, entry: Entry) -> bool:
    """Whether no later entry of its kind counts."""
    same = [one.eid for one in state.entries if one.kind == entry.kind and one.status == STANDS]
    return len(same) > 0 and same[len(same) - 1] == entry.eid


def kept_data(form: Form, typed: Mapping[str, str]) -> dict[str, str]:
    """What is kept: as typed, and units only beside a number that is there."""
    data: dict[str, str] = {}
    for name in typed_names(form):
        text = typed.get(name, "")
        if text.strip() != "":
            data[name] = text
    for field in form.fields:
        if field.name not in data and field.name + "_oz" not in data:
            data.pop(field.name + "_unit", None)
    for name in REFERENCES:
        if typed.get(name, "") != "" and (name == "step" or form.name in OF_A_SHOT):
            data[name] = typed[name]
    return data


def _check_step(state: State, form: Form, typed: Mapping[str, str], handbook: Handbook) -> str:
    """A step is done by its own form alone, and one without a form by “done”."""
    step_id = typed.get("step", "")
    procedure = handbook.procedures.get(state.procedure)
    if step_id == "" or procedure is None:
        return ""
    step = step_by_id(procedure, step_id)
    if step is None:
        return "This session has no such step. Open the session and try again."
    if form.name != (step.form if step.form != "" else "done"):
        return f"“{step.title}” is not done with this form. Open the session and try again."
    return ""


def _check(
    state: State, form: Form, typed: Mapping[str, str], handbook: Handbook
) -> tuple[dict[str, str], str]:
    fields = read_fields(form, typed)
    problems = dict(fields.problems)
    message = _check_values(state, form, fields, handbook, problems)
    message = _check_lot(state, form, fields, problems, message)
    if form.name == "decide":
        message = _check_decision(state, fields, problems)
    elif form.name == "shot_open":
        message = _check_shot_open(state, fields, problems)
    elif form.name == "shot_close":
        message = _check_shot_close(state, fields, problems)
    elif form.name in OF_A_SHOT:
        message = _check_shot_weigh(state, typed, fields, problems)
    elif form.name == "done":
        message = _check_done(state, typed, handbook)
    elif form.name == "reconcile":
        _check_reconcile(state, fields, problems)
    elif form.name == "record":
        message = _check_record(state)
    elif form.name == "discard":
        message = "" if is_empty(state) else "It has entries. Go on with it, or sign and close it."
    elif form.name == "void":
        message = _check_void(state, fields)
    elif form.name == "photo":
        message = check_photo(state, typed, problems)
    elif form.name == "cylinder":
        message = _check_cylinder(state, fields, problems)
    return problems, message


def _check_cylinder(state: State, fields: Fields, problems: dict[str, str]) -> str:
    if weight_entry.is_the_same(state, fields):
        weight_entry.check_tare(state, fields, problems)
    return "" if problems else why_not_another(state, fields)


def _check_lot(
    state: State, form: Form, fields: Fields, problems: dict[str, str], message: str
) -> str:
    """Of the walks, what is asked of a new entry and not of a correction."""
    if form.kind in LOTS:
        return weighing.check_charged(state, fields, form.fields[0].name, problems)
    if form.name in EMPTY_FOR and weighing.charged_kg(state) > 0.0:
        return weighing.STILL_IN
    if form.kind == RECOVERED_KIND:
        recovering.check_part(state, fields, problems)
    return message


def _check_walk(
    state: State, form: Form, fields: Fields, handbook: Handbook, problems: dict[str, str]
) -> str:
    """The forms of recovery and weigh-in."""
    if form.name in ("recovery_ready", "weigh_ready"):
        recovering.check_ready(state, fields, problems)
    elif form.name == "recovery_cylinder":
        return recovering.check_cylinder(state, fields, handbook, problems)
    elif form.name == "recovery_contents":
        return recovering.check_contents(state, fields, handbook, problems)
    elif form.name == "recovery_after":
        return recovering.check_after(state, fields, handbook, problems)
    elif form.name == "pressure_test":
        weighing.check_test(state, fields, problems)
    elif form.name == "vacuum_held":
        return weighing.check_vacuum(state, fields, problems)
    elif form.name == "charge_run":
        no = weighing.stopped(state)
        return weighing.too_little(state) if no == "" else no
    elif form.name == "charge_result":
        weighing.check_result(state, fields, problems)
    return ""


def _check_values(
    state: State, form: Form, fields: Fields, handbook: Handbook, problems: dict[str, str]
) -> str:
    """What must hold whenever it is said: for a new entry and for the correction of an old one."""
    _check_refrigerants(form, fields, handbook, problems)
    if form.name == "machine":
        _check_machine(fields, problems)
    elif form.name == "preconditions":
        _check_flammable(state, fields, problems)
    elif form.name == "unit":
        check_unit(fields, state.units, problems)
    elif form.name == "target":
        check_target(state, fields, handbook, problems)
    elif form.name == "tare":
        scale_entry.check_setting(state, fields, problems)
    elif form.name in ("reading", "final_reading"):
        return _check_reading(state, fields)
    elif form.name == "start_weight":
        weight_entry.check_start_weight(state, fields, problems)
    elif form.name == "end_weight":
        weight_entry.check_end_weight(state, fields, problems)
    return _check_walk(state, form, fields, handbook, problems)


def _check_refrigerants(
    form: Form, fields: Fields, handbook: Handbook, problems: dict[str, str]
) -> None:
    for field in form.fields:
        name = fields.texts.get(field.name)
        if field.kind == REFRIGERANT and name is not None and name not in handbook.refrigerants:
            problems[field.name] = (
                f"“{name}” has no property table here. No figure could be trusted. "
                "Choose from the list."
            )


def _check_machine(fields: Fields, problems: dict[str, str]) -> None:
    """The two questions that only some machines are asked."""
    machine = machine_from(fields.texts)
    if machine is None:
        return
    if asks_for_held(machine.stage, machine.kind) and machine.held == HELD_UNANSWERED:
        problems["held"] = (
            "Answer whether it is held in the manufacturer’s charge or test mode. If it is not "
            "held, its pressures do not show the charge."
        )
    if machine.mode == HEATING and machine.port == PORT_UNANSWERED:
        problems["port"] = (
            "Answer where the blue hose goes. In heating the large line is the high side."
        )


def _check_flammable(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """The questions that only a refrigerant that can burn is asked."""
    for name in questions_for(state.refrigerant):
        if name not in fields.texts:
            problems.setdefault(name, "Choose one. This refrigerant can burn.")


def _check_reading(state: State, fields: Fields) -> str:
    if not fields.numbers and not fields.problems:
        return "Nothing entered. Type at least one pressure with its line temperature."
    if state.system is None:
        return "Save the unit and its target first. A reading means nothing without them."
    return ""


def why_undecidable(state: State) -> str:
    """What no reason at the decision opens; "" when the decision is the technician's."""
    for block in gate.blocks(state):
        if block.code not in OPENED_BY_DECIDING:
            return f"{block.sentence} {block.cure}"
    return ""


def _check_decision(state: State, fields: Fields, problems: dict[str, str]) -> str:
    if fields.texts.get("decision") != DECIDED_TO_ADD:
        return ""
    against = why_undecidable(state)
    if against != "":
        return "Not now: " + against
    latest = latest_reading(state)
    if latest is None or latest.assessment is None:
        return ""
    if "reason" in fields.texts:
        return ""
    objection = needs_a_reason(latest)
    if objection is not None:
        problems["reason"] = f"{sentence(objection, state.units)} Say why you add anyway."
    elif latest.assessment.verdict != CALLS_FOR_CHARGE:
        problems["reason"] = (
            f"The readings do not call for charge. {reason(latest.assessment, state.units)} Say "
            "why you add anyway."
        )
    return ""


def _check_shot_open(state: State, fields: Fields, problems: dict[str, str]) -> str:
    scale_entry.check_before(state, fields, problems)
    hard = gate.blocks(state)
    if hard:
        return f"{hard[0].sentence} {hard[0].cure}"
    return ""


def _check_shot_close(state: State, fields: Fields, problems: dict[str, str]) -> str:
    if open_shot(state) is None:
        return "No shot is open. If you did open the valve, write a note with the scale’s reading."
    scale_entry.check_after(state, state.shot_before_kg, fields, problems)
    return ""


def _check_shot_weigh(
    state: State, typed: Mapping[str, str], fields: Fields, problems: dict[str, str]
) -> str:
    for shot in state.shots:
        if shot.eid == typed.get("shot", "") and shot.closed is not None:
            if not shot.weight_asked:
                return "This shot has its scale entry. Correct it on the timeline."
            scale_entry.check_after(state, shot.before_kg, fields, problems)
            return ""
    return "There is no such shot that is over. Open the session and try again."


def _check_done(state: State, typed: Mapping[str, str], handbook: Handbook) -> str:
    if typed.get("step", "") == "":
        return "The step’s name did not arrive. Go back and try again."
    procedure = handbook.procedures.get(state.procedure)
    step = None if procedure is None else step_by_id(procedure, typed.get("step", ""))
    if step is not None and step.id == MACHINE_ON:
        return recovering.why_not(state)
    if step is not None and step.stage == "Connect":
        for block in gate.blocks(state):
            if block.code in gate.BEFORE_HOSES:
                return f"{block.sentence} {block.cure}"
    return ""


def _check_reconcile(state: State, fields: Fields, problems: dict[str, str]) -> None:
    if cylinders.reconcile_session(state).disagrees and "explanation" not in fields.texts:
        problems["explanation"] = (
            "The weights do not agree. Write what explains it, even if that is “unknown”."
        )


def _check_record(state: State) -> str:
    if state.start_weight is not None and state.end_weight is None and state.explanation == "":
        return "The end weight is missing. Weigh the cylinder, or explain why it cannot be weighed."
    # What was weighed in is compared by the weigh-in.
    if _weights_unexplained(state) and not state.lots:
        return "The weights do not agree. Say what explains it at “Do the weights agree?” first."
    return ""


def _weights_unexplained(state: State) -> bool:
    return state.explanation == "" and cylinders.reconcile_session(state).disagrees


def _check_void(state: State, fields: Fields) -> str:
    entry = find_entry(state, fields.texts.get("target", ""))
    if entry is None:
        return "There is no such entry to void."
    if entry.status != STANDS:
        return "That entry is already void."
    if entry.eid in owners(state.entries):
        return "The start of a session and the office’s entries cannot be voided here."
    return ""
