"""Leak rates by the two methods of 40 CFR 82.152, and by calendar year.

A rate is counted from additions. Additions of one local day are one: they are of one visit, and a
rate over no days would mean nothing (our choice). An addition whose amount is not known is an
addition: a rate is due, and days are counted from it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lowside.core.office.dates import year_of
from lowside.core.session.ledger import ROUNDING_KG

RateMethod = Literal["annualizing", "rolling"]

ANNUALIZING: RateMethod = "annualizing"
ROLLING: RateMethod = "rolling"

YEAR_DAYS = 365
ROUNDING_PERCENT = 0.000001
"""Rates closer than this to a threshold are at it, not over it: arithmetic of typed pounds."""


@dataclass(frozen=True)
class Addition:
    """Refrigerant that one session added to a unit."""

    sid: str
    day: int
    """Local calendar day on which the last of it went in [days since 1970-01-01]."""
    kg: float
    """What went in less what was recovered from the unit in the session [kg]."""
    at_least: bool
    """A shot was not weighed, so more may have gone in."""
    counts: bool
    """False for an addition straight after installing or a retrofit, or a seasonal variance."""
    refilled: bool = False
    """Refrigerant went in, though no more than was recovered."""
    plate_kg: float | None = None
    """Full charge by the nameplate as that session has it [kg]."""

    @property
    def due(self) -> bool:
        """More went in than was recovered, or may have."""
        return self.kg > ROUNDING_KG or self.at_least


@dataclass(frozen=True)
class Rate:
    """A leak rate [% of the full charge a year]."""

    percent: float
    kg: float
    """What it was counted from [kg]."""
    days: int
    """Annualizing: days since the last addition, at most 365. Rolling: the days looked back."""
    first: bool
    """No earlier addition is on record, so 365 days were taken."""
    at_least: bool

    @property
    def known(self) -> bool:
        """False when nothing but shots of unknown size went in."""
        return self.kg > ROUNDING_KG


@dataclass(frozen=True)
class TakenOut:
    """What was recovered from a unit in earlier sessions and not put back before an addition."""

    kg: float
    day: int
    """Of the last session that recovered more than it added."""
    replaced_kg: float
    """At most so much of what the addition's day brought can have replaced it [kg]."""


def annualized(
    additions: Sequence[Addition], day: int, full_kg: float, counts_from: int | None = None
) -> Rate | None:
    """(added ÷ full charge) × (365 ÷ the smaller of 365 and the days since the last addition).

    Args:
        additions: of one unit, in any order.
        day: the day whose additions are judged.
        full_kg: full charge [kg], above 0.
        counts_from: earlier additions are not looked at [days since 1970-01-01].

    Returns
        `None` when nothing that counts was added on that day.
    """
    today = [one for one in additions if one.day == day and one.counts]
    if not any(one.due for one in today):
        return None
    kg = _sum(today)
    last: int | None = None
    for one in additions:
        seen = counts_from is None or one.day >= counts_from
        went_in = one.due or one.refilled
        if seen and went_in and one.day < day and (last is None or one.day > last):
            last = one.day
    days = YEAR_DAYS if last is None else min(day - last, YEAR_DAYS)
    percent = kg / full_kg * (float(YEAR_DAYS) / float(days)) * 100.0
    return Rate(percent, kg, days, last is None, _unsure(today))


def rolling(
    additions: Sequence[Addition], day: int, full_kg: float, counts_from: int | None = None
) -> Rate | None:
    """What was added in the last 365 days ÷ full charge. One exactly 365 days ago counts: the
    stricter reading. Arguments and `None` as for `annualized`."""
    if not any(one.due for one in additions if one.day == day and one.counts):
        return None
    counted = [
        one
        for one in additions
        if one.counts
        and one.day <= day
        and day - one.day <= YEAR_DAYS
        and (counts_from is None or one.day >= counts_from)
    ]
    kg = _sum(counted)
    return Rate(kg / full_kg * 100.0, kg, YEAR_DAYS, len(counted) == 1, _unsure(counted))


def taken_out(additions: Sequence[Addition], mine: Addition) -> TakenOut | None:
    """What is out of a unit when `mine` begins, one of its `additions`; `None` when nothing is.
    An addition of unknown size may have put all of it back."""
    kg = 0.0
    day = mine.day
    for one in sorted(additions, key=lambda each: (each.day, each.sid)):
        same_day = one.day == mine.day and one.sid < mine.sid and one.kg < 0.0
        if one.day < mine.day or same_day:
            kg = 0.0 if one.at_least else max(kg - one.kg, 0.0)
            day = one.day if one.kg < -ROUNDING_KG else day
    if kg <= ROUNDING_KG:
        return None
    today = [one for one in additions if one.day == mine.day and one.counts]
    return TakenOut(kg, day, min(kg, _sum(today)))


def calendar_year(additions: Sequence[Addition], year: int, full_kg: float) -> Rate:
    """What was added from January 1 to December 31 ÷ full charge."""
    counted = [one for one in additions if one.counts and year_of(one.day) == year]
    kg = _sum(counted)
    return Rate(kg / full_kg * 100.0, kg, YEAR_DAYS, False, _unsure(counted))


def over(rate: Rate, percent: float) -> bool:
    """Over a threshold; at it is not over it."""
    return rate.percent > percent + ROUNDING_PERCENT


def reaches(rate: Rate, percent: float) -> bool:
    """At a threshold or over it."""
    return rate.percent >= percent - ROUNDING_PERCENT


def _sum(additions: Sequence[Addition]) -> float:
    total = 0.0
    for one in additions:
        total = total + max(one.kg, 0.0)
    return total


def _unsure(additions: Sequence[Addition]) -> bool:
    return any(one.at_least for one in additions)
