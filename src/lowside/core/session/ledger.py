"""A cylinder's ledger: which sessions weighed it, and whether it lost weight between them.

A cylinder that weighs less at the start of a job than at the end of the one before has leaked, was
used without a record, or was weighed with something else on the scale. All three need a person.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass
from lowside.core.session.events import Moment
from lowside.core.session.state import State, shots_by_cylinder, shots_of_cylinder, sum_of_shots

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
    closed: Moment | None
    resolution_kg: float | None
    """Step of the scale used [kg]; `None` when it was not recorded."""
    added_kg: float
    """Sum of the weighed shots fed from it [kg]."""


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


def use_of(state: State) -> CylinderUse | None:
    """What a session says of its cylinder; `None` before it names one.

    A practice session has none either: its cylinder is not real, and its weights would look like
    a leak of the real one with that number.
    """
    cylinder = state.cylinder
    if cylinder is None or state.practice:
        return None
    return CylinderUse(
        sid=state.sid,
        label=cylinder.label,
        refrigerant=cylinder.refrigerant,
        tare_kg=cylinder.tare_kg,
        start_kg=state.start_weight.kg if state.start_weight is not None else None,
        end_kg=state.end_weight.kg if state.end_weight is not None else None,
        started=state.started,
        closed=state.closed,
        resolution_kg=state.scale.resolution_kg if state.scale is not None else None,
        added_kg=sum_of_shots(shots_of_cylinder(state)),
    )


def uses_in(state: State) -> list[CylinderUse]:
    """What a session says of all its cylinders, in the order it used them."""
    use = use_of(state)
    return uses_before(state) + ([] if use is None else [use])


def uses_before(state: State) -> list[CylinderUse]:
    """The uses of the cylinders that another one took the place of in this session, of those that
    fed a shot or were weighed after: the others were typed wrong or not used."""
    found: list[CylinderUse] = []
    last = use_of(state)
    fed = shots_by_cylinder(state)
    for i, used in enumerate(state.used_before):
        if last is not None and (len(fed[i]) > 0 or used.end is not None):
            found.append(
                replace(
                    last,
                    label=used.cylinder.label,
                    refrigerant=used.cylinder.refrigerant,
                    tare_kg=used.cylinder.tare_kg,
                    start_kg=None if used.start is None else used.start.kg,
                    end_kg=None if used.end is None else used.end.kg,
                    resolution_kg=None if used.scale is None else used.scale.resolution_kg,
                    added_kg=sum_of_shots(fed[i]),
                )
            )
    return found


def last_use(uses: Sequence[CylinderUse], cylinder: str, before: Moment) -> CylinderUse | None:
    """The newest use of the cylinder labeled `cylinder` that started before `before`.

    One whose start is unknown cannot be placed in time and is left out.
    """
    key = label_key(cylinder)
    found: CylinderUse | None = None
    for use in in_time_order(uses):
        if label_key(use.label) == key and use.started is not None and use.started.at < before.at:
            found = use
    return found


def last_end_kg(uses: Sequence[CylinderUse], cylinder: str, before: Moment) -> float | None:
    """What the cylinder weighed, gross, when its last job before `before` ended [kg].

    `None` when there was none, or when that job left no end weight: an older one says nothing,
    because the job in between took an unknown amount.
    """
    use = last_use(uses, cylinder, before)
    return None if use is None else use.end_kg


def left_kg(state: State, uses: Sequence[CylinderUse]) -> float | None:
    """The same for the session's cylinder, before this session."""
    if state.cylinder is None or state.started is None:
        return None
    return last_end_kg(uses, state.cylinder.label, state.started)


def warnings_now(state: State, uses: Sequence[CylinderUse]) -> tuple[LedgerWarning, ...]:
    """What the running session's cylinder says against its last use in another session."""
    use = use_of(state)
    if use is None or use.started is None:
        return ()
    others = [other for other in uses if other.sid != use.sid]
    earlier = last_use(others, use.label, use.started)
    return () if earlier is None else between(earlier, use)


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


def in_time_order(uses: Sequence[CylinderUse]) -> list[CylinderUse]:
    """By start, then session; those without a start come last, because they cannot be placed."""
    dated = [(use.started.at, use.sid, use) for use in uses if use.started is not None]
    dated.sort(key=lambda item: (item[0], item[1]))
    undated = [use for use in uses if use.started is None]
    undated.sort(key=lambda use: use.sid)
    return [use for _at, _sid, use in dated] + undated


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
        return (
            "The last session with this cylinder has no end weight. A leak since then cannot be "
            "seen."
        )
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
