"""What a hand at the valve into the suction is told before it opens and while it is open: first
the weight to close it at. Seconds are advice only by a flow that this session measured. Before
that, and where the hand is to open less than it did, they are the latest moment."""

from typing import Any

from lowside.core.advice.advice import ADD, Advice
from lowside.core.advice.feeding import flow_of
from lowside.core.advice.words import TOO_QUICK, runs_over
from lowside.core.numbers.unit_choice import label, small_mass
from lowside.core.pages.running import is_over, timer
from lowside.core.session import gate
from lowside.core.session.block import STOP
from lowside.core.session.events import Moment, age_s
from lowside.core.session.state import Shot, State, scale_after

IS_OPEN = "Valve is open"
CLOSE_NOW = "Close the valve now"


def how_to_feed(state: State, advice: Advice, amount_kg: float) -> str:
    """The advised shot and when to close the valve."""
    how = "About " + small_mass(amount_kg, state.units)
    close = ". Close the " + state.low_valve
    if TOO_QUICK in advice.reasons:
        how = how + ": only crack the " + state.low_valve + ", or use the charging restrictor"
        close = ". Close it"
    stop = stop_at(state, advice, state.last_scale_kg)
    at_scale = "" if stop == "" else " when the scale shows " + stop
    at_time = ""
    if advice.open_s is not None:
        at_time = ", " + _at_time(state, advice, advice.open_s, "by ")
        if stop == "":
            at_time = " " + timer(advice.open_s) + " after opening it, at the latest"
    return how + ("" if at_scale + at_time == "" else close + at_scale + at_time) + "."


def _at_time(state: State, advice: Advice, open_s: float, by: str = "") -> str:
    """What the clock says beside the scale; `by` before the latest moment."""
    flow = flow_of(state, len(state.shots))
    measured = flow.learned and flow.rate_kg_s == advice.rate_kg_s
    return ("or at " + timer(open_s)) if measured else (by + timer(open_s) + " at the latest")


def amount_of(state: State, advice: Advice) -> str:
    """How much the next shot is, alone, for big digits."""
    if advice.action != ADD or advice.amount_kg is None:
        return ""
    return small_mass(advice.amount_kg, state.units)


def stop_at(state: State, advice: Advice, before_kg: float | None) -> str:
    """What the scale shows when the advised amount is in, "" when that is not known."""
    if before_kg is None or advice.amount_kg is None or state.scale is None:
        return ""
    after = scale_after(state.scale.mode, before_kg, advice.amount_kg)
    return "" if after is None else label("mass", after, state.units)


def valve_of(state: State, advice: Advice, shot: Shot, now: Moment) -> dict[str, Any]:
    """What a hand on the open valve must see from a meter away: how long it is open, when to close
    it by the scale and by the clock. `limit` is "" when only the scale says when."""
    seconds = age_s(shot.opened, now)
    stop = stop_at(state, advice, shot.before_kg)
    limit = ""
    at_most = "No time limit: watch the scale"
    if advice.open_s is not None:
        limit = str(int(advice.open_s))
        at_most = _at_time(state, advice, advice.open_s)
        if stop == "":
            at_most = "Close by " + timer(advice.open_s) + " at the latest"
    elif advice.action == STOP or len(gate.blocks(state)) > 0:
        # What would bar a new shot ends this one. One by a reason is barred by nothing.
        limit, at_most = "0", ""
    late = limit != "" and is_over(seconds, float(int(limit)))
    if advice.amount_kg is None:
        how = advice.reasons[0] if advice.reasons else gate.at_valves(state)
    elif stop == "":
        how = "Feed at most " + small_mass(advice.amount_kg, state.units) + "."
    else:
        how = " ".join(runs_over(state, flow_of(state, len(state.shots)), advice.amount_kg))
    return {
        "word": CLOSE_NOW if late else IS_OPEN,
        "word_open": IS_OPEN,
        "word_late": CLOSE_NOW,
        "late": late,
        "elapsed": int(seconds),
        "limit": limit,
        "text": timer(seconds),
        "at_most": at_most,
        "stop": stop,
        "how": how,
    }
