"""Amounts, pressures and advice as the debrief says them."""

from dataclasses import dataclass

from lowside.core.advice.advice import Advice
from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.unit_choice import small_mass_unit
from lowside.core.numbers.units import GAUGE_PRESSURE
from lowside.core.numbers.units import label as unit_label
from lowside.core.pages.charging import WORDS
from lowside.core.pages.wording import duration
from lowside.core.session.state import State
from lowside.practice.asked import Asked

GRAMS_WORTH_SAYING = 0.001


@dataclass(frozen=True)
class Happening:
    """Something that went wrong, when [practice s], and what it does."""

    at_s: float
    text: str


def pressure(state: State, pascal: float) -> str:
    """A difference of pressures, one decimal finer than gauges are shown."""
    unit = state.units.pressure
    scale = GAUGE_PRESSURE[unit]
    text = format_decimal(pascal / scale.factor, scale.decimals + 1)
    return text + " " + ("psi" if unit == "psig" else unit)


def advice_words(state: State, asked: Asked) -> str:
    """What the program asked for, as a sentence goes on with it."""
    if asked.advice is None:
        return "take a reading."
    return _words_of(state, asked.advice)


def _words_of(state: State, advice: Advice) -> str:
    words = WORDS[advice.action]
    if advice.amount_kg is not None:
        words += ", about " + small(state, advice.amount_kg)
    elif advice.wait_s is not None and advice.wait_s > 0.0:
        words += " " + duration(advice.wait_s)
    reason = " " + advice.reasons[0] if advice.reasons else ""
    return words[0].lower() + words[1:] + "." + reason


def missing_words(state: State, kilograms: float, verb: str = "was") -> str:
    if kilograms >= 0.0:
        return f"{small(state, kilograms)} {verb} missing"
    return f"{small(state, -kilograms)} {verb} too much"


def small(state: State, kilograms: float) -> str:
    return unit_label("mass", max(kilograms, 0.0), small_mass_unit(state.units))
