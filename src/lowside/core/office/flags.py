"""What of a session needs a look, from its state alone.

What two sessions say together (a cylinder lighter than it was left, a unit topped up again) is on
the pages of cylinders and units.
"""

from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.handbook.forms import FORMS
from lowside.core.judging.charge import ON_TARGET, OVER, Assessment
from lowside.core.numbers.unit_choice import label
from lowside.core.office.review import VERDICT_NAMES
from lowside.core.session.cylinder import reconcile_session
from lowside.core.session.state import DECIDED_TO_ADD, STANDS, State, Taken, latest_reading
from lowside.core.session.weighing import difference

FlagCode = Literal[
    "over", "out", "early", "weights", "check", "overridden", "stopped", "late", "conflict"
]

FLAG_NAMES: dict[FlagCode, str] = {
    "over": "Overcharged",
    "out": "Out of target",
    "early": "Final reading too early",
    "weights": "Weights do not agree",
    "check": "Check skipped or refused",
    "overridden": "Advice overridden",
    "stopped": "Unit stopped",
    "late": "Written after closing",
    "conflict": "Entries conflict",
}

LEAST_WAIT_S = 240.0
"""READ: makers ask for 4 to 15 min after a shot before a reading counts. The shortest flags."""
FINE = ("yes", "none_found")
NO_CHECKS = ("checks_reason", "leak_refused", "leak_exempt")
"""Answers of the checks that explain one and are none."""


@dataclass(frozen=True)
class Flag:
    """One thing to look at; `detail` is in the session's own words and units."""

    code: FlagCode
    detail: str


def flags_of(state: State, last: Assessment | None) -> tuple[Flag, ...]:
    """Everything that needs a look, the gravest first.

    Args:
        state: the session, judged or not: the same comes out.
        last: what its last reading means; `None` when there is none or it cannot be judged.
    """
    found: list[Flag] = []
    found.extend(_result(state, last))
    found.extend(_early(state))
    found.extend(_weights(state))
    found.extend(_checks(state))
    if state.decision == DECIDED_TO_ADD and state.decision_reason != "":
        found.append(Flag("overridden", state.decision_reason))
    stops = [e for e in state.entries if e.kind == "system.stopped" and e.status == STANDS]
    if stops:
        times = "once" if len(stops) == 1 else f"{len(stops)} times"
        found.append(Flag("stopped", f"Stopped {times}"))
    found.extend(_late(state))
    if state.flags:
        found.append(Flag("conflict", state.flags[0]))
    return tuple(found)


def _result(state: State, last: Assessment | None) -> list[Flag]:
    """The state the unit was left in; an open session has not left it yet."""
    latest = latest_reading(state)
    left = state.closed is not None or (latest is not None and latest.final)
    if last is None or not left or last.verdict == ON_TARGET:
        return []
    code: FlagCode = "over" if last.verdict == OVER else "out"
    return [Flag(code, VERDICT_NAMES[last.verdict])]


def _early(state: State) -> list[Flag]:
    finals = [taken for taken in state.readings if taken.final]
    if not finals:
        return []
    last: Taken = finals[-1]
    wait = LEAST_WAIT_S
    if state.system is not None and state.system.papers_wait_s is not None:
        wait = state.system.papers_wait_s
    if last.since_shot_s is None or last.since_shot_s >= wait:
        return []
    waited = label("duration", last.since_shot_s, state.units)
    return [Flag("early", f"{waited} after the last shot")]


def _weights(state: State) -> list[Flag]:
    if state.end_weight is None or state.start_weight is None:
        return []
    if "weighing.compared" in state.walk:
        words = difference(state)
        return [] if words == "" else [Flag("weights", words)]
    # What the hose model says is known only of a judged session; the usual hoses are allowed for.
    plain = replace(state, hoses_from_cylinder_kg=0.0)
    apart = reconcile_session(plain).disagreements
    if not apart:
        return []
    words = label("mass", abs(apart[0].difference_kg), state.units) + " apart"
    return [Flag("weights", words if state.explanation == "" else f"{words}: {state.explanation}")]


def _checks(state: State) -> list[Flag]:
    found: list[Flag] = []
    for field in FORMS["preconditions"].fields:
        answer = state.checks.get(field.name, "")
        if answer == "" or answer in FINE or field.name in NO_CHECKS or not field.choices:
            continue
        if field.name == "leak" and answer == "repaired":
            continue
        words = field.label + ": " + dict(field.choices).get(answer, answer)
        reason = state.checks.get("leak_refused", "") or state.checks.get("checks_reason", "")
        if field.name == "leak" and reason != "":
            words = words + ". " + reason
        found.append(Flag("check", words))
    return found


def _late(state: State) -> list[Flag]:
    closed = False
    late = 0
    for entry in state.entries:
        if entry.kind == "session.closed" and entry.status == STANDS:
            closed = True
        elif closed and not entry.kind.startswith("office.") and entry.kind != "units.set":
            late = late + 1
    if late == 0:
        return []
    return [Flag("late", "1 entry" if late == 1 else f"{late} entries")]
