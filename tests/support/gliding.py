"""Pressures by the midpoint of a blend's glide, found without the program's own mean."""

from lowside.core.handbook.saturation import (
    PropertyTable,
    bubble_pressure,
    bubble_temperature,
    dew_temperature,
)


def at_midpoint(table: PropertyTable, middle_k: float) -> tuple[float, float, float]:
    """Pressure [Pa absolute] whose dew and bubble point [K] lie as far above `middle_k` [K] as
    below it, and both of them."""
    bubble = middle_k
    for _ in range(40):
        pressure = bubble_pressure(table, bubble)
        assert isinstance(pressure, float)
        dew = dew_temperature(table, pressure)
        assert isinstance(dew, float)
        bubble = middle_k - (dew - bubble) / 2.0
    found = bubble_temperature(table, pressure)
    assert isinstance(found, float)
    return pressure, dew, found
