"""Why no refrigerant may go in now: the entry check, the screens and the advice all ask here."""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.system import BY_WEIGHT
from lowside.core.judging.charge import UNSAFE, reason
from lowside.core.session.state import (
    DECIDED_TO_LEAVE,
    NOT_DECIDED,
    State,
    latest_reading,
)

BlockCode = Literal[
    "stopped",
    "wrong_refrigerant",
    "reading_stop",
    "not_qualified",
    "leaking",
    "mixed_refrigerant",
    "unprotected",
    "closed",
    "not_weighed",
    "no_baseline",
    "undecided",
    "leave",
]


@dataclass(frozen=True)
class Block:
    """A reason not to add charge, and what ends it."""

    code: BlockCode
    sentence: str
    cure: str


def blocks(state: State) -> tuple[Block, ...]:
    """Every reason that stands now, the most dangerous first; empty when a shot may be started."""
    found: list[Block] = []
    if not state.running:
        found.append(
            Block(
                "stopped",
                "The unit is stopped. Liquid fed into an idle system lies in the compressor.",
                "Keep the cylinder shut until the unit runs again and has settled.",
            )
        )
    found.extend(_wrong_refrigerant(state))
    found.extend(_over_pressure(state))
    found.extend(_failed_checks(state))
    if state.closed is not None:
        found.append(Block("closed", "This session is closed.", "Start a new one."))
    if state.start_weight is None:
        found.append(
            Block(
                "not_weighed",
                "The cylinder has not been weighed yet.",
                "Weigh it bare before the hose goes on; the record rests on it.",
            )
        )
    if not state.readings and (state.system is None or state.system.method != BY_WEIGHT):
        found.append(
            Block(
                "no_baseline",
                "No reading has been taken yet.",
                "Take the baseline reading first.",
            )
        )
    if state.decision == NOT_DECIDED:
        found.append(
            Block("undecided", "Nobody has decided to add charge.", "Do the decision step first.")
        )
    elif state.decision == DECIDED_TO_LEAVE:
        found.append(
            Block("leave", "The decision was not to add.", "Change the decision if it was wrong.")
        )
    return tuple(found)


def refrigerant_mismatch(state: State) -> bool:
    """The cylinder's label and the unit's nameplate name different refrigerants."""
    return (
        state.cylinder is not None
        and state.system is not None
        and state.cylinder.refrigerant != state.system.refrigerant
    )


def _wrong_refrigerant(state: State) -> list[Block]:
    if state.cylinder is None or state.system is None or not refrigerant_mismatch(state):
        return []
    return [
        Block(
            "wrong_refrigerant",
            f"Cylinder says {state.cylinder.refrigerant}, the unit says "
            f"{state.system.refrigerant}. Never mix them.",
            "Get the right cylinder, or correct the entry if one was mistyped.",
        )
    ]


def _over_pressure(state: State) -> list[Block]:
    latest = latest_reading(state)
    if latest is None or latest.assessment is None or latest.assessment.verdict != UNSAFE:
        return []
    return [
        Block(
            "reading_stop",
            reason(latest.assessment, state.units),
            "Shut the cylinder. Find the cause before anything else.",
        )
    ]


def _failed_checks(state: State) -> list[Block]:
    checks = state.checks
    found: list[Block] = []
    if checks.get("qualified") == "no":
        found.append(
            Block(
                "not_qualified",
                "Handling refrigerant needs the licence your law asks for.",
                "Call someone who holds it.",
            )
        )
    if checks.get("leak") == "leaking":
        found.append(
            Block(
                "leaking",
                "The unit leaks now. Charge added will be gone.",
                "Repair the leak first, then answer the checks again.",
            )
        )
    if checks.get("same_refrigerant") == "no":
        found.append(
            Block(
                "mixed_refrigerant",
                "Another refrigerant may be inside. Pressures then mean nothing.",
                "Recover, evacuate and weigh in the right charge.",
            )
        )
    if checks.get("protected") == "no":
        found.append(
            Block("unprotected", "No gloves or eye protection.", "Put them on; liquid burns cold.")
        )
    return found
