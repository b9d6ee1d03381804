"""How this unit answers to charge, learned during the session, and what is still missing.

There is a grid of guesses about the unit: how steep its answer is at the target, how far off the
target the answer goes flat, how slowly it settles, and how much is missing now. Each guess is
weighted by how well it explains every reading so far. The prior is stated below; a long tail
(Student's t with five degrees of freedom) keeps one bad reading from settling the matter. Only
`+ - * /` and square roots: see `docs/advice.md`.

`gap` is how far the reading is on the side of missing charge [K]: superheat minus its target,
or target minus subcooling. Charge is counted as a share of the full charge.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lowside.core.advice.decay import decay
from lowside.core.advice.prior import Slopes
from lowside.core.judging.targets import SUBCOOLING, TargetQuantity
from lowside.core.numbers.arithmetic import square_root
from lowside.core.session.state import Taken

SUBCOOLING_SHAPES = ((1.0, 2.0, 0.0), (1.0, 1.5, 0.0), (1.05, 1.0, 0.0), (1.05, 1.0, 0.7))
"""Where subcooling goes flat when the condenser runs out of liquid, as a share of the target below
it; the power of the liquid in the condenser it goes with (1, 1.5 or 2: flat first, then steep); and
how its line is bent. A bend above 0 is steep first and flat later: the gap of a guess
is `y (1 + bend y / target)` with `y` the straight line. That it goes flat, and that it is flat
first and then steep, is published (READ, an abstract of the IIR); the figures are our choice."""
SUPERHEAT_CEILINGS = (0.7, 1.0, 1.6, 4.0)
"""Where superheat goes flat, a share of the way from target to warmest suction gas. Our choice."""

SETTLING_S = (70.0, 150.0, 400.0)
SETTLING_WEIGHTS = (0.35, 0.40, 0.25)
"""Time constant [s] of the readings after a shot. Manufacturers ask for 5, 10, 15 or 20 min between
a change and a reading (READ, instructions of seven units and RA3.2); three of these constants
are 3.5 to 20 min. Constants and weights are our choice."""

MISSING_FLAT = 0.42
MISSING_MOST = 0.60
"""Share of the full charge missing at the first reading: equally likely up to the first, then
falling to nothing at the second. Of surveyed units 55 % lacked 10 to 30 % (READ, summary of a 2012
study); published tests end at 60 to 70 % of the charge (READ). The two figures are our choice."""
OVERCHARGE_MOST = 0.25
OVERCHARGE_WEIGHT = 0.5
"""Too much at the first reading is believed up to this share of the full charge, half as readily as
missing charge. Published tests reach 20 to 30 % too much (READ); the rest is our choice."""

NODES = 26
NODES_SEEN = 18
"""Amounts missing that are tried with each slope, evenly between the least and the most the last
reading allows: where it may be flat, so many of them in the part where it is not. A steep unit's
amounts lie as close as its slope asks for. Our choice: about a third of a tolerance, and quick."""

NOISE_K = 0.30
"""How far one reading strays from the next without anything having changed [K]. Our choice."""
PLATEAU_FROM = 0.8
PLATEAU_K = 0.5
"""Short by more than this share of its target, a condenser has hardly any liquid: what it shows is
the instruments' offset, the same each time. So such readings count as one that strays by this [K].
Our choice, around the instruments' 0.45."""
LEFT_K = 0.7
BACK_K = 0.4
"""A reading that far from the mean of those before it [K] is the first with liquid, unless a later
one comes back to within the second. Two readings of a resting unit differ by 0.4 K. Our choice."""
DROP_K = 0.25
OFFSET_TRUSTED = 0.7
"""Subcooling below zero cannot be: past the pressure lost on the way to the gauge [K], this share
is the instruments'. The other side is not believed: it would ask for more. Our choice."""
BIAS_REACH = 1.2
BIAS_SIDE = 0.3
"""A spread of the instruments' error as three points: 0.4 in the middle and 0.3 at 1.2 of it on
either side: our choice, close to the normal distribution's variance (COMPUTED: 0.864)."""
SHAPE_SUBCOOLING = 0.05
SHAPE_SUPERHEAT = 0.10
"""What a guess's curve is trusted to, as a share of the gap. Our choice."""

TAIL = 5.0
"""Degrees of freedom of Student's t. `learn` and `_starving` take its power, minus (5 + 1) / 2, as
three factors. Our choice: one odd reading does not settle the matter."""
STEP_NOISE = 0.4
"""What weighing a shot strays by, as a share of the scale's step: two readings, each rounded, stray
by 1/√6 of a step (COMPUTED, 0.41)."""

REACH_SPREADS = 3.5
"""How many standard deviations from the last reading its gap is still tried. Our choice."""
REACH_OVERCHARGED = -0.3
"""The least share missing that is tried. Our choice, a little past OVERCHARGE_MOST."""
REACH_BEFORE_FLAT = 0.6
REACH_ROOM = 2.0
"""Up to this share of the headroom a reading is not flat yet, so no more is tried than this many
times what a straight line says. Our choice."""
REACH_BENT = 0.6
"""No less is tried than this share of what a straight line says: one shape is steep first. Ours."""
REACH_FLAT = 2.2
"""From this many times the headroom on, every shape is flat. Our choice."""
REACH_LEAST = 0.002
"""The least width of the range that is tried. Our choice."""

STARVED_SLOPES_K = (25.0, 220.0)
"""Rise of an expansion valve's superheat [K] for a whole full charge missing beyond where
subcooling went flat: the least and the most believed. That it rises below about 80 % is published
(READ, summary of ASHRAE RP-1173); how fast is our choice."""
VALVE_SUPERHEAT_K = 6.5
VALVE_SUPERHEAT_SPREAD_K = 4.0
"""Superheat a valve holds when its manufacturer's figure is not known, and how far it may differ
[K]. A manufacturer's guide says 8 to 12 °F, another 7 to 9 °F (READ), which is 3.9 to 6.7 K at the
outlet of the coil; the line adds some. Our choice."""
VALVE_SETTING_SPREAD_K = 2.0
"""The same spread when the manufacturer's figure is known. Our choice."""


@dataclass(frozen=True)
class Observation:
    """One reading of a running unit."""

    added_kg: float
    """Charge added before it since the first observation [kg]."""
    gap_k: float
    """How far it is on the side of missing charge [K]."""
    since_shot_s: float | None
    """Since the last shot was closed [s]; `None` when there was none."""
    valve_superheat_k: float | None
    """Superheat of a unit with an expansion valve, for what it says about starving [K]."""
    taken: Taken | None = None


@dataclass(frozen=True)
class Subject:
    """What is known of the unit before it answers."""

    quantity: TargetQuantity
    target_k: float
    tolerance_k: float
    full_charge_kg: float
    headroom_k: float
    """From the target superheat to the warmest the suction gas can get [K]; for subcooling the
    target itself."""
    valve_setting_k: float | None
    """The manufacturer's superheat, when known [K]."""
    step_kg: float
    """The scale's smallest step [kg]."""
    slopes: Slopes
    bias_k: float
    """How far the instruments may be off as a whole [K]."""


@dataclass(frozen=True)
class Guess:
    """A pair of missing charge and steepness; the weights of all pairs sum to 1."""

    weight: float
    missing: float
    """Share of the full charge missing at the last reading, negative when there is too much."""
    slope_k: float
    """Change of the reading [K] for a whole full charge, at the target."""


@dataclass(frozen=True)
class Learned:
    """What the readings leave believable."""

    guesses: tuple[Guess, ...]
    settling: tuple[float, ...]
    """Weight of each of `SETTLING_S`; they sum to 1."""


def learn(subject: Subject, observations: Sequence[Observation]) -> Learned | None:
    """Every guess with its weight after the readings; `None` when none explains them.

    Args:
        subject: the unit; `full_charge_kg` above 0.
        observations: at least one, in order of time.
    """
    observations = _without_offset(subject, observations)
    count = len(observations)
    last = observations[count - 1]
    added = [(last.added_kg - o.added_kg) / subject.full_charge_kg for o in observations]
    amounts, which = _distinct(added)
    gaps = [o.gap_k for o in observations]
    plateau = on_plateau(subject, observations)
    before = _charge_before(observations)
    decays = [_decays(observations, settling) for settling in SETTLING_S]
    ladder = subject.slopes.kelvin
    prior = subject.slopes.weights
    reach = _reach(subject, observations, before)
    variances: list[float] = []
    for i in range(count):
        flat = plateau * PLATEAU_K * PLATEAU_K if i < plateau else 0.0
        variances.append(_variance(subject, observations[i]) + flat)
    shapes = _shapes(subject)
    guesses: list[Guess] = []
    settling = [0.0 for _ in SETTLING_S]
    total = 0.0
    for slope, slope_weight in zip(ladder, prior, strict=True):
        weighing = _weighing_error(subject, slope)
        sharp = [1.0 / (TAIL * (own + weighing)) for own in variances]
        onsets = [_onset(subject, slope, each) for each in shapes]
        for missing, width in _tried(subject, slope, reach, MISSING_MOST - added[0]):
            first = slope_weight * width * _first_missing_weight(missing + added[0])
            if first <= 0.0:
                continue
            pair = 0.0
            for j in range(len(shapes)):
                believed = first
                if last.valve_superheat_k is not None:
                    beyond = missing - onsets[j]
                    believed = believed * _starving(subject, last.valve_superheat_k, beyond)
                settled = [gap_at(missing + a, slope, shapes[j], subject) for a in amounts]
                here = [settled[place] for place in which]
                for k in range(len(SETTLING_S)):
                    decay_k = decays[k]
                    odd = 1.0
                    shown: list[float] = []
                    for i in range(count):
                        value = here[i]
                        if before[i] >= 0:
                            value = value + (shown[before[i]] - value) * decay_k[i]
                        shown.append(value)
                        off = gaps[i] - value
                        odd = odd * (1.0 + off * off * sharp[i])
                    weight = believed * SETTLING_WEIGHTS[k] / (odd * odd * odd)
                    settling[k] = settling[k] + weight
                    pair = pair + weight
            total = total + pair
            guesses.append(Guess(pair, missing, slope))
    if total <= 0.0:
        return None
    return Learned(
        tuple([Guess(g.weight / total, g.missing, g.slope_k) for g in guesses]),
        tuple([weight / total for weight in settling]),
    )


def _without_offset(subject: Subject, observations: Sequence[Observation]) -> Sequence[Observation]:
    """The readings less what a condenser without liquid showed of the instruments' offset."""
    count = on_plateau(subject, observations)
    if count == 0 or subject.headroom_k != subject.target_k:
        return observations
    below = 0.0
    for observation in observations[:count]:
        below = below + observation.gap_k - subject.target_k
    offset = OFFSET_TRUSTED * (below / count - DROP_K)
    if offset <= 0.0:
        return observations
    return [replace(each, gap_k=each.gap_k - offset) for each in observations]


def _distinct(values: Sequence[float]) -> tuple[list[float], list[int]]:
    """Each value once, and for every value its place among them: readings often share a charge."""
    found: list[float] = []
    places: list[int] = []
    for value in values:
        if value not in found:
            found.append(value)
        places.append(found.index(value))
    return found, places


def gap_at(
    missing: float, slope_k: float, shape: tuple[float, float, float], subject: Subject
) -> float:
    """The settled gap [K] of a guess when `missing` (share of the full charge) is missing."""
    straight = slope_k * missing
    if straight <= 0.0:
        return straight
    ceiling_k, power, bend = shape
    if subject.quantity == SUBCOOLING:
        if power > 1.0:
            liquid = max(1.0 - straight / (power * ceiling_k), 0.0)
            covered = liquid * liquid if power == 2.0 else liquid * square_root(liquid)
            return ceiling_k * (1.0 - covered)
        bent = straight * (1.0 + bend * straight / subject.headroom_k)
        share = bent / ceiling_k
        share = share * share
        return bent / square_root(square_root(1.0 + share * share))
    share = straight / ceiling_k
    return straight / square_root(1.0 + share * share)


def quantile(values: Sequence[tuple[float, float]], share: float) -> float:
    """The value below which `share` of the weight lies, of (value, weight) pairs."""
    return quantiles(values, (share,))[0]


def quantiles(values: Sequence[tuple[float, float]], shares: Sequence[float]) -> list[float]:
    """The values below which these shares of the weight lie; `shares` must rise."""
    ordered = sorted(values, key=lambda pair: pair[0])
    found: list[float] = []
    reached = 0.0
    for value, weight in ordered:
        reached = reached + weight
        while len(found) < len(shares) and reached >= shares[len(found)]:
            found.append(value)
        if len(found) == len(shares):
            return found
    while len(found) < len(shares):
        found.append(ordered[len(ordered) - 1][0])
    return found


def missing_with_bias(guesses: Sequence[Guess], bias_k: float) -> list[tuple[float, float]]:
    """(share of the full charge missing, weight), spread by what the instruments may be off."""
    found: list[tuple[float, float]] = []
    for guess in guesses:
        spread = BIAS_REACH * bias_k / guess.slope_k
        found.append((guess.missing - spread, guess.weight * BIAS_SIDE))
        found.append((guess.missing, guess.weight * (1.0 - 2.0 * BIAS_SIDE)))
        found.append((guess.missing + spread, guess.weight * BIAS_SIDE))
    return found


def _variance(subject: Subject, observation: Observation) -> float:
    share = SHAPE_SUBCOOLING if subject.quantity == SUBCOOLING else SHAPE_SUPERHEAT
    shape = share * observation.gap_k
    return NOISE_K * NOISE_K + shape * shape


def on_plateau(subject: Subject, observations: Sequence[Observation]) -> int:
    """How many readings from the first on show a condenser without liquid."""
    if subject.quantity != SUBCOOLING:
        return 0
    far = PLATEAU_FROM * subject.headroom_k
    total = 0.0
    count = 0
    for each in observations:
        if each.gap_k <= far or (count > 0 and each.gap_k < total / count - LEFT_K):
            break
        total = total + each.gap_k
        count = count + 1
    for i in range(len(observations) - 1, count - 1, -1):
        gap = observations[i].gap_k
        if count > 0 and gap > far and gap > total / count - BACK_K:
            return i + 1
    return count


def _weighing_error(subject: Subject, slope_k: float) -> float:
    off = slope_k * STEP_NOISE * subject.step_kg / subject.full_charge_kg
    return off * off


def _charge_before(observations: Sequence[Observation]) -> list[int]:
    """For each reading the last one before the charge changed, or −1."""
    found: list[int] = []
    for i in range(len(observations)):
        j = i - 1
        while j >= 0 and observations[j].added_kg >= observations[i].added_kg:
            j = j - 1
        found.append(j)
    return found


def _decays(observations: Sequence[Observation], settling_s: float) -> list[float]:
    found: list[float] = []
    for observation in observations:
        if observation.since_shot_s is None:
            found.append(0.0)
        else:
            found.append(decay(observation.since_shot_s / settling_s))
    return found


def _shapes(subject: Subject) -> list[tuple[float, float, float]]:
    """(ceiling [K], power, bend) of the shapes tried."""
    room = subject.headroom_k
    if subject.quantity == SUBCOOLING:
        return [(share * room, power, bend) for share, power, bend in SUBCOOLING_SHAPES]
    return [(share * room, 1.0, 0.0) for share in SUPERHEAT_CEILINGS]


def _reach(
    subject: Subject, observations: Sequence[Observation], before: Sequence[int]
) -> tuple[float, float]:
    """The least and the most the settled gap [K] may be at the last reading: less than it shows
    when the slowest unit is still on its way from the reading before."""
    last = observations[len(observations) - 1]
    room = REACH_SPREADS * square_root(_variance(subject, last))
    low = last.gap_k - room
    came_from = before[len(before) - 1]
    if came_from >= 0 and last.since_shot_s is not None:
        on_way = decay(last.since_shot_s / SETTLING_S[len(SETTLING_S) - 1])
        fallen = observations[came_from].gap_k - last.gap_k
        if fallen > 0.0:
            low = low - fallen * on_way / (1.0 - on_way)
    return low, last.gap_k + room


def _tried(
    subject: Subject, slope_k: float, reach: tuple[float, float], most: float
) -> list[tuple[float, float]]:
    """(share missing, width it covers) tried with this slope; `most` can be missing."""
    low, high = reach
    lowest = REACH_BENT * low / slope_k
    if low <= 0.0:
        lowest = max(low / slope_k, REACH_OVERCHARGED)
    if high <= 0.0:
        return _evenly(lowest, max(high / slope_k, lowest + REACH_LEAST), NODES)
    if high < REACH_BEFORE_FLAT * subject.headroom_k:
        highest = min(REACH_ROOM * high / slope_k, most)
        return _evenly(lowest, max(highest, lowest + REACH_LEAST), NODES)
    flat = REACH_FLAT * subject.headroom_k / slope_k
    if flat >= most or flat <= lowest:
        return _evenly(lowest, max(most, lowest + REACH_LEAST), NODES)
    return [*_evenly(lowest, flat, NODES_SEEN), *_evenly(flat, most, NODES - NODES_SEEN)]


def _evenly(low: float, high: float, count: int) -> list[tuple[float, float]]:
    """The middles of so many parts of equal width."""
    width = (high - low) / count
    return [(low + width * (place + 0.5), width) for place in range(count)]


def _first_missing_weight(missing: float) -> float:
    if missing < -OVERCHARGE_MOST or missing >= MISSING_MOST:
        return 0.0
    if missing < 0.0:
        return OVERCHARGE_WEIGHT
    if missing <= MISSING_FLAT:
        return 1.0
    return (MISSING_MOST - missing) / (MISSING_MOST - MISSING_FLAT)


def _starving(subject: Subject, superheat_k: float, beyond: float) -> float:
    """How well a guess agrees with the superheat of an expansion valve, which rises only when the
    valve is wide open and short of liquid: `beyond` is the share missing past that point."""
    setting = VALVE_SUPERHEAT_K
    spread = VALVE_SUPERHEAT_SPREAD_K
    if subject.valve_setting_k is not None:
        setting = subject.valve_setting_k
        spread = VALVE_SETTING_SPREAD_K
    excess = superheat_k - setting
    beyond = max(beyond, 0.0)
    off = 0.0
    if excess > beyond * STARVED_SLOPES_K[1]:
        off = excess - beyond * STARVED_SLOPES_K[1]
    elif excess < beyond * STARVED_SLOPES_K[0]:
        off = excess - beyond * STARVED_SLOPES_K[0]
    q = 1.0 + off * off / (spread * spread) / TAIL
    return 1.0 / (q * q * q)


def _onset(subject: Subject, slope_k: float, shape: tuple[float, float, float]) -> float:
    """Share missing at which the condenser of a guess runs out of liquid."""
    ceiling_k, power, bend = shape
    if power > 1.0:
        return power * ceiling_k / slope_k
    if bend == 0.0:
        return ceiling_k / slope_k
    steeper = bend / subject.headroom_k
    root = square_root(1.0 + 4.0 * steeper * ceiling_k)
    return (root - 1.0) / (2.0 * steeper) / slope_k
