"""Calendar days as numbers: days since 1970-01-01, of a date, a text or a moment."""

from lowside.core.numbers.calendar import civil_date
from lowside.core.session.events import Moment

DAY_MS = 86_400_000


def day_number(year: int, month: int, day: int) -> int | None:
    """Days since 1970-01-01; `None` when there is no such day."""
    if month < 1 or month > 12 or day < 1 or year < 1 or year > 9999:
        return None
    shifted_year = year - 1 if month <= 2 else year
    era = shifted_year // 400
    of_era = shifted_year - era * 400
    month_index = month - 3 if month > 2 else month + 9
    of_year = (153 * month_index + 2) // 5 + day - 1
    days = era * 146_097 + of_era * 365 + of_era // 4 - of_era // 100 + of_year - 719_468
    return days if civil_date(days) == (year, month, day) else None


def day_of(text: str) -> int | None:
    """`2026-01-01`; `None` when it is no date."""
    parts = text.strip().split("-")
    if len(parts) != 3 or not all(part.isdigit() and part.isascii() for part in parts):
        return None
    if len(parts[0]) != 4 or len(parts[1]) != 2 or len(parts[2]) != 2:
        return None
    return day_number(int(parts[0]), int(parts[1]), int(parts[2]))


def local_day(moment: Moment) -> int:
    """The day on the calendar where it was."""
    return (moment.at + moment.tz * 60_000) // DAY_MS


def day_text(day: int) -> str:
    """`2026-01-01`."""
    year, month, day_of_month = civil_date(day)
    return f"{year:04d}-{month:02d}-{day_of_month:02d}"


def year_of(day: int) -> int:
    return civil_date(day)[0]
