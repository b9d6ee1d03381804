"""The unit as its forms describe it: from what was entered to what readings are judged by."""

from collections.abc import Mapping

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.psychrometrics import atmosphere_pressure
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.handbook.system import (
    BY_LIQUID_PRESSURE,
    BY_POINTS,
    BY_SUCTION_PRESSURE,
    BY_WEIGHT,
    ChartPoint,
    System,
    metering_from,
    method_from,
)
from lowside.core.handbook.unit_forms import POINTS, WATER
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.session.state import State

PRESSURES = (BY_SUCTION_PRESSURE, BY_LIQUID_PRESSURE)


def designation(unit_texts: Mapping[str, str]) -> str:
    """The refrigerant inside, by the unit's labels; empty when none was named.

    A retrofit label goes before the nameplate. No published text says so (searched for): the
    label names what was filled in last.
    """
    retrofit = unit_texts.get("retrofit_refrigerant", "")
    return retrofit if retrofit != "" else unit_texts.get("refrigerant", "")


def system_of(
    unit: Fields | None, target: Fields | None, elevation_m: float | None, shown: UnitChoice
) -> System | None:
    """The unit once nameplate, target and elevation are known; else `None`.

    Args:
        unit: what the unit form said.
        target: what the target form said.
        elevation_m: of the site.
        shown: the session's units.
    """
    if unit is None or target is None or elevation_m is None:
        return None
    atmosphere = atmosphere_pressure(elevation_m)
    water = unit.texts.get("coil", "") == WATER
    method = BY_WEIGHT if water else method_from(method_text(target.texts))
    if isinstance(atmosphere, OutOfRange) or method is None or "refrigerant" not in unit.texts:
        return None
    inside = designation(unit.texts)
    named = unit.texts["refrigerant"]
    return System(
        refrigerant=inside,
        metering=metering_from(unit.texts.get("metering", "")),
        method=method,
        atmosphere_pa=atmosphere,
        capacity_w=unit.numbers.get("capacity"),
        maker_subcooling_k=target.numbers.get("maker_subcooling"),
        maker_superheat_k=target.numbers.get("maker_superheat"),
        maker_tolerance_k=target.numbers.get("maker_tolerance"),
        nameplate_charge_kg=unit.numbers.get("nameplate_charge"),
        line_length_m=unit.numbers.get("line_length"),
        line_included_m=unit.numbers.get("line_included"),
        line_adder_kg_per_m=unit.numbers.get("line_adder"),
        short_line_takes_off=yes_or_no(unit.texts.get("short_line", "")),
        high_side_limit_pa=unit.numbers.get("high_side_limit"),
        maker_approach_k=target.numbers.get("maker_approach"),
        rated_a=unit.numbers.get("rated_amps"),
        static_limit_pa=unit.numbers.get("static_limit"),
        nameplate_refrigerant="" if named == inside else named,
        retrofit_charge_kg=unit.numbers.get("retrofit_charge"),
        papers_outdoor_lowest_k=target.numbers.get("papers_outdoor_lowest"),
        papers_outdoor_highest_k=target.numbers.get("papers_outdoor_highest"),
        papers_indoor_lowest_k=target.numbers.get("papers_indoor_lowest"),
        papers_indoor_highest_k=target.numbers.get("papers_indoor_highest"),
        papers_wait_s=target.numbers.get("papers_wait"),
        by_points=target.texts.get("method", "") == BY_POINTS,
        chart_points=chart_points_of(target),
        chart_tolerance_pa=target.numbers.get("points_tolerance"),
        short_below=short_below(target.texts),
        temperature_unit=shown.temperature,
        pressure_unit=shown.pressure,
    )


def by_labels(state: State) -> System | None:
    """The unit as far as its labels describe it: its charge needs no target and no elevation."""
    unit = Fields(state.unit_numbers, state.unit_texts, {})
    return system_of(unit, Fields({}, {"method": BY_WEIGHT}, {}), 0.0, state.units)


def method_text(target_texts: Mapping[str, str]) -> str:
    """The method's code; with typed points the quantity they are of."""
    method = target_texts.get("method", "")
    return target_texts.get("points_of", "") if method == BY_POINTS else method


def chart_points_of(target: Fields) -> tuple[ChartPoint, ...]:
    """The points of the chart that have outdoor air and value both."""
    found: list[ChartPoint] = []
    part = value_part(target.texts)
    for name in POINTS:
        outdoor = target.numbers.get(name + "_outdoor")
        value = target.numbers.get(name + part)
        if outdoor is not None and value is not None:
            found.append(ChartPoint(outdoor, target.numbers.get(name + "_wet_bulb"), value))
    return tuple(found)


def value_part(target_texts: Mapping[str, str]) -> str:
    """How the field with a point's value ends: a pressure has its own."""
    return "_pressure" if target_texts.get("points_of", "") in PRESSURES else "_value"


def short_below(target_texts: Mapping[str, str]) -> bool | None:
    """Whether a pressure below the chart means undercharged; `None` while that is open."""
    answer = target_texts.get("points_short", "")
    return None if answer == "" else answer == "below"


def yes_or_no(answer: str) -> bool | None:
    """`None` while the question is open."""
    if answer == "":
        return None
    return answer == "yes"
