"""What a scale can show: its setting, and its readings before and after a shot."""

from collections.abc import Mapping

from lowside.core.handbook.fields import Fields
from lowside.core.numbers.unit_choice import label
from lowside.core.session import cylinder as cylinders
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.ledger import STEPS_ALLOWED
from lowside.core.session.recovering import LESS, parts_kg, too_little_left
from lowside.core.session.shots import fell_closed
from lowside.core.session.state import GROSS, State, step_of, taken_out
from lowside.core.session.walk import reads_on
from lowside.core.session.weighing import charged_kg, too_much

_NEGATIVE_GROSS = (
    "A scale that shows cylinder and hose cannot show less than zero. If it was zeroed, save “Set "
    "the scale” again as zeroed."
)


def check_setting(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """How the scale is set."""
    resolution = fields.numbers.get("scale_resolution")
    if resolution is not None and resolution <= 0.0:
        problems["scale_resolution"] = "The smallest step cannot be zero. Look at the last digit."
    reading = fields.numbers.get("scale_reading")
    if reading is not None and reading < 0.0 and fields.texts.get("scale_mode") == GROSS:
        problems["scale_reading"] = _NEGATIVE_GROSS


def check_before(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """What it shows before a shot: nothing leaves the cylinder while the valve is closed. Find the
    cause before more goes in: common practice, no source."""
    check_sign(state, fields, "scale_before", problems)
    shown = fields.numbers.get("scale_before")
    fell = fell_closed(state.scale, state.last_scale_kg, shown)
    if fell is not None and "scale_before" not in problems:
        problems["scale_before"] = (
            f"{label('mass', fell, state.units)} less than it read last, with the valve closed. "
            "Does the valve pass, or a hose leak? Then stop adding and close out. Was the last "
            "weight mistyped? Correct it on the timeline. Is the leak mended, or was the cylinder "
            "moved? Save “Set the scale” again, then let the unit settle and read it."
        )


def check_after(
    state: State, before_kg: float | None, fields: Fields, problems: dict[str, str]
) -> None:
    """What it shows after a shot that began at `before_kg` [kg]."""
    check_sign(state, fields, "scale_after", problems)
    after = fields.numbers.get("scale_after")
    if after is None or state.scale is None or before_kg is None or "scale_after" in problems:
        return
    amount = taken_out(state.scale.mode, before_kg, after)
    if amount < -state.scale.resolution_kg:
        problems["scale_after"] = _gained(state, before_kg, "the shot")
        return
    left = cylinders.left_in_cylinder(state)
    if left is not None and amount > left + STEPS_ALLOWED * state.scale.resolution_kg:
        problems["scale_after"] = _more_than_held(state, left)


def check_corrected(state: State, amendment: Mapping[str, str]) -> str:
    """Why an entry may not be corrected so: a shot would bring less than nothing, all of them more
    than the cylinder held, a recovery less than nothing or more than the unit runs without, or a
    lot would make it more than the whole charge; or each still more.

    From one possible session to another there is always a way by single corrections: what was too
    low is raised from the first shot on, what was too high is lowered from the last one back.
    """
    said = [(one.eid, one.kind, one.written) for one in state.entries]
    said.append(("", "event.amended", amendment))
    after = fold(
        [Event(state.sid, "", 0, eid, "", 0, 0, 0, "", kind, data) for eid, kind, data in said]
    )
    for i in range(len(after.shots)):
        shot = after.shots[i]
        was = state.shots[i].amount_kg
        amount = shot.amount_kg
        least = min(-step_of(state.scale), 0.0 if was is None else was)
        if amount is not None and shot.before_kg is not None and amount < least:
            return _gained(state, shot.before_kg, f"shot {i + 1}")
    left, was_left = cylinders.left_in_cylinder(after), cylinders.left_in_cylinder(state)
    least = -STEPS_ALLOWED * step_of(state.scale)
    if was_left is not None and left is not None and left < min(least, was_left):
        return _more_than_held(state, was_left)
    for i in range(min(len(after.recovered), len(state.recovered))):
        now, was = after.recovered[i].kg, state.recovered[i].kg
        if now is not None and was is not None and now < min(0.0, was):
            return LESS
    out = parts_kg(after)
    if reads_on(after) and out > parts_kg(state):
        return too_little_left(state, out)
    went_in = charged_kg(after)
    return too_much(state, went_in) if went_in > charged_kg(state) else ""


def _more_than_held(state: State, left_kg: float) -> str:
    return (
        f"That is more than the cylinder held ({label('mass', left_kg, state.units)} left). "
        "Check the scale, the number and its unit."
    )


def _gained(state: State, before_kg: float, what: str) -> str:
    before = label("mass", before_kg, state.units)
    return (
        f"The scale read {before} before {what}. A cylinder cannot gain weight. Check the scale "
        "and type what it shows."
    )


def check_sign(state: State, fields: Fields, name: str, problems: dict[str, str]) -> None:
    """A zeroed scale may count below zero or above it, but not one after the other."""
    shown = fields.numbers.get(name)
    last = state.last_scale_kg if name == "scale_before" else state.shot_before_kg
    if shown is None or state.scale is None:
        return
    if state.scale.mode == GROSS:
        if shown < 0.0:
            problems[name] = _NEGATIVE_GROSS
        return
    step = state.scale.resolution_kg
    if last is not None and ((shown < -step and last > step) or (shown > step and last < -step)):
        was = label("mass", last, state.units)
        problems[name] = (
            f"Before this the scale read {was}, on the other side of zero. Type its sign too. If "
            "it was zeroed again, save “Set the scale” again first."
        )
