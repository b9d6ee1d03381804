"""Another cylinder in the middle of a session: what was weighed of the one before is not its own.

A new entry with another label or tare is another cylinder, and is weighed again. A correction of
the entry on the timeline is the same cylinder typed wrong, and its weights stay.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import joining_steps
from lowside.core.handbook.system import withdrawal_from
from lowside.core.session.at_hoses import (
    CLEARED_BACK,
    CLEARED_TO_SUCTION,
    EMPTIED,
    HOSES_OFF,
    is_done,
    liquid_was_let_in,
)
from lowside.core.session.ledger import label_key
from lowside.core.session.state import (
    RECOVERS_HOSES,
    STANDS,
    Cylinder,
    Entry,
    Lot,
    Shot,
    State,
    UsedCylinder,
    Weight,
    shots_of_cylinder,
    sum_of_lots,
    sum_of_shots,
    unweighed_of,
)
from lowside.core.session.unit import designation
from lowside.core.session.walk import LIQUID_IN, RECOVERED_KIND

OF_A_CYLINDER = ("weight.start", "weight.end", "scale.set")
"""Kinds of entries that hold for the cylinder they were made with only."""
SLIP_KG = 0.25
"""A cylinder that lost this much more than it fed was not weighed rightly at first [kg]. Less is
what the hoses hold and what a scale may be off. Ours."""
SAME_TARE_KG = 0.003
"""Two tares this close are one, typed in other units [kg]: less than half of 0.01 lb and 5 g."""

WEIGH_IT = (
    "Weigh it bare before the hose goes on, and set the scale again. If it is the same one and "
    "was only typed wrong, void its last entry on the timeline and correct the one before."
)
FIRST_CLEAR = (
    "The hose holds this cylinder’s liquid, which sprays and burns at the nut. First do the two "
    "steps that begin the close-out: they close its valve and clear the hose. Then weigh this "
    "cylinder bare, at “End weight”, and come back here."
)
"""Before another one is named. Common practice, no source."""
FIRST_BACK = (
    "The hose holds this cylinder’s liquid, which is not this unit’s refrigerant. Do not clear it "
    "into the unit. Stop the unit and do the close-out with the unit off: it clears the hose back "
    "or recovers it. Then weigh this cylinder bare, at “End weight”, and come back here."
)
"""The same where it must not go in: common practice, no source."""
FIRST_OFF = (
    "The hose may still hold liquid of this cylinder: do not close its valve first. Do the "
    "close-out with the unit off, until the hose is empty and the valve closed. The red hose stays "
    "on the unit, the blue one where that goes. Then weigh this cylinder bare, at “End weight”, "
    "and come back here."
)
"""The same in a weigh-in: common practice, no source."""
WEIGH_FIRST = (
    "Weigh this cylinder bare first, at “End weight”: once another is named, that is lost. It "
    "cannot be weighed? Write why at “Do the weights agree?”."
)
SAME_ONE = (
    " If it is the same cylinder and was only typed wrong, correct its entry on the timeline."
)


def cylinder_from(fields: Fields, before: Cylinder | None, shots: int) -> Cylinder:
    """What the form of the cylinder says, entered after so many shots."""
    restrictor = fields.texts.get("restrictor", "") == "yes"
    fitted_after = 0
    if before is not None:
        fitted_after = before.fitted_after if before.restrictor == restrictor else shots
    return Cylinder(
        fields.texts["cylinder_label"],
        fields.texts["cylinder_refrigerant"],
        fields.numbers["cylinder_tare"],
        withdrawal_from(fields.texts["withdrawal"]),
        fields.numbers.get("cylinder_pressure"),
        fields.numbers.get("cylinder_temperature"),
        fields.numbers.get("hose_length"),
        fields.numbers.get("hose_bore"),
        restrictor,
        fitted_after,
    )


def is_another(before: Cylinder | None, now: Cylinder) -> bool:
    """Whether the entry tells of another cylinder than the one before it."""
    if before is None:
        return False
    if label_key(before.label) != label_key(now.label):
        return True
    return abs(before.tare_kg - now.tare_kg) > SAME_TARE_KG


def first_weight(
    before: Weight | None, kg: float, shots: Sequence[Shot], lots: Sequence[Lot]
) -> Weight | None:
    """The first weighing of a cylinder that weighs `kg` now, of all shots and lots so far; `None`
    when it fed none since, or when that weight cannot be true: a cylinder gains no weight, and
    loses no more than it fed."""
    if before is None:
        return None
    first = before if before.first is None else before.first
    fed = shots[first.shots :]
    amount = sum_of_shots(fed) + sum_of_lots(lots[first.lots :])
    lost = first.kg - kg
    if unweighed_of(fed) > 0 or (amount > 0.0 and lost <= amount + SLIP_KG):
        return first if lost >= 0.0 else None
    return None


def weigh_again(
    entries: list[Entry], done: dict[str, str], handbook: Handbook | None, procedure_id: str
) -> str:
    """The steps done by weighing the cylinder before are open again, and those that join a hose to
    it or let liquid in by weight. Closing it and clearing its hose was for the change.

    Returns
        eid of the step that opened its hose into the unit; "" when none did.
    """
    weighings = [entry.eid for entry in entries if entry.kind in OF_A_CYLINDER]
    for step in [step for step, eid in done.items() if eid in weighings]:
        done.pop(step, None)
    cleared = cleared_by(done)
    for again in (*CLEARED_TO_SUCTION, *CLEARED_BACK, *LIQUID_IN):
        done.pop(again, None)
    procedure = None if handbook is None else handbook.procedures.get(procedure_id)
    if procedure is not None:
        for joining in joining_steps(procedure):
            done.pop(joining.id, None)
    return cleared


def cleared_by(done: Mapping[str, str]) -> str:
    """eid of the step that opened the hose of the cylinder in use into the unit; "" for none."""
    found = ""
    for step in CLEARED_TO_SUCTION:
        found = done.get(step, found)
    return found


def liquid_in_hose(state: State) -> bool:
    """Whether the hose of the cylinder in use holds its liquid now. Before a recovery or a weigh-in
    the hoses are off or empty; what was weighed in since is asked of in `first_before`."""
    walked = [kind for kind in state.walk if kind != RECOVERS_HOSES]
    return not walked and liquid_was_let_in(state) and not is_done(state, EMPTIED)


def why_not_another(state: State, fields: Fields) -> str:
    """Why another cylinder may not be named yet; "" where it may, or where it is the same one."""
    first = first_before(state)
    if fields.problems or first == "":
        return ""
    named = cylinder_from(fields, state.cylinder, len(state.shots))
    return first + SAME_ONE if is_another(state.cylinder, named) else ""


def first_before(state: State) -> str:
    """What comes first before another cylinder is named; "" for nothing."""
    since = state.lots_recovered
    for used in state.used_before:
        since = max(since, used.lots_until)
    end = state.end_weight
    if sum_of_lots(state.lots[since:]) > 0.0 and (end is None or end.fed_after):
        return FIRST_OFF
    if liquid_in_hose(state):
        return FIRST_BACK if is_wrong(state) else FIRST_CLEAR
    asked = state.start_weight is not None and state.explanation == ""
    fed = asked and len(shots_of_cylinder(state)) > 0
    return WEIGH_FIRST if fed and (end is None or end.fed_after) else ""


def hose_holds_air(state: State) -> bool:
    """Whether the cylinder was bare after the vacuum, weighed or its hose taken off, and nothing
    was weighed in since."""
    if "vacuum.held" not in state.walk:
        return False
    off = [state.done.get(step, "") for step in (*HOSES_OFF, "wi_off")]
    lots = [lot.eid for lot in state.lots if lot.kg > 0.0]
    held, air = False, False
    for entry in state.entries:
        if entry.status != STANDS:
            continue
        if entry.kind == "vacuum.held":
            held, air = True, False
        elif entry.eid in lots:
            air = False
        elif entry.kind in ("weight.start", "weight.end") or entry.eid in off:
            air = held
    return air


def is_wrong(state: State) -> bool:
    """Whether the cylinder in use holds another refrigerant than the unit."""
    unit = designation(state.unit_texts)
    return state.cylinder is not None and unit not in ("", state.cylinder.refrigerant)


def not_joined(state: State) -> bool:
    """Whether liquid of a cylinder before was at the manifold, and this one’s is not there yet."""
    before = [used for used in state.used_before if used.scale is not None or used.shots_until > 0]
    return len(before) > 0 and not liquid_was_let_in(state)


def as_before(state: State, eid: str) -> State:
    """The session as far as the entry before this one: what was inside then."""
    found: list[Entry] = []
    for entry in state.entries:
        if entry.eid == eid:
            break
        found.append(entry)
    return replace(state, entries=tuple(found))


def mixed_with(state: State) -> str:
    """What may be inside beside the unit's own refrigerant: by the checks, or by a cylinder that
    fed it or whose hose was opened into it; "" for nothing. All of it ends with a whole recovery:
    only what was entered after the last one counts."""
    since: list[str] = []
    told = state.checks.get("same_refrigerant", "")
    for entry in state.entries:
        since.append(entry.eid)
        if entry.status != STANDS or entry.problems:
            continue
        if entry.kind == "checks.answered":
            told = state.checks.get("same_refrigerant", "")
        elif entry.kind == RECOVERED_KIND and entry.data.get("rc_what", "") == "whole":
            since = []
            told = ""
    return "Another refrigerant" if told == "no" else _fed_wrong(state, since)


def weighed_in_wrong(state: State) -> str:
    """Another refrigerant that was weighed in since the unit was empty; "" for none."""
    return _fed_wrong(state, [lot.eid for lot in state.lots[state.lots_recovered :]])


def _fed_wrong(state: State, eids: Sequence[str]) -> str:
    """The refrigerant of a cylinder that is not the unit's, where it fed the unit by one of these
    entries; "" for none."""
    used = [*state.used_before]
    if state.cylinder is not None:
        fed, lots = len(state.shots), len(state.lots)
        cleared = cleared_by(state.done)
        used.append(UsedCylinder(state.cylinder, None, None, None, fed, lots, 0, cleared))
    unit = designation(state.unit_texts)
    shots, lots = 0, 0
    for one in used:
        by = [one.cleared]
        by.extend([shot.eid for shot in state.shots[shots : one.shots_until]])
        by.extend([lot.eid for lot in state.lots[lots : one.lots_until] if lot.kg > 0.0])
        shots, lots = one.shots_until, one.lots_until
        wrong = unit not in ("", one.cylinder.refrigerant)
        if wrong and len([eid for eid in by if eid in eids]) > 0:
            return one.cylinder.refrigerant
    return ""


def was_weighed(state: State) -> bool:
    """Whether a start weight was taken of the cylinder before, and none of this one."""
    if state.start_weight is not None:
        return False
    for entry in state.entries:
        if entry.kind == "weight.start" and entry.status == STANDS and not entry.problems:
            return True
    return False
