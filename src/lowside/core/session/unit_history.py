"""A unit's history: the sessions at one unit and the charge added over time."""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.session.events import Moment
from lowside.core.session.ledger import ROUNDING_KG, label_key
from lowside.core.session.state import State, added_kg, unweighed_shots
from lowside.core.session.unit import designation


@dataclass(frozen=True)
class UnitUse:
    """One session at one unit."""

    sid: str
    site: str
    unit_label: str
    refrigerant: str
    technician: str
    started: Moment
    closed: Moment | None
    added_kg: float
    """Weighed charge [kg]."""
    unweighed_shots: int
    """Shots whose amount is unknown, on top of it."""
    nameplate_charge_kg: float | None


@dataclass(frozen=True)
class UnitLine:
    """A session with what had been added at the unit by its end, itself included [kg]."""

    use: UnitUse
    total_kg: float
    at_least: bool
    """The total lacks shots whose amount is unknown."""


@dataclass(frozen=True)
class UnitHistory:
    """All sessions at one unit in time order; names as written last."""

    site: str
    unit_label: str
    lines: tuple[UnitLine, ...]

    def sentence(self, choice: UnitChoice) -> str:
        """What repeated charging means, empty when there was none. Common practice, no source."""
        charged = [line for line in self.lines if added_to(line.use)]
        if len(charged) < 2:
            return ""
        last = self.lines[-1]
        total = total_text(last.total_kg, last.at_least, choice)
        told = f", {total} in all" if total != "" else ""
        return (
            f"Charge was added here in {len(charged)} sessions{told}. A sealed system does not "
            "use up refrigerant. Find the leak."
        )


def added_to(use: UnitUse) -> bool:
    """Whether a session added charge, of whatever amount."""
    return use.added_kg > ROUNDING_KG or use.unweighed_shots > 0


def total_text(kilograms: float, at_least: bool, choice: UnitChoice) -> str:
    """What was added in all; "" where nobody knows any of it."""
    if at_least and kilograms <= ROUNDING_KG:
        return ""
    return ("at least " if at_least else "") + label("mass", kilograms, choice)


def unit_use_of(state: State) -> UnitUse | None:
    """What a session says of its unit; `None` before it names one, and for practice."""
    if state.job is None or state.started is None or state.practice:
        return None
    return UnitUse(
        sid=state.sid,
        site=state.job.site,
        unit_label=state.job.unit_label,
        refrigerant=designation(state.unit_texts),
        technician=state.job.technician,
        started=state.started,
        closed=state.closed,
        added_kg=added_kg(state),
        unweighed_shots=unweighed_shots(state),
        nameplate_charge_kg=state.unit_numbers.get("nameplate_charge"),
    )


def unit_histories(uses: Sequence[UnitUse]) -> tuple[UnitHistory, ...]:
    """One history for each (site, unit label), in the order of their first session."""
    ordered = list(uses)
    ordered.sort(key=lambda use: (use.started.at, use.sid))
    groups: dict[str, list[UnitUse]] = {}
    for use in ordered:
        key = label_key(use.site) + "\n" + label_key(use.unit_label)
        groups.setdefault(key, []).append(use)
    return tuple(_history(group) for group in groups.values())


def _history(group: Sequence[UnitUse]) -> UnitHistory:
    lines: list[UnitLine] = []
    total = 0.0
    unknown = 0
    for use in group:
        total = total + use.added_kg
        unknown = unknown + use.unweighed_shots
        lines.append(UnitLine(use, total, unknown > 0))
    return UnitHistory(group[-1].site, group[-1].unit_label, tuple(lines))
