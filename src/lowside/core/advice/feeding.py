"""How fast charge goes in, and how much liquid the suction gas can boil: the size of one shot.

Liquid fed to the suction line boils on the gas's superheat and on the heat of the pipe. What comes
faster than the gas can boil it lies in the line; how much may lie there is `HELD_KG_PER_W`. The
physics and the figures are in `docs/advice.md`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lowside.core.handbook.system import System
from lowside.core.numbers.arithmetic import to_step
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.core.session.state import Shot, State, step_of

FIRST_RATE_KG_S = 0.020
"""Feed the size of the first opening must be safe for: a hand that opens as always. A hose with its
core in the port passes 25 g/s and more (COMPUTED, an upper bound); no published figure was found.
Its seconds come from the flow that is asked for. Our choice."""

SAFE_SUPERHEAT_K = 2.0
"""Superheat that must be left at the compressor while liquid is fed."""

BOILS: dict[str, float] = {
    "R-22": 1.8e-8,
    "R-32": 1.3e-8,
    "R-134a": 2.4e-8,
    "R-290": 1.3e-8,
    "R-404A": 3.9e-8,
    "R-407A": 2.4e-8,
    "R-407C": 2.1e-8,
    "R-407F": 2.1e-8,
    "R-410A": 2.5e-8,
    "R-417A": 3.1e-8,
    "R-421A": 3.3e-8,
    "R-422B": 3.3e-8,
    "R-422D": 3.7e-8,
    "R-427A": 2.3e-8,
    "R-448A": 2.3e-8,
    "R-449A": 2.4e-8,
    "R-450A": 2.6e-8,
    "R-452A": 3.5e-8,
    "R-452B": 1.8e-8,
    "R-454A": 2.2e-8,
    "R-454B": 1.8e-8,
    "R-454C": 2.5e-8,
    "R-455A": 2.2e-8,
    "R-507A": 4.1e-8,
    "R-513A": 3.1e-8,
    "R-600a": 1.3e-8,
    "R-1234yf": 3.6e-8,
    "R-1234ze(E)": 2.7e-8,
    "R-744": 4.6e-8,
}
"""Liquid [kg/s] that one watt of cooling boils for each kelvin of suction superheat: flow × heat
capacity / heat of evaporation, and flow is capacity / heat of evaporation. Computed from the
property tables at 5 °C, rounded down. That part of the liquid flashes by itself, and that the flow
is larger than this because the valve's own flash takes from the coil, are left as a margin."""
BOILS_LEAST = 1.3e-8
"""For any other refrigerant: the lowest of the table."""

HELD_KG_PER_W = 0.020 / TON_W
"""Liquid the line, the accumulator and the warm shell take for a moment: 20 g a ton. Our choice,
on the safe side of the heat in a meter of warm suction line and the compressor's shell."""

FLASHES = 0.09
"""Share of the liquid that boils by its own warmth when it comes from a cylinder at 25 °C to 10 °C:
0.09 (R-32) at least, computed from the tables for the refrigerants above."""

LAG_S = 2.0
"""Between the scale showing the weight and the valve being closed. Our choice."""

HAND = 1.4
"""How much faster than the last opening the next one may be by the same hand. Our choice."""
STEPS_TRUSTED = 10.0
"""A shot of this many scale steps shows the flow to 5 %."""
UNSEEN_S = 10.0
SLOWEST_KG_S = 0.002
"""A valve open for so long, at the least that a charging restrictor lets through, moves a scale by
more than one step, unless the scale hangs or the cylinder is closed. Our choice."""
FAR_TOO_MUCH = 2.0
"""A hand that brings this many times what the suction line can take in its quickest opening is not
asked for another; one that brings less is told to crack the valve. Our choice: of 97 sessions of a
technician who feeds as ever (tuning half of curves, seed 31) 1 ended 12 (9 would have come right),
1.5 ended 7 and 2 ends 1; liquid came in 3, 3 and 4 of them, and in 4 without the rule."""
MORE_THAN_TAKEN = 1.3
"""From this many times on the hand is asked, before it opens, to crack the valve or to fit a
charging restrictor. Our choice: less than a third too much has not brought liquid in the bench."""
LEAST_ASKED_S = 3.0
"""No hand is asked to open and close a valve in less: the scale alone says when. Our choice."""
RUNS_OVER_FROM = 2
"""So many shots show what this hand does with the weight it is told to close at. Our choice."""
RUNS_OVER_MOST = 2.0
"""No shot counts as more than so many times its advice: beyond is a slip and no habit. Our
choice."""
LEAST_WEIGHED_KG = 1.0e-6
"""No scale shows less, so less shows no flow."""
LEAST_TIMED_S = 1.0
"""No hand opens and closes a valve faster, so a shorter time shows no flow."""
ASKED_SHARE = 0.7
"""Share of what boils that the valve is to be opened for: a hand sets it only roughly."""
SLOWEST_ASKED_KG_S = 0.0007
"""No hand valve is asked to be held slower: 1.5 oz a minute. Our choice."""
FASTER_THAN_ASKED = 1.5
"""A flow up to this many times the asked one, or down to the same share below it, is what a hand
makes of it. Our choice."""
SLOW_ENOUGH = 2.0
"""Nobody who feeds no faster than this many times the slowest that is asked for is told to open
less: 3 oz a minute by hand. Our choice."""

MOST_IN_ONE_OPENING_KG = 4.0 * OUNCE_KG
"""No opening is larger, whatever boils. READ: the only residential step found is 4 to 6 oz
(NAC260GKA1), for taking out; nobody publishes one for adding."""
MOST_BEFORE_READING_KG_PER_W = 2.0 * OUNCE_KG / TON_W
"""What may go in, in however many openings, before the next settled reading: 2 oz a ton, so 6 oz
for 3 tons, the upper end of the same step; manufacturers ask for 10 to 20 min after each change
(READ: NAC260GKA1 and others)."""
LEAST_BLIND_KG_PER_W = 0.8 * OUNCE_KG / TON_W
"""No opening is asked to be smaller while subcooling shows nothing: 0.8 oz a ton, half of it where
ounces matter. With a glance after each, that is about what a steep unit still takes. Our choice."""
SMALL_PARTS = 0.5
"""Share of that where ounces matter: a microchannel coil, or a coil nobody has looked at. Our
choice: manufacturers ask for very accurate charge and print no ounces (38APD p. 34, LCH036)."""
ACCUMULATOR_PARTS = 0.75
"""Share of that with a suction accumulator, which hides what was fed. Our choice; that readings
lag behind it is from a training article."""

RESTRICTOR_RATE_KG_S = 0.004
"""Flow taken for the first opening through a charging restrictor. Our choice, on the fast side: no
published figure was found. That R-410A is metered at the manifold is READ (569J appendix A)."""

LEAST_EXCESS = 0.2
"""The flow is taken to be at least this share faster than what boils: neither is known well."""

LEAST_BOIL_OFF_S = 60.0
MOST_BOIL_OFF_S = 240.0
"""Pause between two openings of one batch."""

LOWEST_CAPACITY_W = 1.5 * TON_W
"""Taken when the unit's capacity is not known: small, so shots stay small."""


@dataclass(frozen=True)
class Feed:
    """What this session's shots showed [kg/s]; `learned` is false before the first weighed one."""

    rate_kg_s: float
    fastest_kg_s: float
    """The most to expect at the next opening."""
    learned: bool
    over: float = 1.0
    """What goes in for each gram that is advised, 1 at least: what this hand runs over by."""
    slowest_kg_s: float = SLOWEST_ASKED_KG_S
    """No less is asked for [kg/s]: what the way in use can do."""


def flow_of(state: State, shots: int) -> Feed:
    """Feed through the opened valve by the session's first `shots` shots. Those from before a
    restrictor was put on or taken off say nothing of it."""
    cylinder = state.cylinder
    since = 0 if cylinder is None else cylinder.fitted_after
    fitted = cylinder is not None and cylinder.restrictor
    first = RESTRICTOR_RATE_KG_S if fitted else FIRST_RATE_KG_S
    here = state.shots[since:shots]
    flow = feed_of(here, step_of(state.scale), first)
    slowest = SLOWEST_ASKED_KG_S
    if fitted:
        slowest = max(slowest, min(SLOWEST_KG_S, flow.rate_kg_s))
    return replace(flow, over=runs_over(here), slowest_kg_s=slowest)


def runs_over(shots: Sequence[Shot]) -> float:
    """What went in for each gram that was advised, by the shots that have both, 1 at least: as if
    one more shot of their middle size had been met. A hand that feeds less is not told more."""
    fed = 0.0
    advised = 0.0
    count = 0
    for shot in shots:
        if shot.amount_kg is not None and shot.planned_kg is not None and shot.planned_kg > 0.0:
            fed = fed + min(shot.amount_kg, RUNS_OVER_MOST * shot.planned_kg)
            advised = advised + shot.planned_kg
            count = count + 1
    if count < RUNS_OVER_FROM:
        return 1.0
    met = advised / count
    return max((fed + met) / (advised + met), 1.0)


def unseen(shot: Shot) -> bool:
    """Whether the scale hardly moved with the valve open: it hangs or the cylinder is closed."""
    if shot.amount_kg is None or shot.open_s is None or shot.step_kg is None:
        return False
    if shot.doubtful_time or shot.open_s < UNSEEN_S:
        return False
    return shot.amount_kg <= shot.step_kg and shot.open_s * SLOWEST_KG_S > 2.0 * shot.step_kg


def feed_of(shots: Sequence[Shot], step_kg: float, first_kg_s: float = FIRST_RATE_KG_S) -> Feed:
    """Feed through the opened valve, from shots with a weight and a trusted time; `first_kg_s`
    before there is one.

    The last one counts, averaged with those before it until it is much heavier than the scale's
    step: a hand opens the valve a little differently each time, and differently again when told to.
    """
    kilograms = 0.0
    seconds = 0.0
    for i in range(len(shots) - 1, -1, -1):
        shot = shots[i]
        if shot.amount_kg is None or shot.open_s is None or shot.doubtful_time:
            continue
        if unseen(shot) or shot.amount_kg < 0.0 or shot.open_s <= 0.0:
            continue
        kilograms = kilograms + shot.amount_kg
        seconds = seconds + shot.open_s
        if kilograms >= STEPS_TRUSTED * step_kg:
            break
    if kilograms <= LEAST_WEIGHED_KG or seconds < LEAST_TIMED_S:
        return Feed(first_kg_s, first_kg_s, False)
    rate = kilograms / seconds
    return Feed(rate, HAND * rate + 0.5 * step_kg / seconds, True)


@dataclass(frozen=True)
class Suction:
    """The suction side as the last reading shows it."""

    refrigerant: str
    capacity_w: float
    superheat_k: float | None
    share: float = 1.0
    """Density of its gas as a share of the rated, 1 at most: the displacement is the unit's own,
    so flow is nominal capacity's times this."""
    parts: float = 1.0
    """Share of the usual shot this circuit may be given."""


def suction_of(
    system: System,
    superheat_k: float | None,
    share: float | None = None,
    parts: float = 1.0,
) -> Suction:
    """The suction side of a unit; a small one when its capacity is not known.

    `share` is `Assessment.suction_share`; gas denser than rated counts as rated. Gas that may not
    lose any of its superheat gets nothing.
    """
    if superheat_k is not None and superheat_k < SAFE_SUPERHEAT_K:
        parts = 0.0
    capacity = system.capacity_w
    if capacity is None or capacity <= 0.0:
        capacity = LOWEST_CAPACITY_W
    dense = 1.0 if share is None or share > 1.0 else share
    return Suction(system.refrigerant, capacity, superheat_k, dense, parts)


def parts_of(unit_texts: Mapping[str, str]) -> float:
    """Share of the usual shot by what the unit's form says of its circuit."""
    parts = 1.0
    if unit_texts.get("coil", "") != "tube_fin":
        parts = parts * SMALL_PARTS
    if unit_texts.get("accumulator", "") == "yes":
        parts = parts * ACCUMULATOR_PARTS
    return parts


def boil_rate(suction: Suction) -> float:
    """Liquid [kg/s] the suction gas boils while `SAFE_SUPERHEAT_K` is left, 0 at least."""
    if suction.superheat_k is None or suction.superheat_k <= SAFE_SUPERHEAT_K:
        return 0.0
    boils = BOILS.get(suction.refrigerant, BOILS_LEAST)
    flow = suction.capacity_w * suction.share
    boiled = flow * boils * (suction.superheat_k - SAFE_SUPERHEAT_K)
    return boiled / (1.0 - FLASHES)


def held_kg(suction: Suction) -> float:
    """Liquid [kg] that may lie in the suction line for a moment."""
    return suction.capacity_w * HELD_KG_PER_W


def rate_to_ask_for(suction: Suction, flow: Feed) -> float:
    """Feed [kg/s] to open the valve for: less than the suction gas boils as it comes, but no less
    than the way in use can do."""
    return max(ASKED_SHARE * boil_rate(suction), flow.slowest_kg_s)


def too_fast(flow: Feed, asked_kg_s: float) -> bool:
    """Whether the last opening was so much faster than asked that it is worth saying."""
    fastest = max(FASTER_THAN_ASKED * asked_kg_s, SLOW_ENOUGH * flow.slowest_kg_s)
    return flow.learned and flow.rate_kg_s > fastest


def rate_to_count_on(flow: Feed, asked_kg_s: float) -> float:
    """The flow [kg/s] the next opening is timed by: the last one where a hand may keep to it, else
    the one that is asked for."""
    slow = flow.rate_kg_s * FASTER_THAN_ASKED < asked_kg_s
    if not flow.learned or slow or too_fast(flow, asked_kg_s):
        return asked_kg_s
    return flow.rate_kg_s


def seconds_for(amount_kg: float, rate_kg_s: float) -> float | None:
    """How long the valve is open for `amount_kg` at this flow [s]; `None` when no hand is that
    quick."""
    seconds = amount_kg / rate_kg_s
    return None if seconds < LEAST_ASKED_S else seconds


def most_in_one_opening(suction: Suction, flow: Feed, step_kg: float = 0.0) -> float:
    """The largest shot [kg] the suction line can take at this flow, and never more than a few
    ounces: thin gas carries less to the compressor's warm shell too, so all of it falls with the
    density. A scale that shows only steps shows the weight half of one late."""
    most = line_takes(suction, flow.fastest_kg_s) - 0.5 * step_kg
    return min(most, MOST_IN_ONE_OPENING_KG * suction.share) * suction.parts


def line_takes(suction: Suction, rate_kg_s: float) -> float:
    """What the suction line can take at once at this flow [kg]."""
    left = max(1.0 - boil_rate(suction) / rate_kg_s, LEAST_EXCESS)
    return held_kg(suction) * suction.share / (1.0 - FLASHES) / left


def quickest_brings(suction: Suction, flow: Feed, times: float) -> bool:
    """Whether the quickest opening brings more than so many times what the suction line takes."""
    return LEAST_ASKED_S * flow.rate_kg_s > times * line_takes(suction, flow.rate_kg_s)


def beyond_a_hand(suction: Suction, flow: Feed) -> bool:
    """Whether even that is far too much, at the flow the last one showed. No hand is asked for
    another."""
    return flow.learned and quickest_brings(suction, flow, FAR_TOO_MUCH)


def whole_steps(kilograms: float, step_kg: float) -> float:
    """The nearest whole number of the scale's steps, one at least."""
    if step_kg <= 0.0:
        return kilograms
    return max(to_step(kilograms, step_kg), step_kg)


def most_before_reading(suction: Suction) -> float:
    """The most charge [kg] between two readings that count."""
    return suction.capacity_w * MOST_BEFORE_READING_KG_PER_W * suction.parts


def least_blind(suction: Suction) -> float:
    """The least an opening brings while the reading shows nothing of the charge [kg]."""
    return suction.capacity_w * LEAST_BLIND_KG_PER_W * suction.parts


def boil_off_s(suction: Suction) -> float:
    """Pause [s] until what lies in the suction line has boiled."""
    boiled = boil_rate(suction)
    if boiled <= 0.0:
        return MOST_BOIL_OFF_S
    pause = 1.5 * held_kg(suction) / boiled
    return min(max(pause, LEAST_BOIL_OFF_S), MOST_BOIL_OFF_S)
