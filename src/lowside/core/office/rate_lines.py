"""Leak rates in words, with what is uncertain about them."""

from dataclasses import dataclass, replace

from lowside.core.numbers.arithmetic import format_decimal
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.office.dates import day_text
from lowside.core.office.leak_rate import ANNUALIZING, Rate, RateMethod, TakenOut, over
from lowside.core.office.rule_set import Threshold
from lowside.core.office.service_record import RATE_METHOD_NAMES


@dataclass(frozen=True)
class RateLine:
    """A leak rate by one method, in words; `rate` is `None` when none is due or can be known."""

    method: RateMethod
    rate: Rate | None
    over: bool
    sentence: str
    surely: bool = False
    """Over even without what may have replaced recovered charge."""


def rate_text(rate: Rate, choice: UnitChoice) -> str:
    """`15.21 % a year: 3 lb in 120 days`, with what is uncertain about it."""
    days = "1 day" if rate.days == 1 else str(rate.days) + " days"
    words = percent_text(rate) + " a year: "
    return words + label("mass", rate.kg, choice) + " in " + days


def percent_text(rate: Rate) -> str:
    """`15.21 %`, `at least 15.21 %` or `not known`."""
    if not rate.known:
        return "not known"
    return ("at least " if rate.at_least else "") + format_decimal(rate.percent, 2) + " %"


def rate_line(
    method: RateMethod,
    rate: Rate | None,
    threshold: Threshold | None,
    out: TakenOut | None,
    choice: UnitChoice,
) -> RateLine:
    """The rate in words, with all that was added: how much of it replaced what was recovered
    before, and how much what was lost meanwhile, nobody here knows."""
    name = RATE_METHOD_NAMES[method]
    if rate is None:
        return RateLine(method, None, False, f"{name}: no rate is due.")
    if not rate.known:
        return RateLine(method, rate, False, f"{name}: not known, because a shot was not weighed.")
    words = f"{name}: {rate_text(rate, choice)}."
    if rate.first and method == ANNUALIZING:
        words = words + " No earlier addition is on record here, so 365 days were taken."
    if threshold is None:
        return RateLine(method, rate, False, words)
    limit = format_decimal(threshold.percent, 0)
    is_over = over(rate, threshold.percent)
    if is_over:
        words = words + f" Over {limit} %."
    elif rate.at_least:
        words = words + f" Whether it is over {limit} % is not known: a shot was not weighed."
    else:
        words = words + f" Not over {limit} %."
    surely = is_over
    if out is not None:
        left = rate.percent * (rate.kg - out.replaced_kg) / rate.kg
        surely = over(replace(rate, percent=left), threshold.percent)
    return RateLine(method, rate, is_over, words, surely)


def with_taken_out(
    rates: tuple[RateLine, ...], out: TakenOut | None, choice: UnitChoice
) -> tuple[RateLine, ...]:
    """Said once, behind the last rate."""
    if out is None:
        return rates
    words = (
        f" {label('mass', out.kg, choice)} were recovered by the session of {day_text(out.day)} "
        "and not put back until now: decide how much of this addition replaced that."
    )
    return (*rates[:-1], replace(rates[-1], sentence=rates[-1].sentence + words))
