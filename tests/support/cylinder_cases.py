"""A use of a cylinder, for the tests of the ledger and of the register; a stamp that is in date."""

from dataclasses import replace
from datetime import UTC, datetime

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.findings import Finding
from lowside.core.session.cylinder import contents_findings
from lowside.core.session.events import Moment
from lowside.core.session.ledger import CylinderUse, uses_in
from lowside.core.session.state import State, latest_reading


def at(minutes: int) -> Moment:
    return Moment("run", minutes * 60_000, 1_764_000_000_000 + minutes * 60_000)


def use_of(state: State) -> CylinderUse | None:
    """What a session says of the cylinder it names last."""
    return next(reversed(uses_in(state)), None)


def stamp_of_last_year() -> str:
    """The stamp of a recovery cylinder that may be filled, whenever the test runs: a server whose
    clock is the real one refuses it five years on."""
    return f"06/{datetime.now(UTC).year - 1}"


def half_used(sid: str = "A", minutes: int = 0, **changed: object) -> CylinderUse:
    """Half a cylinder used: 15 kg at the start, 14 kg at the end, on a 5 g scale."""
    made = CylinderUse(
        sid=sid,
        label="C-12",
        refrigerant="R-410A",
        tare_kg=6.0,
        start_kg=15.0,
        end_kg=14.0,
        started=at(minutes),
        closed=at(minutes + 50),
        resolution_kg=0.005,
        added_kg=1.0,
    )
    return replace(made, **changed)  # type: ignore[arg-type]


def contents(state: State, handbook: Handbook) -> tuple[Finding, ...]:
    """What is known of this session's cylinder, after its newest reading."""
    latest = latest_reading(state)
    read = None if latest is None else latest.reading
    return contents_findings(state.cylinder, state.system, read, handbook)
