"""What somebody who looks at the whole unit would have done in one session of the bench.

Common practice, no source: written after reading such sessions one by one.
"""

from lowside.core.advice.advice import ADD, FINISH, RECOVER
from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.block import WAIT
from lowside.practice.technician import Charged

STILL = 0.3
"""Share of the tolerance. A reading that moved by less has not answered. Our choice."""
HARDLY_RESPONDS = "hardly responds"
LETS_TOO_MUCH = "lets too much through"


def expert(outcome: Charged) -> str:
    """One or two sentences that go on from “An expert”."""
    if any("receiver" in tag for tag in outcome.tags):
        return "follows the liquid line to the tank first, and charges by the manufacturer’s way."
    if outcome.ended == ADD:
        return _of_no_end(outcome)
    if outcome.ended not in (FINISH, RECOVER):
        return _of_turned_away(outcome)
    if abs(outcome.gap_k) <= outcome.tolerance_k:
        return _of_within(outcome)
    return _of_over(outcome) if outcome.gap_k < 0.0 else _of_short(outcome)


def _of_no_end(outcome: Charged) -> str:
    fed = _ounces(_fed_kg(outcome))
    if _moved_k(outcome) < STILL * outcome.tolerance_k:
        return (
            f"weighs in long before. {outcome.shots} openings brought {fed}, and the reading never "
            f"answered; {_ounces(_short_kg(outcome))} are still missing. A unit that lacks so much "
            "has a leak: finds it, repairs it, recovers, evacuates, weighs in by the nameplate, "
            "and trims by the reading once liquid shows."
        )
    return (
        f"goes on in larger openings through a restrictor, or weighs in: {outcome.shots} openings "
        f"brought {fed}, the reading is on its way, and only the number of openings ended it."
    )


def _of_turned_away(outcome: Charged) -> str:
    if LETS_TOO_MUCH in outcome.why:
        return (
            "compares suction clamp and gauge with a second pair, reads superheat three times over "
            "5 min, and believes the middle one: instruments and a sound valve that hunts differ "
            "by that much. Superheat that stays low is the bulb or the airflow, and then the page "
            "is right. Else adds on."
        )
    if HARDLY_RESPONDS in outcome.why and _moved_k(outcome) < STILL * outcome.tolerance_k:
        more = (
            " On this coil the tolerance is an ounce or less, so small shots are no way either."
            if "microchannel" in outcome.tags
            else ""
        )
        return (
            f"stops here too: {_ounces(_fed_kg(outcome))} went in and nothing moved. Does not go "
            f"on blind. Leak-checks, recovers and weighs in by the nameplate.{more}"
        )
    return (
        "makes the check that the page names, with a second instrument, before anything else. "
        "If the sign is gone, adds on. If it stays, the page is right."
    )


def _of_within(outcome: Charged) -> str:
    leap = _largest_step_k(outcome)
    if leap > outcome.tolerance_k:
        return (
            "leaves it, because it is within tolerance, and calls it luck: one opening moved it "
            f"by {format_decimal(leap * 1.8, 0)} °F, more than the tolerance. Next time takes a "
            "scale that shows grams and a restrictor, or recovers and weighs in."
        )
    return "leaves it: it is within tolerance."


def _of_over(outcome: Charged) -> str:
    recovers = "" if outcome.hoses_recovered else " and recovers what the hoses hold"
    if "microchannel" in outcome.tags:
        return (
            "does not charge such a coil by its reading: the tolerance is an ounce or less. "
            f"Recovers and weighs in; or takes a scale that shows grams{recovers}."
        )
    if _largest_step_k(outcome) > outcome.tolerance_k:
        return (
            "fits a charging restrictor before the first opening: one opening moved this reading "
            f"by {format_decimal(_largest_step_k(outcome) * 1.8, 0)} °F. Now recovers the surplus."
        )
    if "orifice" in outcome.tags:
        return (
            "reads the wet bulb twice with another instrument before the last shot, and stops at "
            "the upper half of the tolerance. Now recovers the surplus."
        )
    if outcome.hoses_recovered:
        return "waits 15 min before the last shot and reads again. Now recovers the surplus."
    return "has short hoses with low-loss ends, or recovers what is in them, and waits 15 min."


def _of_short(outcome: Charged) -> str:
    text = (
        "compares clamp and gauge with a second pair before the end, and then adds "
        f"{_ounces(_short_kg(outcome))} in small shots."
    )
    if "flat" in outcome.tags:
        text += " On a flat unit the hoses do not make up for it."
    return text


def _fed_kg(outcome: Charged) -> float:
    return outcome.told[0].missing_kg - outcome.told[-1].missing_kg


def _short_kg(outcome: Charged) -> float:
    """Still missing after the last advice, the hoses not counted."""
    return max(outcome.told[-1].missing_kg, 0.0)


def _moved_k(outcome: Charged) -> float:
    """How far the settled reading came toward the target by all that was fed."""
    return outcome.told[0].gap_k - outcome.told[-1].gap_k


def _largest_step_k(outcome: Charged) -> float:
    """The furthest the settled reading was moved by one opening: from the advice to add to the
    next one that is not to wait."""
    furthest = 0.0
    opened_at: float | None = None
    for step in outcome.told:
        if step.advice.action == WAIT:
            continue
        if opened_at is not None:
            furthest = max(furthest, opened_at - step.gap_k)
        opened_at = step.gap_k if step.advice.action == ADD else None
    return furthest


def _ounces(kilograms: float) -> str:
    return format_decimal(kilograms / OUNCE_KG, 1) + " oz"
