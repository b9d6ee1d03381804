"""What is known of each refrigerant apart from its property table: label, class, handling."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

FLAMMABLE_CLASSES = ("A2L", "A2", "A3", "B2L", "B2", "B3")
"""ANSI/ASHRAE 34 safety groups that burn: 2L lower, 2 and 3 higher flammability."""

Application = Literal["air_conditioning", "refrigeration", "weigh_in"]
"""Where the trade meets it: in air conditioners, which are topped up running; in refrigeration,
where receivers are common; or only ever weighed in."""

AIR_CONDITIONING: Application = "air_conditioning"
REFRIGERATION: Application = "refrigeration"
BY_WEIGHT_ONLY: Application = "weigh_in"


@dataclass(frozen=True)
class Component:
    """One substance of a refrigerant and its share by mass [%]."""

    designation: str
    mass_percent: float


@dataclass(frozen=True)
class Source:
    """Where a fact is from. `basis` is READ, COMPUTED or MEMORY (recalled, not looked up)."""

    fact: str
    basis: str
    text: str


@dataclass(frozen=True)
class Refrigerant:
    """One refrigerant as the trade knows it.

    `gwp` is the 100-year global warming potential on `gwp_basis`, `None` when unknown. `glide_k` is
    dew minus bubble at 101 325 Pa [K]. `liquid_only`: it must leave the cylinder as liquid, or the
    blend that leaves is not the blend on the label. `shifts_when_it_leaks`: a wide-glide blend
    whose rest after a leak may no longer be the blend on the label.
    """

    designation: str
    composition: str
    components: tuple[Component, ...]
    safety_class: str
    gwp: float | None
    gwp_basis: str
    glide_k: float
    liquid_only: bool
    use: Application
    shifts_when_it_leaks: bool
    note: str
    sources: tuple[Source, ...]


def refrigerants_from(data: Mapping[str, Any]) -> dict[str, Refrigerant]:
    """By designation (`R-410A`), in the file's order.

    Raises
        KeyError: an entry misses a field.
    """
    found: dict[str, Refrigerant] = {}
    for entry in data["refrigerants"]:
        refrigerant = _refrigerant_from(entry)
        found[refrigerant.designation] = refrigerant
    return found


def flammable(refrigerant: Refrigerant) -> bool:
    """Whether its safety group is one that burns."""
    return refrigerant.safety_class in FLAMMABLE_CLASSES


def _refrigerant_from(entry: Mapping[str, Any]) -> Refrigerant:
    gwp = entry["gwp"]
    return Refrigerant(
        designation=str(entry["designation"]),
        composition=str(entry["composition"]),
        components=tuple(
            Component(str(part["designation"]), float(part["mass_percent"]))
            for part in entry["components"]
        ),
        safety_class=str(entry["safety_class"]),
        gwp=None if gwp is None else float(gwp),
        gwp_basis=str(entry["gwp_basis"]),
        glide_k=float(entry["glide_k"]),
        liquid_only=bool(entry["liquid_only"]),
        use=_use_from(str(entry["use"])),
        shifts_when_it_leaks=bool(entry["shifts_when_it_leaks"]),
        note=str(entry["note"]),
        sources=tuple(
            Source(str(source["fact"]), str(source["basis"]), str(source["text"]))
            for source in entry["sources"]
        ),
    )


def _use_from(text: str) -> Application:
    """Any text but the two others means it is only weighed in: the strictest."""
    if text == AIR_CONDITIONING:
        return AIR_CONDITIONING
    if text == REFRIGERATION:
        return REFRIGERATION
    return BY_WEIGHT_ONLY
