"""Sessions as the office sees them: one visit to a unit, on a day, with so much added."""

from collections.abc import Mapping

from strategies import CIRCUIT, MACHINE, PROCEDURE, START, Book, ulid

from lowside.core.office.dates import DAY_MS, day_of
from lowside.core.session.events import Event

NOON_MS = 18 * 3_600_000
"""Noon where the visits are, at UTC−6."""


def visit(
    number: int,
    day: str,
    added_lb: float = 0.0,
    *,
    refrigerant: str = "R-410A",
    nameplate_lb: str = "60",
    site: str = "Mill Lane",
    unit: str = "CH-1",
    technician: str = "I. Varga",
    record: Mapping[str, str] | None = None,
    weighed: bool = True,
) -> Book:
    """A closed session: its unit, one shot of `added_lb`, and the office's record of it."""
    found = day_of(day)
    assert found is not None
    at = found * DAY_MS + NOON_MS
    book = Book(sid=ulid(number, at), at=at, dev=f"phone-{number}")
    book.write("session.started", {"procedure": PROCEDURE})
    book.form("job", site=site, unit_label=unit, technician=technician, elevation="0 ft")
    nameplate = {} if nameplate_lb == "" else {"nameplate_charge": f"{nameplate_lb} lb"}
    book.form("unit", refrigerant=refrigerant, metering="txv", **CIRCUIT, **nameplate)
    book.form("machine", **MACHINE)
    book.form("target", method="subcooling", maker_subcooling="10 °F")
    book.form(
        "cylinder",
        cylinder_label="C-1",
        cylinder_refrigerant=refrigerant,
        cylinder_tare="7 lb",
        withdrawal="invert",
    )
    book.form("start_weight", gross="130 lb")
    book.form("tare", scale_mode="gross", scale_reading="130 lb", scale_resolution="0.5 oz")
    if added_lb > 0.0:
        book.form("shot_open")
        after = {"scale_after": f"{130.0 - added_lb}", "scale_after_unit": "lb"}
        book.write("shot.closed", after if weighed else {})
    if record is not None:
        book.write("office.recorded", dict(record))
    book.form("record", signed_by=technician, caps_checked="yes")
    return book


def events(*books: Book) -> list[Event]:
    return [event for book in books for event in book.events]


__all__ = ["START", "events", "visit"]
