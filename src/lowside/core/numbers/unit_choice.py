"""Which units a session shows. What was typed keeps the unit it was typed in."""

from dataclasses import dataclass

from lowside.core.numbers import units
from lowside.core.numbers.units import Quantity


@dataclass(frozen=True)
class UnitChoice:
    """Names of units, each a key of its table in `units.py`."""

    pressure: str = "psig"
    temperature: str = "°F"
    mass: str = "lb+oz"
    length: str = "ft"


def unit_for(quantity: Quantity, choice: UnitChoice) -> str:
    """The unit in which `quantity` is asked for and shown."""
    if quantity == "gauge_pressure":
        return choice.pressure
    if quantity in ("temperature", "temperature_difference"):
        return choice.temperature
    if quantity == "mass":
        return choice.mass
    if quantity in ("length", "hose_length"):
        return choice.length
    if quantity == "bore":
        return "in" if choice.length == "ft" else "mm"
    if quantity == "line_adder":
        return "oz/ft" if choice.length == "ft" else "g/m"
    if quantity == "capacity":
        return "ton" if choice.length == "ft" else "kW"
    if quantity == "relative_humidity":
        return "%"
    if quantity == "air_pressure":
        return "in wc" if choice.length == "ft" else "Pa"
    if quantity == "current":
        return "A"
    if quantity == "vacuum":
        return "microns"
    return "min"


def small_mass_unit(choice: UnitChoice) -> str:
    """The unit for shots and differences: ounces for pounds, grams for kilograms."""
    if choice.mass in ("lb+oz", "lb", "oz"):
        return "oz"
    return "g"


def small_mass(kilograms: float, choice: UnitChoice) -> str:
    """A shot or a difference [kg] with its unit."""
    return units.label("mass", kilograms, small_mass_unit(choice))


def label(quantity: Quantity, si: float, choice: UnitChoice) -> str:
    """A value with its unit in the session's units."""
    return units.label(quantity, si, unit_for(quantity, choice))
