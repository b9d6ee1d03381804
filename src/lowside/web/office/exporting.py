"""Sessions as CSV and JSON: any selection of the list, in the site's time and in chosen units."""

import csv
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from lowside.core.numbers.units import POUND_KG
from lowside.core.office.dates import DAY_MS, day_text, local_day
from lowside.core.office.flags import FLAG_NAMES
from lowside.core.office.summary import Summary
from lowside.core.session.events import Moment
from lowside.store.cells import safe_cell

Value = str | int | float | None

MOST_OFFSET = 24 * 60 - 1
"""ISO 8601 knows no larger offset from UTC [min]."""


@dataclass(frozen=True)
class Column:
    """One column: its name with its unit, what it means, and how it is made."""

    name: str
    meaning: str
    value: Callable[[Summary], Value]


def columns(si: bool) -> tuple[Column, ...]:
    """The columns in pounds and °F, or in kilograms and kelvin."""
    mass, per_kg = ("kg", 1.0) if si else ("lb", 1.0 / POUND_KG)
    degree, per_k = ("K", 1.0) if si else ("degF", 1.8)
    return (
        Column("ticket", "Identifier of the session", lambda one: one.sid),
        Column(
            "started",
            "Start, in the site’s time with its offset from UTC",
            lambda one: site_time(one.started),
        ),
        Column("closed", "Closing; empty while open", lambda one: site_time(one.closed)),
        Column("site", "Site", lambda one: one.site),
        Column("unit", "Unit", lambda one: one.unit_label),
        Column("technician", "Technician", lambda one: one.technician),
        Column("refrigerant", "Refrigerant inside", lambda one: one.refrigerant),
        Column("cylinder", "Charging cylinders, parted by |", lambda one: one.cylinder),
        Column(
            f"added_{mass}",
            f"Refrigerant added by shots and weigh-in [{mass}]",
            lambda one: round(one.added_kg * per_kg, 4),
        ),
        Column(
            "added_at_least",
            "yes: a shot was not weighed, so more may have gone in",
            lambda one: "yes" if one.at_least else "no",
        ),
        Column(
            f"recovered_{mass}",
            f"Refrigerant recovered [{mass}]",
            lambda one: round(one.recovered_kg * per_kg, 4),
        ),
        Column("shots", "Number of shots", lambda one: one.shots),
        Column("verdict", "How the last reading is judged", lambda one: one.verdict),
        Column(
            f"superheat_{degree}",
            f"Superheat of the last reading, a difference [{degree}]",
            lambda one: _times(one.superheat_k, per_k),
        ),
        Column(
            f"subcooling_{degree}",
            f"Subcooling of the last reading, a difference [{degree}]",
            lambda one: _times(one.subcooling_k, per_k),
        ),
        Column("judged_by", "Version of the property tables", lambda one: one.judged_by),
        Column(
            "flags",
            "What needs a look, parted by |",
            lambda one: " | ".join(FLAG_NAMES[flag.code] for flag in one.flags),
        ),
        Column("signed_by", "Technician who closed it", lambda one: one.signed_by),
        Column("signed_off", "Who signed it off in the office", lambda one: one.signed_off),
    )


def csv_lines(found: Iterator[Summary], si: bool) -> Iterator[str]:
    """A CSV file, line by line. A byte-order mark makes spreadsheets read it as UTF-8."""
    wanted = columns(si)
    yield "\ufeff" + _line([column.name for column in wanted])
    for one in found:
        yield _line([column.value(one) for column in wanted])


def json_lines(found: Iterator[Summary], si: bool) -> Iterator[str]:
    """One JSON object: `columns` says what each name means, `sessions` has one object each."""
    wanted = columns(si)
    meanings = {column.name: column.meaning for column in wanted}
    yield '{"columns":' + json.dumps(meanings, ensure_ascii=False) + ',"sessions":['
    between = ""
    for one in found:
        row = {column.name: column.value(one) for column in wanted}
        yield between + "\n" + json.dumps(row, ensure_ascii=False)
        between = ","
    yield "\n]}\n"


def site_time(moment: Moment | None) -> str:
    """ISO 8601 with the offset of where it was written; empty when unknown.

    It has no offset of a whole day, which a hand-made entry may have: that one is told by a minute
    less, of the same instant.
    """
    if moment is None:
        return ""
    tz = min(max(moment.tz, -MOST_OFFSET), MOST_OFFSET)
    day = day_text(local_day(replace(moment, tz=tz)))
    second = (moment.at // 1000 + tz * 60) % (DAY_MS // 1000)
    time = f"{second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
    return f"{day}T{time}{'-' if tz < 0 else '+'}{abs(tz) // 60:02d}:{abs(tz) % 60:02d}"


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else round(value * factor, 2) + 0.0  # no −0.0


class _Given:
    """Gives a line back to whoever asked the writer for it."""

    def write(self, text: str) -> str:
        return text


_writer = csv.writer(_Given(), lineterminator="\r\n")


def _line(values: list[Value]) -> str:
    return str(_writer.writerow([safe_cell(value) for value in values]))
