"""Which step a session is at: the way through, or the walk that was begun beside it."""

from collections.abc import Mapping

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.forms import understand
from lowside.core.handbook.procedure import (
    RECOVER_STAGE,
    WEIGH_IN_STAGE,
    Procedure,
    Step,
    charging_step,
    last_with_actions,
    off_steps_for,
    open_step,
    position,
    walk_of,
)
from lowside.core.session.events import Event, Moment
from lowside.core.session.state import (
    RECOVERS_HOSES,
    STANDS,
    Entry,
    Lot,
    Recovered,
    State,
    Weight,
    open_shot,
    recovers_hoses,
    withdrawal_of,
)

RECOVERED_KIND = "recovery.weighed"
NO_WEIGHT_BEFORE = (
    "The weight before a recovery is missing. How much was recovered is not known. Restore and "
    "correct it, or void the recovery too if there was none."
)
LOTS = ("weighing.off", "weighing.rest")
"""Entries of what went in: each adds to those before it. Only a whole recovery undoes them."""
CHARGED = ("weighing.off", "weighing.run", "weighing.rest", "weighing.compared")
UNDONE_BY: dict[str, tuple[str, ...]] = {
    "recovery.ready": ("recovery.cylinder", "recovery.contents", RECOVERED_KIND),
    "recovery.cylinder": ("recovery.contents",),
    "recovery.weighed": (
        "recovery.ready",
        "weighing.ready",
        "pressure.tested",
        "vacuum.held",
        *CHARGED,
    ),
    "weighing.ready": ("pressure.tested", "vacuum.held", *CHARGED),
    "pressure.tested": ("vacuum.held", *CHARGED),
    "vacuum.held": CHARGED,
    "weighing.off": ("weighing.run", "weighing.rest", "weighing.compared"),
}
"""What no longer holds after an entry of this kind: a vacuum before the pressure test is none."""

MACHINE_ON = "rec_run"
LIQUID_IN = ("wi_break", "wi_rest")
"""Steps at which a recovery machine is started, and at which refrigerant is let in."""

OF_A_RECOVERY_CYLINDER = ("recovery.cylinder", "recovery.contents", RECOVERED_KIND)
WALK_KINDS = (
    "recovery.ready",
    "recovery.cylinder",
    "recovery.contents",
    RECOVERED_KIND,
    "weighing.ready",
    "pressure.tested",
    "vacuum.held",
    "weighing.total",
    *CHARGED,
    RECOVERS_HOSES,
)
"""Events of the forms of recovery and weigh-in."""

AFTER_VACUUM = ("wi_break", "wi_run", "wi_rest", "wi_off", "wi_end_weight", "wi_result")
STEPS_UNDONE_BY: dict[str, tuple[str, ...]] = {
    "recovery.ready": ("rec_cylinder", "rec_contents", "rec_run", "rec_after"),
    "recovery.cylinder": ("rec_contents", "rec_run", "rec_after"),
    RECOVERED_KIND: ("wi_ready", "wi_pressure", "wi_vacuum", *AFTER_VACUUM),
    "weighing.ready": ("wi_pressure", "wi_vacuum", *AFTER_VACUUM),
    "pressure.tested": ("wi_vacuum", *AFTER_VACUUM),
    "vacuum.held": AFTER_VACUUM,
    "weighing.off": AFTER_VACUUM,
    "shot.opened": ("shots",),
}
"""Steps that are to be done again after an entry of this kind."""


def forget(kind: str, walk: dict[str, Fields], done: dict[str, str]) -> None:
    """What no longer holds, and the steps to be done again, after an entry of this kind.

    When another recovery cylinder follows, the answers before recovery still hold, and the last
    one's stamps, contents and weights say nothing of the next.
    """
    ready = walk.get("recovery.ready")
    comes_next = walk[kind].texts.get("rc_next", "") if kind == RECOVERED_KIND else ""
    if comes_next == "readings":
        done.pop("shots", None)
    for other in UNDONE_BY.get(kind, ()):
        walk.pop(other, None)
    if comes_next == "another":
        forget("recovery.ready", walk, done)
        if ready is not None:
            walk["recovery.ready"] = ready
    for step in STEPS_UNDONE_BY.get(kind, ()):
        done.pop(step, None)


def recovered(moment: Moment, walk: Mapping[str, Fields], after: Fields) -> Recovered:
    """What a weighing after recovery says. It happened, also where the weight before was voided."""
    before = walk.get("recovery.contents")
    amount = None if before is None else after.numbers["rc_after"] - before.numbers["rc_before"]
    return Recovered(moment, amount, after.texts.get("rc_what", "") == "whole")


def walk_then(state: State, entry: Entry) -> dict[str, Fields]:
    """What holds for an entry of a recovery cylinder: its own stamps and weights, not those of the
    next one. Those before the entry; of the cylinder itself, those until another follows."""
    own: dict[str, Fields] = {}
    found = False
    for one in state.entries:
        if one.status != STANDS or one.kind not in OF_A_RECOVERY_CYLINDER:
            continue
        if one.kind == "recovery.cylinder":
            if found:
                break
            own = {}
        found = found or one.eid == entry.eid
        if found and entry.kind != "recovery.cylinder":
            break
        fields = understand(one.kind, one.data)
        if not fields.problems:
            own[one.kind] = fields
    walk = dict(state.walk)
    for kind in OF_A_RECOVERY_CYLINDER:
        walk.pop(kind, None)
    return walk | own


def lots_of(moment: Moment, event: Event, start: Weight | None, fields: Fields) -> list[Lot]:
    """What an entry of a weigh-in let in, from the cylinder of this start weight."""
    of = "" if start is None else start.eid
    return [Lot(event.kind, kg, of, moment, event.eid) for kg in fields.numbers.values()]


def step_now(procedure: Procedure, state: State) -> Step | None:
    """The step that is open: of a walk that was begun and not finished, else of the way through.

    While a valve is open it is the charging step, whatever else is. A unit that was emptied goes on
    with weigh-in; one that was weighed in goes on with the record.
    """
    if open_shot(state) is not None:
        return charging_step(procedure)
    recover = _open_in(walk_of(procedure, RECOVER_STAGE), state.done)
    if recover is not None:
        return recover
    weigh = walk_of(procedure, WEIGH_IN_STAGE)
    if not weigh:
        return _open_on_the_way(procedure, state)
    emptied = len([one for one in state.recovered if one.whole]) > 0
    if weigh[len(weigh) - 1].id in state.done:
        for step in procedure.steps:
            if step.form == "record" and step.id not in state.done:
                return step
        return None
    if emptied and weigh[0].id not in state.done:
        return weigh[0]
    begun = _open_in(weigh, state.done)
    return begun if begun is not None else _open_on_the_way(procedure, state)


def _open_on_the_way(procedure: Procedure, state: State) -> Step | None:
    """The open step of the way through. Where the hoses are recovered, their close-out is the one
    with the unit off, after the final reading. After a part was recovered the readings go on first,
    whatever hoses are off."""
    found = open_step(procedure, state.done)
    charging = charging_step(procedure)
    if charging is not None and charging.id not in state.done and reads_on(state):
        at = position(procedure, charging.id)
        return found if found is not None and position(procedure, found.id) < at else charging
    if found is None or not recovers_hoses(state) or found.stage != "Close out":
        return found
    if position(procedure, found.id) > position(procedure, last_with_actions(procedure)):
        return found
    for step in procedure.steps:
        if step.form == "final_reading" and step.id not in state.done:
            return step
    for step in off_steps_for(procedure, withdrawal_of(state)):
        if step.id not in state.done:
            return step
    return found


def reads_on(state: State) -> bool:
    """Whether a part was recovered, and the readings go on."""
    after = state.walk.get(RECOVERED_KIND)
    return after is not None and after.texts.get("rc_next", "") == "readings"


def _open_in(steps: tuple[Step, ...], done: Mapping[str, str]) -> Step | None:
    """The first step not done of a walk that was begun; `None` when it was not, or is finished."""
    if len([step for step in steps if step.id in done]) == 0:
        return None
    if steps[len(steps) - 1].id in done:
        return None
    for step in steps:
        if step.id not in done:
            return step
    return None
