"""The charging page: what to do next, the figures, the shot, and what is left in the cylinder."""

from typing import Any

from lowside.core.advice.advice import ADD, FINISH, READ, RECOVER, Advice, AdvisedAction
from lowside.core.advice.against import advice_now, may_start, needs_a_reason
from lowside.core.advice.words import CHANGE_CYLINDER
from lowside.core.handbook.procedure import Step
from lowside.core.judging.together import apart
from lowside.core.numbers.arithmetic import floored
from lowside.core.numbers.unit_choice import small_mass
from lowside.core.pages import addresses
from lowside.core.pages.amounts import amount_facts, enough, shot_rows
from lowside.core.pages.facts import finding_contexts
from lowside.core.pages.figures import figures_of
from lowside.core.pages.form import full_form, small_form
from lowside.core.pages.hoses_left import RECOVER_FORM, hose_alerts
from lowside.core.pages.not_yet import not_yet
from lowside.core.pages.parts import STOP_FORM, alert, alerts, with_form
from lowside.core.pages.running import clock_face, timer
from lowside.core.pages.screen import Screen
from lowside.core.pages.step import add_to_reading, cautions_at_valve
from lowside.core.pages.valve import amount_of, how_to_feed, stop_at, valve_of
from lowside.core.pages.wording import ago, clock_time, duration
from lowside.core.session import gate
from lowside.core.session.block import (
    DO_NOT_ADD,
    STOP,
    WAIT,
    WEIGH_IN,
    Block,
    BlockCode,
)
from lowside.core.session.events import Moment, age_s, elapsed
from lowside.core.session.heavy_shot import far_from_plan
from lowside.core.session.other_cylinder import is_wrong, liquid_in_hose
from lowside.core.session.state import (
    Shot,
    State,
    last_shot_lacks,
    latest_reading,
    open_shot,
    recovers_hoses,
    shot_to_weigh,
)
from lowside.core.session.steady import still_settles_s, unread_since

SHOT_FORM = 4
CLOSE_OUT_FORM = 5
FINISH_FORM = 6
UNREAD_FORM = 7
READING_FORM = 9
"""Numbers of the page's forms (see `Screen.eid`)."""

WORDS: dict[AdvisedAction, str] = {
    READ: "Take a reading",
    ADD: "Add a shot",
    WAIT: "Wait",
    STOP: "Stop",
    DO_NOT_ADD: "Do not add",
    WEIGH_IN: "Recover and weigh in",
    RECOVER: "Overcharged: recover",
    FINISH: "Charge is right: close out",
}

RECOVER_WORD = "Add nothing: recover the hoses"
WEIGHED_IN_WORD = "Add nothing: charged by weight"
RECOVER_HOW = "Use a recovery machine and a recovery cylinder. Never vent refrigerant."
CLOSING = (FINISH, STOP, DO_NOT_ADD, WEIGH_IN, RECOVER)
"""Advice after which the next action is to leave this step."""
READ_ON: tuple[BlockCode, ...] = ("reading_reason", "reading_refused")
"""What a new reading may lift."""
ASKS_FIRST: tuple[BlockCode, ...] = ("reading_refused", "cylinder_cold", "cylinder_contents")
"""What another answer may lift, where it has a form."""


def charge_context(screen: Screen, step: Step) -> dict[str, Any]:
    """Part of the context of `field/charge.html`, over that of the step page."""
    state = screen.state
    now = screen.now
    running = open_shot(state)
    advice = advice_now(state, now)
    latest = latest_reading(state)
    reading = _reading_form(screen, advice)
    shot = None
    close = None
    weigh = None
    to_weigh = shot_to_weigh(state)
    if running is not None:
        close = small_form(screen, "shot_close", SHOT_FORM, back=addresses.current(screen.sid))
    elif to_weigh is not None:
        weigh = _weigh(screen, to_weigh)
    elif (not gate.blocks(state) and may_start(state, advice)) or (
        screen.refused("shot_open") is not None
    ):
        shot = _shot_form(screen, "shot_open")
    return {
        "page": "charge",
        "advice": _advice(screen, step, advice),
        "hose_alerts": ([] if _offers(state, advice) else hose_alerts(state, advice, False))
        + _change_cylinder(state, advice),
        "valve": None if running is None else valve_of(state, advice, running, now),
        "valve_cautions": cautions_at_valve(screen, step),
        "clock": _clock(state, advice, now),
        "reading": reading,
        "shot": shot,
        "against_href": addresses.step(state.sid, "decide")
        if state.closed is None and _may_say_why(state, advice)
        else "",
        "shot_first": shot is not None and state.scale is not None and state.last_scale_kg is None,
        "shot_close": close,
        "weigh": weigh,
        "figures": figures_of(state.units, latest) if latest is not None else [],
        "reading_line": _reading_line(state, now),
        "reading_href": add_to_reading(state),
        "findings_now": _of_shot(state)
        + (
            []
            if unread_since(state) is not None
            else _unsaid(finding_contexts(state, latest), advice)
        )
        + enough(state, advice),
        "facts": amount_facts(state, advice),
        "shots": shot_rows(state),
        "finish": _finish(screen, step, advice),
        "thumb": _thumb(screen, step, advice, shot is not None, reading is not None),
    }


def _may_say_why(state: State, advice: Advice) -> bool:
    """Whether a reason at the decision would open the valve."""
    if advice.too_old:
        return False
    return _asks_why(state) if gate.blocks(state) else needs_a_reason(state, advice)


def _only_block(state: State) -> Block | None:
    """What blocks adding, where that is one thing."""
    found = gate.blocks(state)
    return found[0] if len(found) == 1 else None


def _asks_why(state: State) -> bool:
    """Whether nothing but a reason is missing, which the alert on top says."""
    only = _only_block(state)
    return only is not None and only.code == "reading_reason"


def _lifted_by_a_reading(state: State) -> Block | None:
    """What blocks adding until a new reading, as the alert on top says."""
    only = _only_block(state)
    return only if only is not None and only.code in READ_ON else None


def _weigh(screen: Screen, shot: Shot) -> dict[str, Any]:
    """What the scale showed after the newest shot: asked once its time has stopped."""
    back = addresses.current(screen.sid)
    form = full_form(screen, "shot_weigh", SHOT_FORM, "", back)
    # What was typed for one shot and not saved is not the next one's.
    form["draft"] = form["draft"] + shot.eid
    return {
        "shot": shot.eid,
        "form": form,
        "unread": small_form(screen, "shot_unweighed", UNREAD_FORM, back=back),
        "line": "Was open " + duration(shot.open_s if shot.open_s is not None else 0.0) + ".",
    }


def _reading_form(screen: Screen, advice: Advice) -> dict[str, Any] | None:
    """The reading, on this page as soon as it is the next thing to do."""
    state = screen.state
    if state.closed is not None or not state.running or advice.action != READ:
        return None
    if state.system is None or open_shot(state) is not None or shot_to_weigh(state) is not None:
        return None
    return full_form(screen, "reading", READING_FORM, "", addresses.current(screen.sid))


def _shot_form(screen: Screen, name: str) -> dict[str, Any]:
    return full_form(screen, name, SHOT_FORM, "", addresses.current(screen.sid))


def _advice(screen: Screen, step: Step, advice: Advice) -> dict[str, Any]:
    state = screen.state
    reasons = advice.reasons[1:] if _said_on_top(screen, step, advice) else advice.reasons
    return {
        "action": advice.action,
        "amount": amount_of(state, advice),
        "stop": stop_at(state, advice, state.last_scale_kg) if advice.action == ADD else "",
        "word": _word(state, advice),
        # Of a unit that has stopped, the alert on top says all.
        "how": _how(state, advice) if state.running else "",
        "reason": reasons[0] if state.running and reasons else "",
        "more": list(reasons[1:]) if state.running else [],
    }


def _word(state: State, advice: Advice) -> str:
    if advice.action == FINISH and _offers(state, advice):
        return RECOVER_WORD
    if advice.action == WEIGH_IN and gate.weighed_in(state):
        return WEIGHED_IN_WORD
    return WORDS[advice.action]


def _said_on_top(screen: Screen, step: Step, advice: Advice) -> bool:
    """Whether an alert beside it says the first reason."""
    if CHANGE_CYLINDER in advice.reasons:
        return True
    said = advice.reasons[0] if advice.reasons else ""
    told = alerts(screen.state)
    if screen.procedure is not None:
        told = told + not_yet(screen.state, screen.procedure, step)
    for one in told:
        text: str = one["text"]
        if said.startswith(text):
            return True
    return False


def _offers(state: State, advice: Advice) -> bool:
    """Whether the next thing is to choose that the hoses are recovered."""
    ends = advice.action in (FINISH, RECOVER)
    return ends and advice.recover_hoses and not recovers_hoses(state)


def _how(state: State, advice: Advice) -> str:
    if advice.action == ADD and advice.amount_kg is not None:
        return how_to_feed(state, advice, advice.amount_kg)
    if advice.action == WAIT and advice.wait_s is not None:
        boils = "" if unread_since(state) is not None or not state.shots else "boil off and "
        return "Let it " + boils + "settle. Read when the time is up."
    if advice.action == READ:
        return "Wait until stable. Then read all gauges and clamps together."
    shut = "Keep the " + state.low_valve + " closed. "
    if advice.action == RECOVER and _offers(state, advice):
        return shut + RECOVER_HOW + " The hoses come first."
    if _offers(state, advice):
        return shut + (
            "It takes a recovery machine. Once you choose it, the advice may ask for a little more."
        )
    if advice.action == FINISH and recovers_hoses(state):
        return shut + (
            "Leave the cylinder valve open. Take the final reading, then recover what the hoses "
            "hold."
        )
    if advice.action == FINISH:
        return shut + "Go on to the close-out."
    if advice.action == WEIGH_IN:
        return shut + "Add nothing to what is inside."
    if advice.action == RECOVER:
        return RECOVER_HOW
    return gate.at_valves(state)


def _clock(state: State, advice: Advice, now: Moment) -> dict[str, Any] | None:
    since = state.shots[-1].closed if state.shots else None
    latest = latest_reading(state)
    read_since = latest is not None and latest.shots_before == len(state.shots)
    wait = advice.wait_s if advice.wait_s is not None else 0.0
    settling = still_settles_s(state, now)
    unread = unread_since(state) is not None
    if advice.action == WAIT and (settling > 0.0 or unread or not state.shots):
        since, wait = now, max(settling, wait)
    if since is None or (read_since and advice.action != WAIT):
        return None
    seconds = elapsed(since, now).seconds
    # Rounded up: a page must not say that a wait is over before it is.
    total = -floored(-(seconds + wait)) if wait > 0.0 else 0
    return {
        "kind": "wait",
        "label": "Next reading in" if wait > 0.0 else "Since the last shot",
        "elapsed": int(seconds),
        "wait": str(total),
        "text": clock_face(float(int(seconds)), float(total)),
    }


def _reading_line(state: State, now: Moment) -> str:
    latest = latest_reading(state)
    if latest is None:
        return "No reading yet."
    behind = len(state.shots) - latest.shots_before
    line = "Read at " + clock_time(latest.moment) + ", " + ago(age_s(latest.moment, now))
    if behind > 0:
        line = line + ", before the last " + ("shot" if behind == 1 else str(behind) + " shots")
    if unread_since(state) is not None:
        line = line + ", before some was recovered"
    return line + "."


SHOT_CHECK = "closed? Open it less the next time. Listen to the compressor."


def said_of_shot(state: State) -> str:
    """What the newest shot was and what was planned, until a reading follows; "" when it was about
    what was advised, or nobody can know."""
    latest = latest_reading(state)
    count = len(state.shots)
    if count == 0 or (latest is not None and latest.shots_before == count):
        return ""
    far = far_from_plan(state.shots[count - 1])
    if far is None:
        return ""
    was = small_mass(far.kg, state.units)
    planned = small_mass(far.planned_kg, state.units)
    if far.open_s is not None:
        was = was + " in " + timer(far.open_s)
    if far.quick and far.planned_s is not None:
        planned = planned + " in " + timer(far.planned_s)
    check = "Is the " + state.low_valve + " " + SHOT_CHECK
    return "The last shot was " + was + ". Planned: " + planned + ". " + check


def _of_shot(state: State) -> list[dict[str, Any]]:
    said = said_of_shot(state)
    return [] if said == "" else [{"level": "stop", "word": "Caution.", "text": said}]


def _unsaid(findings: list[dict[str, Any]], advice: Advice) -> list[dict[str, Any]]:
    """The findings, without what the advice has just said."""
    found: list[dict[str, Any]] = []
    for one in findings:
        if one["text"] not in advice.reasons:
            found.append(one)
    return found


def _finish(screen: Screen, step: Step, advice: Advice) -> dict[str, Any] | None:
    state = screen.state
    if state.closed is not None or open_shot(state) is not None or step.id in state.done:
        return None
    if _offers(state, advice):
        return small_form(screen, "done", FINISH_FORM, step.id, button="No machine: close out")
    if _closes(state, advice) or not state.running:
        return None
    return small_form(screen, "done", FINISH_FORM, step.id, button="Stop adding, close out")


def _closes(state: State, advice: Advice) -> bool:
    """Whether to close out is what is left to do. Not on numbers that do not go together: they are
    read again."""
    latest = latest_reading(state)
    if CHANGE_CYLINDER in advice.reasons or _asked_first(state, advice) != "":
        return False
    if latest is not None and latest.assessment is not None and advice.action == DO_NOT_ADD:
        return not apart(latest.assessment.findings)
    return advice.action in CLOSING


def _asked_first(state: State, advice: Advice) -> str:
    """The form that what the advice refuses by asks for; "" for none."""
    said = advice.reasons[0] if advice.reasons else ""
    for each in gate.blocks(state):
        if each.code in ASKS_FIRST and said.startswith(each.sentence):
            return each.form
    return ""


def _change_cylinder(state: State, advice: Advice) -> list[dict[str, Any]]:
    """The way to another cylinder, where this one has no shot left."""
    if CHANGE_CYLINDER not in advice.reasons:
        return []
    return [with_form(state, alert("warn", "Cylinder.", CHANGE_CYLINDER), "cylinder")]


def _thumb(
    screen: Screen, step: Step, advice: Advice, can_shoot: bool, can_read: bool
) -> dict[str, Any]:
    """The one or two actions at the thumb; the advised one stands out."""
    state = screen.state
    thumb: dict[str, Any] = {
        "pair": False,
        "reading": "",
        "reading_style": "secondary",
        "reading_label": "Take a reading",
        "shot_style": "primary",
        "close_out": None,
    }
    if last_shot_lacks(state):
        thumb["pair"] = True
        return thumb
    if state.closed is not None:
        return thumb
    off = ""
    if screen.procedure is not None and screen.procedure.off_steps:
        off = addresses.step(state.sid, screen.procedure.off_steps[0].id)
    if not state.running:
        thumb["close_out"] = small_form(screen, "system_started", STOP_FORM)
        if off != "":
            thumb["reading"] = off
            thumb["reading_label"] = "Unit stays off"
            thumb["pair"] = True
        return thumb
    if off != "" and is_wrong(state) and liquid_in_hose(state):
        thumb["reading"] = off
        thumb["reading_label"] = "Close out with the unit off"
        thumb["reading_style"] = "primary"
        return thumb
    thumb["reading"] = addresses.form(state.sid, "reading")
    if can_read:
        thumb["reading"] = ""
    asked = _asked_first(state, advice)
    if asked != "":
        way = with_form(state, {}, asked)
        thumb["reading"] = way["href"]
        thumb["reading_label"] = way["link"]
        thumb["reading_style"] = "primary"
        return thumb
    may_read = _lifted_by_a_reading(state) is not None
    if _closes(state, advice) and step.id not in state.done:
        thumb["reading"] = thumb["reading"] if may_read else ""
        thumb["shot_style"] = "secondary"
        thumb["close_out"] = small_form(screen, "done", CLOSE_OUT_FORM, step.id, button="Close out")
        if _offers(state, advice):
            back = addresses.current(state.sid)
            thumb["close_out"] = small_form(screen, RECOVER_FORM, CLOSE_OUT_FORM, back=back)
    elif advice.action != ADD or not can_shoot:
        thumb["reading_style"] = "primary"
        thumb["shot_style"] = "secondary"
    thumb["pair"] = can_shoot or may_read
    return thumb
