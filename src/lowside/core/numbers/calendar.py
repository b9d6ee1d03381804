"""Dates without a library: the same on server and phone."""


def civil_date(days: int) -> tuple[int, int, int]:
    """Year, month and day of the proleptic Gregorian calendar, `days` after 1970-01-01."""
    # Era arithmetic of 400 years, from 0000-03-01.
    shifted = days + 719_468
    era = shifted // 146_097
    of_era = shifted - era * 146_097
    year_of_era = (of_era - of_era // 1460 + of_era // 36_524 - of_era // 146_096) // 365
    of_year = of_era - (365 * year_of_era + year_of_era // 4 - year_of_era // 100)
    month_index = (5 * of_year + 2) // 153
    day_of_month = of_year - (153 * month_index + 2) // 5 + 1
    month = month_index + 3 if month_index < 10 else month_index - 9
    year = year_of_era + era * 400 + (1 if month <= 2 else 0)
    return year, month, day_of_month
