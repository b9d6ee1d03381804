"""What low and high side say beside the target: air over the coils, the compressor, air inside."""

from dataclasses import dataclass

from lowside.core.judging.contrary import DEPRESSION_HIGHEST_K, DEPRESSION_PER_SUPERHEAT
from lowside.core.judging.findings import Unknown
from lowside.core.judging.targets import SUBCOOLING, Target
from lowside.core.numbers.unit_choice import label
from lowside.core.session.state import State, Taken

DEPRESSION_LOWEST_K = 14.0
"""25 °F. Manufacturers' tables come out at 28 to 30 °F at 80 °F return and 67 °F wet bulb (READ,
COMPUTED from them); the margin below is our choice."""
LIFT_HIGHEST_K = 17.2
"""Condensing above outdoor air [K], 31 °F. A manufacturer's table comes out at 15 to 22 °F
(COMPUTED from READ), old units at 30 (MEMORY); one more is our choice."""
LIFT_LOWEST_K = 7.8
LIFT_PER_SUPERHEAT = 0.12
"""The least lift [K], 14 °F: just below the 15 °F of the same table. It is less on a starved unit,
by this share of its superheat above LIFT_SUPERHEAT_K (seen in our practice model). Our choice."""
LIFT_SUPERHEAT_K = 8.0
"""A unit with less superheat [K] is not starved. Our choice."""
WEAK_DEPRESSION_K = 16.5
WEAK_LIFT_K = 9.5
"""Both this small together [K]: the compressor moves too little. The first is the low end of 35 ±
5 °F (READ, trade); the second, 17 °F, and taking them together are our choice."""
WEAK_SHORT_K = 14.7
WEAK_SHORT_LIFT_K = LIFT_LOWEST_K
WARM_PER_STARVED = 0.5
"""Both for a unit that is still short [K], 26 and 14 °F, the first less this share of the superheat
of a starved coil: missing charge lowers the lift by itself, and makes the coil colder, not warmer.
High-efficiency units come to 15 °F and below.
Tuned on the tuning halves of both practice models."""
WEAK_ASKED_K = 15.5
"""The same to ask for a check only, with WEAK_LIFT_K beside it [K], 28 °F: the low end of what
manufacturers' tables come out at. Our choice: it asks 2 % of the sound units of the tuning halves.
"""
STARVED_HIDES_K = 12.0
"""With more superheat than this [K], 22 °F, a unit that is short says nothing of its compressor: a
coil that starves so lowers the lift by itself, on some units below any limit that a weak compressor
reaches. It is judged as the superheat comes down, which is long before the target. Our choice."""
HIGH_SIDE_K = 17.2
HIGH_SIDE_PER_SUBCOOLING = 0.5
"""Condensing above outdoor air with half of the subcooling of a fixed orifice [K]. Both at the top
of what is published (22 °F from a manufacturer's table, 15.7 °F of subcooling; READ) come to
16.6 K, and missing charge lowers both: past that something other than charge fills the condenser.
The half and the margin are our choice. Old units come to more (30 °F, MEMORY); they are stopped
too, and the coil and the air in it are worth the look."""


OUTDOOR_FIRST = "Read outdoor air again, in the shade where the coil draws it in. Then check the "
AIR_LAST = (
    "Check for air in the unit last: switch the compressor off. Let only "
    "the outdoor fan run until air leaves the coil as warm as it enters. Then compare its pressure "
    "with saturation at that temperature."
)
_HOT = OUTDOOR_FIRST + "outdoor coil and fan. " + AIR_LAST


@dataclass(frozen=True)
class _Look:
    """What a reading shows beside the target [K]."""

    superheat_k: float
    subcooling_k: float | None
    depression_k: float | None
    lift_k: float | None


def sides(state: State, basis: Taken, target: Target, short: bool) -> str | None:
    """Low and high side do not come right as the charge does. Missing charge itself lowers the
    lift, so a low one says nothing while the unit is still `short`."""
    look = _look(basis)
    if look is None:
        return None
    starved = max(look.superheat_k - LIFT_SUPERHEAT_K, 0.0)
    depression = look.depression_k
    lift = look.lift_k
    if depression is not None:
        if depression > DEPRESSION_HIGHEST_K + DEPRESSION_PER_SUPERHEAT * look.superheat_k:
            return (
                "The indoor coil averages "
                + label("temperature_difference", depression, state.units)
                + " below return air as charge goes in. Check filter, blower and coil first, then "
                "the metering device."
            )
        if depression < DEPRESSION_LOWEST_K:
            return (
                "The indoor coil averages only "
                + label("temperature_difference", depression, state.units)
                + " below return air. If condensing is close to outdoor air too, check the "
                "compressor, else check for high airflow or load."
            )
    if lift is None:
        return None
    if lift > LIFT_HIGHEST_K:
        return _condensing(state, lift) + ". " + _HOT
    subcooling = None if target.quantity == SUBCOOLING else look.subcooling_k
    if subcooling is not None and lift + HIGH_SIDE_PER_SUBCOOLING * subcooling > HIGH_SIDE_K:
        return (
            _condensing(state, lift)
            + " with "
            + label("temperature_difference", subcooling, state.units)
            + " of subcooling: not an undercharged unit. "
            + _HOT
        )
    if short:
        if look.superheat_k > STARVED_HIDES_K:
            return None
        return _warm_and_low(state, look, WEAK_SHORT_K, WEAK_SHORT_LIFT_K)
    weak = depression is not None and depression < WEAK_DEPRESSION_K and lift < WEAK_LIFT_K
    if weak or lift < LIFT_LOWEST_K - LIFT_PER_SUPERHEAT * starved:
        return _weak(state, lift)
    return None


def weak_though_short(state: State, basis: Taken) -> str | None:
    """The signs of a weak compressor on a short unit, however much its coil starves: missing charge
    may cause them by itself, so they are worth the check, and no reason to stop."""
    look = _look(basis)
    return None if look is None else _warm_and_low(state, look, WEAK_ASKED_K, WEAK_LIFT_K)


def _warm_and_low(state: State, look: _Look, depression_k: float, lift_k: float) -> str | None:
    """A coil warmer than a starved one is, and a lift below the limit."""
    starved = max(look.superheat_k - LIFT_SUPERHEAT_K, 0.0)
    if look.depression_k is None or look.lift_k is None or look.lift_k >= lift_k:
        return None
    warm = look.depression_k - WARM_PER_STARVED * starved < depression_k
    return _weak(state, look.lift_k) if warm else None


def _condensing(state: State, lift_k: float, only: str = "") -> str:
    above = label("temperature_difference", lift_k, state.units)
    return "Condensing averages " + only + above + " above outdoor air"


def _weak(state: State, lift_k: float) -> str:
    return (
        _condensing(state, lift_k, "only ")
        + " with this much charge in. "
        + OUTDOOR_FIRST
        + "compressor’s current and the temperatures of the reversing valve’s pipes before you add "
        "more."
    )


def _look(basis: Taken) -> _Look | None:
    if basis.assessment is None:
        return None
    measured = basis.assessment.measured
    if isinstance(measured.superheat_k, Unknown):
        return None
    subcooling = measured.subcooling_k
    return _Look(
        measured.superheat_k,
        None if isinstance(subcooling, Unknown) else subcooling,
        depression_of(basis),
        lift_of(basis),
    )


def depression_of(taken: Taken) -> float | None:
    """Low-side saturation below return air [K]."""
    indoor = taken.reading.return_dry_bulb_k
    coil = None if taken.assessment is None else taken.assessment.measured.coil_k
    return None if indoor is None or coil is None else indoor - coil


def lift_of(taken: Taken) -> float | None:
    """Condensing above outdoor air [K]."""
    outdoor = taken.reading.outdoor_dry_bulb_k
    condensing = None if taken.assessment is None else taken.assessment.measured.condensing_k
    return None if outdoor is None or condensing is None else condensing - outdoor
