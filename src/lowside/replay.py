"""Replays a session's events: what is true, and what the readings say, after each."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from lowside.core.advice.advice import Advice, advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Step, open_step
from lowside.core.judging.charge import reason
from lowside.core.pages.wording import day_and_time, title_of
from lowside.core.session.events import Event, in_order, moment_of
from lowside.core.session.fold import fold
from lowside.core.session.state import State, added_kg, latest_reading, open_shot
from lowside.store.logs import SESSIONS


def replay(events: Sequence[Event], handbook: Handbook) -> Iterator[dict[str, Any]]:
    """After each event in order: kind, open step, superheat, subcooling [K], verdict, reason,
    charge added [g] and advice (`as_json`).

    `step` and `step_title` are `None` when all are done, and when `handbook` lacks the procedure.
    """
    ordered = in_order(events)
    state: State | None = None
    for count in range(1, len(ordered) + 1):
        event = ordered[count - 1]
        state = fold(ordered[:count], handbook, state)
        step = _step(state, handbook)
        yield {
            "eid": event.eid,
            "kind": event.kind,
            "title": title_of(event.kind),
            "time": day_and_time(moment_of(event)),
            "step": step.id if step is not None else None,
            "step_title": step.title if step is not None else None,
            "running": state.running,
            "shot_open": open_shot(state) is not None,
            "added_g": added_kg(state) * 1000.0,
            "closed": state.closed is not None,
            **_judgment(state),
            "advice": as_json(advise(state, moment_of(event))),
        }


def store_of(file: Path) -> Path | None:
    """The data folder of a session's log, `None` when the log is in no store."""
    year = file.absolute().parent
    return year.parent.parent if year.parent.name == SESSIONS else None


def _step(state: State, handbook: Handbook) -> Step | None:
    procedure = handbook.procedures.get(state.procedure)
    return None if procedure is None else open_step(procedure, state.done)


def _judgment(state: State) -> dict[str, Any]:
    latest = latest_reading(state)
    if latest is None or latest.assessment is None:
        return {"superheat_k": None, "subcooling_k": None, "verdict": None, "reason": None}
    assessment = latest.assessment
    return {
        "superheat_k": _number(assessment.measured.superheat_k),
        "subcooling_k": _number(assessment.measured.subcooling_k),
        "verdict": assessment.verdict,
        "reason": reason(assessment, state.units),
    }


def _number(value: object) -> float | None:
    return value if isinstance(value, float) else None


def as_json(advice: Advice) -> dict[str, Any]:
    """The advice as `lowside replay --json` prints it, masses in g."""
    return {
        "action": advice.action,
        "amount_g": _grams(advice.amount_kg),
        "open_s": advice.open_s,
        "wait_s": advice.wait_s,
        "remaining_g": _grams(advice.remaining_kg),
        "remaining_low_g": _grams(advice.remaining_low_kg),
        "remaining_high_g": _grams(advice.remaining_high_kg),
        "reasons": list(advice.reasons),
    }


def _grams(kilograms: float | None) -> float | None:
    return None if kilograms is None else kilograms * 1000.0
