"""The sentences of the advice, in the session's units."""

from lowside.core.advice import feeding
from lowside.core.advice.feeding import Feed
from lowside.core.advice.glance import limit_gap_k, value_k
from lowside.core.advice.outlook import Outlook
from lowside.core.advice.plan import LEAST_SHOT_KG
from lowside.core.advice.sides import AIR_LAST
from lowside.core.handbook.system import System
from lowside.core.judging.by_weight import weigh_in
from lowside.core.judging.findings import Unknown, sentence
from lowside.core.judging.targets import SUBCOOLING, SUPERHEAT
from lowside.core.numbers.unit_choice import label, small_mass
from lowside.core.session.state import State

MANY = 15.0
"""From more openings on weighing in is quicker: each takes about 4 minutes. Our choice: of 112
units of the tuning half (curves, seed 211) 30 were told so, and 26 of them took 12 more or more."""
OVER_SAID = 1.15
"""From this share over the advised weight on, it is said. Our choice."""

NO_UNIT = "Enter the unit and its target first. A reading means nothing without them."
NO_READING = "No reading yet. The first reading shows whether the unit is undercharged at all."
OLD_READING = (
    "The last reading is more than 15 minutes old, or an entry was voided or corrected since. "
    "Take a new reading before you add anything."
)
NO_USABLE_READING = "No reading so far was taken with the unit running and settled."
NO_HANDBOOK = "The readings cannot be judged without the property tables."
NO_GUESS = "The readings fit no known unit. Check the instruments."
SHUT_UNPLANNED = "Close the valve. Nothing more was planned before the next reading."
TOO_QUICK = (
    "With the valve opened as usual, 3 seconds bring too much. Use a charging restrictor and enter "
    "it at the cylinder, or only crack the valve. Watch the scale."
)
NOT_BY_HAND = (
    "At the last flow even 3 seconds are twice what the suction line can take. Use a charging "
    "restrictor and enter it at the cylinder, or weigh in."
)
TOO_COARSE = (
    "Even the smallest shot may be too much here. Use a finer scale if there is one, or weigh in."
)
NO_SUPERHEAT_LEFT = (
    "Superheat is too near its floor for even the smallest shot: charge lowers it. Check the "
    "orifice’s size and the indoor airflow."
)
CHANGE_CYLINDER = (
    "The cylinder holds less than the smallest shot, by its weight. Weigh another one and use that."
)
LOST_SHOT = (
    "Nobody knows what the last shot brought. See that the scale moves and the cylinder valve is "
    "open. Weigh the cylinder and correct the shot, or read again."
)
SETTLING = "Let the unit settle before you read."
BOIL_OFF = "Let the liquid in the suction line boil off before the next opening."
SETTLED = "The last shot has had time to settle. Read everything again."
NOT_SETTLED = "The last reading was taken before the unit had settled. It may still move."
STILL_MOVING = (
    "The last two readings differ although nothing was added between them. Read again until two "
    "agree."
)
CHEAP_CHECK = "Make that check, then read again. Add nothing before."
DRIER_FIRST = (
    "Perhaps a restriction. Feel both sides of the filter drier and answer it at the reading. Add "
    "nothing before."
)
FEEL_FIRST = "First feel both sides of the filter drier: colder after it is a restriction. "
CLAMPS_FIRST = "See that the clamps are tight and shaded."
LOOKS_ALIKE = (
    "More looks like low charge. Feel along the liquid line too, and hold the other thermometer "
    "beside each clamp. Compare the compressor’s current with the nameplate’s. "
) + AIR_LAST
CONFIRM_NEAR = "The reading is close to the edge of the tolerance. Read again to be sure."
READ_SURER = "With the hoses to come, much rests on the next shot. Read once more before it."
TRIM = "Within tolerance, but near the undercharged edge. A small shot brings it to the middle."
RECEIVER = (
    "Look for a liquid receiver. With one, subcooling stays low until it is full. Use the "
    "manufacturer’s method then, or weigh in."
)
HOSES_DO = "What the hoses still hold is enough to reach the target."
RECOVER_HOSES = (
    "The hoses hold so much that the end could not be read with it. Choose to recover the hoses "
    "before you add, or weigh in."
)
OVER_UNFED = (
    "It read short before, and nothing went in since. See whether a clamp came loose, or weather "
    "or load changed. Then read again."
)
NEVER_VENT = "Recover it into a recovery cylinder. Never vent it."


def before_second(drier: str) -> tuple[str, ...]:
    """The cheap checks that tell low charge from what looks like it, where nothing else speaks."""
    return ((FEEL_FIRST if drier == "" else "") + CLAMPS_FIRST, LOOKS_ALIKE)


def batch(state: State, planned_kg: float, fed_kg: float) -> str:
    """Why another opening follows without a reading."""
    return (
        small_mass(fed_kg, state.units)
        + " of the "
        + small_mass(planned_kg, state.units)
        + " that probably fit is in. Add the rest before the next reading."
    )


def glance(state: State, outlook: Outlook) -> str:
    """What to look at before the next opening of a batch: beside it, as it may end the batch."""
    text = "Look at both gauges before you open. If "
    shown = already(state, outlook, limit_gap_k(outlook))
    if shown == "":
        return text + "they already show the target, wait and read."
    more = "more" if outlook.quantity == SUBCOOLING else "less"
    return text + shown + " or " + more + ", wait and read."


def already(state: State, outlook: Outlook, gap_k: float) -> str:
    """What the gauges show with this gap; empty for a pressure."""
    value = value_k(outlook, gap_k)
    if value is None:
        return ""
    name = "subcooling"
    if outlook.quantity != SUBCOOLING:
        name = "superheat" if outlook.quantity == SUPERHEAT else "approach"
    return name + " is already " + label("temperature_difference", value, state.units)


def saw_enough(state: State, outlook: Outlook, gap_k: float) -> str:
    """Why a glance ended the batch."""
    shown = already(state, outlook, gap_k)
    return "The gauges already show the target." if shown == "" else f"At the look {shown}."


def may_hide(state: State, outlook: Outlook) -> tuple[str, ...]:
    """What subcooling may not show where nobody ruled out a receiver."""
    if outlook.quantity != SUBCOOLING or state.unit_texts.get("receiver", "") in ("", "no"):
        return ()
    return (RECEIVER,)


def liquid_limit(state: State, most_kg: float) -> str:
    """Why the shot is smaller than what is missing."""
    return (
        "At most about "
        + small_mass(most_kg, state.units)
        + " at once, so the suction gas can boil it and the gauges show it."
    )


def missing(state: State, outlook: Outlook, fed_kg: float) -> str:
    """How much is still missing, as a range, with `fed_kg` in since the reading."""
    low = max(outlook.low_kg - fed_kg, 0.0)
    middle = max(outlook.missing_kg - fed_kg, low)
    high = max(outlook.high_kg - fed_kg, middle)
    return (
        "Still missing: "
        + small_mass(low, state.units)
        + " to "
        + small_mass(high, state.units)
        + ", most likely about "
        + small_mass(middle, state.units)
        + "."
    )


def in_hoses(state: State, to_come_kg: float) -> tuple[str, ...]:
    """What the close-out brings, beside all shots; nothing where it is too little to say."""
    if to_come_kg < LEAST_SHOT_KG:
        return ()
    held = small_mass(to_come_kg, state.units)
    return ("The hoses still hold about " + held + ". It goes in at close-out.",)


def hoses_too_much(state: State, to_come_kg: float) -> str:
    """What the close-out brings is too much for this unit, or nobody can say that it fits."""
    return (
        "The hoses still hold about "
        + small_mass(to_come_kg, state.units)
        + ". With it this unit may end outside the tolerance. Recover it."
    )


def recover_too(state: State, to_come_kg: float) -> str:
    """What the hoses hold is more of what is too much already."""
    held = small_mass(to_come_kg, state.units)
    return "The hoses still hold about " + held + ". Do not clear it into the unit: recover it too."


def of_shot(
    state: State, outlook: Outlook, amount_kg: float, asked_kg_s: float, fed_kg: float
) -> tuple[str, ...]:
    """What is said of every shot: how far to open, what is missing, and what the hoses bring."""
    told = [flow(state, outlook.flow, asked_kg_s)]
    told.extend(runs_over(state, outlook.flow, amount_kg))
    told.append(missing(state, outlook, fed_kg))
    # Before anything was fed the odds say little of how much is missing.
    if len(outlook.observations) > 1:
        told.extend(many_openings((outlook.missing_kg - fed_kg) / amount_kg))
    told.extend(in_hoses(state, outlook.to_come_kg))
    return tuple(told)


def flow(state: State, seen: Feed, asked_kg_s: float) -> str:
    """How far to open the valve, and where the seconds come from."""
    asked = small_mass(asked_kg_s * 60.0, state.units)
    if not seen.learned:
        return (
            "Crack the valve so the scale falls by at most about "
            + asked
            + " a minute. Its flow is not known yet: watch the scale."
        )
    text = "The last opening ran " + small_mass(seen.rate_kg_s * 60.0, state.units) + " a minute"
    if feeding.too_fast(seen, asked_kg_s):
        return text + ". Open less, to about " + asked + " a minute, so the gas can boil it."
    if feeding.rate_to_count_on(seen, asked_kg_s) > seen.rate_kg_s:
        return text + ". Up to " + asked + " a minute is fine."
    return text + ". Keep to that."


def many_openings(openings: float) -> tuple[str, ...]:
    """That weighing in is quicker, where so many openings are to come."""
    if openings <= MANY:
        return ()
    count = str(int(openings))
    return ("Weighing in is probably quicker: about " + count + " more such openings are to come.",)


def runs_over(state: State, seen: Feed, amount_kg: float) -> tuple[str, ...]:
    """That the weight to close at is less, because this hand runs over it."""
    if seen.over < OVER_SAID:
        return ()
    more = small_mass((seen.over - 1.0) * amount_kg, state.units)
    return ("Your shots run over by " + more + ". The weight allows for it.",)


def all_fed(state: State, fed_kg: float) -> str:
    """Why less is recovered than the reading alone would say."""
    fed = small_mass(fed_kg, state.units)
    return "It still read short before the last " + fed + " went in. No more than that is too much."


def whole_charge(state: State, system: System) -> tuple[str, ...]:
    """The whole charge by weight, for a unit that was recovered and evacuated; or why it is not
    known."""
    charge = weigh_in(system)
    if isinstance(charge, Unknown):
        told = system.nameplate_refrigerant != ""
        return (sentence(charge.reason, state.units),) if told else ()
    text = "The whole charge by weight: " + label("mass", charge.total_kg, state.units)
    if charge.line_kg is None:
        return (text + " by the nameplate. The line set’s share is not known.",)
    return (text + ", line set included.",)
