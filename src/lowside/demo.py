"""Demo sessions: invented scenarios, played through the forms that a technician fills in."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.recording import Record, Refusal, record_form, start_data
from lowside.core.session.events import Event, Moment, hlc
from lowside.core.session.fold import fold
from lowside.core.session.state import State, shot_to_weigh
from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.store import Store, StoreError
from lowside.store.moved import why_moved
from lowside.web.clock import new_ulid

_PACKAGE = Path(__file__).parent
_CHECKOUT = _PACKAGE.parent.parent / "demo"
SINCE_LAST_ENTRY = timedelta(minutes=4)
SCENARIOS = _CHECKOUT if _CHECKOUT.is_dir() else _PACKAGE / "_demo"


@dataclass(frozen=True)
class Move:
    """One filled-in form, `after_s` seconds after the one before."""

    after_s: int
    form: str
    step: str
    typed: Mapping[str, str]


@dataclass(frozen=True)
class Scenario:
    """A whole session as data."""

    name: str
    start: datetime
    procedure: str
    moves: tuple[Move, ...]


class ScenarioError(Exception):
    """A scenario's form was refused. The message says which and why."""


def scenarios() -> list[Scenario]:
    """The shipped scenarios, oldest first."""
    found = [_scenario(path) for path in sorted(SCENARIOS.glob("*.json"))]
    return sorted(found, key=lambda scenario: scenario.start)


def put_demo_sessions(data: Path) -> int:
    """Write the demo sessions into the store at `data`, unless it has sessions already.

    Returns
        How many were written.
    """
    if elsewhere := why_moved(data):
        raise StoreError(elsewhere)
    data.mkdir(parents=True, exist_ok=True)
    store = Store.open(data, outline)
    try:
        if store.sessions(limit=1):
            return 0
        handbook = load_handbook()
        playing = [_as_if_today(scenario) for scenario in scenarios()]
        for scenario in playing:
            store.append(play(scenario, handbook))
        return len(playing)
    finally:
        store.close()


def _as_if_today(scenario: Scenario) -> Scenario:
    """An open session as if its last entry were a few minutes old: an old reading is no use."""
    if scenario.moves[-1].form == "record":
        return scenario
    lasted = timedelta(seconds=sum(move.after_s for move in scenario.moves))
    last = datetime.now(scenario.start.tzinfo).replace(second=0, microsecond=0) - SINCE_LAST_ENTRY
    return replace(scenario, start=last - lasted)


def play(scenario: Scenario, handbook: Handbook) -> list[Event]:
    """The events a technician's phone would have written.

    Raises
        ScenarioError: a form was refused.
    """
    at = int(scenario.start.timestamp() * 1000)
    offset = scenario.start.utcoffset()
    tz = int(offset.total_seconds() // 60) if offset is not None else 0
    sid = new_ulid(at)
    run = new_ulid(at)
    events: list[Event] = []

    def write(kind: str, data: Mapping[str, str], eid: str) -> None:
        events.append(
            Event(
                sid=sid,
                dev=run,
                seq=len(events) + 1,
                eid=eid,
                hlc=hlc(at, 0),
                at=at,
                tz=tz,
                mono=at - int(scenario.start.timestamp() * 1000),
                run=run,
                kind=kind,
                data=data,
            )
        )

    first = start_data({"procedure": scenario.procedure}, handbook)
    if first is None:
        raise ScenarioError(f"{scenario.name}: there is no procedure “{scenario.procedure}”")
    write("session.started", first, new_ulid(at))
    state: State | None = None
    for move in scenario.moves:
        at += move.after_s * 1000
        eid = new_ulid(at)
        typed = dict(move.typed) | {"eid": eid, "step": move.step}
        state = fold(events, handbook, state)
        shot = shot_to_weigh(state)
        if shot is not None:
            typed["shot"] = shot.eid
        now = Moment(run, at - int(scenario.start.timestamp() * 1000), at, tz)
        outcome = record_form(state, Address(FORM, sid, move.form), typed, handbook, now)
        if isinstance(outcome, Refusal):
            why = [outcome.attempt.message, *outcome.attempt.problems.values()]
            raise ScenarioError(f"{scenario.name}, {move.form}: {' '.join(why)}")
        if isinstance(outcome, Record):
            write(outcome.kind, outcome.data, eid)
    return events


def _scenario(path: Path) -> Scenario:
    data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return Scenario(
        name=path.stem,
        start=datetime.fromisoformat(data["start"]),
        procedure=data["procedure"],
        moves=tuple(_moves(data["moves"])),
    )


def _moves(items: Sequence[Mapping[str, Any]]) -> list[Move]:
    return [
        Move(item["after_s"], item["form"], item.get("step", ""), item.get("typed", {}))
        for item in items
    ]
