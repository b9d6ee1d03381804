"""A month of the shop: what was added and recovered, by refrigerant and by technician."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lowside.core.office.dates import day_number
from lowside.core.office.flags import FLAG_NAMES, FlagCode
from lowside.core.office.summary import Summary


@dataclass(frozen=True)
class Total:
    """What one refrigerant or technician comes to [kg]."""

    name: str
    sessions: int
    added_kg: float
    recovered_kg: float
    at_least: bool
    flagged: int


@dataclass(frozen=True)
class Month:
    """The figures of one month."""

    sessions: int
    closed: int
    signed_off: int
    flagged: int
    by_refrigerant: tuple[Total, ...]
    by_technician: tuple[Total, ...]
    flags: tuple[tuple[FlagCode, int], ...]


@dataclass(frozen=True)
class MonthLine:
    """What a session counts for in its month: short, because thousands are read at once."""

    refrigerant: str
    technician: str
    added_kg: float
    recovered_kg: float
    at_least: bool
    closed: bool
    signed_off: bool
    flags: Sequence[FlagCode]
    """Each code once."""


def month_line(one: Summary) -> MonthLine:
    """The line of a session."""
    return MonthLine(
        one.refrigerant,
        one.technician,
        one.added_kg,
        one.recovered_kg,
        one.at_least,
        one.closed is not None,
        one.signed_off != "",
        tuple(dict.fromkeys(flag.code for flag in one.flags)),
    )


def month_of_text(text: str) -> tuple[int, int] | None:
    """First day of a month `2026-05` and of the next [days since 1970-01-01]; `None`: no month."""
    parts = text.split("-")
    if len(parts) != 2 or not all(part.isdigit() and part.isascii() for part in parts):
        return None
    if len(parts[0]) != 4 or len(parts[1]) != 2:
        return None
    year, month = int(parts[0]), int(parts[1])
    first = day_number(year, month, 1)
    after = day_number(year + month // 12, month % 12 + 1, 1)
    return None if first is None or after is None else (first, after)


def month_from(lines: Iterable[MonthLine]) -> Month:
    """The figures of these sessions."""
    refrigerants: dict[str, list[MonthLine]] = {}
    technicians: dict[str, list[MonthLine]] = {}
    flags: dict[FlagCode, int] = dict.fromkeys(FLAG_NAMES, 0)
    sessions = closed = signed = flagged = 0
    for one in lines:
        sessions = sessions + 1
        closed = closed + (1 if one.closed else 0)
        signed = signed + (1 if one.signed_off else 0)
        flagged = flagged + (1 if one.flags else 0)
        refrigerants.setdefault(one.refrigerant, []).append(one)
        technicians.setdefault(one.technician, []).append(one)
        for code in one.flags:
            flags[code] = flags[code] + 1
    return Month(
        sessions=sessions,
        closed=closed,
        signed_off=signed,
        flagged=flagged,
        by_refrigerant=_totals(refrigerants),
        by_technician=_totals(technicians),
        flags=tuple((code, count) for code, count in flags.items() if count > 0),
    )


def _totals(groups: dict[str, list[MonthLine]]) -> tuple[Total, ...]:
    totals = []
    for name, lines in groups.items():
        added = recovered = 0.0
        for one in lines:
            added = added + one.added_kg
            recovered = recovered + one.recovered_kg
        at_least = any(one.at_least for one in lines)
        flagged = len([one for one in lines if one.flags])
        shown = name if name != "" else "Not known"
        totals.append(Total(shown, len(lines), added, recovered, at_least, flagged))
    return tuple(sorted(totals, key=lambda total: total.name))
