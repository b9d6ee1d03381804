"""Why no refrigerant may go in now: the entry check, the screens and the advice all ask here."""

from dataclasses import dataclass

from lowside.core.handbook.system import BY_WEIGHT
from lowside.core.judging.charge import STOP, reason
from lowside.core.session.state import State, latest_reading

CLOSE_LOW_SIDE = (
    "Close the low-side manifold valve. Leave the cylinder valve open: liquid in the yellow hose "
    "must never be trapped between two closed valves."
)
"""What a stop asks for. Trapped liquid passes 5000 psi with little heat (Plumbing & HVAC Canada,
“Trapped refrigerant”, read). That the cylinder stays open as the relief: common practice, no
source; no manufacturer's text was found for a unit that stops."""


@dataclass(frozen=True)
class Block:
    """A reason not to add charge, and what ends it."""

    code: str
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
                f"{CLOSE_LOW_SIDE} Add nothing until it runs again and has settled.",
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
    if state.decision == "":
        found.append(
            Block("undecided", "Nobody has decided to add charge.", "Do the decision step first.")
        )
    elif state.decision == "leave":
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
    if latest is None or latest.assessment is None or latest.assessment.verdict != STOP:
        return []
    return [
        Block(
            "reading_stop",
            reason(latest.assessment, state.units),
            f"{CLOSE_LOW_SIDE} Find the cause before anything else.",
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
