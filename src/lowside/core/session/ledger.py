"""A cylinder's ledger: which sessions weighed it, and whether it lost weight between them.

Uses are in the order of the weighings themselves. A session may be opened long before it weighs,
and one cylinder may serve two jobs at a time.

A cylinder that weighs less at the start of a job than at the end of the one before has leaked, was
used without a record, or was weighed with something else on the scale. All three need a person.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass
from lowside.core.session.events import Moment
from lowside.core.session.state import (
    Lot,
    Shot,
    State,
    UsedCylinder,
    shots_by_cylinder,
    sum_of_lots,
    sum_of_shots,
    unweighed_of,
)

WarningCode = Literal["lost", "gained", "no_end_weight", "tare_changed", "refrigerant_changed"]

LOST: WarningCode = "lost"
GAINED: WarningCode = "gained"
NO_END_WEIGHT: WarningCode = "no_end_weight"
TARE_CHANGED: WarningCode = "tare_changed"
REFRIGERANT_CHANGED: WarningCode = "refrigerant_changed"

STEPS_ALLOWED = 2.0
"""Steps of the coarser scale by which two weighings of an untouched cylinder may differ: each may
be off by one step (half from rounding, half from its zero), and the worst case adds up. Common
practice, no source."""

TARE_ALLOWANCE_KG = 0.05
"""A tare read in pounds to one decimal and the same tare in kilograms to one decimal differ by at
most this [kg], rounded up. Arithmetic of the two roundings."""

ROUNDING_KG = 0.000001
"""Weights closer than this are the same number typed in two units [kg], and less is nothing: 15 lb
typed in kilograms is still 15 lb."""


@dataclass(frozen=True)
class CylinderUse:
    """One session's use of one cylinder."""

    sid: str
    label: str
    refrigerant: str
    tare_kg: float
    start_kg: float | None
    """Gross weight before the hose went on [kg]."""
    end_kg: float | None
    """Gross weight after the hose came off [kg]."""
    started: Moment | None
    """When it was weighed before, or fed first; of one that did neither, the session's start."""
    closed: Moment | None
    """When it was weighed after, or fed last; `None` for one that was named only."""
    resolution_kg: float | None
    """Step of the scale used [kg]; `None` when it was not recorded."""
    added_kg: float
    """Sum of the weighed shots and of what was weighed in from it [kg]."""
    unweighed_shots: int = 0
    """Shots whose amount is unknown, on top of it."""


@dataclass(frozen=True)
class LedgerWarning:
    """Something between two uses that a person should look at; amounts in kg, gross."""

    code: WarningCode
    before: str
    """The earlier refrigerant, for REFRIGERANT_CHANGED; else empty."""
    now: str
    before_kg: float | None
    now_kg: float | None
    steps_known: bool
    """False when neither scale's step was recorded, so every difference warns."""

    def sentence(self, choice: UnitChoice) -> str:
        """What is wrong and what to do, in the units of `choice`."""
        return _sentence(self, choice)


def uses_in(state: State) -> list[CylinderUse]:
    """What a session says of all its cylinders, in the order it used them.

    A practice session has none: its cylinder is not real, and its weights would look like a leak
    of the real one with that number. One that another took the place of before it fed or was
    weighed after was typed wrong or not used, and is left out.
    """
    found: list[CylinderUse] = []
    if state.cylinder is None or state.practice:
        return found
    lots = len(state.lots)
    now = UsedCylinder(state.cylinder, state.start_weight, state.end_weight, state.scale, 0, lots)
    fed = shots_by_cylinder(state)
    first = 0
    for i, used in enumerate([*state.used_before, now]):
        use = _use(state, used, fed[i], state.lots[first : used.lots_until])
        if i == len(state.used_before) or fed[i] or first < used.lots_until or used.end is not None:
            found.append(use)
        first = used.lots_until
    return found


def _use(
    state: State, used: UsedCylinder, shots: Sequence[Shot], lots: Sequence[Lot]
) -> CylinderUse:
    start, end = used.start, used.end
    if start is not None and start.first is not None:
        start = start.first
    times = [lot.moment for lot in lots]
    for shot in shots:
        times.extend([shot.opened] if shot.closed is None else [shot.opened, shot.closed])
    for weight in (start, end):
        if weight is not None:
            times.append(weight.moment)
    times.sort(key=lambda moment: moment.at)
    return CylinderUse(
        sid=state.sid,
        label=used.cylinder.label,
        refrigerant=used.cylinder.refrigerant,
        tare_kg=used.cylinder.tare_kg,
        start_kg=None if start is None else start.kg,
        end_kg=None if end is None or end.fed_after else end.kg,
        started=times[0] if times else state.started,
        closed=times[-1] if times else None,
        resolution_kg=None if used.scale is None else used.scale.resolution_kg,
        added_kg=sum_of_shots(shots) + sum_of_lots(lots),
        unweighed_shots=unweighed_of(shots),
    )


def last_use(
    uses: Sequence[CylinderUse], cylinder: str, before: Moment | None
) -> CylinderUse | None:
    """Of the uses of the cylinder labeled `cylinder` that began before `before`, the one that was
    over last, as it was then; `None`: before now.

    One whose start is unknown cannot be placed in time and is left out. The same goes
    for one that was named only: it was not weighed and fed nothing, and would hide a loss.
    """
    key = label_key(cylinder)
    found = [
        use
        for use in uses
        if label_key(use.label) == key
        and use.closed is not None
        and use.started is not None
        and (before is None or use.started.at < before.at)
    ]
    found.sort(key=lambda use: (over(use), use.sid))
    return as_of(found[-1], before) if found else None


def over(use: CylinderUse) -> int:
    """When a use was over [ms since 1970-01-01 UTC]; 0 for one that cannot be placed in time."""
    moment = use.started if use.closed is None else use.closed
    return 0 if moment is None else moment.at


def as_of(use: CylinderUse, then: Moment | None) -> CylinderUse:
    """A use as it was then: without its end weight while it was not over. What it took until then
    cannot be told."""
    return use if then is None or over(use) <= then.at else replace(use, end_kg=None)


def weighed_at(use: CylinderUse) -> Moment | None:
    """When it was weighed before; `None` while it was not."""
    return None if use.start_kg is None else use.started


def use_before(state: State, uses: Sequence[CylinderUse]) -> CylinderUse | None:
    """The use of the session's cylinder before the session's own, among these and its own."""
    own = uses_in(state)
    if not own:
        return None
    use = own.pop()
    own.extend([one for one in uses if one.sid != use.sid])
    return last_use(own, use.label, weighed_at(use))


def left_kg(state: State, uses: Sequence[CylinderUse]) -> float | None:
    """What the session's cylinder weighed, gross, when its use before ended [kg].

    `None` when there was none, or when that one left no end weight: an older one says nothing,
    because the use in between took an unknown amount.
    """
    earlier = use_before(state, uses)
    return None if earlier is None else earlier.end_kg


def warnings_now(state: State, uses: Sequence[CylinderUse]) -> tuple[LedgerWarning, ...]:
    """What the running session's cylinder says against its use before."""
    earlier = use_before(state, uses)
    return () if earlier is None else between(earlier, uses_in(state)[-1])


def between(earlier: CylinderUse, use: CylinderUse) -> tuple[LedgerWarning, ...]:
    """Warnings from two uses of one cylinder that follow each other."""
    found: list[LedgerWarning] = []
    if earlier.refrigerant != use.refrigerant:
        found.append(
            LedgerWarning(
                REFRIGERANT_CHANGED,
                earlier.refrigerant,
                use.refrigerant,
                None,
                None,
                True,
            )
        )
    if abs(earlier.tare_kg - use.tare_kg) > TARE_ALLOWANCE_KG:
        found.append(_weights(TARE_CHANGED, earlier.tare_kg, use.tare_kg, True))
    if use.start_kg is None:
        return tuple(found)
    if earlier.end_kg is None:
        found.append(_weights(NO_END_WEIGHT, None, use.start_kg, True))
        return tuple(found)
    allowance = allowed_difference_kg(earlier, use)
    limit = ROUNDING_KG if allowance is None else allowance + ROUNDING_KG
    if earlier.end_kg - use.start_kg > limit:
        found.append(_weights(LOST, earlier.end_kg, use.start_kg, allowance is not None))
    if use.start_kg - earlier.end_kg > limit:
        found.append(_weights(GAINED, earlier.end_kg, use.start_kg, allowance is not None))
    return tuple(found)


def allowed_difference_kg(earlier: CylinderUse, use: CylinderUse) -> float | None:
    """By how much two weighings of the untouched cylinder may differ [kg].

    STEPS_ALLOWED times the coarser step; `None` when neither scale's step is known.
    """
    steps = [s for s in (earlier.resolution_kg, use.resolution_kg) if s is not None]
    if not steps:
        return None
    return STEPS_ALLOWED * max(steps)


def label_key(text: str) -> str:
    """A label as it is compared. Capitals tell nothing apart. A space more or less that no eye
    sees, at its ends or within it, does not either."""
    return " ".join([word for word in text.strip().lower().split(" ") if word != ""])


def _weights(
    code: WarningCode,
    before_kg: float | None,
    now_kg: float,
    steps_known: bool,
) -> LedgerWarning:
    return LedgerWarning(code, "", "", before_kg, now_kg, steps_known)


def _sentence(warning: LedgerWarning, choice: UnitChoice) -> str:
    if warning.code == REFRIGERANT_CHANGED:
        return (
            "Do not charge from this cylinder before you know what is inside. It held "
            f"{warning.before} last time, and now its label says {warning.now}."
        )
    if warning.before_kg is None or warning.now_kg is None:
        return "Its last job had not weighed it back before. A leak since then cannot be seen."
    before = label("mass", warning.before_kg, choice)
    now = label("mass", warning.now_kg, choice)
    if warning.code == TARE_CHANGED:
        return (
            f"The tare was {before} last time and is {now} now. Read the stamp again. It may be "
            "another cylinder."
        )
    difference = small_mass(abs(warning.before_kg - warning.now_kg), choice)
    unknown = "" if warning.steps_known else " The step of neither scale was recorded."
    if warning.code == LOST:
        return (
            f"The cylinder weighs {now}. Its last job ended at {before}, so {difference} is "
            "missing. It leaks, was used without a record, or a weighing was wrong. Leak-check "
            f"its valve and weigh it again.{unknown}"
        )
    return (
        f"The cylinder weighs {now}. Its last job ended at {before}, {difference} less. It was "
        "refilled, is another cylinder, or a weighing was wrong. Find out what is inside before "
        f"you charge from it.{unknown}"
    )
