"""The sentences of the advice, in the session's units."""

from lowside.core.advice.feeding import Feed
from lowside.core.advice.outlook import Outlook
from lowside.core.judging.findings import Finding, sentence
from lowside.core.judging.targets import WeighIn
from lowside.core.numbers.unit_choice import label, small_mass
from lowside.core.session.state import State

NO_UNIT = "Enter the unit and its target first; a reading means nothing without them."
NO_READING = "Nothing has been read yet: the first reading says whether charge is missing at all."
NO_USABLE_READING = "No reading so far was taken with the unit running and settled."
NO_HANDBOOK = "The readings cannot be judged without the property tables."
NO_GUESS = "The readings fit no unit this program can imagine. Check the instruments."
SHUT_UNPLANNED = "Shut the valve: nothing more was planned before the next reading."
SHUT_IN_TIME = "Shut the valve at the weight or the time, whichever comes first."
TOO_QUICK = (
    "At the last flow this takes less than 3 seconds, too short for a hand. Only crack the valve, "
    "or use the charging restrictor, and watch the scale."
)
BOIL_OFF = "Let what lies in the suction line boil off before the next opening."
SETTLED = "The last shot has had time to settle: read everything again."
NOT_SETTLED = "The unit has not settled since the last shot, so the reading may still move."
READ_AGAIN_SETTLED = "The last reading was taken before the unit had settled: read again."
CONFIRM_OVER = "The reading is just past the tolerance: read again before anything is taken out."
CONFIRM_NEAR = "The reading is close to the edge of the tolerance: a second one settles it."
TRIM = "Within tolerance, but near its lower edge: a small shot brings it to the middle."
NEVER_VENT = "Recover it into a recovery cylinder; never vent it."


def finding(state: State, found: Finding) -> str:
    """A finding in the session's units."""
    return sentence(found, state.units)


def settling(state: State) -> str:
    """Why to wait after a shot."""
    if len(state.shots) <= 1:
        return "Let the shot boil off and the unit settle; how fast it does shows in the readings."
    return "Let the shot boil off and the unit settle before you read."


def batch(state: State, planned_kg: float, fed_kg: float) -> str:
    """Why another opening follows without a reading."""
    return (
        small_mass(fed_kg, state.units)
        + " of the "
        + small_mass(planned_kg, state.units)
        + " that surely fit are in; the rest may follow before the next reading."
    )


def liquid_limit(state: State, most_kg: float) -> str:
    """Why the shot is smaller than what is missing."""
    return (
        "No more than about "
        + small_mass(most_kg, state.units)
        + " at once, so that the suction gas can boil all of it."
    )


def missing(state: State, outlook: Outlook) -> str:
    """How much is still missing, as a range."""
    low = outlook.low_kg if outlook.low_kg > 0.0 else 0.0
    return (
        "Still missing: "
        + small_mass(low, state.units)
        + " to "
        + small_mass(outlook.high_kg if outlook.high_kg > low else low, state.units)
        + ", most likely about "
        + small_mass(outlook.missing_kg if outlook.missing_kg > low else low, state.units)
        + "."
    )


def flow(state: State, seen: Feed, asked_kg_s: float) -> str:
    """How far to open the valve, and where the seconds come from."""
    asked = small_mass(asked_kg_s * 60.0, state.units)
    if not seen.learned:
        return (
            "Crack the valve so that the scale falls by no more than about "
            + asked
            + " a minute; its flow is not known yet, so watch the scale."
        )
    text = "The last opening ran " + small_mass(seen.rate_kg_s * 60.0, state.units) + " a minute"
    if seen.rate_kg_s > asked_kg_s * 1.5:
        return text + ": open less, to about " + asked + " a minute, so that the gas can boil it."
    return text + ", about what the suction gas can boil."


def whole_charge(state: State, charge: WeighIn) -> str:
    """The whole charge by weight, for a unit that was recovered and evacuated."""
    text = "The whole charge by weight: " + label("mass", charge.total_kg, state.units)
    if charge.line_kg is None:
        return text + " by the nameplate; the line set’s share is not known."
    return text + ", line set included."
